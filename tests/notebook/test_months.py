"""Days whose month stands in a column of its own, in a title or in the name of a sheet.

Each day was read by hand, as somebody who opens the sheet would read it.
"""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)


def put(folder: Path, *rows: str, name: str = "mine.csv") -> Rehearsal:
    (folder / name).write_text("".join(f"{row}\n" for row in rows), encoding="utf-8")
    return rehearse([folder / name], today=TODAY)


def days(read: Rehearsal) -> list[str]:
    return [entry.batch.date.isoformat() for _, entry in read.entries]


@pytest.mark.parametrize(
    ("rows", "due"),
    [
        (
            ["Month,Day,Year,Crop,Pints", "7,4,2024,okra,9", "8,1st,2024,beets,12"],
            ["2024-07-04", "2024-08-01"],
        ),
        (  # merged cells are empty below the first
            ["Year,Month,Day,Crop,Pints", "2024,July,4,okra,9", ",,11,beets,7", ",Aug,1,okra,5"],
            ["2024-07-04", "2024-07-11", "2024-08-01"],
        ),
        (["Log 2024", "Month,Day,Crop,Pints", "Sept.,4,okra,9"], ["2024-09-04"]),
        (["Month,Date,Crop,Pints,Year", "jul,4,okra,9,2024"], ["2024-07-04"]),
    ],
)
def test_a_day_has_the_month_beside_it(tmp_path: Path, rows: list[str], due: list[str]) -> None:
    read = put(tmp_path, *rows)
    assert days(read) == due
    assert read.ignored == ()


def test_a_day_has_the_month_in_the_name_of_its_sheet(workbook: Callable[..., Path]) -> None:
    rows = [("Date", "Crop", "Pints"), (1, "okra", 9), (8, "beets", 7)]
    read = rehearse([workbook({"2023 July": rows, "Aug 2023": rows})], today=TODAY)
    assert days(read) == ["2023-07-01", "2023-07-08", "2023-08-01", "2023-08-08"]
    told = [why for _, why in read.doubts]
    assert told[0] == "'1' is taken as Jul 1, after '2023 July'"


@pytest.mark.parametrize(
    ("rows", "name", "due"),
    [
        (["Pickles, July 2023", "Day,Crop,Pints", "4,okra,9"], "mine.csv", ["2023-07-04"]),
        (["Day,Crop,Pints", "4,okra,9"], "july_2023.csv", ["2023-07-04"]),
        (
            ["July 2023", "Day,Crop,Pints", "4,okra,9", "August,,", "1,beets,7"],
            "mine.csv",
            ["2023-07-04", "2023-08-01"],
        ),
        (
            ["July 2023", "Day,Crop,Pints", "4,okra,9", "August", "Day,Crop,Pints", "1,beets,7"],
            "mine.csv",
            ["2023-07-04", "2023-08-01"],
        ),
    ],
)
def test_a_day_has_the_month_of_the_title_above_it(
    tmp_path: Path, rows: list[str], name: str, due: list[str]
) -> None:
    assert days(put(tmp_path, *rows, name=name)) == due


@pytest.mark.parametrize("title", ["", "June and July 2023\n", "It may be hot in 2023\n"])
def test_a_day_without_a_month_is_refused_with_a_way_out(tmp_path: Path, title: str) -> None:
    read = put(tmp_path, f"{title}Day,Crop,Pints", "4,okra,9", "9,beets,7")
    assert read.entries == ()
    assert len(read.refused) == 2
    why = read.refused[0][1]
    assert why.startswith("date '4' gives no month; write it like 2024-08-31")
    assert "a column 'Month'" in why


def test_days_with_their_month_stay_as_they_are(tmp_path: Path) -> None:
    read = put(tmp_path, "July 2023", "Day,Crop,Pints", "2023-08-04,okra,9", "Aug 9 2023,okra,7")
    assert days(read) == ["2023-08-04", "2023-08-09"]
    assert read.doubts == ()
