"""One's own pace: known from three times of one's own on, and drawn with its doubt."""

import math

import numpy as np
import pytest
from scipy import stats

from jarcast.harvest.pace import Timed, rate


def test_fewer_than_three_times_tell_no_rate() -> None:
    assert rate([]) is None
    assert rate([Timed(100.0, 1.0), Timed(120.0, 1.0)]) is None
    assert rate([Timed(100.0, 1.0), Timed(120.0, 1.0), Timed(0.0, 5.0)]) is None


def test_the_rate_is_the_geometric_mean_and_its_spread() -> None:
    found = rate([Timed(100.0, 1.0), Timed(400.0, 2.0), Timed(1600.0, 4.0)])
    assert found is not None
    assert found.middle == pytest.approx(200.0)  # of 100, 200 and 400 a minute
    assert found.log_sd == pytest.approx(math.log(2))  # by hand: logs are one log 2 apart


def test_the_next_time_is_forecast_by_students_t() -> None:
    # Gelman et al., Bayesian Data Analysis, section 3.2: t with n - 1 degrees of freedom about the
    # mean, scale s sqrt(1 + 1/n); the quantiles are scipy's.
    logs = [4.0, 4.3, 4.1, 4.5, 4.2]
    found = rate([Timed(math.exp(log), 1.0) for log in logs])
    assert found is not None
    drawn = found.minutes([np.full(200_000, 1000.0)], np.random.default_rng(5))[0]
    scale = np.std(logs, ddof=1) * math.sqrt(1 + 1 / 5)
    t = stats.t(4, math.log(1000.0) - np.mean(logs), scale)
    for chance in (0.1, 0.5, 0.9):
        assert np.log(np.quantile(drawn, chance)) == pytest.approx(t.ppf(chance), abs=0.005)


def test_the_person_is_the_same_in_every_batch() -> None:
    found = rate([Timed(math.exp(log), 1.0) for log in (4.0, 4.3, 4.1, 4.5, 4.2)])
    assert found is not None
    both = found.minutes([np.full(50_000, 1000.0)] * 2, np.random.default_rng(5))
    assert stats.spearmanr(both[0], both[1]).statistic > 0.1
