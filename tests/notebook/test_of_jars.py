"""Columns that say of the jars what their count does not: which failed, how full the last one was.

Each row was read by hand: the count of a row is of the jars that were filled.
"""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)


def put(folder: Path, head: str, cells: str) -> Rehearsal:
    text = f"Date,Crop,{head}\n2024-07-01,beets,{cells}\n"
    (folder / "mine.csv").write_text(text, encoding="utf-8")
    return rehearse([folder / "mine.csv"], today=TODAY)


@pytest.mark.parametrize(
    ("head", "cells", "number", "told"),
    [
        ("Pints,Failed seals", "8,1", 7, 0), ("Pints,Failed seals", "8,0", 8, 0),
        ("Pints,Failed seals", "8,none", 8, 0), ("Pints,Seals failed", "8,2 (reprocessed)", 6, 0),
        ("Pints,Failed seals", "8,", None, 0), ("Pints,Sealed,Failed seals", "8,7,1", 7, 1),
        ("Pints,Failed seals", "7.5,1", None, 1),  # which of them failed, nobody says
    ],
)  # fmt: skip
def test_jars_that_failed_tell_how_many_sealed(
    tmp_path: Path, head: str, cells: str, number: float | None, told: int
) -> None:
    read = put(tmp_path, head, cells)
    assert read.entries[0][1].batch.sealed == number
    assert len(read.doubts) == told


@pytest.mark.parametrize(
    ("head", "cells", "jars", "told"),
    [
        ("Pints,Last jar", "8,half", 7.5, "are read as 7.5 pint"),
        ("Pints,Last jar", "8,1/2", 7.5, "are read as 7.5 pint"),
        ("Pints,Last jar", "8,0.75", 7.75, "are read as 7.75 pint"),
        ("Pints,How full was the last jar", "8,3/4 full", 7.75, "are read as 7.75 pint"),
        ("Pints,Last jar", "8,full", 8, ""),
        ("Pints,Last jar", "8,to Oda", 8, ""),
        ("Pints,Last jar", "7.5,1/2", 7.5, ""),
        ("Pints,Last jar", "8,1 inch low", 8, "is not read"),
        # Among the eight, or on top of them? Nobody says.
        ("Pints,Partial", "8,1/2", 8, "read as full ones"),
        ("Pints,Partial", "8,1", 8, "is not read"),
        ("Pints,Partial", "8,", 8, ""),
    ],
)
def test_how_full_the_last_jar_was_may_have_a_column(
    tmp_path: Path, head: str, cells: str, jars: float, told: str
) -> None:
    read = put(tmp_path, head, cells)
    assert read.entries[0][1].batch.jars == (jars,)
    assert len(read.doubts) == bool(told)
    assert told in "".join(why for _, why in read.doubts)
    assert read.ignored == ()


def test_jars_under_a_short_name_of_their_size_are_counted(tmp_path: Path) -> None:
    assert put(tmp_path, "1 L,500s", "0,40").entries[0][1].batch.filled_text == "40 x 500ml"


def test_a_row_without_jars_names_the_column_that_may_count_them(tmp_path: Path) -> None:
    ((_, why),) = put(tmp_path, "1 L,Halves", "0,40").refused
    assert why == "no jars were filled under the headings that are read; 'Halves' may count some"


def test_bushels_in_a_column_are_what_is_published_for_them(tmp_path: Path) -> None:
    """Half a bushel of beets: USDA Complete Guide (AIB 539), Guide 4, 52 lb a bushel."""
    read = put(tmp_path, "Bushels,Trimmed,Pints", "1/2,20 lb,30")
    assert "as bought '1/2 bushels' is read as 26 lb" in read.doubts[0][1]
    assert put(tmp_path, "Bushels,Trimmed,Pints", "1/2,20,30").asked[0].heading == "Trimmed"


def test_packers_are_persons(tmp_path: Path) -> None:
    assert put(tmp_path, "Pints,Packers", "8,Oda").entries[0][1].batch.person == "Oda"
