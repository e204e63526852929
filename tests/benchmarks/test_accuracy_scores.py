"""The scores of the accuracy harness, and the two forecasters the others are measured against."""

import math
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import scoringrules
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import DotProduct

sys.path.insert(0, str(Path(__file__).parent))

from accuracy.households import REPORTING_SEED, SIZES, TUNING_SEED, make_household
from accuracy.limit import Limit, _cut_off
from accuracy.peers import ASKS
from accuracy.replay import OUTCOMES, Trial, run_trial
from accuracy.scores import (
    CRPS,
    IN50,
    IN80,
    IN90,
    LEFT,
    SHORT,
    TOTAL,
    WIDTH,
    crps,
    mean,
    median_ratio,
    ratio,
    score,
)
from accuracy.tables import figure
from accuracy.worlds import FULLEST, WORLDS

finite = st.floats(-1e3, 1e3)


@given(st.lists(finite, min_size=2, max_size=50), finite)
def test_crps_agrees_with_the_scoringrules_library(draws, truth):
    # scoringrules.crps_ensemble, whose 'nrg' estimator is the plain mean over all pairs of draws.
    expected = scoringrules.crps_ensemble(truth, np.array(draws), estimator="nrg")
    assert crps(np.array(draws), truth) == pytest.approx(float(expected), rel=1e-10, abs=1e-9)


@pytest.mark.parametrize("truth", [-3.0, 0.0, 0.4, 1.0, 7.5])
def test_crps_of_normal_draws_is_the_closed_form(truth):
    # Gneiting and Raftery 2007, JASA 102, section 4.2, the formula after eq. 21. The draws are
    # evenly spread quantiles, so that no luck is in it.
    centre, spread = 1.0, 2.0
    draws = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000, centre, spread)
    z = (truth - centre) / spread
    closed = spread * (
        z * (2 * stats.norm.cdf(z) - 1) + 2 * stats.norm.pdf(z) - 1 / math.sqrt(math.pi)
    )
    assert crps(draws, truth) == pytest.approx(closed, abs=2e-4)


def test_crps_moves_with_shift_and_scale_and_not_with_order():
    draws = np.random.default_rng(3).normal(size=500)
    base = crps(draws, 0.7)
    assert crps(draws[::-1], 0.7) == pytest.approx(base)
    assert crps(5.0 + 3.0 * draws, 5.0 + 3.0 * 0.7) == pytest.approx(3.0 * base)


def test_ranges_order_and_left_over_of_known_draws():
    # Draws 0..100 put the p-quantile at 100 p, by definition.
    draws = np.arange(101.0)
    at_85 = score(draws, 85.0, 50.0)
    assert list(at_85[[IN50, IN80, IN90, SHORT]]) == [0, 1, 1, 0]
    assert at_85[WIDTH] == pytest.approx(80 / 85)
    assert at_85[LEFT] == pytest.approx(95 - 85)
    assert at_85[TOTAL] == 85
    at_97 = score(draws, 97.0, 50.0)
    assert list(at_97[[IN50, IN80, IN90, SHORT, LEFT]]) == [0, 0, 0, 1, 0]


def test_a_forecast_that_is_no_number_counts_as_failed():
    assert np.all(np.isinf(score(np.array([1.0, np.nan]), 1.0, 1.0)))


def test_true_forecasts_hold_as_often_as_they_say():
    rng = np.random.default_rng(8)
    rows = [
        score(rng.normal(m, 1.0, 1000), rng.normal(m, 1.0), m) for m in rng.uniform(20, 40, 2000)
    ]
    found = np.array(rows)
    for place, nominal in ((IN50, 0.5), (IN80, 0.8), (IN90, 0.9), (SHORT, 0.05)):
        error = math.sqrt(nominal * (1 - nominal) / len(found))
        assert abs(found[:, place].mean() - nominal) < 3.5 * error


def test_error_of_a_mean_and_of_ratios_is_their_scatter_over_repeated_samples():
    rng = np.random.default_rng(21)
    samples = rng.gamma(4.0, size=(800, 300))
    others = samples * rng.uniform(0.5, 1.5, samples.shape)
    for estimate in (
        lambda a, b: mean(a),
        lambda a, b: ratio(a, b),
        lambda a, b: median_ratio(a, b, resamples=60),
    ):
        found = [estimate(a, b) for a, b in zip(others, samples, strict=True)]
        scatter = np.std([one.value for one in found])
        assert np.mean([one.error for one in found]) == pytest.approx(scatter, rel=0.12)


def test_what_failed_or_was_not_run_is_left_out():
    values = np.array([1.0, 3.0, np.inf, np.nan])
    assert mean(values).value == 2.0
    assert ratio(values, np.array([1.0, 1.0, 1.0, 1.0])).value == 2.0


@pytest.mark.parametrize("least", [-1.0, 2.0, 4.5])
def test_nothing_left_has_the_moments_of_a_cut_normal(least):
    mean_, cov = np.array([1.5]), np.array([[4.0]])
    above, moved, kept = _cut_off(mean_, cov, np.array([4.0]), 1.5, 4.0, least)
    cut = stats.truncnorm((least - 1.5) / 2.0, np.inf, 1.5, 2.0)
    assert above == pytest.approx(stats.norm.sf(least, 1.5, 2.0))
    assert moved[0] == pytest.approx(cut.mean())
    assert kept[0, 0] == pytest.approx(cut.var(), rel=1e-6)


def test_the_limit_is_the_textbook_posterior_where_all_is_normal():
    # Trim yields are linear in the hand and the crop; scikit-learn's Gaussian process with the
    # linear kernel of the same prior spreads is the reference.
    world = WORLDS["plain"]
    household = make_household(world, 5, 77)
    count = len(household.crops)
    belief = Limit(household)
    rows, values = [], []
    for batch, crop, setting in list(
        zip(household.clean, household.crop_of, household.settings, strict=True)
    )[:13]:
        belief.observe(batch, crop, setting)
        rows.append(np.r_[world.hand["trim"], world.crop["trim"] * np.eye(count)[crop]])
        share = batch.trimmed_g / batch.as_bought_g
        values.append(math.log(share / (1 - share)) - household.crops[crop].centre["trim"])
    kernel = DotProduct(sigma_0=0.0, sigma_0_bounds="fixed")
    noise = world.noise["trim"] ** 2
    reference = GaussianProcessRegressor(kernel, alpha=noise, optimizer=None)
    reference.fit(np.array(rows), np.array(values))
    draws = [belief.habits(k, np.random.default_rng(k), 40_000).trim for k in range(count)]
    for k, drawn in enumerate(draws):
        wanted = np.r_[world.hand["trim"], world.crop["trim"] * np.eye(count)[k]][None]
        centre, spread = reference.predict(wanted, return_std=True)
        off = drawn.mean() - household.crops[k].centre["trim"] - centre[0]
        assert abs(off) < 5 * spread[0] / math.sqrt(40_000) + 2e-3
        assert drawn.std() == pytest.approx(spread[0], rel=0.02)


def test_slips_spoil_the_plain_households_and_leave_the_clean_table():
    plain = [make_household(WORLDS["plain"], i, 3) for i in range(40)]
    slips = [make_household(WORLDS["slips"], i, 3) for i in range(40)]
    assert [h.clean for h in slips] == [h.history for h in plain]
    assert [u.brine_ml for h in slips for u in h.unseen] == [
        u.brine_ml for h in plain for u in h.unseen
    ]
    pairs = [p for h in slips for p in zip(h.clean, h.history, strict=True)]
    names = ("as_bought_g", "trimmed_g", "cured_g", "cooked_g", "brine_made_ml", "brine_left_ml")
    written = [(getattr(a, n), getattr(b, n), n) for a, b in pairs for n in names if getattr(a, n)]
    weights = [b for _, b, n in written if n.endswith("_g")]
    slipped = sum(b is not None and b != a for a, b, _ in written)
    # The world's own figures, 1 weight in 8 and 3 rows in 100, within 3.5 standard errors.
    missing = sum(b is None for b in weights) / len(weights)
    assert abs(missing - 0.125) < 3.5 * math.sqrt(0.125 * 0.875 / len(weights))
    assert abs(slipped / len(pairs) - 0.03) < 3.5 * math.sqrt(0.03 * 0.97 / len(pairs))


@pytest.mark.parametrize("world", WORLDS.values(), ids=WORLDS)
def test_every_world_keeps_to_what_jars_can_hold(world):
    # Geometry: the pieces never take more than their share of the fill volume, so brine is at
    # least the rest, whatever the world's other equations are.
    for number in range(15):
        for unseen in make_household(world, number, 5).unseen:
            fill_ml = unseen.jars * unseen.setting.fill_ml
            assert unseen.jars > 0
            assert unseen.brine_ml > (1 - FULLEST) * fill_ml * (1 - 1e-9)


def test_scores_do_not_depend_on_how_the_households_are_spread():
    trial = Trial("heavy", 12, 6, (0, 3), ("limit", "oracle"), 256, 0)
    alone, spread = run_trial(trial, jobs=1), run_trial(trial, jobs=2)
    assert np.array_equal(alone["limit"], spread["limit"])


def test_households_are_tuned_on_and_reported_on_apart():
    assert TUNING_SEED != REPORTING_SEED
    tuned, reported = (make_household(WORLDS["plain"], 0, s) for s in (TUNING_SEED, REPORTING_SEED))
    assert tuned.history != reported.history


def _holds(households: int, sizes: tuple[int, ...], jobs: int) -> None:
    trial = Trial("plain", households, 4711, sizes, ("limit", "oracle"), 1024, 0)
    scores = run_trial(trial, jobs)
    for ask in range(len(ASKS)):
        for outcome in range(len(OUTCOMES)):
            for peer in trial.peers:
                for place in range(len(sizes)):
                    found = figure(scores, peer, ask, outcome, "80", place)
                    error = 100 * math.sqrt(0.8 * 0.2 / households)
                    assert abs(found.value - 80) < 3.5 * error, (peer, ask, outcome, place)
            lead = [figure(scores, "limit", ask, outcome, "crps", i) for i in range(len(sizes))]
            assert all(a.value > b.value for a, b in pairwise(lead))
            assert lead[-1].value > 1 - 2 * lead[-1].error
    assert np.isfinite(scores["limit"][..., CRPS]).all()


def test_limit_and_oracle_hold_what_they_say_and_the_limit_closes_on_the_oracle():
    _holds(100, (0, 3, 34), jobs=1)


@pytest.mark.slow
def test_limit_and_oracle_hold_over_many_households():
    _holds(1500, SIZES, jobs=2)
