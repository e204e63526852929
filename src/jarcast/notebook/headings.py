"""The columns of somebody's own table: those with units beside them, those without a heading."""

import re
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from jarcast.batchtable.heading_words import DERIVED, LAST, PART_FULL, UNSEALED
from jarcast.batchtable.meant import Column, meaning
from jarcast.domain.crop_text import vocabulary
from jarcast.domain.fields import ALL_COLUMNS, KITCHEN
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.names import cut_in, plain_words
from jarcast.errors import BatchError
from jarcast.notebook.crops import read_said
from jarcast.notebook.days import is_day

_OTHERWISE = (UNSEALED, LAST, PART_FULL)  # what is said of jars, to be worked out
UNIT = "unit"  # the name of a column that holds the unit of the one before it
_UNIT_HEADING = re.compile(r"units?|uom|measure", re.I)
_UNIT_CELL = re.compile(
    r"#|(?:lbs?|pounds?|oz|ounces?|kgs?|kilos?|g|grams?|cups?|c|qts?|quarts?|pts?|pints?"
    r"|gal(?:lon)?s?|ml|l|lit(?:er|re)s?|bu|bushels?|pecks?|half[ -]pints?)\.?", re.I,
)  # fmt: skip

# Units that go on with a larger one: pounds and ounces of one weight in two columns.
_GOES_ON = re.compile(
    r"(?:(?:\b|\d)(?:lbs?|pounds?)$.*(?:\b|\d)(?:ozs?|ounces?)$"
    r"|(?:\b|\d)(?:kgs?|kilos?|kilograms?)$.*(?:\b|\d)(?:g|gr|gms?|grams?)$"
    r"|(?:\b|\d)gal(?:lon)?s?$.*(?:\b|\d)(?:qts?|quarts?|c|cups?)$"
    r"|(?:\b|\d)(?:qts?|quarts?)$.*(?:\b|\d)(?:c|cups?|pts?|pints?)$)", re.I | re.S | re.M,
)  # fmt: skip
_WEIGHED_ON = re.compile(r"ozs?|ounces?|g|gr|gms?|grams?")
_JOINS = re.compile(r"\W|\b(?:and|plus)\b", re.I)

# The crop, where no other heading says it. Common practice, no source.
_CROP = re.compile(r"(?:name|kind|type|description|pickle|of|the|which|pickled)s?", re.I)
_PACK = re.compile(r"(?:hot|raw|cold)(?: ?pack(?:ed)?)?", re.I)
# Days on which nothing went into a jar.
_OTHER_DAY = re.compile(
    r"\b(?:plant\w*|sow\w*|sown|seed\w*|bought|pick\w*|harvest\w*|order\w*|deliver\w*|opened|eaten"
    r"|ate|sold|gave|given|best|use|used|eat|expir\w*|expiry|due|until|paid|finished|gone)\b", re.I,
)  # fmt: skip
_LOOKED_AT = 60  # cells of a column, for what they are
_EXTRA = re.compile(r"\bextra\b", re.I)
_TARED = re.compile(r"\btare\b", re.I)
_JARS = re.compile(r"\bjars?\b", re.I)
_GROSS = re.compile(r"\b(?:gross|net)\b", re.I)


def meanings(
    cells: Sequence[str], told: Mapping[str, Column], shelf: Mapping[str, Jar] = SHELF
) -> tuple[Column, ...]:
    """What cells mean as headings."""
    return mapped([meaning(cell, shelf) if cell else Column("") for cell in cells], told)


def is_measure(name: str) -> bool:
    """Whether a column of this name holds a measure of a batch: a weight, a volume."""
    return name in KITCHEN or name in DERIVED


def cells_under(rows: Sequence[Sequence[str]], at: int) -> list[str]:
    """What is written in a column."""
    return [row[at] for row in rows if at < len(row) and row[at]]


def says_crop(heading: str) -> bool:
    """Whether a heading may stand over crops where no plainer one does: 'Kind', 'Name'."""
    words = heading.split()
    return bool(words) and all(_CROP.fullmatch(word.strip(" .:,")) for word in words)


def with_missing(
    columns: Sequence[Column], rows: Sequence[Sequence[str]]
) -> tuple[tuple[Column, ...], list[str]]:
    """The columns, with a crop, a date and a cut among them where a column is plainly of those.

    And what is told of those that were found by what stands under them.
    """
    names = {column.name for column in columns}
    read, told = list(columns), []
    for at, column in enumerate(columns):
        under = cells_under(rows, at)
        if column.name or column.told or not under:
            continue
        name = next(
            (
                n
                for n in ("produce", "date", "cut", "pack")
                if n not in names and _are(n, under, column.heading)
            ),
            "",
        )
        if name:
            read[at] = Column(column.heading, name)
            names.add(name)
            if not (name == "produce" and says_crop(column.heading)):
                label = (
                    f"'{column.heading}'"
                    if column.heading
                    else f"column {at + 1}, without a heading,"
                )
                told.append(f"{label} is read as the {_SAID[name]}, by what stands under it")
    return tuple(read), told


_SAID = {"produce": "crop", "date": "day", "cut": "cut", "pack": "pack"}


def _are(name: str, cells: Sequence[str], heading: str) -> bool:
    """Whether cells under a heading that says nothing are crops, days, cuts or packs."""
    some = cells[:_LOOKED_AT]
    if name == "date":
        days = sum(map(is_day, cells))
        return 2 * days > len(cells) and not _OTHER_DAY.search(heading)
    if name == "pack":
        packed = re.fullmatch(r"packed|packing|method|style|how|", heading.casefold())
        return bool(packed) and all(map(_PACK.fullmatch, cells))  # the weather may be hot
    if name == "cut":
        return 2 * sum(map(_is_cut, some)) > len(some)
    return says_crop(heading) or 2 * sum(map(is_crop, some)) > len(some)


def _is_cut(cell: str) -> bool:
    words = plain_words(cell)
    return bool(words) and all(map(cut_in, words))


def is_crop(cell: str) -> bool:
    """Whether a cell names a crop that is known, and nothing beside it."""
    if not re.search(r"[^\W\d_]{3}", cell):
        return False
    cells, doubt = read_said(cell)
    return not doubt and all(part in vocabulary() for part in cells["produce"].split(" + "))


def with_units_beside(
    columns: Sequence[Column], rows: Sequence[Sequence[str]]
) -> tuple[Column, ...]:
    """The columns, one that holds the units of the column before it named UNIT.

    It says so, or has no heading and nothing but units under it. 'oz' beside pounds goes on with
    them, and 'g' beside kilograms.
    """
    read: list[Column] = []
    for at, column in enumerate(columns):
        before = read[-1].name if read else ""
        takes_unit = is_measure(before) or before == "jars"
        under = cells_under(rows, at)
        if takes_unit and not column.name and _says_units(column.heading, under):
            column = Column(column.heading, UNIT)
        elif takes_unit and (unit := _unit_that_goes_on(column, read[-1])):
            column = Column(column.heading, before, unit)
        read.append(column)
    return tuple(read)


def _unit_that_goes_on(column: Column, before: Column) -> str:
    """The unit of a column that goes on with the weight before it: '+ oz.'; '' for any other."""
    unit = _JOINS.sub(" ", column.heading).strip().casefold()
    if column.told or not _WEIGHED_ON.fullmatch(unit):
        return ""
    return unit if goes_on(before.unit or ("lb" if unit.startswith("o") else "kg"), unit) else ""


def goes_on(before: str, text: str) -> bool:
    """Whether a measure goes on with the one before it: '4 lb' and '12 oz'."""
    return bool(_GOES_ON.search(f"{before}\n{text}"))


def beside_others(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> tuple[Column, ...]:
    """The columns, those left out that the others show to be something else, or there already.

    What the user has told stands as it is.
    """
    plain = {column.name for column in columns if column.name and not column.loose}
    tared = any(_TARED.search(column.heading) for column in columns)
    sized = next((c.heading for c in columns if c.name == "jars" and c.unit), "")
    brine = {"brine_made", "brine_left"} <= {column.name for column in columns}
    jars = next((c.heading for c in columns if c.name == "jars" and _JARS.search(c.heading)), "")
    read: list[Column] = []
    for at, column in enumerate(columns):
        why = ""
        if column.name == "jars" and not column.unit and _runs_on(at, column.heading, rows):
            why = "its numbers run on from row to row"
        elif column.loose and not plain & _COMPANIONS[column.name]:
            why = "nothing beside it says of what"
        elif tared and _GROSS.search(column.heading):
            why = "a tare is written beside it"
        elif column.name == "brine_used" and brine:
            why = "what was made and what was left say it"
        elif column.name == "brine_more" and "brine_made" not in plain:
            why = "no column says how much was made first"
        elif not column.told and _EXTRA.search(column.heading):
            column = _extra(column, {one.name for one in columns})
        elif column.name == UNSEALED and "sealed" in plain:
            why = "those that sealed are counted"
        elif column.name in ("jars", "sealed"):
            why = _counted_twice(column, read, sized or jars)
        keep = column.told or not why
        read.append(column if keep else Column(column.heading, why=why))
    return tuple(read)


def with_net(columns: Sequence[Column]) -> list[str]:
    """What is told of a gross weight and a net one: net of the trimmings, or of the crate?"""
    named = [column for column in columns if column.name in KITCHEN and not column.told]
    gross = next((c for c in named if re.search(r"\bgross\b", c.heading, re.I)), None)
    net = next((c for c in named if re.search(r"\bnet\b", c.heading, re.I)), None)
    if gross is None or net is None:
        return []
    return [
        f"'{net.heading}' is read as trimmed; if it is the weight without a crate, say --map "
        f'"{net.heading}=as_bought:{net.unit or "UNIT"}" and --map "{gross.heading}="'
    ]


_COMPANIONS = {
    "brine_left": {"brine_made", "brine_used"}, "brine_more": {"brine_made"},
    "cure_hours": {"salt", "cured"},
}  # fmt: skip


def _extra(column: Column, names: set[str]) -> Column:
    """'Extra brine' beside what was made and what was left: more of it; else it may be either."""
    more = meaning(_EXTRA.sub("more", column.heading))
    if more.name != "brine_more" or "brine_made" not in names:
        return column
    if "brine_left" not in names:
        return replace(column, why="it may be more of it, or what was left")
    return replace(more, heading=column.heading)


def _runs_on(at: int, heading: str, rows: Sequence[Sequence[str]]) -> bool:
    """Whether numbers under 'No.' or 'Number' count the rows."""
    if not re.fullmatch(r"\W*(?:numbers?|no|count)\W*", heading, re.I):
        return False
    numbers = [int(row[at]) for row in rows if at < len(row) and row[at].isdecimal()]
    return len(numbers) > 1 and numbers == list(range(1, len(numbers) + 1))


def _counted_twice(column: Column, before: Sequence[Column], sized: str) -> str:
    """Why jars under a heading are counted elsewhere already; '' where they are not."""
    if column.name == "jars" and not column.unit and sized not in ("", column.heading):
        return f"jars are counted under '{sized}'"
    for other in before:
        if other.name == column.name and (other.unit == column.unit or not other.unit):
            return f"'{other.heading}' counts them already"
    return ""


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
        replace(said[key], heading=column.heading, told=True)
        if (key := column.heading.casefold()) in said and key
        else column
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
    names = name.split("/")  # two measures of one column: 'brine_made/brine_left'
    pair = len(names) == 2 and all(map(is_measure, names))
    if name and name not in (*ALL_COLUMNS, *_OTHERWISE) and not is_measure(name) and not pair:
        known = ", ".join(dict.fromkeys((*KITCHEN, *ALL_COLUMNS, *DERIVED, *_OTHERWISE)))
        raise BatchError(f"'{text}': there is no column '{name}'; the columns are {known}")
    return Column(
        heading.strip(), name, jar_key(unit, shelf) if name in ("jars", UNSEALED) and unit else unit
    )
