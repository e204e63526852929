"""An uncertain amount: quantiles by the published definition, and what cannot be asked."""

import copy
import math
import pickle
from typing import Any

import numpy as np
import pandas as pd
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
    with pytest.raises(ForecastError, match=f"between 0 and 1; {p} was given"):
        Outcome(np.ones(3)).quantile(p)


@pytest.mark.parametrize("level", [0.0, 1.0, -0.5, 80, math.nan])
def test_a_level_that_is_no_share_is_refused(level: float) -> None:
    with pytest.raises(ForecastError, match=f"between 0 and 1; {level} was given"):
        Outcome(np.ones(3)).interval(level)


def test_an_outcome_cannot_be_changed() -> None:
    given = np.ones(3)
    outcome = Outcome(given)
    given[0] = 7.0  # the caller's own array stays the caller's
    assert outcome.draws.tolist() == [1.0, 1.0, 1.0]
    for one in (outcome, pickle.loads(pickle.dumps(outcome)), copy.deepcopy(outcome)):  # noqa: S301
        with pytest.raises(ValueError, match="read-only"):
            one.draws[0] = 0.0
    with pytest.raises(AttributeError):
        outcome.draws = np.zeros(3)  # type: ignore[misc]


# What a notebook does with one


@given(DRAWS)
def test_mean_and_spread_are_numpy_s_of_the_draws(draws: np.ndarray) -> None:
    outcome = Outcome(draws)
    assert outcome.mean() == np.mean(outcome) == draws.mean()
    assert outcome.std() == np.std(outcome) == draws.std()
    if len(draws) > 1:
        assert outcome.std(ddof=1) == np.std(outcome, ddof=1) == draws.std(ddof=1)


def test_numpy_and_pandas_take_an_outcome_for_its_draws() -> None:
    outcome = Outcome(np.array([3.0, 1.0, 2.0]))
    assert len(outcome) == 3
    assert np.asarray(outcome) is outcome.draws
    assert np.array(outcome).flags.writeable
    assert np.asarray(outcome, dtype=np.float32).dtype == np.float32
    assert pd.Series(outcome).tolist() == list(outcome) == [3.0, 1.0, 2.0]


def test_the_chance_of_at_least_counts_an_amount_that_is_just_met() -> None:
    outcome = Outcome(np.array([1.0, 2.0, 2.0, 5.0]))
    assert outcome.prob_at_least(2.0) == 0.75
    assert outcome.chance_above(2.0) == 0.25
    assert outcome.prob_at_least(5) == 0.25
    assert outcome.prob_at_least(5.1) == 0.0


def test_an_outcome_is_shown_by_its_middle_and_range_never_by_its_draws() -> None:
    outcome = Outcome(np.arange(101.0))
    assert f"{outcome:.1f}" == "50.0 (10.0 to 90.0)"
    assert repr(outcome) == f"{outcome}" == "Outcome(50 (10 to 90), 101 draws)"
    assert "<td>50</td><td>10</td><td>90</td>" in outcome._repr_html_()


@pytest.mark.parametrize("draws", ["abc", [], [[1.0]], None, 3.0])
def test_what_are_no_draws_is_refused(draws: Any) -> None:
    with pytest.raises(ForecastError, match="draws"):
        Outcome(draws)


@pytest.mark.parametrize("amount", ["12", None, math.nan, True, [1.0]])
def test_the_chance_of_no_number_is_refused(amount: Any) -> None:
    for ask in (Outcome(np.ones(3)).prob_at_least, Outcome(np.ones(3)).chance_above):
        with pytest.raises(ForecastError, match="an amount is a number"):
            ask(amount)


# What is asked of any object


def test_an_outcome_equals_itself_alone_and_can_be_a_key() -> None:
    one, other = Outcome(np.ones(3)), Outcome(np.ones(3))
    assert one == one
    assert one != other
    assert np.array_equal(one, other)
    assert {one: "a", other: "b"}[one] == "a"
    assert one in [other, one]
    assert pickle.loads(pickle.dumps(one)) != one  # noqa: S301


@pytest.mark.parametrize(
    ("draws", "says"),
    [
        ([1.0, math.nan], "finite, and 0 or more"),
        ([1.0, math.inf], "finite, and 0 or more"),
        ([1.0, -1e-9], "finite, and 0 or more"),
        (np.ma.masked_array([1.0, 2.0], mask=[False, True]), "masked"),
    ],
)
def test_draws_are_amounts_and_all_of_them_count(draws: Any, says: str) -> None:
    with pytest.raises(ForecastError, match=says):
        Outcome(draws)
    assert Outcome(np.ma.masked_array([1.0, 2.0])).draws.tolist() == [1.0, 2.0]


def test_a_copy_that_may_not_be_is_refused_as_numpy_asks() -> None:
    # numpy's manual, "The array interface protocol": ValueError where copy=False needs a copy.
    outcome = Outcome(np.ones(3))
    assert outcome.__array__(copy=False) is outcome.draws
    assert outcome.__array__(np.float64, copy=False) is outcome.draws
    with pytest.raises(ValueError, match="float32 are a copy"):
        outcome.__array__(np.float32, copy=False)


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda o: o.enough(1.1), "between 0 and 1; 1.1 was given"),
        (lambda o: o.enough("0.05"), "must be a number such as 0.05; '0.05' was given"),
        (lambda o: o.quantile("0.5"), "between 0 and 1; '0.5' was given"),
        (lambda o: o.quantile(True), "between 0 and 1; True was given"),
        (lambda o: o.interval("80%"), "between 0 and 1; '80%' was given"),
        (lambda o: o.quantile(np.float64(1.5)), "between 0 and 1; 1.5 was given"),
    ],
)
def test_a_message_shows_what_was_given(ask: Any, says: str) -> None:
    with pytest.raises(ForecastError, match=says):
        ask(Outcome(np.ones(3)))
