"""A weight of a plan: one number, a range, or containers."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.domain.jars import SHELF, OwnShelf
from jarcast.domain.said_weight import in_between, read_weight
from jarcast.errors import BatchError, JarcastError, MeasureError
from jarcast.ledger.own_measures import basket_name

POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C


@pytest.mark.parametrize(
    "text",
    ["20-35 lb", "20 - 35 lb", "20–35 lb", "20 to 35 lb", "20 lb to 35 lb", "20 lb - 35 lb",
     "20lb-35lb", "320 oz to 35 lb"],
)  # fmt: skip
def test_a_range_has_two_ends(text: str) -> None:
    amount = read_weight(text, "as_bought", "carrot")
    assert amount.grams == pytest.approx((20 * POUND_G, 35 * POUND_G))


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("6 1/2-8 lb", 6.5, 8.0),
        ("2-2 1/2 lb", 2.0, 2.5),
        ("6 lb 4 oz to 7 lb 8 oz", 6.25, 7.5),
        ("1/2 to 1 lb", 0.5, 1.0),
    ],
)
def test_fractions_and_units_that_step_down_are_read_in_ranges(
    text: str, low: float, high: float
) -> None:
    amount = read_weight(text, "as_bought", "carrot")
    assert amount.grams == pytest.approx((low * POUND_G, high * POUND_G))


@pytest.mark.parametrize("text", ["2-1/2 lb", "2 1/2 lb", "2.5 lb", "3 lb - 8 oz", "2.5-2.5 lb"])
def test_a_mixed_number_or_a_bowl_taken_off_is_no_range(text: str) -> None:
    amount = read_weight(text, "as_bought", "carrot")
    assert amount.grams == pytest.approx(2.5 * POUND_G)


def test_containers_give_a_range_and_say_so() -> None:
    amount = read_weight("1 bushel", "as_bought", "carrot")
    assert amount.counted is not None
    assert amount.grams == (amount.counted.low_g, amount.counted.high_g)


def test_containers_hold_produce_as_bought_only() -> None:
    with pytest.raises(BatchError, match="as bought"):
        read_weight("1 bushel", "trimmed", "carrot")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("35-20 lb", "put the low end of a range first"),
        ("20-35", "without a unit"),
        ("20 to lots lb", "lots|range"),
        ("0 to 5 lb", "above 0"),
        ("1-100 lb", "check both ends"),
        ("twelve pounds", "number"),
        ("x" * 5000, "too long"),
    ],
)
def test_what_cannot_be_read_is_told_and_how_to_mend_it(text: str, why: str) -> None:
    with pytest.raises((MeasureError, BatchError), match=why):
        read_weight(text, "as_bought", "carrot")


@given(st.text(alphabet="0123456789 -–to/lbkgozbushelpck.,½", max_size=40))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    try:
        amount = read_weight(text, "as_bought", "carrot")
    except JarcastError:
        return
    ends = amount.grams if isinstance(amount.grams, tuple) else (amount.grams,)
    assert all(end >= 0 for end in ends)
    assert ends[0] <= ends[-1]


@pytest.mark.parametrize(
    ("text", "bushels"),
    [("half bushel", 0.5), ("2 half bushels", 1.0), ("a half bushel", 0.5), ("1 half-bushel", 0.5)],
)
def test_half_bushels_are_halves_of_a_bushel(text: str, bushels: float) -> None:
    said = read_weight(text, "as_bought", "carrot")
    # A bushel of carrots is 50 lb: Complete Guide to Home Canning, Guide 4.
    assert said.middle_and_doubt[0] == pytest.approx(bushels * 50 * POUND_G)


def shelf() -> OwnShelf:
    own = OwnShelf(SHELF)
    own.baskets = {"blue bucket": {"cucumber": "23 lb"}}
    return own


@pytest.mark.parametrize("text", ["2 blue buckets", "2  Blue Buckets", "2 blue bucket"])
@pytest.mark.parametrize("column", ["as_bought", "trimmed", "cured"])
def test_a_basket_of_one_s_own_is_a_weight_of_any_stage(text: str, column: str) -> None:
    said = read_weight(text, column, "kirbys", "", shelf())
    middle, doubt = said.middle_and_doubt
    assert middle == pytest.approx(2 * 23 * POUND_G)
    assert doubt > 0.0


def test_a_basket_holds_only_what_it_was_weighed_with() -> None:
    with pytest.raises(BatchError, match="weigh one: jarcast kitchen baskets add"):
        read_weight("a blue bucket", "as_bought", "okra", "", shelf())
    with pytest.raises(BatchError, match="no net weight of a bucket is known"):
        read_weight("2 green buckets", "as_bought", "cucumber", "", shelf())


def test_a_range_and_its_doubt_are_the_same_thing_said_twice() -> None:
    said = read_weight("16 cups", "trimmed", "cucumber", "slices")
    assert said.grams == pytest.approx(in_between(*said.middle_and_doubt))
    # The normal's 90 % point is at 1.2816 sd: NIST/SEMATECH e-Handbook, table of the normal.
    assert math.log(in_between(1.0, 0.1)[1]) == pytest.approx(0.12816, abs=1e-5)  # type: ignore[index]


def test_cups_are_read_of_trimmed_produce_alone() -> None:
    for column in ("as_bought", "cured", "cooked"):
        with pytest.raises(MeasureError, match="a weight is due"):
            read_weight("16 cups", column, "cucumber", "slices")


@pytest.mark.parametrize(
    ("text", "buckets"),
    [
        ("2 blue buckets", 2.0), ("a blue bucket", 1.0), ("half a blue bucket", 0.5),
        ("half blue bucket", 0.5), ("1 1/2 blue buckets", 1.5), ("2 half blue buckets", 1.0),
        ("a half blue bucket", 0.5), ("2-3 blue buckets", 6**0.5), ("2 to 3 blue buckets", 6**0.5),
    ],
)  # fmt: skip
def test_what_is_kept_of_one_s_own_basket_is_read_the_same_anywhere(
    text: str, buckets: float
) -> None:
    said = read_weight(text, "as_bought", "cucumber", "", shelf())
    assert said.middle_and_doubt[0] == pytest.approx(buckets * 23 * POUND_G)
    kept = said.kept_as(text)
    assert kept == f"{text} of 23 lb"
    elsewhere = read_weight(kept, "as_bought", "cucumber")
    assert elsewhere.grams == said.grams
    assert elsewhere.kept_as(kept) == kept


NAMES = ("körbe", "äpfelkorb", "été bac", "żanetas korb", "crate of bo", "bucket 2", "korb von bo",
         "ведро", "桶", "güllükova", "half tray", "box of 5 lb", "to go box", "two-hander",
         "each", "dozen", "o'tub", "tub (old)", "a-kiste", "halfmoon", "bin, blue", "x2",
         "lot 3 of 4")  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    ("counted", "baskets"),
    [("2 {}", 2.0), ("{}", 1.0), ("a {}", 1.0), ("1½ {}", 1.5), ("2-3 {}", 6**0.5), ("3 {}s", 3.0)],
)
def test_a_basket_of_any_name_is_read_back_where_nobody_knows_it(
    name: str, counted: str, baskets: float
) -> None:
    own = OwnShelf(SHELF)
    own.baskets = {name: {"carrot": "8 kg"}}
    said = read_weight(counted.format(name), "as_bought", "carrot", "", own)
    assert said.middle_and_doubt[0] == pytest.approx(baskets * 8000.0)
    kept = said.kept_as(counted.format(name))
    elsewhere = read_weight(kept, "as_bought", "carrot")
    assert elsewhere.grams == pytest.approx(said.grams)
    assert elsewhere.kept_as(kept) == kept  # and exported from there once more


@given(
    st.text(min_size=1, max_size=40),
    st.sampled_from(["2 {}", "{}", "2 to 3 {}", "half a {}"]),
    st.sampled_from(["8 kg", "20-25 lb", "6 lb 4 oz", "12.5 lb to 14 lb"]),
)
def test_whatever_a_basket_may_be_called_its_weight_is_read_back(
    typed: str, counted: str, each: str
) -> None:
    own = OwnShelf(SHELF)
    try:
        own.baskets = {basket_name(typed): {"carrot": each}}
        text = counted.format(basket_name(typed))
        said = read_weight(text, "as_bought", "carrot", "", own)
    except JarcastError:  # no name for a basket, or no count
        return
    elsewhere = read_weight(said.kept_as(text), "as_bought", "carrot")
    assert elsewhere.grams == pytest.approx(said.grams)


@pytest.mark.parametrize(
    "text",
    [
        "about 2 boxes of 12 lb",
        "a few boxes of 12 lb",
        "a dozen boxes of 12 lb",
        "dozen boxes of 12 lb",
        "ca. boxes of 9 kg",
    ],
)
def test_a_number_of_containers_that_is_not_told_is_taken_for_none(text: str) -> None:
    with pytest.raises(JarcastError):
        read_weight(text, "as_bought", "carrot")


@pytest.mark.parametrize(
    ("text", "pounds"),
    [("two boxes of 12 lb", 24), ("2 bags of 12 lb", 24),
     ("3 Sacks of 20 lb each", 60), ("2 half bushels of 24 lb", 48),
     ("a box of 38-42 lb", (38 * 42) ** 0.5)],
)  # fmt: skip
def test_anything_may_be_counted_whose_weight_is_told_beside_it(text: str, pounds: float) -> None:
    said = read_weight(text, "as_bought", "okra")
    assert said.middle_and_doubt[0] == pytest.approx(pounds * POUND_G)
    assert said.middle_and_doubt[1] > 0.0
