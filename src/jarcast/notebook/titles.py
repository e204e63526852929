"""What stands above a table, or names its sheet: units, a crop, or that it is no log of batches."""

import re
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from jarcast.batchtable.heading_words import (
    CONTAINERS,
    DERIVED,
    JAR_SORT,
    VOLUME_UNITS,
    WEIGHT_UNITS,
)
from jarcast.batchtable.meant import Column
from jarcast.domain.crop_text import vocabulary
from jarcast.domain.fields import FIELD_OF, KITCHEN, Kind
from jarcast.notebook.crops import read_said
from jarcast.notebook.days import numbered

_CLAUSE = re.compile(r"[,;.:()\[\]\n|]|\band\b|&|\s[-\u2013\u2014]\s", re.I)
_AROUND = r"all|are|is|in|measured|given|noted|written|unless|otherwise|said|stated|the|units?|both"
_OF = {
    Kind.WEIGHT: (WEIGHT_UNITS, r"weights?|wts?|weighed|everything|produce|vegetables?|veg"),
    Kind.VOLUME: (VOLUME_UNITS, r"brines?|liquids?|syrups?|volumes?"),
}
_IN_WEIGHT = re.compile(rf"\bin ((?:{WEIGHT_UNITS})(?<=..))$")  # 'summer 2024 in lb'

# Sheets that are no batches that were put up, unless their name says that they are.
_NO_LOG = re.compile(
    r"\b(?:plan(?:s|ned|ning|ner)?|wish ?list|wishes|shopping|to buy|to do|goals?|targets?|budget"
    r"|inventory|stock|sold|sales|orders?|gifts?|given away|forecasts?|estimates?|expected|summary"
    r"|totals|in (?:the |our |my )?(?:cellar|pantry|larder|freezer))\b"
    r"|^(?:the |our |my )?(?:cellar|pantry|larder|freezer|shelf|shelves)(?: (?:19|20)\d\d)?$", re.I,
)  # fmt: skip
_LOG = re.compile(
    r"\b(?:log|book|notebook|diary|journal|records?|batch(?:es)?|done|made|packed|canned|put up)\b",
    re.I,
)
_NO_CROP = re.compile(
    r"[\d_]+|\b(?:batch(?:es)?|log|book|pickles?|pickled|pickling|canning|canned|season|summer"
    r"|spring|fall|autumn|winter|sheet|year|our|my|all|the|of|in|jars?|put up|from|garden)\b"
    r"|\b\w+'s\b", re.I,
)  # fmt: skip
_LONGEST_TITLE = 6  # words; what is longer is a sentence


def unit_above(title: str, name: str) -> str:
    """The unit that a title states for a kind of measure: 'weights in lb'; '' for none.

    All words of the clause must fit: 'the canner holds 7 quarts' says nothing of the brine.
    """
    column = KITCHEN.get(name) or DERIVED.get(name, "")
    kind = FIELD_OF[column].kind if column else None
    if kind not in _OF:
        return ""
    found = set(filter(None, (_unit_of(clause, kind) for clause in _CLAUSE.split(title))))
    unit = found.pop() if len(found) == 1 else ""
    return "lb" if unit == "#" else unit


def _unit_of(clause: str, kind: Kind) -> str:
    """The unit that one clause states for all measures of a kind."""
    clause = " ".join(clause.casefold().split())
    units, named = _OF[kind]
    if kind is Kind.WEIGHT and (told := _IN_WEIGHT.search(clause)):
        return told[1]
    words = clause.split()
    stated = [word for word in words if re.fullmatch(units, word)]
    others = [word for word in words if word not in stated]
    if len(stated) != 1 or not all(re.fullmatch(rf"{_AROUND}|{named}", word) for word in others):
        return ""
    plain = len(stated[0]) > 1 and not JAR_SORT.fullmatch(stated[0])  # 'quarts' may be the jars
    return stated[0] if plain or any(re.fullmatch(named, word) for word in others) else ""


def crop_above(titles: Sequence[str]) -> str:
    """The crop that the nearest of these titles names, as it is written; '' where none does."""
    for title in _short(titles):
        words = " ".join(_NO_CROP.sub(" ", title.replace(";", ",")).split()).strip(" -,.:()")
        if not words:
            continue
        cells, _ = read_said(words)
        if all(part in vocabulary() for part in cells["produce"].split(" + ")):
            return words
    return ""


def no_log(titles: Sequence[str]) -> str:
    """The nearest title that says a table is no log of batches: a plan, a stock; '' for none."""
    for title in _short(titles):
        if _LOG.search(title):
            return ""
        if _NO_LOG.search(title) and not numbered(title):
            return title  # 'Goal: 100 pints' is a remark
    return ""


def _short(titles: Sequence[str]) -> Iterator[str]:
    return (title for title in reversed(titles) if 0 < len(title.split()) <= _LONGEST_TITLE)


def with_units(columns: Sequence[Column], title: str) -> tuple[tuple[Column, ...], dict[str, str]]:
    """The columns, those without a unit in that of the title, or of all others of their kind.

    And the units that were taken from others, by heading: brine may be made by the quart and left
    by the cup.
    """
    read: list[Column] = []
    taken: dict[str, str] = {}
    for column in columns:
        kind = kind_of(column)
        if column.unit or kind is None or column.name == "salt":
            read.append(column)
            continue
        own = ("salt", column.name)  # 'oz' beside a weight goes on with it, and is not its unit
        others = {
            c.unit for c in columns
            if kind_of(c) is kind and c.name not in own and c.unit
            and not re.fullmatch(CONTAINERS, c.unit)
        }  # fmt: skip
        unit = unit_above(title, column.name)
        if not unit and len(others) == 1:
            unit = taken[column.heading] = others.pop()
        read.append(replace(column, unit=unit))
    return tuple(read), taken


def kind_of(column: Column) -> Kind | None:
    """What kind of measure stands under a column; None for none."""
    name = KITCHEN.get(column.name) or DERIVED.get(column.name, "")
    return FIELD_OF[name].kind if name else None
