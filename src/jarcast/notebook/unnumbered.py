"""Amounts that are said without their number: 'a pint left' is one, 'half pint' is asked back.

The words are those of picklers: common practice, no source.
"""

import re
from collections.abc import Iterator

from jarcast.measures.numbers import NUMBER_WORDS
from jarcast.notebook.ingredients import in_any_case

_HEAVY = r"(?:bushel|bu|peck|pound|lb|kilo|kilogram|kg)"
_LOOSE = r"(?:cup|pint|pt|quart|qt|gallon|gal|lit(?:er|re))"
_FIRST = r"(?P<lead>^|[,;:(+&]|->|\u2192)\s*"
_HALF = r"(?:(?P<half>half|1/2)[ -])?"
_HALF_HELD = in_any_case(r"(?P<before>[\w/]+ )?\bhalf[ -](?P<unit>bushel|bu|peck)\b(?! ?-?basket)")
_WEIGHED = in_any_case(
    rf"{_FIRST}(?P<unit>{_HEAVY})\b(?P<more> and a half\b)?"
    r"(?![ -]?(?:baskets?|crates?|boxe?s?|bags?|sacks?|jars?|cans?|cakes?|each|for)\b)(?!\.?\s*\d)"
)
_LEFT = in_any_case(
    rf"(?P<lead>^|[,;:(+&]|->|\u2192|\b(?:and|with|about|abt)\b)\s*{_HALF}(?P<unit>{_LOOSE})\b"
    r"(?=\.?(?: of)?(?: the)?(?: brine| liquid| syrup)? (?:left|over|remain\w*|spare|unused)\b)"
)

_ONE = r"(?:pint|pt|quart|qt|cup|gallon|bushel|bu|peck|pound|lb|ounce|kilo|lit(?:er|re))"
_SOME = (
    r"(?:half(?: an?)?|quarter|an?(?: \w+)?|another|couple(?: of)?|few|several|dozen|some|extra"
    r"|scant|part(?: of an?)?)"
)
_UNNUMBERED = in_any_case(
    rf"\b(?P<some>{_SOME})[ -]+(?:half[ -])?{_ONE}s?\b(?! ?jars\b)"
    rf"|(?<!\bper )(?<!\beach )(?<!\bevery )(?<!\bthe )(?<!\bby )(?<!\bto )(?<!\bin )(?<!\binto )"
    rf"(?<!\ba )(?<!\bthis )(?<!\blast )(?<!\bfirst )(?<!\bof )(?<!\bfor )(?<![/-])\b{_ONE}\b"
    r"(?![ -]?(?:jars|jar lids|lids?|sizes?|sized|baskets?|boxe?s)\b)"
)
_JOINED = in_any_case(
    r"^\W*(?:\+|&|and|plus|with)\s+(?P<what>(?:an?|another|one)(?: \w+)? jar|(?:a )?half)\W*$"
)
_HALF_LEFT = in_any_case(r"\bhalf(?: of (?:it|the brine))?(?: (?:was|is))? left\b")
_COUNTED = in_any_case(r"(?P<number>\d+) ?(?P<sort>(?:wide )?(?:pints?|pts?|quarts?|qts?)\.?)")
_RATE = in_any_case(r"\b(?:per|each|every)\b|/ ?$")


def with_number(text: str) -> str:
    """A line in which an amount that is surely one, or the half of one, has its number."""
    text = _HALF_HELD.sub(_half_held, text)
    text = _WEIGHED.sub(_weighed, text)
    return _LEFT.sub(
        lambda found: f"{found['lead']} {'1/2' if found['half'] else '1'} {found['unit']}", text
    )


def _half_held(found: re.Match[str]) -> str:
    before = (found["before"] or "").strip().casefold()
    if before in NUMBER_WORDS or re.search(r"\d", before):  # '2 half bushels' are counted
        return found[0]
    return f"{found['before'] or ''}1/2 {found['unit']}"


def _weighed(found: re.Match[str]) -> str:
    return f"{found['lead']} {'1 1/2' if found['more'] else '1'} {found['unit']}"


def without_number(words: str, count: str = "") -> Iterator[tuple[str, str]]:
    """Of words that name a measure or a jar and give no number, each with how it is to be written.

    ``count`` is that of the jars they stand beside.
    """
    if joined := _JOINED.match(words):
        yield joined["what"], _due(joined["what"], count)
        return
    if left := _HALF_LEFT.search(words):
        yield left[0], f"'{left[0]}': how much is that? Write it like '2 cups left'"
    for found in _UNNUMBERED.finditer(words):
        if not _RATE.search(words[: found.start()]):
            yield found[0], _due(found[0], count)


def _due(what: str, count: str) -> str:
    half = re.search(r"\bhalf\b", what, re.IGNORECASE)
    unit = re.split(r"[ -]", what)[-1]
    unit = re.sub(r"(?<=\w\w)s$", "", unit)
    if unit.casefold() == "jar":
        return f"'{what}' names no size; write it like '1 half-pint'"
    if half and unit.casefold() in ("half", "pint", "pt"):
        return f"'{what}' has no number; {_half_of(count, unit)}"
    return f"'{what}' has no number; write it like '{'1/2' if half else '1'} {unit}'"


def _half_of(count: str, unit: str) -> str:
    """How half a jar is written beside a count of jars, and a jar of half the size."""
    jars = _COUNTED.fullmatch(count)
    quarts = bool(jars and jars["sort"][0] in "qQ")
    if quarts and unit != "half":  # half a pint beside quarts
        return "write '1 half-pint', or '1/2 pint' if it was half a pint jar"
    smaller = "1 pint" if quarts else "1 half-pint"
    part = f"{jars['number']} 1/2 {jars['sort']}" if jars else "1/2 pint"
    return f"write '{smaller}', or '{part}' if it was half a jar"
