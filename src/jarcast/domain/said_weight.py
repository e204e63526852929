"""A weight as it is said: weighed, a range of what it may be, containers or cups counted."""

import re
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from jarcast.domain.batch import Batch, number_text
from jarcast.domain.containers import BETWEEN, Counted, basket_unknown, read_counted, so_many
from jarcast.domain.cups import read_cups
from jarcast.domain.jars import SHELF, Baskets, Jar, baskets_on
from jarcast.domain.log_range import middle_and_half, reaching
from jarcast.domain.names import produce_key
from jarcast.domain.stages import weights_of
from jarcast.errors import BatchError, MeasureError
from jarcast.measures import LONGEST, NO_UNIT, parse_weight
from jarcast.measures.numbers import NUMBER_WORDS

Weight = float | tuple[float, float]  # grams; a range holds 8 times in 10
Z80 = 1.2815515655446004  # 90 % point of the normal: where a range of 8 times in 10 ends

WIDEST = 20.0  # a range of more than so many times its low end says nothing, and is a slip
_NO_UNIT = re.compile(r"\s*[\d.,/ ]+(?:-|\u2013|to)[\d.,/ ]+\s*", re.ASCII)
_HALF = r"half\b(?![\s-]*(?:bushel|peck))"  # a half bushel is a container of its own
_MANY = "|".join(NUMBER_WORDS)
_NO_LETTERS = r"[\W\d_]*"
# '2 blue buckets of 23 lb each'. A name begins with a letter, and may hold anything, 'of' too.
_OF = re.compile(
    rf"(?P<count>(?:an?\s+)?{_HALF}(?:\s+an?)?|(?:{_MANY})(?=\s)"
    rf"|{_NO_LETTERS}(?:\b(?:to|{_HALF})\b{_NO_LETTERS})?)"
    rf"\s*(?P<name>(?!{_HALF})[^\W\d_].*)\s+of\s+(?P<each>.*?\d.*?)(?:\s+each)?",
    re.IGNORECASE,
)
_VAGUE = (
    "about", "approx", "approximately", "around", "ca", "couple", "dozen", "few", "many", "maybe",
    "nearly", "over", "pair", "perhaps", "roughly", "several", "some",
)  # fmt: skip
_CONTAINERS_TOO = (
    "bushels, pecks, crates, lugs and bags are counted, too, and so are baskets of your own "
    "('jarcast kitchen baskets')"
)
_CUPS_TOO = "cups of it are counted, too"
_ONE_UNIT = re.compile(r"[^a-zA-Z]*([a-zA-Z]+)\.?")


class SaidWeight(Struct, frozen=True):
    """A weight in g, or its range, and the containers or cups it was counted in."""

    grams: Weight
    counted: Counted | None = None

    @property
    def middle_and_doubt(self) -> tuple[float, float]:
        """The weight in g, and how far it may be off: a sd in logs, 0 for one that was weighed."""
        if not isinstance(self.grams, tuple):
            return self.grams, 0.0
        middle, half = middle_and_half(*self.grams)
        return middle, half / Z80

    def kept_as(self, typed: str) -> str:
        """The text that is kept: of one's own baskets with what one weighs, to be read anywhere.

        A name that would be read as part of the count gives way to 'basket'.
        """
        if self.counted is None or not self.counted.each:
            return typed
        low, high = self.counted.count
        many = number_text(low) if low == high else f"{number_text(low)}-{number_text(high)}"
        named, of = f"{many} {self.counted.container}", f" of {self.counted.each}"
        ways = (typed, f"{typed}{of}", f"{named}{of}")
        return next(filter(self._is_said_by, ways), f"{many} basket{of}")

    def _is_said_by(self, text: str) -> bool:
        """Whether a text says this weight where no basket is known."""
        try:
            found = _told(text)
        except BatchError:
            return False
        return found is not None and self.grams == (found.low_g, found.high_g)


def in_between(grams: float, doubt: float) -> Weight:
    """The same the other way: the weight, or its range where there is doubt."""
    return reaching(grams, Z80 * doubt) if doubt else grams


def known_weights(batch: Batch) -> dict[str, Any]:
    """The weights of a batch as a forecast takes them: one that was counted is a range."""
    return {
        column: None if grams is None else in_between(grams, batch.doubt_of(column))
        for column, grams in weights_of(batch).items()
    }


def read_counted_weight(
    text: str, column: str, produce: str, cut: str = "", shelf: Mapping[str, Jar] = SHELF
) -> SaidWeight | None:
    """'2 bushels', '2 blue buckets' or, of trimmed produce, '16 cups'; None for none of these.

    ``column`` is the stage's, without its unit. '2 blue buckets of 23 lb' needs no basket that is
    known. Raises BatchError where no weight of such a container or cup is known.
    """
    if len(text) > LONGEST:
        return None
    counted = _in_baskets(text, produce, baskets_on(shelf))
    if counted is None and (counted := read_counted(text, produce)) and column != "as_bought":
        raise BatchError("containers hold produce as bought; put them under as_bought")
    if counted is None and column == "trimmed":
        counted = read_cups(text, produce, cut)
    return None if counted is None else SaidWeight((counted.low_g, counted.high_g), counted)


def read_weight(
    text: str, column: str, produce: str, cut: str = "", shelf: Mapping[str, Jar] = SHELF
) -> SaidWeight:
    """'12 lb', '20-35 lb', '20 lb to 35 lb', or what ``read_counted_weight`` reads.

    Raises MeasureError, or BatchError for containers and cups without a known weight.
    """
    counted = read_counted_weight(text, column, produce, cut, shelf)
    if counted is not None:
        return counted
    try:
        return _weight_or_range(text)
    except MeasureError as error:
        raise MeasureError(or_counted(error, column)) from error


def or_counted(error: MeasureError, column: str) -> str:
    """Why a weight cannot be read, with what may be counted in its place where a unit is none."""
    if NO_UNIT not in str(error):
        return str(error)
    if column == "as_bought":
        return f"{error}; {_CONTAINERS_TOO}"
    return f"{error}; {_CUPS_TOO}" if column == "trimmed" else str(error)


def _weight_or_range(text: str) -> SaidWeight:
    """'12 lb', or a range of it. Raises MeasureError or BatchError."""
    try:
        return SaidWeight(parse_weight(text))
    except MeasureError:
        if (found := _range(text)) is None:
            if _NO_UNIT.fullmatch(text):
                raise BatchError("a range without a unit; write it like '20-35 lb'") from None
            raise
    low, high = found
    if not 0 < low <= high:
        raise BatchError("put the low end of a range first, and above 0")
    if why := too_wide(low, high):
        raise BatchError(why)
    return SaidWeight(low if low == high else (low, high))


def too_wide(low: float, high: float) -> str:
    """Why a range of weights is too wide, '' where it is not."""
    if high <= WIDEST * low * (1.0 + 1e-9):  # ends worked out from a middle are never exact
        return ""
    return f"a range of {high / low:.0f} times is too wide to tell anything; check both ends"


def basket_g(text: str) -> tuple[float, float]:
    """What one basket weighs, from low to high. Raises BatchError or MeasureError."""
    grams = _weight_or_range(text).grams
    low, high = grams if isinstance(grams, tuple) else (grams, grams)
    if not low > 0:
        raise BatchError("a full one weighs more than 0")
    return low, high


def _in_baskets(text: str, produce: str, baskets: Baskets) -> Counted | None:
    """'2 blue buckets' by what such are kept to weigh, or '2 blue buckets of 23 lb' by that."""
    plain = " ".join(text.casefold().split())
    for name, holds in baskets.items():
        if found := re.fullmatch(rf"(?:(?P<count>.*\S)\s+)?{re.escape(name)}(?:e?s)?", plain):
            if (kept := holds.get(produce_key(produce))) is None:
                raise basket_unknown(name, produce)
            return so_many(found["count"] or "", name, basket_g(kept), kept)
    return _told(text)


def _told(text: str) -> Counted | None:
    """'2 blue buckets of 23 lb', whatever they are called; None for what is not said so.

    Raises BatchError where it cannot be told how many there are.
    """
    if len(text) > LONGEST or (told := _OF.fullmatch(" ".join(text.split()))) is None:
        return None
    counts, name, each = told["count"].strip(), told["name"].casefold(), told["each"]
    try:
        grams = basket_g(each)
    except MeasureError:
        return None
    vague = name.split()[0].strip(".") in _VAGUE and counts.casefold() in ("", "a", "an")
    if vague or (not counts and any(map(str.isdecimal, name))):
        raise BatchError("say first how many, as a number: '2 boxes of 12 lb'")
    return so_many(counts, name, grams, each)


def _range(text: str) -> tuple[float, float] | None:
    """Both ends of a range in g: the first place to part it where both sides are weights."""
    if len(text) > LONGEST:
        return None
    for parting in BETWEEN.finditer(text):
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
