"""The pieces of a line of words: its clauses, and the measures that stand in each."""

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress

from msgspec import Struct

from jarcast.domain.jar_text import on_shelf, read_jars, says_sorts
from jarcast.domain.jars import SHELF, Jar, baskets_on
from jarcast.errors import BatchError, MeasureError
from jarcast.measures import LONGEST, parse_hours, parse_inches, parse_salt, parse_volume
from jarcast.measures import parse_weight as weight
from jarcast.measures.numbers import NUMBER_WORDS, count

WEIGHT, VOLUME, HOURS, INCHES, SALT = "weight", "volume", "hours", "inches", "salt"
JARS, HELD, BARE = "jars", "containers", "a number alone"
_READERS: Mapping[str, Callable[[str], float]] = {
    WEIGHT: weight, VOLUME: parse_volume, HOURS: parse_hours, INCHES: parse_inches,
}  # fmt: skip

_PARTED = re.compile(r",(?!(?<=\d,)\d)|[;()\[\]\n]|->|=>|\u2192|\s[-\u2013\u2014]\s(?![\d.])")
_SENTENCE = re.compile(r"(?<!\blb)(?<!\boz)(?<!ts)(?<!\bkg)(?<!\bc)(?<!lbs)(?<!\bpt)\.\s+(?=\D)")
_START = re.compile(
    rf"(?<![\w.,/-])(?:\.?\d|[\u00bc-\u00be\u2150-\u215e]|(?:{'|'.join(NUMBER_WORDS)})\b)",
    re.IGNORECASE,
)
# What is numbered and is no measure of a batch: percent, degrees, pressure, money, minutes.
_NO_MEASURE = re.compile(
    r"\$\s?\d[\d.,]*|\d[\d.,]*\s?(?:%|\u00b0\s?[fc]?|degrees?|psi|min(?:ute)?s?\b)", re.IGNORECASE
)
_NUMBER = re.compile(
    r"(?:\d+[ -])?\d+/\d+|\d+\s?[\u00bc-\u00be\u2150-\u215e]|[\u00bc-\u00be\u2150-\u215e]"
    r"|\d+(?:[.,]\d+)?|\.\d+"
)
_TWO = re.compile(
    rf"(?:{_NUMBER.pattern})\s?(?P<unit>[a-z]+)\.?\s+(?P<less>(?:{_NUMBER.pattern})\s?[a-z]+\.?)",
    re.I,
)
_MOST_WORDS = 12  # in one measure
_HELD = re.compile(r"half bushels?|bushels?|bu|pecks?|crates?|lugs?|buckets?|boxe?s?", re.I)


class Measure(Struct, frozen=True):
    """A measure in a clause: where it stands, as it is read, and the kinds it may be of."""

    start: int
    end: int
    text: str
    kinds: frozenset[str]


def clauses(text: str) -> list[str]:
    """The clauses of a line: parted by commas, arrows, brackets and the ends of sentences."""
    parts = (half for part in _PARTED.split(text) for half in _SENTENCE.split(part))
    return [part.strip(" .:-\u2013\u2014\t") for part in parts if part.strip(" .:-\u2013\u2014\t")]


def measures(clause: str, shelf: Mapping[str, Jar] = SHELF) -> Iterator[Measure]:
    """The measures of a clause in order, each as long as it reads."""
    barred = [found.span() for found in _NO_MEASURE.finditer(clause)]
    at = 0
    while found := _START.search(clause, at):
        at = found.end()
        start = found.start()
        if any(first <= start < last for first, last in barred):
            continue
        if read := _longest(clause, start, shelf):
            yield read
            at = max(at, read.end)


def _longest(clause: str, start: int, shelf: Mapping[str, Jar]) -> Measure | None:
    rest = clause[start : start + LONGEST]
    ends = [found.end() for found in re.finditer(r"\S+", rest)][:_MOST_WORDS]
    for end in reversed(ends):
        text = _digits(rest[:end].rstrip(".,:"))
        kinds = set() if _side_by_side(text) else _kinds(text, shelf)
        if kinds:
            return Measure(start, start + end, text, frozenset(kinds))
    number = _NUMBER.match(rest)
    return Measure(start, start + number.end(), number[0], frozenset((BARE,))) if number else None


def _side_by_side(text: str) -> bool:
    """Whether a text is two volumes: in '9 pt 10 cups' the cups are more than a pint."""
    found = _TWO.fullmatch(text)
    if not found:
        return False
    with suppress(MeasureError):
        return parse_volume(found["less"]) >= parse_volume(f"1 {found['unit']}")
    return False


def _digits(text: str) -> str:
    """A number written as a word in digits: 'two cups' -> '2 cups', 'half a cup' is '1/2 cup'."""
    first, _, rest = text.partition(" ")
    if rest and (number := NUMBER_WORDS.get(first.casefold())):
        return f"{number} {rest}"
    return text


def _kinds(text: str, shelf: Mapping[str, Jar]) -> set[str]:
    """The kinds of measure that a text can be, a unit with it; none for a number alone."""
    if not re.search(r"[^\W\d_]|[#\"]", text):
        return set()
    kinds = set()
    for kind, read in _READERS.items():
        with suppress(MeasureError):
            read(text)
            kinds.add(kind)
    if "salt" in text.casefold():
        with suppress(MeasureError):
            parse_salt(text)
            kinds.add(SALT)
    with suppress(BatchError):
        found = read_jars(text, shelf)
        if says_sorts(found, shelf) and on_shelf(found, shelf):
            kinds.add(JARS)
    return kinds or _held(text, shelf)


def _held(text: str, shelf: Mapping[str, Jar]) -> set[str]:
    """Containers counted: '2 bushels', '2 blue buckets' where such are one's own."""
    number = _NUMBER.match(text)
    named, of, each = (text[number.end() :] if number else "").partition(" of ")
    named = named.strip(" .-")
    if of:  # '2 bags of 12 lb'
        try:
            weight(each.removesuffix(" each"))
        except MeasureError:
            return set()
    own = named.casefold().removesuffix("s") in baskets_on(shelf)
    if number and (own or _HELD.fullmatch(named)):
        with suppress(BatchError):
            count(number[0])
            return {HELD}
    return set()


def unit_of(text: str) -> str:
    """The unit that a number alone after this measure takes; '' where it has several."""
    if "+" in text:
        return ""
    found = re.search(r"[^\W\d_]+|[#\"]", text)
    return found[0] if found else ""
