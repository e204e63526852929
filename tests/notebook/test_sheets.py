"""Sheets as cooks and people of a market stall keep them: every figure that lands was read by hand.

Each batch is its day, crop, jars, pounds bought and trimmed, cups of brine made and left, and jars
that sealed; None where the sheet does not say. Names of people and places are invented.
"""

import datetime as dt
from pathlib import Path
from typing import NamedTuple

import pytest

from jarcast.ledger.entry import cell_text
from jarcast.notebook.headings import read_map
from jarcast.notebook.rehearsal import Hints, Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)
LB, CUP, KG = 453.59237, 236.5882365, 1000 / 453.59237  # NIST Handbook 44, appendix C


class Said(NamedTuple):
    day: str
    crop: str
    jars: str
    bought: float | None = None
    trimmed: float | None = None
    made: float | None = None
    left: float | None = None
    sealed: float | None = None


def put(folder: Path, text: str, *told: str) -> Rehearsal:
    (folder / "mine.csv").write_text(text, encoding="utf-8")
    return rehearsed(folder / "mine.csv", *told)


def rehearsed(file: Path, *told: str) -> Rehearsal:
    columns = {column.heading.casefold(): column for column in map(read_map, told)}
    return rehearse([file], Hints(columns), today=TODAY)


def check(read: Rehearsal, due: list[Said]) -> None:
    for (_, entry), said in zip(read.entries, due, strict=True):
        batch = entry.batch
        assert (cell_text(batch, "date"), batch.produce, batch.filled_text) == said[:3]
        for value, wanted, unit in (
            (batch.as_bought_g, said.bought, LB), (batch.trimmed_g, said.trimmed, LB),
            (batch.brine_made_ml, said.made, CUP), (batch.brine_left_ml, said.left, CUP),
            (batch.sealed, said.sealed, 1),
        ):  # fmt: skip
            assert value == (None if wanted is None else pytest.approx(wanted * unit))


STALL = """Wednesday market - pickles 2022,,,,,,,,,
Date,Crop,Lb bought,$/lb,Lb used,Pints,Pts to stall,Pts sold,Pts kept,Remarks
2022-07-06,okra,9,2.10,8,18,12,10,6,hot day
2022-07-20,"cucumbers, spears",22,0.90,21,30,24,20,6,
"""
GROUPS = """,,Weight (lb),,Canned,Gave away,,For Oda,Brine (c),,
Day,Veg,in,trimmed,pints,pints,quarts,half-pints,made,left,Who
2022-08-01,carrot sticks,10,8,12,2,1,3,12,1,Oda
2022-08-02,beets sliced,14,10.5,15,3,,1,10,0.5,Pim
"""
OVER_TWO = """Grandma Wren's pickles,,,,,,,,,
weights in pounds,,,,,,,,,
Date,What,Weight,,,Jars,,Brine,,Notes
,,bought,trimmed,drained,pints,quarts,made (c),left (c),
2022-07-03,"cucumbers, slices",10,9.25,8.5,12,,9,1.5,salted 3 h
2022-07-10,okra,4,3.5,,8,1,7,,
"""
UNITS_BELOW = """Date,Crop,Bought,Trimmed,Jars,Brine,Left
,,lb,lb,pt,qt,cups
2022-07-01,cucumber slices,10,9.5,12,2.5,1
2022-07-08,okra,4,3.5,7,1.5,0.5
"""
UNITS_BELOW_TWO = """,,Weight,,Jars,,Brine,,
Date,Crop,in,trimmed,pints,quarts,made,left,Notes
,,lb,oz,,,qt,cups,
2022-07-01,cucumber slices,10,152,12,,2.5,1,hot
2022-07-08,okra,4,56,7,1,1.5,0.5,
"""
METRIC = """Day;Vegetable;Bought (kg);Trimmed (g);Jars;Size;Brine made (ml);Left (ml);Sealed
14.07.2023;carrots;2,5;2.100;4,5;500 ml;1.800;150;4
28.07.2023;okra;1,2;1.100;3 x 500 ml;;900;75,5;3
"""
SECTIONS = """Summer book of the Larks,,,,
Date,Lbs,After trimming (lb),Pints,Brine (c)
OKRA,,,,
2022-07-01,4,3.5,7,6
2022-07-08,5,4.5,9,8
CARROTS - sticks,,,,
2022-07-10,8,6.5,10,9
Sub total,17,14.5,26,23
"""
A_TABLE_A_CROP = """Okra,,,
Date,Bought lb,Pints,Brine made (c)
2022-07-04,4.5,9,8
,,,
"Carrots, sticks",,,
Date,Bought lb,Pints,Brine made (c)
2022-07-04,9,12,12
"""
BESIDE = """Pickles,,,,,Jars in cellar,,
Date,Crop,lb,pts,,Kind,Pints,Quarts
2022-07-04,okra,4.5,9,,okra,20,3
2022-07-11,carrots,6,8,,beets,5,5
"""
CLOSE_BESIDE = """Date,Crop,Lbs,Pints,Quarts,Crop,Pints,Quarts
2022-07-01,okra,4,7,,okra,20,1
2022-07-08,beets,14,12,2,beets,9,4
"""
TWO_LOGS = """Oda,,,,Pim,,
Date,Crop,Pints,,Date,Crop,Pints
2022-07-01,okra,7,,2022-07-02,beets,9
2022-07-03,carrots,8,,,,
"""
SPACED = """Date,Crop,,Pints,,Brine made (c),Brine left (c)
2022-07-01,okra,,7,,6,1
"""
SIDES = """Crop,okra,carrots,Season
Date,2022-07-01,2022-07-10,
Bought (lb),4,8,12
Trimmed (lb),3.5,6.5,10
Pints,7,10,17
Pints given away,2,3,5
Brine made (c),6,9,15
"""
ODD = """Date,What,Lb bought,Lb trimmed,Jars,Size,Brine made,Brine left,Sealed
2022-07-01,okra,abt 4,3 1/2,7,pt,6 c,none,all
2022-07-08,okra,5 lb 4,4.5,8 pt + 1 hp,,2 qt,1/2 c,8/9
2022-07-15,carrot sticks,8,six and a half,10,pt,9 c,some,yes
VOID 2022-07-16,carrots,8,6,10,pt,9 c,1 c,10
2022-07-22,beets,13,11,eight,qt,2 qt 1 c,ran out,7 of 8
"""
SEALED = """Date,Crop,Pints,Qts,Pts sealed,Qts sealed,Not sealed,Pints opened,Tare (lb),Gross (lb)
2022-07-01,okra,7,2,7,1,1,3,0.5,4.5
2022-07-08,beans,12,,11,,1,0,0.5,6.5
"""
PLAN = """Plan for the fair,,,
Date,Crop,Pints,Lbs
2022-09-01,okra,20,10
,,,
What we put up,,,
Date,Crop,Pints,Lbs
2022-08-01,okra,7,4
"""
RECIPE = """Date,Recipe,Crop,Recipe makes (pts),Got (pts),Lb per recipe,Vinegar (c),Water (qt),Brine left (c)
2022-07-01,dilled beans,green beans,7,8,4,5,5,1
"""  # noqa: E501 - a row as it was kept
STOCK = """Date planted,Date,Crop,Pints,Date opened,Pints left,Best by,Hours,Total pints
2022-04-01,2022-07-01,okra,7,2022-12-01,3,2023-07-01,5,7
"""
NUMBERED = """Number,Date,Crop,Jars,Size
1,2022-07-01,okra,7,qt
2,2022-07-08,beets,12,qt
"""
WORDLESS = """Mossbank kitchen log,,,,
Occasion,Stuff,Style,Pints,Packed
6/20/2021,beans,whole,11,raw
6/27/2021,beets,slices,9,hot
"""
OKRA = Said("2022-07-01", "okra", "7 pint")
SHEETS: dict[str, tuple[str, list[Said], tuple[str, ...]]] = {
    # name: the sheet, its batches, and headings whose amounts are told as not read
    "a market stall": (STALL, [
        Said("2022-07-06", "okra", "18 pint", 9), Said("2022-07-20", "cucumber", "30 pint", 22),
    ], ("Lb used", "Pts to stall", "Pts sold", "Pts kept")),
    "groups above, some of them given away": (GROUPS, [
        Said("2022-08-01", "carrot", "12 pint", 10, 8, 12, 1),
        Said("2022-08-02", "beet", "15 pint", 14, 10.5, 10, 0.5),
    ], ("Gave away pints", "Gave away quarts", "For Oda half-pints")),
    "headings over two rows": (OVER_TWO, [
        Said("2022-07-03", "cucumber", "12 pint", 10, 9.25, 9, 1.5),
        Said("2022-07-10", "okra", "8 pint + 1 quart", 4, 3.5, 7),
    ], ()),
    "units in a row below": (UNITS_BELOW, [
        Said("2022-07-01", "cucumber", "12 pint", 10, 9.5, 10, 1),
        Said("2022-07-08", "okra", "7 pint", 4, 3.5, 6, 0.5),
    ], ()),
    "units in a row below headings over two": (UNITS_BELOW_TWO, [
        Said("2022-07-01", "cucumber", "12 pint", 10, 9.5, 10, 1),
        Said("2022-07-08", "okra", "7 pint + 1 quart", 4, 3.5, 6, 0.5),
    ], ()),
    "decimal commas": (METRIC, [
        Said("2023-07-14", "carrot", "4.5 x 500ml", 2.5 * KG, 2.1 * KG, 1800 / CUP, 150 / CUP, 4),
        Said("2023-07-28", "okra", "3 x 500ml", 1.2 * KG, 1.1 * KG, 900 / CUP, 75.5 / CUP, 3),
    ], ()),
    "crops as rows of their own": (SECTIONS, [
        OKRA._replace(bought=4, trimmed=3.5, made=6),
        Said("2022-07-08", "okra", "9 pint", 5, 4.5, 8),
        Said("2022-07-10", "carrot", "10 pint", 8, 6.5, 9),
    ], ()),
    "a crop as the title over its table": (A_TABLE_A_CROP, [
        Said("2022-07-04", "okra", "9 pint", 4.5, None, 8),
        Said("2022-07-04", "carrot", "12 pint", 9, None, 12),
    ], ()),
    "what is in the cellar beside the log": (BESIDE, [
        Said("2022-07-04", "okra", "9 pint", 4.5), Said("2022-07-11", "carrot", "8 pint", 6),
    ], ()),
    "the same without an empty column": (CLOSE_BESIDE, [
        OKRA._replace(bought=4), Said("2022-07-08", "beet", "12 pint + 2 quart", 14),
    ], ()),
    "two logs beside one another": (TWO_LOGS, [
        OKRA, Said("2022-07-03", "carrot", "8 pint"), Said("2022-07-02", "beet", "9 pint"),
    ], ()),
    "empty columns for looks": (SPACED, [OKRA._replace(made=6, left=1)], ()),
    "labels down the side, and a season's sum": (SIDES, [
        OKRA._replace(bought=4, trimmed=3.5, made=6),
        Said("2022-07-10", "carrot", "10 pint", 8, 6.5, 9),
    ], ()),
    "odd cells": (ODD, [
        OKRA._replace(bought=4, trimmed=3.5, made=6, left=0, sealed=7),
        Said("2022-07-08", "okra", "8 pint + 1 half-pint", 5.25, 4.5, 8, 0.5, 8),
        Said("2022-07-15", "carrot", "10 pint", 8, 6.5, 9, None, 10),
        Said("2022-07-22", "beet", "8 quart", 13, 11, 9, 0, 7),
    ], ()),
    "seals by size, and a tare": (SEALED, [
        OKRA._replace(jars="7 pint + 2 quart", sealed=8),
        Said("2022-07-08", "green bean", "12 pint", sealed=11),
    ], ("Not sealed", "Pints opened", "Tare (lb)", "Gross (lb)")),
    "a plan above the log": (PLAN, [Said("2022-08-01", "okra", "7 pint", 4)], ()),
    "what the recipe says": (RECIPE, [
        Said("2022-07-01", "green bean", "8 pint", left=1),
    ], ("Recipe makes (pts)", "Lb per recipe", "Water (qt)")),
    "what became of the jars": (STOCK, [OKRA], ("Pints left", "Hours", "Total pints")),
    "numbered rows": (NUMBERED, [
        OKRA._replace(jars="7 quart"), Said("2022-07-08", "beet", "12 quart"),
    ], ("Number",)),
    "headings that say nothing": (WORDLESS, [
        Said("2021-06-20", "green bean", "11 pint"), Said("2021-06-27", "beet", "9 pint"),
    ], ()),
}  # fmt: skip


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_comes_in_as_its_keeper_reads_it(name: str, tmp_path: Path) -> None:
    text, due, unread = SHEETS[name]
    read = put(tmp_path, text)
    assert (read.asked, read.refused) == ((), ())
    check(read, due)
    told = [why for _, why in read.doubts if "are not read, as" in why]
    assert len(told) == len(unread)
    for heading, why in zip(unread, told, strict=True):
        assert f"'{heading}'" in why
        assert f'--map "{heading}=' in why
        assert heading in read.ignored


def test_what_is_left_out_of_a_sheet_is_named(tmp_path: Path) -> None:
    for text, words in (
        (BESIDE, "Quarts"), (CLOSE_BESIDE, "'Crop, Pints, Quarts'"), (SIDES, "a total: 'Season'"),
        (SIDES, "'given away'"), (ODD, "VOID"), (PLAN, "'Plan for the fair'"),
        (SECTIONS, "a total: 'Sub total'"),
    ):  # fmt: skip
        assert any(words in why for _, why in put(tmp_path, text).left), words


def test_a_crop_taken_from_above_is_told(tmp_path: Path) -> None:
    told = [why for _, why in put(tmp_path, A_TABLE_A_CROP).doubts]
    assert any("'Okra'" in why for why in told)
    assert any("'Carrots, sticks'" in why for why in told)


def test_what_the_user_says_of_a_heading_stands(tmp_path: Path) -> None:
    text = "Date,Crop,Pints,Pts given away,Lbs wasted\n2022-07-01,okra,7,2,1\n"
    told = ("Pts given away=jars:pint", "Lbs wasted=trimmings:lb")
    read = put(tmp_path, text, *told)
    check(read, [OKRA._replace(jars="9 pint")])
    assert read.ignored == ()
    skipped = put(tmp_path, text, "Pts given away=", "Lbs wasted=")
    assert (len(skipped.entries), skipped.doubts) == (1, ())


@pytest.mark.parametrize(
    ("titles", "batches"),
    [
        ("Plan 2023", 0), ("Shopping list\nweights in lb", 0), ("Left in the cellar", 0),
        ("Goal: 100 pints", 1), ("Plan 2023\nWhat was put up", 1), ("Sold and put up, a log", 1),
        ("Plans of Oda and Pim for a summer of pickling together", 1),
    ],
)  # fmt: skip
def test_a_title_that_names_a_plan_is_over_no_batches(
    titles: str, batches: int, tmp_path: Path
) -> None:
    read = put(tmp_path, f"{titles}\nDate,Crop,Pints\n2022-07-01,okra,7\n")
    assert len(read.entries) == batches
    assert len(read.left) == 1 - batches


# Units


@pytest.mark.parametrize(
    "title",
    [
        "Put up by the Wrens; canner holds 7 quarts; salt from the 3 lb box",
        "Our 5 gallon crock and the kg scale", "Pickles in quarts", "Oda's lb scale broke",
    ],
)  # fmt: skip
def test_a_unit_in_a_sentence_above_is_no_unit_of_the_numbers_below(
    title: str, tmp_path: Path
) -> None:
    text = f'"{title}"\nDate,Crop,Bought,Pints,Brine made\n2022-07-01,okra,2,7,1.8\n'
    assert [one.heading for one in put(tmp_path, text).asked] == ["Bought", "Brine made"]


@pytest.mark.parametrize(
    "title",
    [
        "all weights lb, brine in cups unless said", "Weights in pounds & brine in c",
        "Summer 2022 in lb. Brine: cups", "(lb, cups)", "weights: lbs; liquids: cups",
    ],
)  # fmt: skip
def test_units_stated_above_are_those_of_the_numbers_below(title: str, tmp_path: Path) -> None:
    text = f'"{title}"\nDate,Crop,Bought,Pints,Brine made\n2022-07-01,okra,4,7,6\n'
    read = put(tmp_path, text)
    assert read.asked == ()
    check(read, [OKRA._replace(bought=4, made=6)])


def test_a_unit_taken_from_the_other_columns_is_told(tmp_path: Path) -> None:
    text = "Date,Crop,Pints,Brine made (qt),Left over\n2022-07-01,okra,7,2,1/2\n"
    read = put(tmp_path, text)
    check(read, [OKRA._replace(made=8, left=2)])
    ((_, why),) = read.doubts
    assert "'Left over' states no unit" in why
    assert "qt" in why


def test_gross_and_net_are_told_of(tmp_path: Path) -> None:
    text = "Date,Crop,Gross (lb),Net (lb),Pints\n2022-07-01,okra,4,3.5,7\n"
    read = put(tmp_path, text)
    check(read, [OKRA._replace(bought=4, trimmed=3.5)])
    assert "without a crate" in read.doubts[0][1]
    told = put(tmp_path, text, "Net (lb)=as_bought:lb", "Gross (lb)=")
    check(told, [OKRA._replace(bought=3.5)])
    assert told.doubts == ()


# Headings that are not found


@pytest.mark.parametrize("title", ["Mossbank kitchen log 2021\n\n", ""])
def test_headings_that_mean_nothing_are_named_with_how_to_say_it(
    title: str, tmp_path: Path
) -> None:
    text = f"{title}Occasion,Stuff,Basin,Stored\n2022-07-01,okra,4,7\n2022-07-08,beets,14,12\n"
    ((_, why),) = put(tmp_path, text).left
    for words in ("'Occasion' as date", "'Stuff' as produce", "missing: jars", "'Stored'", "--map"):
        assert words in why
    told = put(tmp_path, text, "Stored=jars:pint", "Basin=trimmed:lb")
    check(told, [
        OKRA._replace(trimmed=4), Said("2022-07-08", "beet", "12 pint", trimmed=14),
    ])  # fmt: skip


@pytest.mark.parametrize(
    ("text", "said", "not_said"),
    [
        # What was wanted is not what was filled.
        ("Date,Crop,Target jars,Real jars\n2022-07-01,okra,10,9\n2022-07-02,beets,12,11\n",
         '--map "Real jars=jars"', "Target"),
        # A number is no crop.
        ("Date,#,Pints,Kind of day\n2022-07-01,1,9,hot\n2022-07-02,2,11,cool\n",
         '--map "Kind of day=produce"', "'#'"),
        ("Date,#,Pints,Load\n2022-07-01,1,9,1\n2022-07-02,2,11,2\n",
         "No other column looks like that", "#="),
        ("Date,Beans,Beets,Okra\n2022-07-01,8,,3\n2022-07-02,,12,\n",
         "'Beans', 'Beets', 'Okra' are crops: give each batch a row", "--map"),
        ("Date,Beans pints,Beets pints\n2022-07-01,8,\n2022-07-02,,12\n",
         "'Beans pints', 'Beets pints' are crops", "--map"),
    ],
)  # fmt: skip
def test_a_column_that_is_named_for_what_is_missing_may_well_be_it(
    text: str, said: str, not_said: str, tmp_path: Path
) -> None:
    read = put(tmp_path, text)
    ((_, why),) = read.left
    assert said in why
    assert not_said not in why
