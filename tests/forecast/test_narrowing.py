"""What would narrow a forecast: what is foretold of a range is what comes of it."""

import math

import numpy as np
import pytest

from jarcast import Forecast, Habits, SoFar, habits_from
from jarcast.forecast.after_jars import left_open

POUND_G = 453.59237
CARROTS = {"produce": "carrot", "cut": "sticks", "pack": "raw", "cure_hours": 0.0}


@pytest.fixture(scope="module")
def beginner() -> Habits:
    return habits_from([])


def forecast(habits: Habits, **weights: float) -> Forecast:
    return habits.forecast(**CARROTS, **weights)  # type: ignore[arg-type]


def width(found: Forecast) -> float:
    low, high = found.jars.interval(0.8)
    return high - low


@pytest.mark.parametrize("tied", [0.0, 0.5, 0.9, 0.99])
def test_what_is_left_open_is_that_of_the_normal(tied: float) -> None:
    """The sd of y given x is sqrt(1 - r^2): the conditional of a bivariate normal."""
    rng = np.random.default_rng(4)
    x, noise = rng.standard_normal((2, 40_000))
    y = 10.0 + tied * x + math.sqrt(1.0 - tied**2) * noise
    expected = 2 * 1.2815515655446004 * math.sqrt(1.0 - tied**2)
    assert left_open(y, [x]).width(0.8) == pytest.approx(expected, rel=0.02)


def test_an_order_after_a_reading_runs_short_as_often_as_asked() -> None:
    rng = np.random.default_rng(5)
    x, noise = rng.standard_normal((2, 40_000))
    left = left_open(20.0 + x + 0.3 * noise, [x])
    need = (left.expected + left.off).ravel()
    assert np.mean(need > left.ordered(0.05)) == pytest.approx(0.05, abs=0.004)


def test_a_few_draws_far_out_do_not_tilt_the_line_of_the_others() -> None:
    rng = np.random.default_rng(4)
    x, noise = rng.standard_normal((2, 40_000))
    seen = x.copy()
    seen[:100] *= 1e4  # readings of another kind, one in four hundred
    alone, with_them = (left_open(x + 0.3 * noise, [s]).width(0.8) for s in (x, seen))
    assert with_them == pytest.approx(alone, rel=0.03)


def test_a_weight_foretold_narrows_as_it_does_when_it_is_weighed(beginner: Habits) -> None:
    before = forecast(beginner, as_bought_g=12 * POUND_G)
    weigh, _ = before.would_narrow()
    assert weigh.weigh == "trimmed_g"
    assert before.chain is not None
    ((_, trimmed),) = before.chain.weights
    weighed = np.quantile(trimmed, np.linspace(0.05, 0.95, 10))
    after = [width(forecast(beginner, trimmed_g=float(grams))) for grams in weighed]
    assert weigh.jars * width(before) == pytest.approx(np.mean(after), rel=0.1)


def test_three_jars_foretold_narrow_as_they_do_when_they_are_packed(beginner: Habits) -> None:
    ready = 12 * POUND_G
    before = forecast(beginner, trimmed_g=ready)
    (read,) = before.would_narrow()
    assert (read.weigh, read.after_jars) == ("", 3)
    # Three of so many jars hold that part of the produce, the jars in the middle of each tenth.
    in_all = before.jars.quantile
    after = [
        width(forecast(beginner, trimmed_g=ready, so_far=packed(ready, in_all(p))))  # type: ignore[arg-type]
        for p in np.linspace(0.05, 0.95, 10)
    ]
    assert read.jars * width(before) == pytest.approx(np.mean(after), rel=0.25)


def packed(ready_g: float, jars: float) -> SoFar:
    return SoFar(3, produce_left_g=round(ready_g * (1.0 - 3.0 / jars)))


def test_nothing_is_foretold_of_a_batch_that_is_being_packed(beginner: Habits) -> None:
    found = forecast(beginner, trimmed_g=5000.0, so_far=SoFar(3, produce_left_g=3800.0))  # type: ignore[arg-type]
    assert found.would_narrow() == ()


def test_with_few_jars_there_is_nothing_to_learn_from_three(beginner: Habits) -> None:
    assert forecast(beginner, trimmed_g=1000.0).would_narrow() == ()
