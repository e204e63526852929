"""An uncertain amount: quantiles by the published definition, and what cannot be asked."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from jarcast import Outcome
from jarcast.errors import ForecastError

DRAWS = arrays(np.float64, st.integers(1, 60), elements=st.floats(0.0, 1e9))


@given(DRAWS, st.floats(0.0, 1.0))
def test_quantiles_are_those_of_hyndman_and_fan(draws: np.ndarray, p: float) -> None:
    # Hyndman & Fan (1996), The American Statistician 50, type 7; numpy's own default.
    expected = float(np.quantile(draws, p))
    assert Outcome(draws).quantile(p) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(DRAWS)
def test_ranges_nest_and_hold_the_median(draws: np.ndarray) -> None:
    outcome = Outcome(draws)
    (low90, high90), (low80, high80), (low50, high50) = (
        outcome.interval(level) for level in (0.9, 0.8, 0.5)
    )
    assert low90 <= low80 <= low50 <= outcome.median <= high50 <= high80 <= high90


@given(DRAWS, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_greater_chance_is_no_smaller_amount(draws: np.ndarray, p: float, q: float) -> None:
    outcome = Outcome(draws)
    assert outcome.quantile(min(p, q)) <= outcome.quantile(max(p, q))


def test_the_range_is_eighty_percent_unless_asked() -> None:
    outcome = Outcome(np.arange(101.0))
    assert outcome.interval() == pytest.approx((10.0, 90.0))
    assert outcome.interval(0.9) == pytest.approx((5.0, 95.0))
    assert outcome.median == 50.0


def test_the_chance_of_more_is_counted() -> None:
    outcome = Outcome(np.array([1.0, 2.0, 2.0, 5.0]))
    assert outcome.chance_above(2.0) == 0.25
    assert outcome.chance_above(0.0) == 1.0
    assert outcome.chance_above(5.0) == 0.0


def test_a_single_draw_is_every_quantile() -> None:
    outcome = Outcome(np.array([3.5]))
    assert (outcome.quantile(0.0), outcome.median, outcome.quantile(1.0)) == (3.5, 3.5, 3.5)


def test_draws_keep_their_places() -> None:
    draws = np.array([3.0, 1.0, 2.0])
    outcome = Outcome(draws)
    assert outcome.median == 2.0
    assert outcome.draws.tolist() == [3.0, 1.0, 2.0]


@pytest.mark.parametrize("p", [-0.01, 1.01, math.nan, math.inf])
def test_a_chance_outside_zero_and_one_is_refused(p: float) -> None:
    with pytest.raises(ForecastError, match=f"between 0 and 1; {p} was asked for"):
        Outcome(np.ones(3)).quantile(p)


@pytest.mark.parametrize("level", [0.0, 1.0, -0.5, 80, math.nan])
def test_a_level_that_is_no_share_is_refused(level: float) -> None:
    with pytest.raises(ForecastError, match=f"between 0 and 1; {level} was asked for"):
        Outcome(np.ones(3)).interval(level)


def test_an_outcome_cannot_be_changed() -> None:
    outcome = Outcome(np.ones(3))
    with pytest.raises(AttributeError):
        outcome.draws = np.zeros(3)  # type: ignore[misc]
