"""Which column of the batch table a heading means, and in which unit: 'Weight (lbs)', 'Pints'."""

import re
from collections.abc import Mapping

from msgspec import Struct

from jarcast.batchtable.header import column_name
from jarcast.batchtable.heading_words import (
    COLUMNS,
    CONTAINERS,
    DERIVED,
    JAR_SORT,
    UNSEALED,
    WIDE,
    Words,
    spelt,
    units_of,
    words_in,
)
from jarcast.domain.fields import (
    ALL_COLUMNS,
    FIELD_OF,
    KITCHEN,
    KITCHEN_NAMES,
    NUMBERS,
    Kind,
    typed_name,
)
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.errors import BatchError


class Column(Struct, frozen=True):
    """What a column of somebody's table is: ours ('' for none), and the unit or sort of jar.

    ``loose`` is one that is meant only beside others: 'left' beside brine. ``told`` is what the
    user said. ``why`` says what keeps a column that looks like one of ours from being it.
    """

    heading: str
    name: str = ""
    unit: str = ""
    loose: bool = False
    told: bool = False
    why: str = ""


_MEASURES = frozenset((*KITCHEN, *DERIVED, "jars", "sealed", "cure_hours", "headspace_in"))
_LONGEST = 120  # characters; what is longer is a sentence
_SALTED = re.compile(r"\b(?:salt\w*|soak\w*|cur\w+|stood|stand\w*|brined)\b")
_LASTED = re.compile(r"\b(?:hours?|hrs?|h|days?|time|min(?:ute)?s?)\b")
_UNEVEN = re.compile(r"\b(?:kosher|flak\w+|coarse|sea|rock)\b")
_AND_HALF = re.compile(r"\bp(?:in)?ts(?= and (?:a )?half\b)")  # a heading counts nothing
_OF_BRINE = re.compile(r"\b(?:brine|liquid|syrup)\b")
_BY_ML = re.compile(r"^(\d{3,4})'?s$")  # '500s' are jars of half a litre
_BY_WEIGHT = re.compile(rf"(?:{units_of('as_bought')})")


def meaning(heading: str, shelf: Mapping[str, Jar] = SHELF) -> Column:
    """The column that a heading means, with its unit; no name where it means none.

    All of its words must fit: what a word beside them says is not for us to leave out.
    """
    if len(heading) > _LONGEST:
        return Column(heading)
    said = "" if re.search(r"[%$\u20ac\u00a3#]", heading) else column_name(heading)  # 'Trimmed %'
    if said in KITCHEN_NAMES and said not in KITCHEN:  # 'Trimmed (g)' may hold '6 lb' as well
        return Column(heading, KITCHEN_NAMES[said], said.rpartition("_")[2])
    if said in ALL_COLUMNS or said in KITCHEN:
        return Column(heading, said)
    text = _BY_ML.sub(r"\1 ml", spelt(heading))
    nearest: list[str] | None = None
    for words in COLUMNS:
        if (others := _others(text, words)) is None:
            continue
        if not others and (column := _fitting(heading, text, words.name, shelf)):
            return column
        measure = words.name in _MEASURES and others
        if measure and (nearest is None or len(others) < len(nearest)):
            nearest = others
    other = " ".join(dict.fromkeys(nearest or ()))
    return Column(heading, why=f"'{other}' may say something else" if other else "")


def _others(text: str, words: Words) -> list[str] | None:
    """The words of a heading that do not fit a column; None where none of them names it."""
    found = words.keys.search(text)
    if found is None:
        return None
    rest = f"{text[: found.start()]} {text[found.end() :]}"
    return [word for word in words_in(rest) if not words.fits.fullmatch(word)]


def _fitting(heading: str, text: str, name: str, shelf: Mapping[str, Jar]) -> Column | None:
    """The column of a heading all of whose words fit one; None where it cannot be that."""
    sort = ""
    if name in ("jars", "sealed", UNSEALED):
        read = _sort_in(text, shelf)
        if read is None or (name == "jars" and text.startswith("made")):  # 'made (pt)': brine?
            return None
        sort = read
    if name == "cure_hours" and not (_SALTED.search(text) and _LASTED.search(text)):
        return Column(heading, name, loose=True) if re.fullmatch(r"hours?|hrs?", text) else None
    unit = sort or _unit_stated(text, name)
    if name == "salt" and _UNEVEN.search(text) and not _BY_WEIGHT.fullmatch(unit):
        return Column(heading, why="a cup of such salt has no one weight")
    loose = name in ("brine_left", "brine_more") and not _OF_BRINE.search(text)
    if loose and JAR_SORT.search(text):  # 'Pints left' may be jars
        return None
    return Column(heading, name, unit, loose)


def _sort_in(text: str, shelf: Mapping[str, Jar]) -> str | None:
    """The sort of jar that a heading names, '' for none; None for several, or an unknown one."""
    sorts = {found[0] for found in JAR_SORT.finditer(text)}
    if not sorts:
        return ""
    wide = "-wide" if WIDE.search(text) else ""
    try:
        keys = {jar_key(_AND_HALF.sub("pint", sort) + wide, shelf) for sort in sorts}
    except BatchError:
        return None
    return keys.pop() if len(keys) == 1 else None


def _unit_stated(text: str, name: str) -> str:
    """The one unit that a heading states; '' for none or several, and for hours."""
    pattern = units_of(name)
    if not pattern:
        return ""
    if name == "as_bought":
        pattern = rf"{pattern}|{CONTAINERS}"
    units = {found[0] for found in re.finditer(rf"(?<![\w#])(?:{pattern})(?!\w)", text)}
    unit = units.pop() if len(units) == 1 else ""
    if name == "cure_hours" and re.fullmatch(r"h\w*", unit):
        return ""
    return "lb" if unit == "#" else unit


def unit_in(text: str, name: str) -> str:
    """The unit that a text states for a column, '' for none."""
    pattern = units_of(name)
    found = re.search(rf"(?<![\w#])(?:{pattern})(?!\w)", text.casefold()) if pattern else None
    return "" if found is None else "lb" if found[0] == "#" else found[0]


def meant_by(heading: str) -> str:
    """The measure that a heading seems to mean, as it is typed; '' where it looks like none.

    A unit stands in the cell: for 'prep_lb' it is 'trimmed', with '6 lb' under it.
    """
    column = meaning(heading)
    name = "" if column.loose else column.name
    return name if name == "jars" or KITCHEN.get(name, name) in NUMBERS else ""


def example_of(typed: str) -> str:
    """What may stand under a column: '6 lb 4 oz' under 'trimmed'."""
    kinds = {typed_name(column): field.kind for column, field in FIELD_OF.items()}
    return {Kind.WEIGHT: "6 lb 4 oz", Kind.VOLUME: "4 1/2 cups"}.get(kinds[typed], "7.5")
