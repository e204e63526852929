"""Which column of the batch table a heading means, and in which unit: 'Weight (lbs)', 'Pints'."""

import re
from collections.abc import Mapping

from msgspec import Struct

from jarcast.batchtable.header import column_name
from jarcast.domain.fields import ALL_COLUMNS, FIELD_OF, KITCHEN, NUMBERS, Kind, typed_name
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.errors import BatchError


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


def meant_by(heading: str) -> str:
    """The measure that a heading seems to mean, as it is typed; '' where it looks like none.

    A unit stands in the cell: for 'prep_lb' it is 'trimmed', with '6 lb' under it.
    """
    name = meaning(heading).name
    return name if name == "jars" or KITCHEN.get(name, name) in NUMBERS else ""


def example_of(typed: str) -> str:
    """What may stand under a column: '6 lb 4 oz' under 'trimmed'."""
    kinds = {typed_name(column): field.kind for column, field in FIELD_OF.items()}
    return {Kind.WEIGHT: "6 lb 4 oz", Kind.VOLUME: "4 1/2 cups"}.get(kinds[typed], "7.5")
