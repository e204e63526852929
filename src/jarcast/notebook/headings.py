"""The columns of somebody's own table: those with units beside them, those without a heading."""

import re
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from jarcast.batchtable.meant import Column
from jarcast.domain.fields import ALL_COLUMNS, KITCHEN
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.errors import BatchError
from jarcast.notebook.days import ORDERS, read_day

UNIT = "unit"  # the name of a column that holds the unit of the one before it
_UNIT_HEADING = re.compile(r"units?|uom|measure", re.I)
_UNIT_CELL = re.compile(
    r"#|(?:lbs?|pounds?|oz|ounces?|kgs?|kilos?|g|grams?|cups?|c|qts?|quarts?|pts?|pints?|gal(?:lon)?s?"
    r"|ml|l|lit(?:er|re)s?|bu|bushels?|pecks?|half[ -]pints?)\.?", re.I,
)  # fmt: skip

# The crop, where no other heading says it. Common practice, no source.
_CROP = re.compile(r"\b(?:name|kind|type|description|pickle)\b", re.I)


def with_missing(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> tuple[Column, ...]:
    """The columns, with a crop and a date among them where a column is plainly of those."""
    names = {column.name for column in columns}
    read = list(columns)
    for at, column in enumerate(columns):
        under = [row[at] for row in rows if at < len(row) and row[at]]
        if column.name or not under:
            continue
        days = sum(any(read_day(cell, order) for order in ORDERS) for cell in under)
        if "produce" not in names and _CROP.search(column.heading):
            read[at] = Column(column.heading, "produce")
        elif "date" not in names and 2 * days > len(under):
            read[at] = Column(column.heading, "date")
        names.add(read[at].name)
    return tuple(read)


def with_units_beside(
    columns: Sequence[Column], rows: Sequence[Sequence[str]]
) -> tuple[Column, ...]:
    """The columns, one that holds the units of the column before it named UNIT.

    It says so, or has no heading and nothing but units under it. 'oz' beside pounds goes on with
    them.
    """
    read: list[Column] = []
    for at, column in enumerate(columns):
        before = read[-1].name if read else ""
        takes_unit = before in KITCHEN or before == "jars"
        under = [row[at] for row in rows if at < len(row) and row[at]]
        if takes_unit and not column.name and _says_units(column.heading, under):
            column = Column(column.heading, UNIT)
        elif takes_unit and re.fullmatch(r"oz|ounces", column.heading.casefold()):
            column = Column(column.heading, before, "oz")
        read.append(column)
    return tuple(read)


def _says_units(heading: str, under: Sequence[str]) -> bool:
    if heading:
        return bool(_UNIT_HEADING.fullmatch(heading.strip(" .:")))
    return bool(under) and all(map(_UNIT_CELL.fullmatch, under))


def is_unit(text: str) -> bool:
    """Whether a cell is a unit and nothing else."""
    return bool(_UNIT_CELL.fullmatch(text))


def is_heading(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether a row is one of headings: several that mean something, and no numbers."""
    named = {column.name for column in columns if column.name}
    numbers = any(re.fullmatch(r"[\d./ ]+", cell) for cell in cells)
    return len(named) >= 3 and "jars" in named and not numbers


def mapped(columns: Sequence[Column], said: Mapping[str, Column]) -> tuple[Column, ...]:
    """The columns, those that the user has told of as told; headings in any case."""
    return tuple(
        replace(said.get(column.heading.casefold(), column), heading=column.heading)
        for column in columns
    )


def read_map(text: str, shelf: Mapping[str, Jar] = SHELF) -> Column:
    """What ``--map`` says: 'Pints=jars:pint', 'Weight=as_bought:lb', 'Price='.

    Raises BatchError for anything else.
    """
    heading, equals, target = text.rpartition("=")
    name, _, unit = (part.strip() for part in target.partition(":"))
    if not equals or not heading.strip():
        raise BatchError(f"'{text}' is not 'heading=column'; write it like 'Pints=jars:pint'")
    if name and name not in ALL_COLUMNS and name not in KITCHEN:
        known = ", ".join(dict.fromkeys((*KITCHEN, *ALL_COLUMNS)))
        raise BatchError(f"'{text}': there is no column '{name}'; the columns are {known}")
    return Column(heading.strip(), name, jar_key(unit, shelf) if name == "jars" and unit else unit)
