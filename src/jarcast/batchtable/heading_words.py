"""The words of headings: which of them name a column, and which may stand beside those.

A heading is a column's only where all of its words fit: 'Pints' are jars, 'Pints given away' are
not. Words of picklers: common practice, no source.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from jarcast.domain.fields import FIELD_OF, KITCHEN, Kind

WEIGHT_UNITS = r"#|lbs?|pounds?|ozs?|ounces?|kgs?|kilos?|kilograms?|dag|g|gr|gms?|grams?"
VOLUME_UNITS = (
    r"fl ?oz|cups?|c|qts?|quarts?|pts?|pints?|gal(?:lon)?s?|mls?|milliliters?|millilitres?|cl|dl"
    r"|l|lit(?:er|re)s?"
)
CONTAINERS = r"bushels?|bu|pecks?|lugs?|crates?"
SALT_UNITS = rf"{WEIGHT_UNITS}|cups?|c|tbsps?|tablespoons?|tsps?|teaspoons?"
_UNITS = {
    Kind.WEIGHT: WEIGHT_UNITS,
    Kind.VOLUME: VOLUME_UNITS,
    Kind.HOURS: r"hours?|hrs?|h|days?|d|min(?:ute)?s?",
    Kind.INCHES: r"inch(?:es)?|in|cm|mm",
}
# Told from other columns, and so no columns of a batch: used and left are made, more of it comes on
# top, bought less trimmings is trimmed.
DERIVED = {
    "brine_used": "brine_made_ml", "brine_more": "brine_made_ml", "trimmings": "trimmed_g",
}  # fmt: skip

# How many jars did not seal: told of those that did. How full the last jar was, or a part-full one.
UNSEALED, LAST, PART_FULL = "unsealed", "last_jar", "part_full"

JAR_SORT = re.compile(
    r"\b(?:half[ -]?(?:pints?|pts?)|hps?|pints? and (?:a )?half"
    r"|1[ .](?:1/2|5)[ -]?(?:pints?|pts?)|(?:8|12|16|24|32)[ -]?oz|pints?|pts?|quarts?|qts?"
    r"|[\d.,]+ ?(?:ml|l))\b"
)
WIDE = re.compile(r"\b(?:wide(?: ?mouth(?:ed)?)?|wm)\b")
_FILL = r"the|a|an|of|in|at|our|my|we|i|was|were|is|it|and"
_WEIGHED = (
    r"weights?|wts?|wgt|weighed|weigh|amount|amt|quantity|qty|how|many|much|no|number|total|all"
)
_TRIM = (
    r"trim|trimmed|trimming|prep|prepped|prepared|cleaned|cleaning|peeled|peeling|cored|coring"
    r"|pared|paring|shelled|shelling|husked|husking|snapped|topped|tailed|seeded|cut|cutting|sliced"
    r"|slicing|chopped|washed"
)
_PACKED = r"canned|packed|put|up|pickled|jarred|made|done|filled|processed"
_BRINE = r"brine|liquid|syrup"
_BRINE_MADE = (
    r"made|mixed|heated|prepared|cooked|boiled|up|pickling|canning|amount|volume|vol|total|all|pot"
    r"|actual"
)


class Words(NamedTuple):
    """The words of a column: one of ``keys`` names it, and all others are of ``fits``."""

    name: str
    keys: re.Pattern[str]
    fits: re.Pattern[str]


def _words(name: str, keys: str, fits: str = "") -> Words:
    every = "|".join(filter(None, (_FILL, fits, units_of(name))))
    return Words(name, re.compile(rf"(?<![\w#])(?:{keys})(?!\w)"), re.compile(every))


def units_of(name: str) -> str:
    """The units that a column's heading may state, as a pattern; '' for none."""
    if name == "salt":
        return SALT_UNITS
    if name == "trimmed":  # cups of it may be counted
        return rf"{WEIGHT_UNITS}|cups?|c"
    column = DERIVED.get(name) or KITCHEN.get(name, name)
    return _UNITS.get(FIELD_OF[column].kind, "") if column in FIELD_OF else ""


# The first that a heading fits.
COLUMNS = (
    _words(
        "note", r"notes?|remarks?|comments?|scribbles?|memos?|observations?",
        r"other|any|general|more|about|on|day|weather|taste|canning|pickling|or|notes|remarks",
    ),
    _words(
        "person", r"who|(?:canned|packed|put up|pickled|jarred|made|done|filled|logged|written) by"
        r"|packers?|cooks?|by|initials?|helpers?|members?",
        rf"{_PACKED}|did|helped|names?|person",
    ),
    _words(
        "date", r"dates?|day|when",
        rf"{_PACKED}|canning|pickling|batch|mm|dd|yy|yyyy|d|m|y|month|year|on|date|day",
    ),
    _words(
        "recipe", r"recipe", r"names?|used|book|source|from|page|no|number|card|by|which|#"
    ),
    _words(
        "sealed", r"sealed|pinged|popped",
        rf"jars?|lids?|no|number|how|many|count|total|all|ok|good|#|{JAR_SORT.pattern}",
    ),
    _words(
        UNSEALED, r"failed seals?|seals? failed|seal failures?|(?:did ?n.?t|did not) seal",
        rf"jars?|lids?|no|number|how|many|count|total|#|that|{JAR_SORT.pattern}",
    ),
    _words(LAST, r"last (?:jars?|one|pint|quart)", r"how|full|was|filled|part|level"),
    _words(
        PART_FULL, r"partials?|partly full|part full|partially (?:full|filled)",
        r"jars?|pints?|quarts?|how|full|one",
    ),
    _words("headspace_in", r"head ?space|head ?room", r"left"),
    _words("not_jarred", r"not (?:jarred|packed)|(?:did ?n.?t|did not|would not) fit", _WEIGHED),
    _words(
        "brine_left", r"left ?overs?|left|remain(?:ing|s|ed)|spare|unused|over",
        rf"{_BRINE}|pickling|pot|still|amount|volume|vol|total",
    ),
    _words(
        "brine_used", rf"(?:{_BRINE}) (?:(?:{VOLUME_UNITS}) )?(?:used|poured)|used (?:{_BRINE})",
        r"amount|volume|vol|total",
    ),
    _words(
        "brine_more", rf"(?:2nd|second|3rd|third|another|more|further|additional|added) "
        rf"(?:pot|{_BRINE})|(?:pot|{_BRINE}) (?:no )?(?:2|3|two|three)|(?:{_BRINE}) added",
        rf"{_BRINE_MADE}|{_BRINE}|2nd|second|3rd|third",
    ),
    _words(
        "brine_made", rf"{_BRINE}|(?:1st|first) pot|pot (?:no )?(?:1|one)",
        rf"{_BRINE_MADE}|{_BRINE}|1st|first|1|one",
    ),
    _words(
        "cured", r"(?:after|aft) (?:the )?(?:salt|soak|cur(?:e\b|ing)|drain|rins|squeez|brining)\w*"
        r"|salted (?:weight|wt)|drained|cured|rinsed|squeezed|wrung",
        rf"{_WEIGHED}|out|well|after|cured|(?:drain|rins|squeez|salt)(?:ed|ing)",
    ),
    _words(
        "cure_hours", r"hours?|hrs?|h|days|time|soak\w*|salted",
        r"salt|salted|salting|soak\w*|cur(?:e|ed|ing)|stood|stand\w*|with|under|brined|time",
    ),
    _words(
        "salt", r"salt",
        r"canning|pickling|table|fine|plain|for|cure|curing|used|added|kosher|flaky|flaked?|flakes"
        rf"|coarse|sea|rock|{_WEIGHED}",
    ),
    _words(
        "cooked", r"cooked|blanched|simmered|boiled|steamed|(?:after|aft) "
        r"(?:the )?(?:cook\w*|blanch\w*|simmer\w*|boil\w*|steam\w*)",
        rf"{_WEIGHED}|drained|cooked|blanched",
    ),
    _words(
        "trimmings", r"trimmings|peelings|peels|parings|scraps"
        r"|(?:trimmed|peeled|pared|cut) off", rf"{_WEIGHED}|peelings|trimmings|cores",
    ),
    _words(
        "trimmed", rf"(?:after|aft) (?:the )?(?:{_TRIM}|core|pare)"
        rf"|(?:{_WEIGHED}|lbs?|kg|pounds) out|net|trim|trimmed|prep|prepped|prepared|cleaned|peeled"
        r"|cored|pared|shelled|husked|snapped|topped", rf"{_WEIGHED}|{_TRIM}|after",
    ),
    _words(
        "pack", r"pack|hot or raw|raw or hot|hot raw|raw hot",
        r"hot|raw|cold|or|type|method|pack",
    ),
    _words(
        "produce", r"(?:produce|vegetables?|veg|crop|what|item|product) (?:cut|shape)"
        r"|(?:produce|vegetables?|veg|crop|what|item|product) and (?:the )?(?:cut|shape)",
    ),
    _words("cut", r"cut|shape", r"how|style|type|into|or|shape"),
    Words(  # a weight beside it may be that of the crate
        "as_bought", re.compile(rf"(?<![\w#])(?:{CONTAINERS})(?!\w)"),
        re.compile(
            rf"{_FILL}|picked|bought|purchased|harvest(?:ed)?|no|number|how|many|from|garden|market|#"
        ),
    ),
    _words(
        "as_bought",
        r"(?:(?:weight|wt|lbs?|kg|pounds) )?before (?:the )?(?:trim|peel|clean|prep)\w*"
        r"|bought|purchased|picked|harvest(?:ed)?|gross|raw|untrimmed|start(?:ed|ing)?"
        r"|(?:came|brought) in|weights?|wts?|wgt"
        r"|weighed|amount|amt|lbs?|kgs?|kilos?|kilograms|grams|pounds",
        rf"{_WEIGHED}|purchased|bought|picked|from|garden|market|store|farm|patch|fresh|whole|as"
        r"|produce|vegetables?|veg|crop|raw|start",
    ),
    _words(
        "produce", r"what|produce|products?|vegetables?|veg|veggies?|crops?|items?|pickles?",
        rf"{_PACKED}|names?|kind|type|variety|sort|or|produce|crop|vegetable",
    ),
    _words(
        "jar", r"jar(?: (?:size|sort|type|kind))?|size|sizes", r"jars?|size|sort|type|kind|mouth",
    ),
    _words(
        "jars", rf"{JAR_SORT.pattern}|jars|filled|how many|number|count|quantity|qty|yields?"
        r"|put up|jar (?:total|count)",
        rf"jars?|total|all|actual|{_PACKED}|count|no|number|how|many|qty|quantity|yields?|yielded|got|#"
        r"|finished|full|wide|mouth|widemouth|wm|regular|reg|rm|narrow|mason|glass|pickles?"
        rf"|{JAR_SORT.pattern}",
    ),
    _words("batch", r"batch|id", r"no|number|#|names?|id|code|label"),
)  # fmt: skip

_WORD = re.compile(rf"{JAR_SORT.pattern}|fl ?oz\b|[^\W_]+(?:['.-][^\W_]+)*|[^\w\s]")
_SILENT = re.compile(
    r"[()\[\]{}?!\"*~|+]|[,;.'/-](?!\w)|(?<!\w)[.'/-]|(?<=[^\W\d])/|[\u2013\u2014]"
)
_HALF = re.compile(r"(\d )?(?<!\d)(?:1/2|\u00bd)[ -]?(?=(?:pints?|pts?)\b)")
_UNIT = rf"{WEIGHT_UNITS}|{VOLUME_UNITS}|jars?|\$|\u20ac|\u00a3"
_PER = re.compile(
    rf"(?<![\w#])(?P<one>{_UNIT})\)? ?/ ?(?P<other>{WEIGHT_UNITS}|{VOLUME_UNITS}|{CONTAINERS}|jars?"
    r"|batch|load|lid|person|crock)(?!\w)"
)
_SAME_KIND = tuple(re.compile(units) for units in (WEIGHT_UNITS, r"cups?|c|gal(?:lon)?s?|ml|l"))


def spelt(heading: str) -> str:
    """A heading in lower case, dots after short words left out, '\u00bd pint' as 'half-pint'."""
    text = heading.casefold().replace("\u2019", "'").replace("&", " and ").replace("(s)", "s")
    text = re.sub(r"(?<=[^\W\d])(?:\.|-(?=[^\W\d]))", " ", text)
    text = " ".join(re.sub(r"[_:\s]+", " ", text).split())
    text = _HALF.sub(lambda found: found[0] if found[1] else "half-", text)
    return " ".join(_SILENT.sub(" ", _PER.sub(_per, text)).split())


def _per(found: re.Match[str]) -> str:
    """'lbs/jar' is one per the other; 'lb/oz' is a measure in both."""
    both = (found["one"], found["other"])
    if any(all(map(kind.fullmatch, both)) for kind in _SAME_KIND):
        return found[0]
    return f"{found['one']} per {found['other']}"


def words_in(text: str) -> Iterator[str]:
    """The words of a spelt heading; '#', '$' and '%' are words."""
    yield from _WORD.findall(text)
