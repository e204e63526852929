"""How a written value gets many times too large or too small: the one table of slips."""

import math

# How a value gets many times too large, by kind of column: factor and the question to ask.
_WEIGHT_SLIPS = (
    (2.2046, "pounds typed as kilograms?"),
    (10.0, "decimal point?"),
    (16.0, "ounces typed as pounds?"),
    (28.35, "grams typed as ounces?"),
    (100.0, "decimal point?"),
    (1000.0, "grams typed as kilograms?"),
)
_VOLUME_SLIPS = (
    (2.0, "cups typed as pints, or pints as quarts?"),
    (4.0, "cups typed as quarts?"),
    (8.0, "pints typed as gallons?"),
    (10.0, "decimal point?"),
    (16.0, "cups typed as gallons?"),
    (1000.0, "millilitres typed as litres?"),
)
_JAR_SLIPS = ((2.0, "pints counted as quarts, or half-pints as pints?"), (10.0, "decimal point?"))
_MISTYPED = 1.35  # a factor this far from a known slip's is still taken for it


def _slips_of(column: str) -> tuple[tuple[float, str], ...]:
    if column.startswith("brine"):
        return _VOLUME_SLIPS
    return _JAR_SLIPS if column == "jars" else _WEIGHT_SLIPS


def _nearest(column: str, factor: float) -> tuple[float, str]:
    """How far in logs a factor is from the nearest known slip, and the question of that slip."""
    size = abs(math.log(factor))
    return min((abs(size - math.log(known)), question) for known, question in _slips_of(column))


def distance(column: str, factor: float) -> float:
    """How far in logs a factor is from the nearest known slip of this kind of column."""
    return _nearest(column, factor)[0]


def guess(column: str, factor: float) -> str:
    """The likeliest reason a column is this many times too large, as a question; '' if none."""
    far, question = _nearest(column, factor)
    if far > math.log(_MISTYPED):
        return ""
    if factor >= 1.0 or question == "decimal point?":
        return question
    return _turned(question)


def _turned(question: str) -> str:
    """The same slip the other way: 'kilograms typed as pounds?'."""
    sides = []
    for part in question.removesuffix("?").split(", or "):
        verb = next(words for words in (" typed as ", " counted as ", " as ") if words in part)
        left, right = part.split(verb)
        sides.append(f"{right}{verb}{left}")
    return ", or ".join(sides) + "?"
