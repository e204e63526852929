"""Counted containers: the published net weights, exactly, and ranges around them."""

import math

import pytest

from jarcast.domain.containers import LEAST_SPREAD, net_weights, read_counted
from jarcast.errors import BatchError

POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C

GUIDE_3 = "USDA Complete Guide to Home Canning (AIB 539), Guide 3"
GUIDE_4 = "USDA Complete Guide to Home Canning (AIB 539), Guide 4"
GUIDE_6 = "USDA Complete Guide to Home Canning (AIB 539), Guide 6"
MISSOURI = "Univ. of Missouri Extension canning bulletin (transcribed)"
HANDOUT = "Extension-style handout, publisher not stated on the page"

# Pounds in a container as each publication prints them, and whether a copy of it was read.
PUBLISHED = [
    ("cucumber", "bushel", 48, 48, GUIDE_6, "copy read"),
    ("beet", "bushel", 52, 52, GUIDE_4, "copy read"),
    ("green bean", "bushel", 30, 30, GUIDE_4, "copy read"),
    ("green bean", "bushel", 30, 30, MISSOURI, "copy read"),
    ("lima bean", "bushel", 32, 32, GUIDE_4, "copy read"),
    ("carrot", "bushel", 50, 50, GUIDE_4, "copy read"),
    ("asparagus", "crate", 31, 31, GUIDE_4, "copy read"),
    ("corn", "bushel", 35, 35, GUIDE_4, "copy read"),
    ("tomato", "bushel", 53, 53, GUIDE_3, "copy read"),
    ("tomato", "bushel", 53, 53, MISSOURI, "copy read"),
    ("tomatillo", "bushel", 32, 32, GUIDE_3, "copy read"),
    ("apple", "bushel", 48, 48, MISSOURI, "copy read"),
    ("apple", "bushel", 42, 48, HANDOUT, "copy read"),
    ("peach", "bushel", 48, 52, HANDOUT, "copy read"),
    ("pear", "bushel", 48, 50, HANDOUT, "copy read"),
    ("plum", "bushel", 50, 56, HANDOUT, "copy read"),
    ("pea", "bushel", 30, 30, GUIDE_4, "from memory"),
    ("potato", "bag", 50, 50, GUIDE_4, "from memory"),
    ("sweet potato", "bushel", 50, 50, GUIDE_4, "from memory"),
    ("spinach", "bushel", 18, 18, GUIDE_4, "from memory"),
]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row[0]} {row[4][-7:]}")
def test_the_table_has_the_weights_that_were_published(
    row: tuple[str, str, int, int, str, str],
) -> None:
    found = {(w.produce, w.container, w.low_lb, w.high_lb, w.source, w.seen) for w in net_weights()}
    assert row in found


def test_every_weight_names_its_source_and_whether_it_was_read() -> None:
    assert len(net_weights()) >= 39
    for weight in net_weights():
        assert weight.source
        assert weight.seen in ("copy read", "from memory")
        assert 0 < weight.low_lb <= weight.high_lb


def test_no_container_is_surer_than_the_published_ranges_are() -> None:
    # Half widths in logs of the four weights that are printed as ranges.
    ranges = [(42, 48), (48, 52), (48, 50), (50, 56)]
    mean = sum(math.log(high / low) / 2 for low, high in ranges) / len(ranges)
    assert pytest.approx(mean, abs=0.005) == LEAST_SPREAD


def test_bushels_are_a_range_about_the_published_weight() -> None:
    found = read_counted("2 bushels", "cucumbers")
    assert found is not None
    assert math.sqrt(found.low_g * found.high_g) == pytest.approx(2 * 48 * POUND_G)
    assert found.high_g / found.low_g == pytest.approx(math.exp(2 * LEAST_SPREAD))
    assert found.sources == (f"{GUIDE_6} (copy read)",)


def test_a_published_range_wider_than_that_is_taken_whole() -> None:
    found = read_counted("1 bushel", "apples")
    assert found is not None
    assert (found.low_g, found.high_g) == pytest.approx((42 * POUND_G, 48 * POUND_G))


@pytest.mark.parametrize("text", ["1 1/2 pecks", "1½ pecks", "1.5 pk", "1 1/2 Pecks"])
def test_four_pecks_are_a_bushel(text: str) -> None:
    # NIST Handbook 44, Appendix C: 1 bushel = 4 pecks (dry).
    found = read_counted(text, "carrot")
    assert found is not None
    assert math.sqrt(found.low_g * found.high_g) == pytest.approx(1.5 / 4 * 50 * POUND_G)


@pytest.mark.parametrize("text", ["a bushel", "1 bushel", "bushel", "half a bushel", "1/2 bushel"])
def test_one_and_half_are_said_in_words_too(text: str) -> None:
    found = read_counted(text, "beets")
    assert found is not None
    assert found.count in ((1.0, 1.0), (0.5, 0.5))


def test_a_range_of_bushels_is_wider_than_its_counts_alone() -> None:
    found = read_counted("2-3 bushels", "carrots")
    assert found is not None
    assert math.sqrt(found.low_g * found.high_g) == pytest.approx(math.sqrt(6) * 50 * POUND_G)
    assert found.high_g / found.low_g > 3 / 2


@pytest.mark.parametrize(
    ("text", "produce", "why"),
    [
        ("2 crates", "carrots", "no net weight of a crate of carrots is published"),
        ("1 bushel", "okra", "no net weight of a bushel of okra"),
        ("3 baskets", "carrots", "weigh one"),
        ("2 boxes", "beans", "weigh one"),
        ("0 bushels", "carrots", "count them again"),
        ("many bushels", "carrots", "not a plain number"),
        ("3-2 bushels", "carrots", "put the low end of a range first"),
    ],
)
def test_what_is_not_published_is_to_be_weighed(text: str, produce: str, why: str) -> None:
    with pytest.raises(BatchError, match=why):
        read_counted(text, produce)


@pytest.mark.parametrize("text", ["12 lb", "20-35 lb", "3 kg", "", "5", "lots"])
def test_what_counts_no_containers_is_left_to_others(text: str) -> None:
    assert read_counted(text, "carrots") is None
