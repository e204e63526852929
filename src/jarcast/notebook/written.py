"""One cell as a person writes it: 'abt 6', '6 lb 4', '8 pt 2 qt', 'none', '1.250', '19/20'."""

import math
import re
from collections.abc import Mapping
from contextlib import suppress
from typing import NamedTuple

from msgspec import Struct

from jarcast.batchtable.heading_words import JAR_SORT
from jarcast.domain.batch import number_text
from jarcast.domain.jar_text import on_shelf, read_jars, summed
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.measures.numbers import NUMBER_WORDS, count

_SIGN = "\u00bc-\u00be\u2150-\u215e"
AMOUNT = rf"(?:\d+[ -]\d+/\d+|\d+/\d+|\d+ ?[{_SIGN}]|[{_SIGN}]|\d+(?:[.,]\d+)*|\.\d+)"
BARE = re.compile(AMOUNT)
_SUM = re.compile(rf"{AMOUNT}(?: ?\+ ?{AMOUNT})*")
_RANGE = re.compile(rf"{AMOUNT} ?(?:-|\u2013|to) ?{AMOUNT}")
_LESS = re.compile(rf"({AMOUNT}) [-\u2013\u2212] ({AMOUNT})")
_HASH = re.compile(rf"(?<=[\d{_SIGN}])\s?#(?:'?s)?")
_UNSAID = re.compile(
    r"(?:[-\u2013\u2014.?]+|n\.?/?a\.?|#n/a|unknown|unk|tbd|not (?:weighed|measured|counted|noted)"
    r"|did ?n.?t (?:weigh|measure|count|note)|forgot)", re.I,
)  # fmt: skip
_NONE = re.compile(
    r"(?:none|nil|nothing|zero|no|gone|empty)(?: left)?|ran (?:out|short)|(?:all|it) (?:used|gone)"
    r"(?: up)?|used (?:all|it all|up|all of it)|just enough|0+(?:[.,]0+)?", re.I,
)  # fmt: skip
_ABOUT = re.compile(
    r"(?:(?:abt|about|approx\w*|roughly|around|circa|ca|say|maybe|nearly|almost|just over"
    r"|just under)\b\.?|[~\u2248])\s*", re.I,
)  # fmt: skip
_OR_SO = re.compile(r"\s*(?:\?+|\bor so|\bapprox\w*\.?|\babt\.?|(?<=\d)ish|(?<=\d)\+)$", re.I)
_POUNDS = re.compile(rf"({AMOUNT}) ?(?:lbs?|pounds?)\.?,? ?(\d{{1,2}})", re.I)
_DIVIDED = re.compile(r"(?:\b\d+[ -])?(?<![\d/.,])(\d+)/(\d+)(?![\d/])")
_IN_THREES = re.compile(r"(?<![\d.,/])(\d{1,3})([.,])(\d{3})(?![\d.,/])(\s*)([^\W\d_]+)")
_SMALL = re.compile(r"g|gr|gms?|grams?|grammes?|mls?|cc|milliliters?|millilitres?", re.I)
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d{1,2})(?![\d.,])")
_AND_HALF = re.compile(r"\d.*(?:\band\b|[&+])\s*half(?:[ -](?:pints?|pts?))?$", re.I)
_UNITS = "cup|c|pint|pt|quart|qt|gallon|gal|pound|lb|kilo|kg|lit(?:er|re)"
_SPELT = {word: str(number) for word, number in NUMBER_WORDS.items() if len(word) > 2} | {
    "dozen": "12", "half": "1/2",
}  # fmt: skip
_WORDS = "|".join(word for word in _SPELT if word != "half")


class Decimals(Struct, frozen=True):
    """How numbers are written in a file.

    ``comma`` is whether its decimals follow a comma, ``semicolons`` whether those part its cells,
    ``point`` whether numbers of it plainly have a decimal point.
    """

    comma: bool = False
    semicolons: bool = False
    point: bool = False


class Cell(NamedTuple):
    """What a cell says, '' for nothing, and what is told of it where that is in doubt."""

    text: str
    doubt: str = ""


def unsaid(cell: str) -> bool:
    """Whether a cell says that nothing was written down: '-', 'n/a', 'not weighed'."""
    return bool(_UNSAID.fullmatch(cell))


def none(cell: str) -> bool:
    """Whether a cell says that there was none: 'none', 'ran out', 'all used', 0."""
    return bool(_NONE.fullmatch(cell))


def measure(cell: str, unit: str, decimals: Decimals) -> Cell:
    """A measure with its unit, that of its column where it states none.

    Raises BatchError where a number in it may mean two things.
    """
    _refuse_odd(cell)
    text, about = _without_about(in_digits(_HASH.sub(" lb", cell)))
    if ounces := _POUNDS.fullmatch(text):
        if int(ounces[2]) < 16:  # nothing else follows pounds
            text, about = f"{ounces[1]} lb {ounces[2]} oz", True
    elif unit and _SUM.fullmatch(text):
        text = " + ".join(f"{part.strip()} {unit}" for part in text.split("+"))
    elif unit and (less := _LESS.fullmatch(text)) and count(less[1]) > count(less[2]):
        text, about = f"{less[1]} {unit} - {less[2]} {unit}", True  # no range runs downward
    elif unit and _RANGE.fullmatch(text):
        text = f"{text} {unit}"
    if top := next(
        (found for found in _DIVIDED.finditer(text) if int(found[1]) >= int(found[2])), None
    ):
        raise BatchError(f"{top[0]} is no part of one; write it like 6 1/4 or 6 lb 4 oz")
    text, pointed = _pointed(text, decimals)
    doubt = f"'{cell}' is read as {text}" if about or pointed else ""
    return Cell(text, doubt)


def _refuse_odd(cell: str) -> None:
    if cell.startswith("="):
        raise BatchError(
            "the result of this formula is not in the file; open it in a spreadsheet and save it"
        )
    if re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        raise BatchError("that is a day; a spreadsheet may have made it out of a fraction")


def _without_about(text: str) -> tuple[str, bool]:
    """A measure without 'about', and whether that stood there."""
    plain = _OR_SO.sub("", _ABOUT.sub("", text, count=1) if _ABOUT.match(text) else text)
    return plain.strip(), plain != text


def in_digits(text: str) -> str:
    """A number that begins a text in digits: 'six and a half' -> '6 1/2', 'half a cup'."""
    text = re.sub(r"^half (?:a )?dozen\b", "6", text, flags=re.I)
    text = re.sub(
        r"^(?:an? )?(dozen|half)(?= lbs?\b| pounds?\b| cups?\b|$)", _word, text, flags=re.I
    )
    text = re.sub(
        r"^half (?:an? )(?=lb\b|pound\b|cup\b|gal|qt\b|quart\b)", "1/2 ", text, flags=re.I
    )
    text = re.sub(rf"^an? (?=(?:{_UNITS})\b)", "1 ", text, flags=re.I)
    text = re.sub(rf"^(?:{'|'.join(_SPELT)})\b", _word, text, flags=re.I)
    return re.sub(r"^(\d+) and (?:a half|1/2)\b", r"\1 1/2", text, flags=re.I)


def _word(found: re.Match[str]) -> str:
    return _SPELT[found[found.lastindex or 0].casefold()]


def _pointed(text: str, decimals: Decimals) -> tuple[str, bool]:
    """Numbers in which a sign before three digits marks thousands or decimals, made plain.

    And whether that is in doubt. Raises BatchError where it may be either.
    """
    doubt = False

    def made_plain(found: re.Match[str]) -> str:
        nonlocal doubt
        head, sign, tail, gap, unit = found.groups()
        small = bool(_SMALL.fullmatch(unit))
        if sign == "," and not small and (decimals.comma or decimals.semicolons):
            return f"{head}.{tail}{gap}{unit}"
        if sign == "," or head == "0":
            return found[0]
        if not small:
            doubt = doubt or decimals.comma
            return found[0]
        if decimals.comma:
            return f"{head}{tail}{gap}{unit}"
        if len(head) == 3 and decimals.point:  # 907.185 g are two pounds; a 0 more says so
            return f"{head}.{tail}0{gap}{unit}"
        raise BatchError(
            f"is {head}.{tail} meant as {head}{tail} or as {number_text(float(f'{head}.{tail}'))}? "
            "Write it without the point"
        )

    return _IN_THREES.sub(made_plain, text), doubt


def jars(cell: str, sort: str, shelf: Mapping[str, Jar] = SHELF) -> Cell:
    """A count of jars with their sort, that of its column where it names none.

    Raises BatchError for a fraction that may be two counts: '8/7'.
    """
    _refuse_odd(cell)
    text, about = _without_about(in_digits(cell))
    if _AND_HALF.search(text):
        raise BatchError("a half has no number there; write '7.5', or '7 pints + 1 half-pint'")
    text = re.sub(r"\b(\d+)-(?=\d+/\d)", r"\1 ", _DECIMAL_COMMA.sub(r"\1.\2", text))
    part = re.fullmatch(r"(\d+)/(\d+)", text)
    if part and (int(part[1]) >= int(part[2]) or int(part[2]) > 4):
        raise BatchError("it may be two counts, or a part of a jar; write one number, such as 8.5")
    text = re.sub(
        rf"({JAR_SORT.pattern}(?: wide| jars?)?)\.?,? (?:and )?(?=\d)", r"\1 + ", text, flags=re.I
    )
    if _SUM.fullmatch(text) and sort:
        text = " + ".join(f"{part.strip()} {sort}" for part in text.split("+"))
    elif sort and any(sign.isalpha() for sign in text):
        text = _of_sort(text, sort, shelf)
    return Cell(text, f"'{cell}' is read as {text}" if about else "")


def _of_sort(text: str, sort: str, shelf: Mapping[str, Jar]) -> str:
    """Counts in words, those that name no sort with the one of their column: '8 jars'."""
    found = read_jars(text, shelf)
    if all(one.number is not None and (one.sort in shelf or not one.sort) for one in found):
        return " + ".join(f"{number_text(one.number or 0.0)} {one.sort or sort}" for one in found)
    raise BatchError("that is no count of jars; write one number, such as 8.5")


def added(text: str) -> str:
    """Counts without sorts as one: '8 + 3' -> '11'; other texts as they are."""
    if "+" not in text or not _SUM.fullmatch(text):
        return text
    return number_text(math.fsum(count(part.strip()) for part in text.split("+")))


_ALL = re.compile(
    r"(?:yes|y|ok|\u2713|\u2714|100 ?%|every ?one|all)"
    r"(?: (?:of them|sealed|good|ok|pinged|popped|did))*[.!]?", re.I,
)  # fmt: skip
_ALL_SO_MANY = re.compile(r"all (?:of (?:the )?)?(\d+)", re.I)
_OUT_OF = re.compile(r"(\d+) ?(?:/|of|out of) ?(?:the )?(\d+)", re.I)
_BUT = re.compile(
    rf"all (?:but|except) (\d+|{_WORDS})"
    rf"|(\d+|{_WORDS}) (?:failed|un ?sealed|not sealed|did ?n.?t(?: seal)?)", re.I,
)  # fmt: skip


def sealed(cell: str, filled: float | None) -> str:
    """How many jars sealed, of so many filled: '19 of 20', 'all', 'all but 1'.

    Raises BatchError where that cannot be told.
    """
    if none(cell) and not re.fullmatch(r"no", cell, re.I):
        return "0"
    if found := _ALL_SO_MANY.fullmatch(cell):
        return found[1]
    if found := _OUT_OF.fullmatch(cell):
        if (
            filled is not None
            and math.ceil(filled) == int(found[2])
            and int(found[1]) <= int(found[2])
        ):
            return found[1]
        raise BatchError("it does not go with the jars that were filled; write those that sealed")
    less = _BUT.fullmatch(cell)
    if not less and not _ALL.fullmatch(cell):
        return cell
    if filled is None or filled != int(filled):
        raise BatchError("it gives no number; write the jars that sealed")
    word = (less[1] or less[2]).casefold() if less else "0"
    return number_text(filled - float(_SPELT.get(word, word)))


def filled_by_sort(text: str, jar: str, shelf: Mapping[str, Jar] = SHELF) -> dict[str, float]:
    """Jars filled by sort, all of them under ''; {} where they cannot be read."""
    with suppress(BatchError):
        found = read_jars(text, shelf)
        if any(one.sort for one in found):
            by_sort = summed(on_shelf(found, shelf))
            return {**by_sort, "": math.fsum(by_sort.values())}
        if all(one.number is not None for one in found) and found:
            every = math.fsum(one.number or 0.0 for one in found)
            return {"": every} | ({jar: every} if jar else {})
    return {}
