"""A weight of a plan: weighed, a range of what it may weigh, or containers counted."""

import re

from msgspec import Struct

from jarcast.errors import BatchError, MeasureError
from jarcast.harvest.plan.containers import Counted, read_counted
from jarcast.measures import LONGEST, parse_weight

Weight = float | tuple[float, float]  # grams; a range holds 8 times in 10

WIDEST = 20.0  # a range of more than so many times its low end says nothing, and is a slip
_BETWEEN = re.compile(r"\s*(?:[-\u2010-\u2015\u2212]|\bto\b)\s*", re.IGNORECASE)
_NO_UNIT = re.compile(r"\s*[\d.,/ ]+(?:-|\u2013|to)[\d.,/ ]+\s*", re.ASCII)
_ONE_UNIT = re.compile(r"[^a-zA-Z]*([a-zA-Z]+)\.?")


class Amount(Struct, frozen=True):
    """A weight in g, or its range, and the containers it was counted in."""

    grams: Weight
    counted: Counted | None = None


def read_amount(text: str, produce: str, *, containers: bool) -> Amount:
    """'12 lb', '20-35 lb', '20 lb to 35 lb', or with ``containers`` '2 bushels' of the produce.

    Raises MeasureError, or BatchError for containers without a published weight.
    """
    counted = read_counted(text, produce) if len(text) <= LONGEST else None
    if counted is not None:
        if not containers:
            raise BatchError("containers hold produce as bought; write them under as_bought")
        return Amount((counted.low_g, counted.high_g), counted)
    try:
        return Amount(parse_weight(text))
    except MeasureError:
        if (found := _range(text)) is None:
            if _NO_UNIT.fullmatch(text):
                raise BatchError("a range without a unit; write it such as '20-35 lb'") from None
            raise
    low, high = found
    if not 0 < low <= high:
        raise BatchError("the low end of a range comes first, and is more than nothing")
    if high > WIDEST * low:
        raise BatchError(f"a range of {high / low:.0f} times says nothing; check both ends")
    return Amount(low if low == high else (low, high))


def _range(text: str) -> tuple[float, float] | None:
    """Both ends of a range in g: the first place to part it where both sides are weights."""
    if len(text) > LONGEST:
        return None
    for parting in _BETWEEN.finditer(text):
        first, last = text[: parting.start()].strip(), text[parting.end() :].strip()
        try:
            high = parse_weight(last)
            unit = _ONE_UNIT.fullmatch(last)
            bare = unit is not None and not re.search("[a-zA-Z]", first)
            low = parse_weight(f"{first} {unit[1]}" if bare and unit else first)
        except MeasureError:
            continue
        return low, high
    return None
