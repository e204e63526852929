"""A dozen ways in which people lay out a notebook: what stands in each was written out by hand.

Each batch is its day, crop, jars, pounds bought and trimmed, cups of brine made and left, and who
packed; None where the notebook does not say. Names of people and places are invented.
"""

import datetime as dt
from pathlib import Path
from typing import NamedTuple

import pytest

from jarcast.ledger.entry import cell_text
from jarcast.notebook.crops import read_said
from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)
LB, CUP = 453.59237, 236.5882365  # NIST Handbook 44, appendix C


class Said(NamedTuple):
    day: str
    crop: str
    jars: str
    bought: float | None = None
    trimmed: float | None = None
    made: float | None = None
    left: float | None = None
    who: str = ""


BLOCKS = """Plot by the river, 2024

Date:,3 May 2024
Crop:,okra
Bought (lb):,5
Trimmed (lb):,4 1/2
Pints:,8
Brine made (cups):,7
Brine left (cups):,1/2
Packed by:,Oda

Date:,9 May 2024
Crop:,green beans
Bought (lb):,3
Trimmed (lb):,2.75
Pints:,5
Brine made (cups):,4
Brine left (cups):,0
Packed by:,Pim
"""
BESIDE = """label,first,second
Date,2024-05-03,2024-05-09
Vegetable,okra,green beans
Weight (lb),5,3
After trimming (lb),4.5,2.75
Pints,8,5
"""
BLOCK_UNITS = """Date,2024-05-03,
What,okra,
Bought,5,lb
Trimmed,72,oz
Jars,8,pints
Brine made,7,cups

Date,2024-05-09,
What,green beans,
Bought,3,lb
Trimmed,44,oz
Jars,5,pints
Brine made,1,qt
"""
ONE_CELL = """May 3 2024
Crop: okra
Bought: 5 lb
Trimmed: 4 lb 8 oz
Jars: 8 pints
Brine made: 7 cups

May 9 2024
Crop: green beans
Bought: 3 lb
Trimmed: 2 lb 12 oz
Jars: 5 pints
Brine made: 4 cups
"""
TWO_COLUMNS = """date,veg,bought,unit,trimmed,unit,jars,size,brine,unit
2024-05-03,okra,5,lb,72,oz,8,pint,7,cups
2024-05-09,green beans,3,lb,2.75,lb,5,quart,1,qt
"""
NO_HEAD_UNITS = """date,veg,bought,,trimmed,,pints
2024-05-03,okra,5,lb,72,oz,8
2024-05-09,green beans,3,lb,44,oz,5
"""
LB_OZ = """date,veg,bought lb,bought oz,trimmed lb,trimmed oz,pints
2024-05-03,okra,5,0,4,8,8
2024-05-09,green beans,3,,2,12,5
"""
BUSHELS = """date,veg,bought,trimmed lb,pints
2024-05-03,cucumber,1/2 bushel,20,20
2024-05-09,beets,1 bu,40,38
2024-05-10,okra,1 bushel,4,6
"""
WHO = """date,veg,trimmed lb,pints,who,weather
2024-05-03,okra,4.5,8,Oda,hot
2024-05-09,green beans,2.75,5,Pim,rain
"""
MONTHS = """Oda's book
May 2024,,,
date,veg,qts,brine (c)
5/3/2024,okra,4,7
5/19/2024,green beans,2.5,4
total,,6.5,11
June 2024,,,
date,veg,qts,brine (c)
6/2/2024,okra,3,5
"""
TABS = (
    "when\twhat\tkg picked\tkg cleaned\tjars (500 ml)\n3.5.2024\tokra\t2,5\t2\t8\n"
    "25.5.2024\tokra\t2\t1,6\t6\n"
)
SPLIT = """date,veg,trimmed (lb),half pints,pints,quarts,leftover brine (cups)
2024-05-03,okra,4.5,3,0,2,1
2024-05-09,green beans,2.75,,5,,-
"""
PHONE = """3 May 2024
okra 5 lb, trimmed 4.5, 8 pts, 7 cups brine made, 1/2 left

9 May 2024 green beans 3#, trimmed 2.75#, 5 pints, 4 c brine, none left
"""
WORDS = """Date;Produce, cut;Wt.;Trim wt.;Jars filled;Packed by
May 3, 2024;okra;5 lbs;4 lb 8 oz;8 pints;Oda
Thursday, May 9, 2024;green beans;3 lbs;2 lb 12 oz;4 pints + 1 quart;Pim
"""

DITTO = """No.,Wk,Product,Raw,Prep,1/2 pt,Pt,By
1,5/3/2024,okra,5 lb,4.5 lb,6,5,Oda
2,,beans (green),3 lb,2.75 lb,,5,@
Week total,,,8,7.25,6,10,
3,5/19/2024,@,,1 lb,,2,do
""".replace("@", '""""')  # a ditto mark, as a CSV file writes it
NAMED = """Name,When,Amount,Unit,After peeling,Unit,# of jars,Jar
okra,Fri 3 May 2024,5,lb,72,oz,8,pint
green beans,Thu 9 May 2024,3,lb,2.75,lb,5,pint
"""

MONEY = """Member,Date,Item,Pounds purchased,Pounds trimmed,Pt jars,Price/lb,$ per pint,Comments
Oda,2024-05-03,okra,5,4.5 (wet),8 (1 cracked),1.10,4,
Pim,2024-05-09,green beans,3,2.75,5,3.50,4,thin
Avg,,,4,,,,,
"""

OKRA = Said("2024-05-03", "okra", "8 pint", 5, 4.5)
BEANS = Said("2024-05-09", "green bean", "5 pint", 3, 2.75)
LAYOUTS = {
    "labels down the side, a block a batch": ("csv", BLOCKS, [
        OKRA._replace(made=7, left=0.5, who="Oda"), BEANS._replace(made=4, left=0, who="Pim"),
    ]),
    "labels down the side, batches beside one another": ("csv", BESIDE, [OKRA, BEANS]),
    "blocks with the unit in a column of its own": ("csv", BLOCK_UNITS, [
        OKRA._replace(made=7), BEANS._replace(made=4),
    ]),
    "labels and values on lines of a text": ("txt", ONE_CELL, [
        OKRA._replace(made=7), BEANS._replace(made=4),
    ]),
    "an amount and its unit in two columns": ("csv", TWO_COLUMNS, [
        OKRA._replace(made=7), BEANS._replace(jars="5 quart", made=4),
    ]),
    "units in columns without a heading": ("csv", NO_HEAD_UNITS, [OKRA, BEANS]),
    "pounds and ounces in two columns": ("csv", LB_OZ, [OKRA, BEANS]),
    # A bushel of cucumbers is 48 lb and one of beets 52: USDA, Complete Guide, guides 6 and 4.
    "bushels": ("csv", BUSHELS, [
        Said("2024-05-03", "cucumber", "20 pint", 24, 20),
        Said("2024-05-09", "beet", "38 pint", 52, 40),
        Said("2024-05-10", "okra", "6 pint", None, 4),
    ]),
    "who packed": ("csv", WHO, [
        OKRA._replace(bought=None, who="Oda"), BEANS._replace(bought=None, who="Pim"),
    ]),
    "a table a month, with totals": ("csv", MONTHS, [
        Said("2024-05-03", "okra", "4 quart", made=7),
        Said("2024-05-19", "green bean", "2.5 quart", made=4),
        Said("2024-06-02", "okra", "3 quart", made=5),
    ]),
    "tabs, kilograms and decimal commas": ("tsv", TABS, [
        Said("2024-05-03", "okra", "8 500ml", 2.5 / LB * 1000, 2 / LB * 1000),
        Said("2024-05-25", "okra", "6 500ml", 2 / LB * 1000, 1.6 / LB * 1000),
    ]),
    "three sorts of jar in three columns": ("csv", SPLIT, [
        OKRA._replace(bought=None, jars="3 half-pint + 2 quart", left=1),
        BEANS._replace(bought=None),
    ]),
    "lines on a phone": ("txt", PHONE, [
        OKRA._replace(made=7, left=0.5), BEANS._replace(made=4, left=0),
    ]),
    "units in the cells, jars in words": ("csv", WORDS, [
        OKRA._replace(who="Oda"), BEANS._replace(jars="4 pint + 1 quart", who="Pim"),
    ]),
    "ditto marks, and a day that stands once": ("csv", DITTO, [
        OKRA._replace(jars="6 half-pint + 5 pint", who="Oda"),
        BEANS._replace(day="2024-05-03", who="Oda"),
        Said("2024-05-19", "green bean", "2 pint", None, 1, who="Oda"),
    ]),
    "a crop under 'Name', amounts with units": ("csv", NAMED, [OKRA, BEANS]),
    "prices, and remarks in brackets": ("csv", MONEY, [
        OKRA._replace(who="Oda"), BEANS._replace(who="Pim"),
    ]),
}  # fmt: skip


def put(folder: Path, text: str, name: str = "mine.csv") -> Rehearsal:
    (folder / name).write_text(text, encoding="utf-8")
    return rehearse([folder / name], today=TODAY)


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_layout_comes_in_as_it_was_written_out(name: str, tmp_path: Path) -> None:
    kind, text, due = LAYOUTS[name]
    read = put(tmp_path, text, f"mine.{kind}")
    assert (read.asked, read.refused) == ((), ())
    found = [entry.batch for _, entry in read.entries]
    for batch, said in zip(found, due, strict=True):
        counts = " + ".join(
            f"{count:g} {sort}" for sort, count in zip(batch.jar, batch.jars, strict=True)
        )
        assert (cell_text(batch, "date"), batch.produce, counts) == said[:3]
        assert batch.person == said.who
        for value, wanted, unit in (
            (batch.as_bought_g, said.bought, LB), (batch.trimmed_g, said.trimmed, LB),
            (batch.brine_made_ml, said.made, CUP), (batch.brine_left_ml, said.left, CUP),
        ):  # fmt: skip
            assert value == (None if wanted is None else pytest.approx(wanted * unit)), name


@pytest.mark.parametrize(
    ("said", "crop", "cut"),
    [
        ("dill pickle spears (cukes)", "cucumber", "spears"),
        ("Peppers - jalape\u00f1o rings", "jalapeno", "rings"), ("Beets (pickled)", "beet", ""),
        ("pickled green beans", "green bean", ""), ("kosher dills", "cucumber", ""),
        ("garden okra", "okra", ""),
    ],
)  # fmt: skip
def test_words_around_a_crop_are_forgiven_and_told(said: str, crop: str, cut: str) -> None:
    cells, doubt = read_said(said)
    assert (cells["produce"], cells.get("cut", "")) == (crop, cut)
    assert crop in doubt


def test_a_year_that_stands_above_holds_for_the_dates_below(tmp_path: Path) -> None:
    read = put(
        tmp_path, "SUMMER 2024\n5/3: okra, 8 pints\nMay 9: okra, 7 pints\n5/19: okra, 5 pints\n",
        "mine.txt",
    )  # fmt: skip
    assert [str(entry.batch.date) for _, entry in read.entries] == [
        "2024-05-03", "2024-05-09", "2024-05-19",
    ]  # fmt: skip
    assert read.doubts[0][1] == "'5/3' gives no year; taken as 2024"
    named = put(tmp_path, "date,veg,pints\n3 May,okra,8\n", "2023 okra.csv")
    assert [str(entry.batch.date) for _, entry in named.entries] == ["2023-05-03"]
    unknown = put(tmp_path, "date,veg,pints\n3 May,okra,8\n")
    assert (unknown.entries, len(unknown.refused)) == ((), 1)


def test_a_remark_in_brackets_is_kept_and_a_price_is_told_as_unread(tmp_path: Path) -> None:
    read = put(tmp_path, MONEY)
    assert read.entries[0][1].batch.note == "wet; 1 cracked"
    assert read.ignored == ("Price/lb", "$ per pint")


def test_a_letter_in_a_title_is_no_unit(tmp_path: Path) -> None:
    text = "Book C of Oda L\ndate,veg,trimmed,brine,pints\n2024-05-03,okra,5,4,8\n"
    assert [one.heading for one in put(tmp_path, text).asked] == ["trimmed", "brine"]
    lettered = put(tmp_path, text.replace("Oda L", "Oda, weights in lb, brine in c"))
    assert lettered.entries[0][1].batch.brine_made_ml == pytest.approx(4 * CUP)


def test_a_dish_is_no_vegetable() -> None:
    cells, doubt = read_said("river valley medley")
    assert cells["produce"] == "river valley medley"
    assert "nobody has published" in doubt


def test_a_bushel_that_nobody_has_weighed_is_a_doubt_and_stays_in_the_note(tmp_path: Path) -> None:
    read = put(tmp_path, BUSHELS)
    told = dict(read.doubts)
    rows = {place.rpartition(" ")[2]: why for place, why in told.items()}
    assert "24 lb" in rows["2"]
    assert "USDA" in rows["2"]
    assert "no net weight of a bushel of okra is published" in rows["4"]
    assert read.entries[2][1].batch.note == "as bought: 1 bushel"


def test_columns_that_are_not_read_are_named_whatever_they_hold(tmp_path: Path) -> None:
    text = "date,veg,pints,weather,price,\n2024-05-03,okra,8,hot,4.50,for Oda\n"
    assert put(tmp_path, text).ignored == ("weather", "price", "column 6, without a heading")


def test_a_measure_in_a_line_that_has_no_place_is_left_out_and_named(tmp_path: Path) -> None:
    read = put(tmp_path, "3 May 2024: okra, 8 pints, gave 2 away\n", "mine.txt")
    assert len(read.entries) == 1
    ((place, why),) = read.unplaced
    assert place.endswith("line 1")
    assert "gave 2 away" in why
    assert (place, why) in read.doubts


@pytest.mark.parametrize(
    ("typed", "kept", "pounds"),
    [
        ("2 bushels", "2 bushels", 96.0),
        ("half a bushel", "1/2 bushel", 24.0),
        ("1 bu.", "1 bu.", 48.0),
    ],
)
def test_bushels_of_a_notebook_stay_a_count(
    tmp_path: Path, typed: str, kept: str, pounds: float
) -> None:
    """A bushel of cucumbers is 48 lb, by and large: USDA, Complete Guide, guide 6."""
    (tmp_path / "log.csv").write_text(
        f"Date,Crop,Bought,Quarts\n2024-08-12,cucumbers,{typed},40\n", encoding="utf-8"
    )
    ((_, entry),) = rehearse([tmp_path / "log.csv"], today=TODAY).entries
    assert entry.batch.doubt_of("as_bought_g") > 0.0
    assert entry.typed["as_bought_g"] == kept
    assert entry.batch.as_bought_g == pytest.approx(pounds * 453.59237, rel=1e-3)
