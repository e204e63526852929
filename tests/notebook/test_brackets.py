"""Brackets behind a count or a measure: what is plain there is read, any other amount is told.

Each cell was read by hand as a cook would: what stands before the brackets is the jars or the brine
of the batch, and what is in them is said of it.
"""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)
LB, CUP, QT = 453.59237, 236.5882365, 946.352946  # NIST Handbook 44, appendix C


def put(folder: Path, head: str, *cells: str) -> Rehearsal:
    row = ",".join(f'"{cell}"' for cell in ("2024-07-01", "okra", *cells))
    (folder / "mine.csv").write_text(f"Date,Crop,{head}\n{row}\n", encoding="utf-8")
    return rehearse([folder / "mine.csv"], today=TODAY)


@pytest.mark.parametrize(
    ("head", "cells", "jars", "told"),
    [
        ("Pints", ["8 (+ 2 qts)"], "8 pint + 2 quart", ""),
        ("Pints", ["8 (plus 2 quarts)"], "8 pint + 2 quart", ""),
        ("Pints", ["8 (6 wide pts, 2 pts)"], "6 pint-wide + 2 pint", ""),
        ("Pints", ["8 (+3)"], "11 pint", "are read as 8 + 3"),
        ("Pints", ["8 (+ 1 more)"], "9 pint", "are read as 8 + 1"),
        ("Pints", ["8 (+1 half full)"], "8.5 pint", "are read as 8.5"),
        ("Pints", ["8 (last 1/2)"], "7.5 pint", "are read as 7.5"),
        ("Pints", ["8 (last one half full)"], "7.5 pint", "are read as 7.5"),
        ("Jar,Jars", ["pint", "8 (+ 2 qts)"], "8 pint + 2 quart", ""),
        ("Jar,Jars", ["pint", "8 + 2 qts"], "8 pint + 2 quart", ""),
        ("Jars", ["6 (1/2 pts)"], "6 half-pint", ""),
        ("Jars", ["6 (pts)"], "6 pint", ""),
        ("Jars", ["8 (6 pt, 2 qt)"], "6 pint + 2 quart", ""),
        ("Pints", ["8 (gave 2 to Oda)"], "8 pint", ""),
        ("Pints", ["8 (12 min)"], "8 pint", ""),
        ("Pints", ["8 (5 + 3)"], "8 pint", ""),
        ("Pints", ["8 (2 loads of 4)"], "8 pint", ""),
        ("Pints", ["8 (5 + 2)"], "8 pint", "not counted"),
        ("Pints", ["8 (2 didn't seal, 1 eaten)"], "8 pint", "not counted"),
        ("Pints", ["8 (by the big window)"], "8 pint", ""),
        # Of which, or on top? A small jar, or half of one? Nobody can tell.
        ("Pints", ["8 (2 qts)"], "8 pint", "not counted"),
        ("Pints", ["8 (+ 1/2 pint)"], "8 pint", "not counted"),
        ("Pints", ["8 (+ half)"], "8 pint", "not counted"),
        ("Pints", ["8 (+ 1 for the fridge)"], "8 pint", "not counted"),
        ("Pints", ["8 (lost 1)"], "8 pint", "not counted"),
    ],
)
def test_jars_in_brackets_are_counted_where_that_is_plain(
    tmp_path: Path, head: str, cells: list[str], jars: str, told: str
) -> None:
    read = put(tmp_path, head, *cells)
    assert read.entries[0][1].batch.filled_text == jars
    assert len(read.doubts) == bool(told)
    assert told in "".join(why for _, why in read.doubts)


@pytest.mark.parametrize(
    ("head", "cells", "number"),
    [
        ("Pints", ["28 (27 sealed)"], 27), ("Pints", ["28 pt (27 sealed)"], 27),
        ("Jar,Jars", ["pint", "28 (27 of 28 sealed)"], 27), ("Pints", ["28 (all sealed)"], 28),
        ("Pints", ["28 (1 failed)"], 27), ("Pints", ["28 (one didn't seal)"], 27),
        ("Pints", ["28 (2 did not seal)"], 26), ("Pints,Sealed", ["28", "27 (1 failed)"], 27),
        ("Pints,Sealed", ["28", "27 (of 28)"], 27), ("Pints,Sealed", ["28 (27 sealed)", "27"], 27),
        ("Pints", ["28 (ok)"], None), ("Pints", ["28 (none)"], None),
    ],
)  # fmt: skip
def test_jars_that_sealed_may_stand_in_brackets(
    tmp_path: Path, head: str, cells: list[str], number: float | None
) -> None:
    read = put(tmp_path, head, *cells)
    batch = read.entries[0][1].batch
    assert (batch.filled_text, batch.sealed) == ("28 pint", number)
    assert read.doubts == ()


@pytest.mark.parametrize(
    ("head", "cell", "made", "left", "told"),
    [
        ("Brine (c)", "8 (1 left)", 8, 1, ""),
        ("Brine (c)", "8 c (1/2 c left)", 8, 0.5, ""),
        ("Brine (c)", "8 (with 1 left over)", 8, 1, ""),
        ("Brine (c)", "8 (half left)", 8, 0.5, ""),
        ("Brine (c)", "8 (none left)", 8, 0, ""),
        ("Brine (c)", "8 (ran out)", 8, 0, ""),
        ("Brine (c)", "8 (used 7)", 8, 1, "made less used"),
        ("Brine (c)", "8 (+3)", 11, None, "is read as 8 c + 3 c"),
        ("Brine (c)", "8 (not enough! +3)", 11, None, "is read as 8 c + 3 c"),
        ("Brine (c)", "8 (+ 1 qt)", 12, None, "is read as 8 c + 1 qt"),
        ("Brine (c)", "8 (+1) (2 left)", 9, 2, "is read as 8 c + 1 c"),
        ("Brine (c)", "8 (5% vinegar)", 8, None, ""),
        # A cup or a quart? Of the brine, or what it was made of?
        ("Brine (c)", "2 qt (1 left)", 8, None, "not counted"),
        ("Brine (c)", "2 qt (+3)", 8, None, "not counted"),
        ("Brine (c)", "8 (4 vinegar)", 8, None, "not counted"),
        ("Brine (c)", "8 (+ 1 later)", 8, None, "not counted"),
    ],
)
def test_brine_in_brackets_is_read_where_that_is_plain(
    tmp_path: Path, head: str, cell: str, made: float, left: float | None, told: str
) -> None:
    read = put(tmp_path, f"Pints,{head}", "8", cell)
    batch = read.entries[0][1].batch
    assert batch.brine_made_ml == pytest.approx(made * CUP, rel=1e-6)
    assert batch.brine_left_ml == (None if left is None else pytest.approx(left * CUP, rel=1e-6))
    assert len(read.doubts) == bool(told)
    assert told in "".join(why for _, why in read.doubts)
    assert cell.partition("(")[2].partition(")")[0] in batch.note


@pytest.mark.parametrize(
    ("cell", "bought", "trimmed", "told"),
    [
        ("6 (7 bought)", 7, 6, ""),
        ("6 (7 lb before trimming)", 7, 6, ""),
        ("6 (+1)", None, 7, "is read as 6 lb + 1 lb"),
        ("6 lb 4 oz (+ 12 oz)", None, 7, "is read as 6 lb 4 oz + 12 oz"),
        ("6 (+ 1 later)", None, 6, "not counted"),
        ("6 (salted 3 h)", None, 6, "not counted"),
        ("7 - 1", None, 6, "is read as 7 lb - 1 lb"),
    ],
)
def test_weights_in_brackets_are_read_where_that_is_plain(
    tmp_path: Path, cell: str, bought: float | None, trimmed: float, told: str
) -> None:
    read = put(tmp_path, "Trimmed (lb),Pints", cell, "8")
    batch = read.entries[0][1].batch
    assert batch.trimmed_g == pytest.approx(trimmed * LB)
    assert batch.as_bought_g == (None if bought is None else pytest.approx(bought * LB))
    assert len(read.doubts) == bool(told)
    assert told in "".join(why for _, why in read.doubts)


def test_a_column_said_twice_is_told(tmp_path: Path) -> None:
    read = put(tmp_path, "Pints,Brine made (c),Left (c)", "8", "8 (1 left)", "2")
    assert read.entries[0][1].batch.brine_left_ml == pytest.approx(2 * CUP)
    assert "2 c and 1 c; the first is read" in read.doubts[0][1]


def test_a_number_before_brackets_needs_a_unit_like_any_other(tmp_path: Path) -> None:
    read = put(tmp_path, "Pints,Brine", "8", "8 (1 left)")
    assert [question.heading for question in read.asked] == ["Brine"]
