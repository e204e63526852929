"""Which column is which, by what its heading means: 'Weight (lbs)', 'after trimming', 'Pints'."""

import re
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from jarcast.batchtable.header import column_name
from jarcast.domain.fields import ALL_COLUMNS, FIELD_OF, KITCHEN, Kind
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.errors import BatchError
from jarcast.notebook.days import ORDERS, read_day

UNIT = "unit"  # the name of a column that holds the unit of the one before it


class Column(Struct, frozen=True):
    """What a column of somebody's table is: ours ('' for none), and the unit or sort of jar."""

    heading: str
    name: str = ""
    unit: str = ""


_LONGEST = 120  # characters; what is longer is a sentence
# The first that a heading matches. Words of picklers: common practice, no source.
_MEANINGS = tuple(
    (name, re.compile(rf"\b(?:{words})\b"))
    for name, words in (
        ("note", r"notes?|remarks?|comments?"),
        (
            "person",
            r"who|(?:packed|canned|made|done|put up|jarred|by) by|packer|cook|by|initials"
            r"|helpers?|members?",
        ),
        ("date", r"date|day|when"),
        ("recipe", r"recipe"),
        ("sealed", r"sealed|pinged"),
        ("headspace_in", r"head ?space|head ?room"),
        ("not_jarred", r"not jarred|did not fit"),
        ("brine_left", r"left|left ?over|(?:brine )?remaining"),
        ("brine_made", r"brine|liquid|syrup"),
        ("cured", r"drained|cured|rinsed|after (?:salt\w*|soak\w*|cure)"),
        ("cure_hours", r"(?:hours|hrs?|h)(?: in salt)?|time in salt"),
        ("salt", r"salt"),
        ("cooked", r"cooked|blanched|simmered"),
        (
            "trimmed",
            r"trim(?:med|ming)?|prep(?:ped|ared)?|clean(?:ed|ing)|peel(?:ed|ing)|cor(?:ed|ing)"
            r"|topped|net|(?:weight|wt|lbs?|kg) out",
        ),
        ("pack", r"pack|hot or raw|raw or hot"),
        ("produce", r"(?:produce|vegetables?|veg|crop|what)\W+(?:and )?(?:the )?(?:cut|shape)"),
        ("cut", r"cut|shape"),
        ("as_bought", r"bought|weight|weighed|wt|lbs?|kg|pounds|picked|gross|raw|start|amount|amt"),
        ("produce", r"what|produce|products?|vegetables?|veg|veggies?|crop|item|pickles?"),
        ("jar", r"jar(?: (?:size|sort|type))?|size"),
        ("jars", r"jars|filled|how many|number|count|quantity|qty"),
        ("batch", r"batch|id"),
    )
)
_UNITS = {
    Kind.WEIGHT: re.compile(r"#|\b(?:lbs?|pounds?|oz|ounces?|kg|g|grams?)\b"),
    Kind.VOLUME: re.compile(
        r"\b(?:cups?|c|qts?|quarts?|pts?|pints?|gal(?:lon)?s?|ml|l|lit(?:er|re)s?)\b"
    ),
}
_SALT = re.compile(r"\b(?:cups?|c|tbsp|g|grams?|oz)\b")
_MONEY = re.compile(r"\$|\b(?:price|cost|paid|dollars?|per (?:lb|jar|pound|kg))\b")
_UNIT_HEADING = re.compile(r"units?|uom|measure", re.I)
_UNIT_CELL = re.compile(
    r"#|(?:lbs?|pounds?|oz|ounces?|kgs?|kilos?|g|grams?|cups?|c|qts?|quarts?|pts?|pints?|gal(?:lon)?s?"
    r"|ml|l|lit(?:er|re)s?|bu|bushels?|pecks?|half[ -]pints?)\.?", re.I,
)  # fmt: skip
_JARS = re.compile(
    r"\b(?:half[ -]?(?:pints?|pts?)|12[ -]oz|pints?|pts?|quarts?|qts?|[\d.]+ ?m?l)\b"
)


def meaning(heading: str, shelf: Mapping[str, Jar] = SHELF) -> Column:
    """The column that a heading means, with its unit; no name where it means none."""
    if len(heading) > _LONGEST:
        return Column(heading)
    said = column_name(heading)
    if said in ALL_COLUMNS or said in KITCHEN:
        return Column(heading, said)
    text = re.sub(r"[_:\s]+", " ", heading.casefold()).strip()
    text = re.sub(r"(?:\b1/2|\u00bd)[ -]?(?=(?:pints?|pts?)\b)", "half-", text)
    jars = _JARS.search(text)
    if jars and not re.search(r"brine|left|liquid|made|weight|salt|price|cost|\$", text):
        sort = re.sub(r"\bpts?\b", "pint", re.sub(r"\bqts?\b", "quart", jars[0]))
        wide = "-wide" if re.search(r"\bwide\b", text) else ""
        try:
            return Column(heading, "jars", jar_key(sort + wide, shelf))
        except BatchError:
            return Column(heading)
    money = _MONEY.search(text)  # 'price/lb' is no weight
    name = "" if money else next((name for name, words in _MEANINGS if words.search(text)), "")
    return Column(heading, name, unit_in(text, name))


def unit_in(text: str, name: str) -> str:
    """The unit that a text states for a column, '' for none."""
    column = KITCHEN.get(name, "")
    kind = FIELD_OF[column].kind if column else None
    pattern = _SALT if name == "salt" else _UNITS.get(kind) if kind else None
    found = pattern.search(text.casefold()) if pattern else None
    return "" if found is None else "lb" if found[0] == "#" else found[0]


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
        raise BatchError(f"'{text}' is no 'heading=column'; write it such as 'Pints=jars:pint'")
    if name and name not in ALL_COLUMNS and name not in KITCHEN:
        known = ", ".join(dict.fromkeys((*KITCHEN, *ALL_COLUMNS)))
        raise BatchError(f"'{text}': there is no column '{name}'; the columns are {known}")
    return Column(heading.strip(), name, jar_key(unit, shelf) if name == "jars" and unit else unit)
