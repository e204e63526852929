"""Numbers as a table writes them."""

import re
import unicodedata

from jarcast.errors import BatchError

LONGEST_NUMBER = 60
_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+")
_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_MIXED = re.compile(r"(?:([0-9]+)[ -])? ?([0-9]+)/([0-9]+)")
_SMALL = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
NUMBER_WORDS = (
    {"a": 1, "an": 1}
    | {word: n for n, word in enumerate(_SMALL, start=1)}
    | {
        f"{ten}{one and '-'}{one}": 10 * tens + ones
        for tens, ten in enumerate(_TENS, start=2)
        for ones, one in enumerate(("", *_SMALL[:9]))
    }
)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)", re.IGNORECASE)


def plain(text: str) -> bool:
    """Whether the text is a number and nothing else: '2700', '2700.5', '1e-05'."""
    return len(text) <= LONGEST_NUMBER and _PLAIN.fullmatch(text) is not None


def with_point(text: str) -> str:
    """A decimal comma made a point: '2700,5' -> '2700.5'; other text as it is."""
    short = len(text) <= LONGEST_NUMBER
    return text.replace(",", ".") if short and _COMMA.fullmatch(text) else text


def could_be_thousands(text: str) -> bool:
    """Whether its points may be meant to separate thousands: '1.250', '12.500'."""
    return _THOUSANDS.fullmatch(text[:LONGEST_NUMBER]) is not None


def number(text: str) -> float:
    """Read a plain number. Raises BatchError, saying how to write it instead."""
    if plain(text):
        return float(text) + 0.0  # + 0.0 makes a minus zero a zero
    if _NOT_FINITE.fullmatch(text):
        raise BatchError(
            "is not a number that can be weighed or counted; leave unknown cells empty"
        )
    if _COMMA.fullmatch(text[:LONGEST_NUMBER]):
        raise BatchError(
            "the comma could mark decimals or thousands; write it with a decimal point and "
            "nothing between the thousands"
        )
    raise BatchError("is not a plain number, such as 2700 or 2700.5; leave unknown cells empty")


def count(text: str) -> float:
    """Read a count that may have a fraction: '7', '7.5', '7 1/2', '7½'. Raises BatchError."""
    if len(text) > LONGEST_NUMBER:
        return number(text)
    spelt = "".join(
        f" {unicodedata.normalize('NFKC', sign)}" if unicodedata.category(sign) == "No" else sign
        for sign in text
    )
    spelt = " ".join(spelt.replace("\u2044", "/").split())
    if found := _MIXED.fullmatch(spelt):
        whole, top, bottom = (int(part or 0) for part in found.groups())
        if bottom == 0:
            raise BatchError("divides by nothing; write it like 7.5 or 7 1/2")
        return whole + top / bottom
    return number(spelt)


def money(text: str) -> float:
    """Read an amount of money, its sign before or after it: '$12.50', '12.50 €', '12.50'.

    Raises BatchError.
    """
    bare = "".join(sign for sign in text if unicodedata.category(sign) != "Sc").strip()
    if not plain(bare):
        raise BatchError("is not an amount of money; write it like 18.50")
    return number(bare)
