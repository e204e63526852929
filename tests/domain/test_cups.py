"""Cups of trimmed produce: what a loose cup is published to weigh, and how far one may be off."""

import csv
import math
from pathlib import Path

import pytest

from jarcast.domain.cups import CUP_SPREAD, cup_weights, read_cups
from jarcast.errors import BatchError

POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C
# USDA Standard Reference Release 28, household weights, by NDB number: 11205, 11124, 11282.
PUBLISHED = [("cucumber", "slices", 104), ("carrot", "slices", 122), ("onion", "slices", 115)]


@pytest.mark.parametrize(("produce", "cut", "grams"), PUBLISHED)
def test_so_many_cups_are_a_range_about_the_published_weight(
    produce: str, cut: str, grams: float
) -> None:
    found = read_cups("16 cups", produce, cut)
    assert found is not None
    assert math.sqrt(found.low_g * found.high_g) == pytest.approx(16 * grams)
    assert found.high_g / found.low_g == pytest.approx(math.exp(2 * CUP_SPREAD))
    assert "USDA Standard Reference" in found.sources[0]


def test_the_range_holds_what_a_tested_recipe_says_of_its_cups() -> None:
    # Bread-and-butter pickles, Complete Guide to Home Canning, 2015, Guide 6: 8 cups of thinly
    # sliced onions are "about 3 lb". 88 % is left of bought ones, peeled (USDA Food Buying Guide).
    found = read_cups("8 cups", "onions", "thinly sliced")
    assert found is not None
    assert found.low_g < 3 * POUND_G * 0.88 < found.high_g


@pytest.mark.parametrize("text", ["16 cups", "4 quarts", "1 gallon", "16 c", "8 pints"])
def test_other_volumes_are_so_many_cups(text: str) -> None:
    # NIST Handbook 44, Appendix C: 4 cups a quart, 2 a pint, 16 a gallon.
    found = read_cups(text, "carrots", "slices")
    assert found is not None
    assert found.count == pytest.approx((16.0, 16.0))


def test_a_cut_that_is_not_said_or_not_published_is_any_of_those_that_are() -> None:
    onions = [grams for produce, _, grams, _ in cup_weights() if produce == "onion"]
    assert len(onions) == 2
    for cut in ("", "rings"):
        found = read_cups("1 cup", "onion", cut)
        assert found is not None
        assert found.low_g < min(onions) < max(onions) < found.high_g


def test_produce_whose_cup_nobody_published_is_to_be_weighed() -> None:
    with pytest.raises(BatchError, match="weigh one cup"):
        read_cups("6 cups", "kohlrabi", "sticks")


@pytest.mark.parametrize("text", ["6 lb", "0 cups", "many", ""])
def test_what_is_no_volume_is_left_to_others(text: str) -> None:
    assert read_cups(text, "carrot", "") is None


def test_peeled_and_drained_cups_are_left_out() -> None:
    table = Path(__file__).parents[2] / "models" / "sources" / "cup-weights.csv"
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    loose = [row for row in rows if row["kind"] == "loose cup" and not row["left_out"]]
    assert len(cup_weights()) == len(loose) < len(rows)
