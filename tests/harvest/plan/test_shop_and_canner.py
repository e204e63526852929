"""What shops sell, prices, and what a canner holds, as they are typed."""

import pytest

from jarcast.errors import BatchError
from jarcast.harvest.plan.canner import canner_text, parse_canner
from jarcast.harvest.plan.shop import parse_price, parse_size

GALLON_ML = 3785.411784  # exact: the US gallon is 231 cubic inches, NIST Handbook 44
POUND_G = 453.59237


def test_a_bottle_without_a_name_is_of_vinegar() -> None:
    size = parse_size("1 gal")
    assert (size.name, size.amount, size.measure) == ("vinegar", pytest.approx(GALLON_ML), "ml")


@pytest.mark.parametrize(
    ("text", "name", "amount", "measure"),
    [
        ("sugar=5 lb", "sugar", 5 * POUND_G, "g"),
        ("lids=12", "lids", 12, "count"),
        ("Wide-mouth lids = 12", "wide lids", 12, "count"),
        ("regular lids=12", "regular lids", 12, "count"),
        ("pints=12", "pint", 12, "count"),
        ("wide quarts=6", "quart-wide", 6, "count"),
        ("cider vinegar=1 l", "cider vinegar", 1000, "ml"),
        ("jars=12", "jars", 12, "count"),
    ],
)
def test_sizes_name_what_they_hold(text: str, name: str, amount: float, measure: str) -> None:
    size = parse_size(text)
    assert (size.name, size.amount, size.measure) == (name, pytest.approx(amount), measure)


@pytest.mark.parametrize(
    ("text", "price", "sign", "amount"),
    [
        ("vinegar=4.50 / 1 gal", 4.5, "", GALLON_ML),
        ('vinegar="4,50/1 gal"', 4.5, "", GALLON_ML),
        ("carrots=£1.20 / lb", 1.2, "£", POUND_G),
        ("lids=$3.20/12", 3.2, "$", 12),
        ("pints=EUR 1.10 / each", 1.1, "EUR", 1),
    ],
)
def test_prices_are_for_a_size(text: str, price: float, sign: str, amount: float) -> None:
    found = parse_price(text.replace('"', ""))
    assert (found.price, found.sign) == (price, sign)
    assert found.size.amount == pytest.approx(amount)


@pytest.mark.parametrize(
    "text", ["vinegar", "vinegar=4.50", "=4.50 / 1 gal", "vinegar=x / 1 gal", "vinegar=-1 / 1 gal",
             "vinegar=4.50 / 0 gal", "vinegar=4.50 / lots of it", "v=1e9 / 1 gal"],
)  # fmt: skip
def test_what_is_no_price_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(BatchError, match="--price"):
        parse_price(text)


@pytest.mark.parametrize("text", ["", "gallon jug of it", "=1 gal", "sugar=0 lb"])
def test_what_is_no_size_is_refused(text: str) -> None:
    with pytest.raises(BatchError, match="--bottle"):
        parse_size(text)


@pytest.mark.parametrize(
    "text", ["7 quarts / 8 pints", "7 quart, 8 pint", "7 qt or 8 pt", "7 quart-wide/8 wide pints"]
)
def test_a_canner_holds_so_many_of_each_size_whatever_their_mouth(text: str) -> None:
    canner = parse_canner(text)
    assert dict(canner.holds) == {"quart": 7, "pint": 8}
    assert parse_canner(canner_text(canner)) == canner


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "not a number of jars"),
        ("quarts", "not a number of jars"),
        ("7 buckets", "there is no jar"),
        ("0 pints", "no canner holds 0"),
        ("7 pints / 8 pints", "gives twice"),
    ],
)
def test_what_is_no_canner_is_refused(text: str, why: str) -> None:
    with pytest.raises(BatchError, match=why):
        parse_canner(text)
