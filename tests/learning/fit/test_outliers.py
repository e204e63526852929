"""Long tails: each row's shares against Bayes' rule written out, and what they average to."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from jarcast.learning.fit.outliers import (
    NO_SLIP,
    SLIP_CHANCE,
    TAIL_PRIOR,
    WIDENING,
    Outliers,
    find_outliers,
    tail_shares,
)

TAILS = np.array([0.9, 0.08, 0.02])
CHANCES = np.append(TAILS * (1.0 - SLIP_CHANCE), SLIP_CHANCE)


def outliers(
    residual: Any,
    predictive: float = 0.3,
    noise: float = 1.0,
    reading: float = 0.2,
    sure: bool = False,
) -> Outliers:
    size, slipped = np.size(residual), NO_SLIP if sure else SLIP_CHANCE
    return find_outliers(
        np.atleast_1d(np.asarray(residual, dtype=float)),
        *(np.full(size, value) for value in (predictive, noise, reading, 100.0)),
        np.log(np.repeat([[1.0 - slipped], [slipped]], size, axis=1)),
        TAILS,
    )


def variances(predictive: float, noise: float = 1.0, reading: float = 0.2) -> np.ndarray:
    """Variance of a residual of each kind."""
    return np.append(noise * WIDENING, noise + 100.0) + reading + predictive


@pytest.mark.parametrize("residual", [0.0, 0.7, -2.5, 4.0, 11.0, -40.0])
@pytest.mark.parametrize("predictive", [0.0, 0.3, 5.0])
def test_shares_are_bayes_rule(residual: float, predictive: float) -> None:
    # The chance of each kind is prior times normal density, shared out; scipy gives the density.
    weight = CHANCES * stats.norm.pdf(residual, scale=np.sqrt(variances(predictive)))
    assert_allclose(
        outliers(residual, predictive).responsibilities[:, 0], weight / weight.sum(), rtol=1e-10
    )


def test_a_row_the_user_stands_by_is_no_slip_however_odd() -> None:
    # The other kinds share it out as if there were no slips: Bayes' rule over those alone.
    weight = TAILS * stats.norm.pdf(25.0, scale=np.sqrt(variances(0.3)[:3]))
    shares = outliers(25.0, sure=True).responsibilities[:, 0]
    assert shares[-1] < 1e-6
    assert_allclose(shares[:3], weight / weight.sum(), rtol=1e-6)


def test_a_gross_slip_is_told_from_a_usual_row() -> None:
    usual, wide, gross = outliers([0.5, 3.5, 25.0]).responsibilities.T
    assert usual[-1] < 0.01
    assert usual[0] > 0.8
    assert wide[1] + wide[2] > usual[1] + usual[2]
    assert gross[-1] > 0.9


def test_the_further_off_a_row_the_less_it_counts() -> None:
    found = outliers(np.array([0.0, 2.0, 4.0, 8.0, 16.0, 32.0]))
    assert (np.diff(found.variance) > 0).all()
    assert found.variance[0] >= 1.2  # never better known than noise and reading allow
    assert (np.diff(found.responsibilities[-1]) > 0).all()


def test_the_sign_of_a_surprise_does_not_matter() -> None:
    one, other = outliers([1.0, 5.0, 20.0]), outliers([-1.0, -5.0, -20.0])
    assert_allclose(one.responsibilities, other.responsibilities)
    assert_allclose(one.variance, other.variance)


def test_in_a_poorly_known_crop_a_surprise_is_no_proof_of_a_slip() -> None:
    assert (
        outliers(6.0, predictive=30.0).responsibilities[-1, 0]
        < outliers(6.0, predictive=0.1).responsibilities[-1, 0]
    )


def test_a_row_nobody_could_read_teaches_nothing_of_the_noise() -> None:
    assert outliers(1.0, reading=1e6).known[0] < 0.01
    assert outliers(1.0, predictive=0.0, reading=1e-9).known[0] > 0.9


def test_far_surprises_give_numbers_all_the_same() -> None:
    found = outliers([1e6, -1e8, 0.0])
    for values in (found.responsibilities, found.variance, found.relative, found.known):
        assert np.isfinite(values).all()
    assert np.isfinite(found.evidence)


@pytest.mark.parametrize("residual", [0.1, 2.0, 6.0, 30.0])
def test_with_nothing_to_learn_the_price_makes_the_evidence_exact(residual: float) -> None:
    # A variational bound is met where the shares are exact (Bishop, Pattern Recognition and
    # Machine Learning, section 9.4): normal density + price = log density of the mixture.
    found = outliers(residual, predictive=0.0)
    bound = stats.norm.logpdf(residual, scale=np.sqrt(found.variance[0])) + found.evidence
    mixture = CHANCES @ stats.norm.pdf(residual, scale=np.sqrt(variances(0.0)))
    assert bound == pytest.approx(np.log(mixture), rel=1e-10)


def test_over_the_models_own_rows_everything_averages_to_its_prior() -> None:
    # Law of total expectation: shares average to their prior chances, the expected squared noise
    # to the noise. 200,000 rows; three Monte Carlo standard errors.
    rng = np.random.default_rng(3)
    size = 200_000
    kind = rng.choice(4, size, p=CHANCES)
    found = outliers(rng.standard_normal(size) * np.sqrt(variances(0.3))[kind])
    error = 3.0 * found.responsibilities.std(axis=1) / np.sqrt(size)
    assert (np.abs(found.responsibilities.mean(axis=1) - CHANCES) <= error).all()
    assert abs(found.relative.mean() - 1.0) <= 3.0 * found.relative.std() / np.sqrt(size)


def test_no_rows_leave_the_tails_as_believed() -> None:
    assert_allclose(tail_shares(np.zeros((4, 0))), TAIL_PRIOR)
    assert tail_shares(np.zeros((4, 0))).sum() == pytest.approx(1.0)


def test_tails_are_learned_from_rows_that_are_no_slips() -> None:
    wide = np.tile([[0.0], [1.0], [0.0], [0.0]], 5_000)
    assert tail_shares(wide)[1] > 0.95
    slips = np.tile([[0.0], [0.0], [0.0], [1.0]], 5_000)
    assert_allclose(tail_shares(slips), TAIL_PRIOR)
