"""A weight of a plan: one number, a range, or containers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.errors import BatchError, JarcastError, MeasureError
from jarcast.harvest.plan.weights import read_amount

POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C


@pytest.mark.parametrize(
    "text",
    ["20-35 lb", "20 - 35 lb", "20–35 lb", "20 to 35 lb", "20 lb to 35 lb", "20 lb - 35 lb",
     "20lb-35lb", "320 oz to 35 lb"],
)  # fmt: skip
def test_a_range_has_two_ends(text: str) -> None:
    amount = read_amount(text, "carrot", containers=True)
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
    amount = read_amount(text, "carrot", containers=True)
    assert amount.grams == pytest.approx((low * POUND_G, high * POUND_G))


@pytest.mark.parametrize("text", ["2-1/2 lb", "2 1/2 lb", "2.5 lb", "3 lb - 8 oz", "2.5-2.5 lb"])
def test_a_mixed_number_or_a_bowl_taken_off_is_no_range(text: str) -> None:
    amount = read_amount(text, "carrot", containers=True)
    assert amount.grams == pytest.approx(2.5 * POUND_G)


def test_containers_give_a_range_and_say_so() -> None:
    amount = read_amount("1 bushel", "carrot", containers=True)
    assert amount.counted is not None
    assert amount.grams == (amount.counted.low_g, amount.counted.high_g)


def test_containers_hold_produce_as_bought_only() -> None:
    with pytest.raises(BatchError, match="as bought"):
        read_amount("1 bushel", "carrot", containers=False)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("35-20 lb", "low end of a range comes first"),
        ("20-35", "without a unit"),
        ("20 to lots lb", "lots|range"),
        ("0 to 5 lb", "more than nothing"),
        ("1-100 lb", "check both ends"),
        ("twelve pounds", "number"),
        ("x" * 5000, "too long"),
    ],
)
def test_what_cannot_be_read_is_told_and_how_to_mend_it(text: str, why: str) -> None:
    with pytest.raises((MeasureError, BatchError), match=why):
        read_amount(text, "carrot", containers=True)


@given(st.text(alphabet="0123456789 -–to/lbkgozbushelpck.,½", max_size=40))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    try:
        amount = read_amount(text, "carrot", containers=True)
    except JarcastError:
        return
    ends = amount.grams if isinstance(amount.grams, tuple) else (amount.grams,)
    assert all(end >= 0 for end in ends)
    assert ends[0] <= ends[-1]
