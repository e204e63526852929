"""Sizes that shops sell and their prices, as they are typed: 'vinegar=4.50 / 1 gal'."""

import re
from collections.abc import Mapping

from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.names import produce_key
from jarcast.errors import BatchError, MeasureError
from jarcast.harvest.shopping import Price, Size
from jarcast.measures import parse_volume, parse_weight
from jarcast.measures.numbers import count

MOST_PRICE = 1e6
_PRICE = re.compile(r"(?P<sign>[^\w\s.,/-]{0,3}|[A-Z]{3})\s*(?P<number>[0-9]+(?:[.,][0-9]{1,2})?)")


def parse_size(text: str, shelf: Mapping[str, Jar] = SHELF) -> Size:
    """'1 gal' is a bottle of vinegar; 'sugar=5 lb' and 'lids=12' name what they hold.

    Raises BatchError.
    """
    name, equals, size = (part.strip() for part in text.rpartition("="))
    option = f"--bottle '{text[:60]}'"
    if equals and not name:
        raise BatchError(f"{option}: nothing comes before '='; write it like 'sugar=5 lb'")
    return Size(thing(name or "vinegar", shelf), *_amount(size, option))


def parse_price(text: str, shelf: Mapping[str, Jar] = SHELF) -> Price:
    """'vinegar=4.50 / 1 gal', 'lids=3.20 / 12', 'pints=12.99 / 12'. Raises BatchError."""
    option = f"--price '{text[:60]}'"
    name, equals, rest = (part.strip().strip('"') for part in text.partition("="))
    money, slash, size = (part.strip() for part in rest.partition("/"))
    found = _PRICE.fullmatch(money)
    if not (name and equals and slash and found):
        raise BatchError(f"{option}: write it like 'vinegar=4.50 / 1 gal' or 'lids=3.20 / 12'")
    price = float(found["number"].replace(",", "."))
    if not 0 <= price <= MOST_PRICE:
        raise BatchError(f"{option}: {price:g} is not a price; check the number")
    return Price(Size(thing(name, shelf), *_amount(size, option)), price, found["sign"])


def thing(name: str, shelf: Mapping[str, Jar] = SHELF) -> str:
    """What a name in a shop stands for: 'Wide-mouth lids' -> 'wide lids', 'pints' -> 'pint'."""
    words = re.findall(r"[\w']+", name.casefold())
    if {"lid", "lids"} & {*words}:
        mouth = next((word for word in ("wide", "regular") if word in words), "")
        return f"{mouth} lids".strip()
    if words in (["jar"], ["jars"]):
        return "jars"
    try:
        return jar_key(name, shelf)
    except BatchError:
        return produce_key(name) or " ".join(words)


def _amount(text: str, option: str) -> tuple[float, str, str]:
    """An amount, whether it is 'ml', 'g' or 'count', and its text. Raises BatchError."""
    size, measure = None, ""
    text = f"1 {text}" if re.fullmatch(r"[a-z]+", text) and text != "each" else text
    try:
        size, measure = count("1" if text == "each" else text), "count"
    except BatchError:
        for read, kind in ((parse_volume, "ml"), (parse_weight, "g")):
            try:
                size, measure = read(text), kind
                break
            except MeasureError:
                continue
    if size is None:
        raise BatchError(
            f"{option}: '{text[:40]}' is not a size; write a volume such as '1 gal', a weight such "
            "as '5 lb', or a number of pieces such as '12'"
        )
    if not 0 < size < 1e9:
        raise BatchError(f"{option}: {size:g} is not a size shops sell; check it")
    return size, measure, text
