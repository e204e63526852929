"""Batches that say the very same as another: all come in, and it is told which are alike.

Two canner loads of one day may be alike, so dropping one would lose it; a batch that stands on two
sheets counts twice, so keeping both in silence would be wrong too.
"""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse
from jarcast.notebook.repeated import repeated_in

TODAY = dt.date(2026, 11, 28)
HEAD = ("Date", "Crop", "Lbs", "Pints", "Brine made (c)", "Who", "Note")
ROW = ("2024-07-01", "okra", "6", "8", "7", "Oda", "hot")


def put(folder: Path, *rows: tuple[str, ...], name: str = "log.csv") -> Rehearsal:
    text = "".join(f"{','.join(row)}\n" for row in (HEAD, *rows))
    (folder / name).write_text(text, encoding="utf-8")
    return rehearse([folder / name], today=TODAY)


def but(**cells: str) -> tuple[str, ...]:
    """The row with other cells, by heading."""
    return tuple(
        cells.get(name.split()[0].lower(), cell) for name, cell in zip(HEAD, ROW, strict=True)
    )


@pytest.mark.parametrize(
    "row", [ROW, but(note="cool"), but(who=""), but(who="oda"), but(lbs="6.0")], ids=str
)
def test_a_batch_equal_to_one_above_is_told_and_not_dropped(
    tmp_path: Path, row: tuple[str, ...]
) -> None:
    read = put(tmp_path, ROW, row)
    assert len(read.entries) == 2
    ((place, why),) = read.doubts
    assert place.endswith("row 3")
    assert why.startswith("the same day, crop, jars and measures as in row 2;")


@pytest.mark.parametrize(
    "row",
    [
        but(date="2024-07-02"), but(crop="beets"), but(crop="okra slices"), but(lbs="6.5"),
        but(pints="7"), but(brine="8"), but(brine=""), but(who="Pim"),
    ],
    ids=str,
)  # fmt: skip
def test_a_batch_that_differs_in_anything_is_another(tmp_path: Path, row: tuple[str, ...]) -> None:
    assert put(tmp_path, ROW, row).doubts == ()


def test_a_batch_on_three_sheets_is_told_twice(workbook: Callable[..., Path]) -> None:
    rows = [HEAD, ROW]
    read = rehearse([workbook({"All": rows, "Okra": rows, "Favorites": rows})], today=TODAY)
    assert len(read.entries) == 3
    assert [place.rpartition("sheet ")[2] for place, _ in read.doubts] == [
        "'Okra', row 2", "'Favorites', row 2",
    ]  # fmt: skip
    assert all("sheet 'All', row 2" in why for _, why in read.doubts)


def test_batches_of_the_ledger_under_another_name_are_told(tmp_path: Path) -> None:
    here = [entry.batch for _, entry in put(tmp_path, ROW).entries]
    again = put(tmp_path, ROW, but(date="2024-07-09"), name="log (1).csv").entries
    ((place, why),) = repeated_in(again, here)
    assert place.endswith("log (1).csv, row 2")
    assert why.startswith("'log 2024-07-01 okra' in the ledger has the same day")
    assert repeated_in(put(tmp_path, ROW).entries, here) == []  # the file itself, once more


def test_a_whole_file_that_is_there_is_told_once(tmp_path: Path) -> None:
    rows = [but(date=f"2024-07-0{day}") for day in range(1, 9)]
    here = [entry.batch for _, entry in put(tmp_path, *rows).entries]
    ((place, why),) = repeated_in(put(tmp_path, *rows, name="log (1).csv").entries, here)
    assert place.endswith("log (1).csv")
    assert why.startswith("8 batches have the same day")
