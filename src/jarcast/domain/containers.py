"""Counted containers as weights: '2 bushels' as published, '2 blue buckets' by one's own.

The published ones stand in ``models/containers.csv``, a row for each publication. What containers
come to is a range that is taken to hold 8 times in 10.
"""

import csv
import math
import re
from functools import cache

from msgspec import Struct

from jarcast.domain.log_range import middle_and_half, reaching
from jarcast.domain.names import produce_key
from jarcast.errors import BatchError
from jarcast.files.shipped import shipped
from jarcast.measures import POUND_G
from jarcast.measures.numbers import NUMBER_WORDS, count

# Half a published range, as a share: the mean of the four that are printed as ranges (apple 42-48
# lb, peach 48-52, pear 48-50, plum 50-56, in the table) is 0.046 in logs. A single printed figure
# is an average, so no container is taken as surer than that.
LEAST_SPREAD = 0.05
PECKS_IN_A_BUSHEL = 4  # exact, dry measure: NIST Handbook 44, Appendix C
MOST_CONTAINERS = 10_000.0

_WORDS = {
    "bushel": "bushel bushels bu",
    "peck": "peck pecks pk pks",
    "crate": "crate crates",
    "24-qt crate": "24-qt-crate 24-qt-crates 24-quart-crate 24-quart-crates",
    "lug": "lug lugs",
    "bag": "bag bags",
}
_NAMES = {word: name for name, words in _WORDS.items() for word in words.split()}
_OTHER = (
    "basket", "box", "case", "sack", "hamper", "flat", "carton", "bunch", "bucket", "pail", "tub",
    "tote", "colander", "head", "bowl",
)  # fmt: skip
_HALF = re.compile(r"(?:(?P<count>.*\S)[\s-]+)?half")
_COUNTED = re.compile(
    r"(?P<count>.*?[^\s-])?[\s-]*(?<![a-z])(?P<name>[a-z]+|24[ -]q(?:t|uart)[ -]crates?)\.?"
)
BETWEEN = re.compile(r"\s*(?:[-\u2010-\u2015\u2212]|\bto\b)\s*", re.IGNORECASE)  # ends of a range


class NetWeight(Struct, frozen=True):
    """One published net weight of a container of one produce, in pounds."""

    key: str
    produce: str
    container: str
    low_lb: float
    high_lb: float
    note: str
    source: str
    seen: str

    @property
    def cited(self) -> str:
        """The publication, and whether a copy was read: '... (from memory)'."""
        return f"{self.source} ({self.seen})"


_OWN_KIND = re.compile(r"(?:an?\s+|\d[\d/., \u2013-]*)(?P<kind>[^\W\d_]{2}[^\d]*)")


class Counted(Struct, frozen=True):
    """Containers counted: how many of which, their range in g, and where it comes from.

    ``each`` is what one of one's own weighs, as it was typed.
    """

    count: tuple[float, float]
    container: str
    low_g: float
    high_g: float
    sources: tuple[str, ...]
    each: str = ""


@cache
def net_weights() -> tuple[NetWeight, ...]:
    """The published net weights, as they stand in the table."""
    with shipped("models", "containers.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            NetWeight(
                row["id"], row["produce"], row["container"], float(row["low_lb"]),
                float(row["high_lb"]), row["note"], row["source"], row["seen"],
            )
            for row in csv.DictReader(file)
        )  # fmt: skip


def read_counted(text: str, produce: str) -> Counted | None:
    """'2 bushels' of a produce as a range of weight; None where no containers are counted.

    Raises BatchError where no weight of such a container is published for this produce.
    """
    found = _COUNTED.fullmatch(" ".join(text.casefold().split()))
    if not found:
        return None
    word = re.sub(r"\s", "-", found["name"])
    name = _NAMES.get(word)
    if name is None:
        if word.removesuffix("s").removesuffix("e") in _OTHER or word.removesuffix("s") in _OTHER:
            named = word.removesuffix("s")
            raise BatchError(
                f"no net weight of a {named} is known; weigh one, and give what all of them weigh "
                f"(or keep it: jarcast kitchen baskets add {named} --{_option(produce)} '23 lb')"
            )
        return None
    try:
        counts = _counts(found["count"] or "")
    except BatchError:
        if own := _OWN_KIND.fullmatch(found["count"] or ""):  # '2 blue crates'
            raise basket_unknown(f"{own['kind']} {name}", produce) from None
        raise
    container, part = ("bushel", PECKS_IN_A_BUSHEL) if name == "peck" else (name, 1)
    rows = _rows(produce_key(produce), container)
    if not rows:
        raise BatchError(_none_known(produce, name))
    pounds = _at_least_as_wide(min(r.low_lb for r in rows), max(r.high_lb for r in rows))
    low, high = _together(counts, pounds)
    grams = float(POUND_G) / part
    sources = tuple(dict.fromkeys(row.cited for row in rows))
    return Counted(counts, name, grams * low, grams * high, sources)


def published_container(name: str) -> bool:
    """Whether a container of this name has published weights: 'bushel'."""
    return name in _NAMES


def so_many(text: str, name: str, grams: tuple[float, float], each: str) -> Counted:
    """So many of one's own baskets, of which one weighs from low to high g. Raises BatchError.

    ``each`` is that weight as it was typed.
    """
    counts = _counts(" ".join(text.casefold().split()))
    low, high = _together(counts, _at_least_as_wide(*grams))
    return Counted(counts, name, low, high, (f"your own, {each}",), each)


def basket_unknown(name: str, produce: str) -> BatchError:
    """That nobody said what such a basket of this produce weighs, and how to say it."""
    return BatchError(
        f"what a {name} of {produce or 'unnamed produce'} weighs is not known; weigh one: "
        f"jarcast kitchen baskets add '{name}' --{_option(produce)} '23 lb'"
    )


def _option(produce: str) -> str:
    return produce_key(produce).replace(" ", "-") or "cucumber"


def _counts(text: str) -> tuple[float, float]:
    """'2', '1 1/2', 'a', 'half a', or a range '2-3', lowest and highest. Raises BatchError."""
    try:
        number = _count(text)
    except BatchError:
        first, *rest = BETWEEN.split(text, maxsplit=1)
        if not rest:
            raise
        low, high = _count(first), _count(rest[0])
        if low > high:
            raise BatchError("put the low end of a range first") from None
        return low, high
    return number, number


def _count(text: str) -> float:
    words = {**NUMBER_WORDS, "half a": 0.5, "a half": 0.5, "": 1.0}
    part = 1.0
    if text not in words and (half := _HALF.fullmatch(text)):  # '2 half bushels'
        text, part = half["count"] or "", 0.5
    number = part * (words[text] if text in words else count(text))
    if not 0 < number <= MOST_CONTAINERS:
        raise BatchError(f"{number:g} containers cannot be right; count them again")
    return number


def _together(counts: tuple[float, float], pounds: tuple[float, float]) -> tuple[float, float]:
    """The range of so many containers of such weights; their variances add up, in logs.

    Containers of one harvest are filled by the same people, so their weights are off together.
    """
    middle = math.sqrt(counts[0] * counts[1] * pounds[0] * pounds[1])
    (_, of_counts), (_, of_pounds) = middle_and_half(*counts), middle_and_half(*pounds)
    return reaching(middle, math.hypot(of_counts, of_pounds))


def _rows(produce: str, container: str) -> list[NetWeight]:
    """Published weights, those of copies that were read before those from memory."""
    rows = [r for r in net_weights() if r.produce == produce and r.container.endswith(container)]
    read = [row for row in rows if row.seen == "copy read"]
    return read or rows


def _at_least_as_wide(low: float, high: float) -> tuple[float, float]:
    """A range, at least as wide as published ones of full containers usually are."""
    middle, half = middle_and_half(low, high)
    return reaching(middle, max(half, LEAST_SPREAD))


def _none_known(produce: str, name: str) -> str:
    known = sorted({row.container for row in net_weights() if row.produce == produce_key(produce)})
    hint = f" (there is one for a {', a '.join(known)})" if known else ""
    return (
        f"no net weight of a {name} of {produce or 'unnamed produce'} is published{hint}; weigh "
        "one, and give what all of them weigh"
    )
