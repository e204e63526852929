"""Leave-one-out forecasts against as many fits with one row left out."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from jarcast.learning.fit.kernel import Posterior, posterior
from jarcast.learning.fit.leave_one_out import Groups


def fitted(X: np.ndarray, y: np.ndarray, variance: np.ndarray, prior: np.ndarray) -> Posterior:
    """By QR of all the columns, the variances known."""
    return posterior(
        X, y, weights=1.0 / variance, prior_scale=np.sqrt(prior), noise_scale=1.0,
        noise_dof=math.inf,
    )  # fmt: skip


# Fewer rows than columns or more of them; one group may be empty.
@pytest.mark.parametrize(
    ("n", "sizes"), [(12, [1, 3]), (4, [5, 0, 7]), (6, [6]), (1, [2, 1]), (70, [3, 4]), (60, [1])]
)
def test_each_row_is_forecast_by_all_the_others(n: int, sizes: list[int]) -> None:
    # By fitting n times over, one row left out each time.
    rng = np.random.default_rng(16)
    p = sum(sizes)
    X = rng.standard_normal((n, p)) * np.geomspace(0.3, 40.0, p)
    y = X @ rng.standard_normal(p) + 2.0 * rng.standard_normal(n) + 5.0
    variance, prior = 1.0 / rng.uniform(0.2, 4.0, n), np.linspace(0.2, 3.0, len(sizes))
    each = np.repeat(prior, sizes)
    seen = Groups(X, sizes).leave_one_out(y, variance, prior)
    for i in range(n):
        kept = np.arange(n) != i
        fit = fitted(X[kept], y[kept], variance[kept], each)
        assert seen.residual[i] == pytest.approx(y[i] - X[i] @ fit.mean, rel=1e-8)
        assert seen.predictive[i] == pytest.approx(X[i] @ fit.covariance() @ X[i], rel=1e-7)
    whole = fitted(X, y, variance, each)
    squares = whole.mean**2 + np.diag(whole.covariance())
    groups = np.repeat(np.arange(len(sizes)), sizes)
    due = [squares[groups == g].sum() for g in range(len(sizes))]
    assert_allclose(seen.squares, due, rtol=1e-7)


@pytest.mark.parametrize("n", [3, 60])
def test_a_row_nothing_else_speaks_of_is_forecast_by_the_prior(n: int) -> None:
    y, prior = np.linspace(-2.0, 4.0, n), np.array([1.0, 2.0, 3.0])
    X = np.zeros((n, 3))
    X[:3] = np.eye(3)
    seen = Groups(X, [1, 1, 1]).leave_one_out(y, np.full(n, 0.5), prior)
    assert_allclose(seen.residual, y, rtol=1e-12)
    assert_allclose(seen.predictive, [*prior, *np.zeros(n - 3)], rtol=1e-9, atol=1e-12)
