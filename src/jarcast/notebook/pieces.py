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
UNREAD = "a number that cannot be read under its unit"
_READERS: Mapping[str, Callable[[str], float]] = {
    WEIGHT: weight, VOLUME: parse_volume, HOURS: parse_hours, INCHES: parse_inches,
}  # fmt: skip

_PARTED = re.compile(r",(?!(?<=\d,)\d)|[;()\[\]\n]|->|=>|\u2192|\s[-\u2013\u2014]\s(?![\d.])")
_SENTENCE = re.compile(
    r"(?<!\blb)(?<!\boz)(?<!ts)(?<!\bkg)(?<!\bc)(?<!lbs)(?<!\bpt)\.\s+(?=\D)|\.\s+(?=[A-Z][a-z])"
)
_START = re.compile(
    rf"(?<![\w.,/-])(?:\.?\d|[\u00bc-\u00be\u2150-\u215e]|(?:{'|'.join(NUMBER_WORDS)})\b)",
    re.IGNORECASE,
)
# What is numbered and is no measure of a batch: percent, degrees, pressure, money, minutes and
# ratios, whose colon is written as the sign of a ratio.
_EACH = r"\s?(?:/\s?|(?:per|an?)\s)(?:lbs?|pounds?|kg|kilos?|oz|bags?|bu|bushels?|pecks?|boxe?s?)\b"
NO_MEASURE = re.compile(
    rf"\$\s?\d[\d.,]*(?:{_EACH})?|(?:@\s?)?\d+\.\d\d?{_EACH}|@\s?\d+\.\d\d\b(?!\s?[a-z])"
    r"|\d[\d.,]*\s?(?:%|\u00b0\s?[fc]?|degrees?|psi|min(?:ute)?s?\b)|\d+\u2236\d+|\b\d0/\d0\b",
    re.IGNORECASE,
)  # fmt: skip
# What is numbered among its like, or is a date: '3rd picking', 'row 2', '#3', 'July 2026'.
_MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|june?|july?|aug(?:ust)?|sept?(?:ember)?"
    r"|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\b\.?"
)
_NTH = r"(?:st|nd|rd|th)\b"
_NO_UNIT_NEXT = (
    r"(?![\d/]|[.,]\d|\s?(?:[#\"\u00bc-\u00be\u2150-\u215e]|\d/\d|(?:lb|pound|oz|ounce|kg|kilo|kilogram"
    r"|g|gram|cup|c|pint|pt|quart|qt|gal|gallon|ml|l|lit(?:er|re)|hp|half|wide|bu|bushel|peck|h|hr"
    r"|hour|day|jar|in|inche?|tbsp|tsp|dozen|doz|crate|lug|bucket|box|bag)(?:s|es)?\b))"
)
_YEAR = rf"(?:19|20)\d\d{_NO_UNIT_NEXT}"
NUMBERED = re.compile(
    rf"\b\d{{1,2}}{_NTH}|(?<![\w#])#\s?\d{{1,3}}{_NO_UNIT_NEXT}"
    r"|\b(?:rows?|beds?|plots?|plants?|batch|lot|picking|number|page|shelf|load|round|step|week|zone)"
    rf"\s#?\d{{1,3}}{_NO_UNIT_NEXT}"
    rf"|\b(?:{_MONTH}|may)\s(?:\d{{1,2}}{_NTH},?\s)?{_YEAR}"
    rf"|\b{_MONTH}\s\d{{1,2}}(?:{_NTH})?(?:,?\s{_YEAR})?{_NO_UNIT_NEXT}"
    rf"|\b\d{{1,2}}\s(?:{_MONTH}|may\b(?!\s(?:be|have|not)\b))(?:,?\s{_YEAR})?"
    r"|\b(?:from|of|since|in|by|for|crop|season|summer|fall|autumn|spring|winter|vintage)"
    rf"\s(?:the\s)?{_YEAR}",
    re.IGNORECASE,
)
_NUMBER = re.compile(
    r"(?:\d+[ -])?\d+/\d+|\d+\s?[\u00bc-\u00be\u2150-\u215e]|[\u00bc-\u00be\u2150-\u215e]"
    r"|\d+(?:[.,]\d+)?|\.\d+"
)
_TWO = re.compile(
    rf"(?:{_NUMBER.pattern})\s?(?P<unit>[a-z]+)\.?\s+(?P<less>(?:{_NUMBER.pattern})\s?[a-z]+\.?)",
    re.I,
)
_DASH = re.compile(r"\s[-\u2212\u2013\u2014]\s")
_JOINING = re.compile(r".*(?:\s(?:and|then)|[&+])", re.IGNORECASE | re.DOTALL)
# '7 pt and half pint' are two counts, and no jars of a pint and a half.
_AND_HALF = re.compile(r"\b(?:and|&)(?: a)? half$", re.IGNORECASE)
_UNIT_NEXT = re.compile(r"[ -]+(?:pints?|pts?|quarts?|qts?|cups?)\b", re.IGNORECASE)
_QUARTS_PINTS = re.compile(
    rf"((?:{_NUMBER.pattern})\s?(?:quarts?|qts?)\.?),?\s+((?:{_NUMBER.pattern})\s?(?:pints?|pts?)\.?)",
    re.IGNORECASE,
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
    barred = [one.span() for none in (NO_MEASURE, NUMBERED) for one in none.finditer(clause)]
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
        text = _digits(rest[:end].rstrip(" .,:-\u2013\u2014"))
        halved = _AND_HALF.search(text) and _UNIT_NEXT.match(rest[end:])
        beside = halved or _side_by_side(text) or _JOINING.fullmatch(text)
        kinds = set() if beside else _kinds(text, shelf)
        if _DASH.search(
            text
        ):  # '10 lb - 8 lb' may be two weights, and '8 pts - 7 c' is two measures
            kinds = {UNREAD} if WEIGHT in kinds else set()
        if kinds:
            return Measure(start, start + end, text, frozenset(kinds))
    number = _NUMBER.match(rest)
    if number is None:
        return None
    unit = re.match(r"\s?([^\W\d_]+)", rest[number.end() :])
    if unit and _kinds(f"1 {unit[1]}", shelf):  # '1,250 ml'
        end = number.end() + unit.end()
        if more := re.match(r"\.?\d\S*", rest[end:]):  # '3kg5', '2qt1'
            end += more.end()
            return Measure(start, start + end, rest[:end], frozenset((UNREAD,)))
        kinds = _kinds(rest[:end], shelf) or {UNREAD}
        return Measure(start, start + end, rest[:end], frozenset(kinds))
    return Measure(start, start + number.end(), number[0], frozenset((BARE,)))


def why_unread(text: str) -> str:
    """Why a number under its unit cannot be read, in the words of its reader; '' where it can."""
    if _DASH.search(text):
        two = _DASH.sub(", ", text)
        return f"is '{text}' two weights, or one less the other? Part two by a comma, '{two}'"
    whys = []
    for read in (weight, parse_volume):
        try:
            read(text)
        except MeasureError as error:
            whys.append(str(error).partition(": ")[2])
        else:
            return ""
    return next((why for why in whys if "meant as" in why), "is that a number? Write it like 6 1/2")


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
    if two := _QUARTS_PINTS.fullmatch(text):  # '14 quarts 1 pint', a volume or jars
        kinds |= _kinds(f"{two[1]} + {two[2]}", shelf) & {JARS}
    return kinds or _held(text, shelf)


def as_jars(text: str) -> str:
    """A count of jars as the grammar of jars reads it: '14 quarts + 1 pint'."""
    return _QUARTS_PINTS.sub(r"\1 + \2", text)


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
