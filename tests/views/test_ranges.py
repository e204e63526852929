"""A range and what came of it are shown as they lie, however near the end it came."""

import unicodedata
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from jarcast.measures import Units, parse_volume
from jarcast.views.ranges import jars_beside, volumes_beside
from jarcast.views.words import exactly


def number(text: str) -> float:
    """'9½' as 9.5, by Python's own characters."""
    return sum(unicodedata.numeric(sign) for sign in text if not sign.isdecimal()) + float(
        "".join(sign for sign in text if sign.isdecimal()) or 0
    )


def told(text: str, read: Callable[[str], float]) -> float:
    """What an end of a range says, a hair beside it where it is 'just over' or 'just under'."""
    for words, hair in (("just over ", 1e-6), ("just under ", -1e-6)):
        if text.startswith(words):
            return read(text.removeprefix(words)) + hair
    return read(text)


def order(low: float, high: float, was: float) -> tuple[bool, bool]:
    return low <= was, was <= high


COUNTS = st.floats(0.5, 60.0)


@given(COUNTS, st.floats(0.0, 10.0), st.integers(2, 240))
def test_jars_lie_as_they_are_shown_to_lie(low: float, wide: float, quarters: int) -> None:
    values = low, low + wide, quarters / 4.0
    shown = jars_beside(*values)
    assert order(*(told(text, number) for text in shown)) == order(*values)


@given(st.floats(100.0, 2e4), st.floats(0.0, 3000.0), st.floats(0.0, 2.5e4),
       st.sampled_from(Units))  # fmt: skip
def test_brine_lies_as_it_is_shown_to_lie(
    low: float, wide: float, was: float, units: Units
) -> None:
    high = low + wide
    # Closer than a hundredth of a millilitre no figure tells them apart.
    assume(min(abs(was - low), abs(was - high)) > 1e-2)
    shown = volumes_beside(low, high, was, units)
    assert order(*(told(text, parse_volume) for text in shown)) == order(low, high, was)


def test_a_range_is_told_in_halves_where_that_tells_the_truth() -> None:
    assert jars_beside(4.1, 11.6, 9.5) == ("4", "11½", "9½")
    assert volumes_beside(500.0, 1500.0, 800.0, Units.METRIC) == ("500 ml", "1.50 l", "800 ml")


def test_what_came_just_outside_is_not_shown_at_the_end_of_the_range() -> None:
    # In halves it would be 4 to 11½ jars, and 11½ came (outside).
    assert jars_beside(4.1, 11.42, 11.5) == ("4", "just under 11½", "11½")
    assert jars_beside(4.003, 7.828, 4.0) == ("just over 4", "8", "4")


@pytest.mark.parametrize(
    ("count", "due"),
    [(13.75, "13¾"), (14.0, "14"), (0.25, "¼"), (0.5, "½"), (7.3, "7.3"), (2 / 3, "⅔"),
     (11.4837, "about 11½")],
)  # fmt: skip
def test_a_count_is_told_as_it_was_typed(count: float, due: str) -> None:
    assert exactly(count) == due
