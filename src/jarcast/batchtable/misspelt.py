"""Headings that are nearly the name of a column: 'trimed_g', 'as_bougt'."""

import re

from jarcast.batchtable.header import column_name
from jarcast.domain.crop_text import slips_between
from jarcast.domain.fields import ALL_COLUMNS, KITCHEN, NUMBERS

# What is learned from beside measures; the rest is either needed, or told of and no more.
_TAUGHT_BY = ("jars", "cut", "pack", "person")
# A heading in another unit than the table's means a measure with its unit, and no number of these.
_OTHER_UNIT = re.compile(r"_?(kgs?|lbs?|pounds?|oz|ounces?|cups?|qts?|quarts?|pts?|pints?|tbsp)$")
_MEASURES = tuple(KITCHEN)
_NAMES = tuple(dict.fromkeys((*NUMBERS, *KITCHEN, *_TAUGHT_BY)))


def misspelt(heading: str) -> str:
    """The column whose name a heading nearly is; '' for one that is a column, or near none."""
    name = column_name(heading)
    if name in ALL_COLUMNS or name in KITCHEN:
        return ""
    if name.endswith("s") and name[:-1] in _NAMES:
        return name[:-1]
    names = _NAMES
    if other := _OTHER_UNIT.search(name):
        name, names = name[: other.start()], _MEASURES
    near = [
        (slips, column)
        for column in names
        if len(column) > 4  # too short for a slip to tell
        and (slips := _apart(name, column)) is not None
        and not (other and slips == 0)
    ]
    return min(near)[1] if near else ""


def _apart(name: str, column: str) -> int | None:
    """Slips between two names, words of both run on as well; None where they are too many."""
    words = slips_between(name.replace("_", " "), column.replace("_", " "))
    run_on = slips_between(name.replace("_", ""), column.replace("_", ""))
    return min((slips for slips in (words, run_on) if slips is not None), default=None)


def measured_in(heading: str) -> str:
    """'grams' or 'millilitres' where a heading ends in the table's own unit; '' elsewhere."""
    stem, _, unit = column_name(heading).rpartition("_")
    return {"g": "grams", "ml": "millilitres"}.get(unit, "") if stem else ""
