"""Numbers as they are said in a line, written as they are reckoned.

'six and a half pounds' is '6 1/2 pounds', '2 dozen pints' '24 pints', '2x 3 lb bags' '6 lb bags'.
"""

import re
from collections.abc import Mapping
from fractions import Fraction

from jarcast.measures.numbers import NUMBER_WORDS

_WORDS = "|".join(sorted(NUMBER_WORDS, key=len, reverse=True))
_COUNT = rf"(?:\d{{1,4}}|\b(?:{_WORDS}))"
_PARTS: Mapping[str, int] = {"half": 2, "third": 3, "quarter": 4, "fourth": 4, "eighth": 8}
_PART = rf"(?P<part>{'|'.join(_PARTS)})(?P<parts>s?)"
_HEAVY = r"(?:pounds?|lbs?|ounces?|oz|kilos?|kg|kilograms?|grams?|g)\b"
_UNIT = (
    rf"(?:{_HEAVY}|(?:gallons?|gals?|quarts?|qts?|pints?|pts?|cups?|c|lit(?:er|re)s?|l|dl"
    r"|teaspoons?|tablespoons?|tsps?|tbsps?|bushels?|bu|pecks?|hours?|hrs?|h"
    r"|in(?:ch(?:es)?)?(?= head))\b)"
)
# 'half a pint' may be a jar, and 'half bushel' is a container: these keep their names.
_NO_NAME = rf"(?!(?:pints?|pts?|gallons?|gals?|bushels?|bu|pecks?)\b){_UNIT}"
_SACKS = (
    r"(?:bags?|sacks?|boxe?s?|baskets?|flats?|cartons?|packs?|packages?|pkgs?|bunches|bundles"
    r"|loads?|buckets?|crates?)\b"
)
_JARS = (
    r"(?:(?:half|1/2|wide|regular|reg|wm|small|large)[- ]?){0,2}"
    r"(?:pints?|pts?|hps?|quarts?|qts?|jars?)\b"
)

_TWO_WORDS = re.compile(
    r"\b(twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety) (?=[a-z]+)", re.IGNORECASE
)
_DOZENS = re.compile(
    rf"(?:(?P<half>\bhalf an?|\ba half|\bhalf)|(?P<count>{_COUNT}))?\s*\bdoz(?:en|\.)?(?: of)?\s+"
    rf"(?={_JARS}|{_HEAVY})",
    re.IGNORECASE,
)
# 'a dozen and 5 pints'
_DOZEN_AND = re.compile(
    rf"(?:(?P<count>{_COUNT}) )?\bdoz(?:en|\.)? ?(?:&|and|\+) ?(?P<more>\d{{1,3}}) (?={_JARS})",
    re.IGNORECASE,
)
# 'six and a half pounds', '2 and three quarters cups'
_AND_PART = re.compile(
    rf"(?P<count>{_COUNT}) and (?:(?P<top>an?|one|two|three|\d) )?{_PART}(?: of an?)? (?={_UNIT})",
    re.IGNORECASE,
)
# 'a pound and a half': not 'a pint and a half', which is a jar, nor '4 cups and a half cup'.
_UNIT_AND_PART = re.compile(
    rf"(?P<count>{_COUNT}) (?P<unit>(?!pints?|pts?){_UNIT}) and (?:(?P<top>an?|one|three) )?{_PART}"
    rf"(?!\s*-?\s*(?:{_UNIT}|full|filled|empty|jars?))",
    re.IGNORECASE,
)
# 'one and a half left', 'down to 5 and a half': the unit is that of what stands before.
_AND_PART_ALONE = re.compile(
    rf"(?P<count>{_COUNT}) and (?:(?P<top>an?|one|three) )(?P<part>half|quarter|third)(?P<parts>s?)"
    rf"(?!\s*-?\s*(?:{_UNIT}|full|filled|empty|jars?|of)\b)(?=\W*$|[,;.)]|\s[a-z])",
    re.IGNORECASE,
)
# 'six pounds two ounces', 'two left', 'another three', 'one failed to seal'
_WORD_ALONE = re.compile(
    rf"(?:(?<=pounds )|(?<=lbs )|(?<=lb )|(?<=pound ))(?P<ounces>{_WORDS})(?= (?:ounces?|oz)\b)"
    rf"|(?P<lead>(?:^|[.,;(]) *(?:about |only |just )?)(?P<left>(?!an?\b)(?:{_WORDS}))"
    r"(?= (?:were |was )?left\b(?! over\b))"
    rf"|(?P<more>\banother )(?P<added>(?!an?\b)(?:{_WORDS}))(?=\W*$| *[,;.)])"
    rf"|\b(?P<failed>(?!an?\b)(?:{_WORDS}))(?= (?:jars? )?(?:failed|did ?n.?t|un ?sealed)\b)",
    re.IGNORECASE,
)
_PART_OF = re.compile(
    rf"(?<![\d/] )(?<![\d/])\b(?:(?:(?:an?|one)[ -])?(?P<part>{'|'.join(_PARTS)})"
    r"|(?P<top>two|three)[ -](?P<parts>thirds|quarters|fourths|eighths))"
    rf"(?:[ -]of)?(?:[ -]an?)?[ -](?={_NO_NAME})",
    re.IGNORECASE,
)
_HALF_GALLON = re.compile(
    r"\b(?:(?:an?|one|1) )?half[ -]?gal(?:lon)?"
    r"(?= (?:of )?(?:\w+ ){0,2}(?:brine|vinegar|water|syrup)\b)",
    re.IGNORECASE,
)
_DECIMAL = r"\d{1,4}(?:\.\d{1,3})?"
_EACH = rf"(?P<each>{_DECIMAL})[ -]?(?P<unit>{_HEAVY})"
_CUPS = rf"(?P<each>{_DECIMAL})[ -]?(?P<unit>(?:cups?|c|gals?|gallons?)\b)"
_NO_JARS = rf"(?!\s*(?:{_JARS}|mason\b))"  # '6 x 16 oz jars' are jars
_BAGS = r"(?:bags?|sacks?|packs?|packages?|pkgs?|cartons?|flats?|bunches|bundles|baskets)"
_TIMES = tuple(
    re.compile(one, re.IGNORECASE)
    for one in (
        rf"(?<![\d/.,])(?P<count>{_COUNT})\s?[x\u00d7]\s?{_EACH}"
        rf"(?:(?<!oz)(?<!ounce)(?<!ounces){_NO_JARS}|(?= {_SACKS}))",
        rf"(?<![\d/.,]){_EACH}\s?[x\u00d7]\s?(?P<count>\d{{1,3}})\b(?![/.,]\d){_NO_JARS}",
        rf"(?<![\d/.,-])(?P<count>{_COUNT})\s{_EACH}(?= {_SACKS})",
        rf"(?<![\d/.,])(?P<count>{_COUNT})\s?[x\u00d7]\s?{_CUPS}",
        rf"(?<![\d/.,]){_CUPS}\s?[x\u00d7]\s?(?P<count>\d{{1,3}})\b(?![/.,]\d)",
        rf"(?<![\d/.,-])(?P<count>{_COUNT})\s{_BAGS}\s(?:of|@|at|x)\s{_EACH}(?: each)?",
        rf"(?<![\d/.,-])(?P<count>{_COUNT})\s{_BAGS},?\s{_EACH} (?:each|apiece)",
    )
)


def in_digits(text: str) -> tuple[str, list[str]]:
    """A line with its numbers in digits, and what was reckoned, to be told."""
    text = _TWO_WORDS.sub(_joined, text)
    text = _DOZEN_AND.sub(_dozen_and, _DOZENS.sub(_dozens, text))
    text = _AND_PART.sub(lambda found: f"{_count(found['count'])} {_part(found)} ", text)
    text = _UNIT_AND_PART.sub(
        lambda found: f"{_count(found['count'])} {_part(found)} {found['unit']}", text
    )
    text = _AND_PART_ALONE.sub(lambda found: f"{_count(found['count'])} {_part(found)}", text)
    text = _WORD_ALONE.sub(_word_alone, text)
    text = _HALF_GALLON.sub("1/2 gal", text)
    text = _PART_OF.sub(lambda found: f"{_part(found)} ", text)
    told: list[str] = []
    for times in _TIMES:
        text = times.sub(lambda found: _product(found, told), text)
    return text, told


def _joined(found: re.Match[str]) -> str:
    """'twenty four' as one word."""
    after = re.match(r"[a-z]+", found.string[found.end() :], re.IGNORECASE)
    joined = f"{found[1]}-{after[0] if after else ''}"
    return f"{found[1]}-" if joined.casefold() in NUMBER_WORDS else found[0]


def _count(text: str) -> int:
    return int(text) if text.isdigit() else NUMBER_WORDS[text.casefold()]


def _dozens(found: re.Match[str]) -> str:
    number = 6 if found["half"] else 12 * _count(found["count"] or "1")
    return f" {number} "


def _dozen_and(found: re.Match[str]) -> str:
    return f"{12 * _count(found['count'] or '1') + int(found['more'])} "


def _word_alone(found: re.Match[str]) -> str:
    told = found.groupdict(default="")
    number = _count(told["ounces"] or told["left"] or told["added"] or told["failed"])
    return f"{told['lead']}{told['more']}{number}"


def _part(found: re.Match[str]) -> str:
    part = found["part"] or found["parts"].removesuffix("s")
    return f"{_count(found['top'] or '1')}/{_PARTS[part.casefold()]}"


def _product(found: re.Match[str], told: list[str]) -> str:
    """'2x 3 lb' as 6 lb."""
    count = _count(found["count"])
    product = f"{float(count * Fraction(found['each'])):g} {found['unit']}"
    if count != 1:  # 'a 25 lb sack'
        told.append(f"{found[0].strip()} taken as {product}")
    return product
