"""A second sort of jar on the row below its batch, told from the totals that look like it.

What each row is was read by hand: a count under another sort of jar goes with the batch right
above it, a number that is the sum of its column is a total.
"""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)
SORTS = "Date,Crop,Lbs,Jar,# jars,Notes"
SIZED = "Date,Crop,Lbs,Pints,Quarts,Notes"
WORDS = "Date,Crop,Lbs,Jars"


def put(folder: Path, *rows: str) -> Rehearsal:
    (folder / "mine.csv").write_text("".join(f"{row}\n" for row in rows), encoding="utf-8")
    return rehearse([folder / "mine.csv"], today=TODAY)


def jars(read: Rehearsal) -> list[str]:
    return [entry.batch.filled_text for _, entry in read.entries]


@pytest.mark.parametrize(
    ("rows", "due"),
    [
        ([SORTS, "2024-07-01,okra,6,pint,8,", ",,,half-pint,3,"], ["8 pint + 3 half-pint"]),
        (
            [SORTS, "2024-07-01,okra,6,pint,8,", ",,,half-pint,3,", ",,,quart,1,"],
            ["8 pint + 3 half-pint + 1 quart"],
        ),
        ([SIZED, "2024-07-01,okra,6,8,,", ",,,,3,"], ["8 pint + 3 quart"]),
        (
            [SIZED, "2024-07-01,okra,6,8,,", ",,,,3,", "2024-07-02,beets,9,7,,"],
            ["8 pint + 3 quart", "7 pint"],
        ),
        ([SIZED, "2024-07-01,okra,6,7,,", ",,,5,,second canner load"], ["12 pint"]),
        ([SIZED, "2024-07-01,okra,6,7,,", "second load,,,5,,"], ["12 pint"]),
        ([WORDS, "2024-07-01,okra,6,8 pts", ",,,3 qts"], ["8 pint + 3 quart"]),
        ([SORTS, "2024-07-01,okra,6,pint,8,", ",,,,4,second canner load"], ["12 pint"]),
    ],
)
def test_a_row_with_another_sort_of_jar_goes_with_the_batch_above(
    tmp_path: Path, rows: list[str], due: list[str]
) -> None:
    read = put(tmp_path, *rows)
    assert jars(read) == due
    assert read.left == ()
    assert "with the jars of row 3: " in " ".join(why for _, why in read.doubts)


TWO_SORTS = ("2024-07-01,okra,6,pint,8,", "2024-07-02,okra,4,pint,5,")
TWO_SIZED = ("2024-07-01,okra,6,8,1,", "2024-07-02,okra,4,5,,")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([SORTS, *TWO_SORTS, ",,10,,13,"], "10 13"),
        ([SIZED, *TWO_SIZED, ",,10,13,1,"], "10 13 1"),
        ([SIZED, *TWO_SIZED, ",,,13,1,"], "13 1"),
        ([SIZED, *TWO_SIZED, ",,,14,,"], "14"),  # miscounted, or a second load? Nothing says so
        ([WORDS, "2024-07-01,okra,6,8 pts", "2024-07-02,okra,4,5 pts", ",,,13 pts"], "13 pts"),
        ([SORTS, *TWO_SORTS, "", ",,,quart,3,"], "quart 3"),  # under a gap: of no batch
        ([SORTS, ",,,quart,3,", *TWO_SORTS], "quart 3"),
        ([SORTS, *TWO_SORTS, ",,,pint,5,"], "pint 5"),  # the same again?
        ([SORTS, *TWO_SORTS, ",,,,4,"], "4"),
    ],
)
def test_a_row_that_may_be_a_total_is_left_out_with_what_stands_in_it(
    tmp_path: Path, rows: list[str], said: str
) -> None:
    read = put(tmp_path, *rows)
    assert len(read.entries) == 2
    (why,) = [why for _, why in read.left]
    assert why == f"it has neither a crop nor a date, so it is taken as a total: '{said}'"


def test_what_a_second_row_says_otherwise_is_told_and_not_read(tmp_path: Path) -> None:
    read = put(tmp_path, SORTS, "2024-07-01,okra,6,pint,8,hot", ",,2,half-pint,3,tired")
    assert jars(read) == ["8 pint + 3 half-pint"]
    assert read.entries[0][1].batch.note == "hot; tired"
    assert "as bought '2 lbs' of row 3 is not read; the row above has 6 lbs" in read.doubts[1][1]
