"""Brine of two pots in two columns, and two measures in one: read by hand, cell by cell."""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.headings import read_map
from jarcast.notebook.rehearsal import Hints, Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)
LB, CUP = 453.59237, 236.5882365  # NIST Handbook 44, appendix C


def put(folder: Path, head: str, cells: str, *told: str) -> Rehearsal:
    text = f"Date,Crop,Pints,{head}\n2024-07-01,okra,8,{cells}\n"
    (folder / "mine.csv").write_text(text, encoding="utf-8")
    columns = {column.heading.casefold(): column for column in map(read_map, told)}
    return rehearse([folder / "mine.csv"], Hints(columns), today=TODAY)


def brine(read: Rehearsal) -> tuple[float | None, float | None]:
    batch = read.entries[0][1].batch
    made, left = (
        None if ml is None else round(ml / CUP, 3)
        for ml in (batch.brine_made_ml, batch.brine_left_ml)
    )
    return made, left


@pytest.mark.parametrize(
    ("head", "cells", "made", "left"),
    [
        ("Brine (c),2nd pot (c),Left (c)", "8,3,1", 11, 1),
        ("Brine (c),2nd pot (c),3rd pot (c),Left (c)", "8,3,2,1", 13, 1),
        ("Brine (c),2nd pot (c),Left (c)", "8,,1", 8, 1),
        ("Brine (c),2nd pot (c),Left (c)", "8,none,1", 8, 1),
        ("Brine (c),More brine (c)", "8,3", 11, None),
        ("Brine 1 (c),Brine 2 (c)", "8,3", 11, None),
        ("Pot 1 (c),Pot 2 (c),Brine left (c)", "8,3,2", 11, 2),
        ("1st pot (c),2nd pot,Brine used (c)", "8,3,10", 11, 1),
        ("Brine made (c),Extra brine (c),Left (c)", "8,3,1", 11, 1),
        ("Brine (L) used", "2", 8.454, None),  # 2 l in cups
    ],
)
def test_brine_of_several_pots_is_a_sum(
    tmp_path: Path, head: str, cells: str, made: float, left: float | None
) -> None:
    read = put(tmp_path, head, cells)
    assert brine(read) == (made, left)
    assert read.ignored == ()


def test_the_sum_is_told(tmp_path: Path) -> None:
    read = put(tmp_path, "Brine (c),2nd pot (c)", "8,3")
    assert [why for _, why in read.doubts] == ["brine made is taken as that of all pots, 8 c + 3 c"]


@pytest.mark.parametrize(
    ("head", "cells", "why"),
    [
        ("Brine (c),Extra brine (c)", "8,3", "it may be more of it, or what was left"),
        ("More brine (c)", "3", "no column says how much was made first"),
        ("Brine (c),2nd pot left (c)", "8,3", ""),
    ],
)
def test_more_brine_that_may_be_something_else_is_not_added(
    tmp_path: Path, head: str, cells: str, why: str
) -> None:
    read = put(tmp_path, head, cells)
    assert brine(read)[0] in (8, None)
    assert len(read.ignored) == 1
    assert why in " ".join(why for _, why in read.doubts)


def test_any_column_may_be_told_to_be_more_brine(tmp_path: Path) -> None:
    assert brine(put(tmp_path, "Brine (c),B2", "8,3", "B2=brine_more:c")) == (11, None)
    read = put(tmp_path, "Brine (c),B2", "8,3", "B2=brine_made:c")
    assert "brine_more in --map adds the other" in read.doubts[0][1]


@pytest.mark.parametrize(
    ("head", "cell", "made", "left"),
    [
        ("Brine (made/left)", "8 c/1 c", 8, 1),
        ("Brine (made/left)", "8/1 c", 8, 1),
        ("Brine (made/left)", "2 qt / 1 1/2 c", 8, 1.5),
        ("Brine (made/left)", '"8 c, none left"', 8, 0),
        ("Brine (made/left)", '"8 c made, 1 c left"', 8, 1),
        ("Brine made/left (c)", "8/1", 8, 1),
        ("Brine made/left (c)", "8/1/2", 8, 0.5),
        ("Brine made/left (c)", "7 1/2/1/2", 7.5, 0.5),
        ("Brine made/left (c)", "8", 8, None),
        ("Brine made/left (c)", "8/0", 8, 0),
        ("Brine made/left (c)", "7 1/2", 7.5, None),
        ("Brine made/left (c)", "8/-", 8, None),
        ("Brine made and left (c)", "8 and 1", 8, 1),
    ],
)
def test_made_and_left_in_one_column_are_two_measures(
    tmp_path: Path, head: str, cell: str, made: float, left: float | None
) -> None:
    read = put(tmp_path, head, cell)
    assert brine(read) == (made, left)
    assert read.doubts == ()


@pytest.mark.parametrize("cell", ["1/2", "1/2 c", "8 1", "3 1/2 1/2"])
def test_what_may_be_a_part_of_one_or_two_measures_is_left_out_and_told(
    tmp_path: Path, cell: str
) -> None:
    """A half made, of which nothing was left, or one made and two left, which cannot be."""
    read = put(tmp_path, "Brine made/left (c)", cell)
    assert brine(read) == (None, None)
    assert f"'{cell}' under 'Brine made/left (c)' cannot be told apart" in read.doubts[0][1]


def test_bought_and_trimmed_may_share_a_column(tmp_path: Path) -> None:
    batch = put(tmp_path, "Bought/trimmed (lb)", "10/8 1/2").entries[0][1].batch
    assert batch.as_bought_g == pytest.approx(10 * LB)
    assert batch.trimmed_g == pytest.approx(8.5 * LB)


def test_one_weight_under_two_names_may_be_either(tmp_path: Path) -> None:
    read = put(tmp_path, "Cured/cooked (lb)", "6 1/2")
    batch = read.entries[0][1].batch
    assert (batch.cured_g, batch.cooked_g) == (None, None)
    assert read.ignored == ("Cured/cooked (lb)",)


def test_a_cell_without_a_heading_is_none_of_the_two(tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text(
        "Date,Crop,Pints,Brine (c): made/left\n2024-07-01,okra,8,,5\n2024-07-02,okra,7,8/1,4\n"
    )
    first, second = (e.batch for _, e in rehearse([tmp_path / "mine.csv"], today=TODAY).entries)
    assert (first.brine_made_ml, first.brine_left_ml) == (None, None)
    assert second.brine_left_ml == pytest.approx(CUP)


def test_the_unit_of_two_measures_is_asked_once_and_told_for_both(tmp_path: Path) -> None:
    heading = "Brine (made/left)"
    (question,) = put(tmp_path, heading, "8/1").asked
    assert f'--map "{heading}=brine_made/brine_left:UNIT"' in question.text
    assert brine(put(tmp_path, heading, "8/1", f"{heading}=brine_made/brine_left:c")) == (8, 1)


def test_two_measures_may_stand_beside_one_label(tmp_path: Path) -> None:
    text = "Date,2024-07-01\nCrop,okra\nPints,8\nBrine (made/left),8 c/1 c\n"
    (tmp_path / "mine.csv").write_text(text)
    assert brine(rehearse([tmp_path / "mine.csv"], today=TODAY)) == (8, 1)
