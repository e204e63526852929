"""Fewer columns that say the same: posteriors through them against those of all the columns."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from jarcast.learning.fit.kernel import proper_posterior
from jarcast.learning.fit.reduced_basis import ReducedBasis

# Three cells of two produces and two cuts: the effects of produce, cut and cell, as loadings.
CELLS = np.array(
    [
        [0.5, 0.0, 0.3, 0.0, 0.4, 0.0, 0.0],
        [0.5, 0.0, 0.0, 0.3, 0.0, 0.4, 0.0],
        [0.0, 0.2, 0.3, 0.0, 0.0, 0.0, 0.6],
    ]
)


def design(seed: int = 3) -> tuple[np.ndarray, list[np.ndarray]]:
    """Twenty rows of those cells: columns of a hand and a covariate stand among the crops'."""
    rng = np.random.default_rng(seed)
    crops = CELLS[rng.integers(0, 3, 20)] * rng.choice([1.0, -0.4], 20)[:, None]
    X = np.insert(crops, 2, rng.standard_normal(20), axis=1)
    X = np.insert(X, 0, 0.15, axis=1)
    first, second = np.array([1, 2, 4, 5, 6]), np.array([7, 8])
    return X, [first, second]


def test_as_many_columns_stay_as_the_rows_tell_apart() -> None:
    X, crops = design()
    basis = ReducedBasis(X, crops)
    ranks = [int(np.linalg.matrix_rank(X[:, crop])) for crop in crops]  # by singular values
    assert basis.sizes == [2, *ranks]
    assert basis.unseen == [0, *(len(c) - r for c, r in zip(crops, ranks, strict=True))]
    assert basis.X.shape == (20, sum(basis.sizes))
    assert sum(basis.unseen) > 0


@pytest.mark.parametrize("walking", [0, 3])
def test_the_posterior_is_that_of_all_the_columns(walking: int) -> None:
    # By the regression on the columns as they came, which is tested against scikit-learn.
    rng = np.random.default_rng(5)
    X, crops = design()
    walk = rng.standard_normal((20, walking))
    y, variance, spread = rng.standard_normal(20), rng.uniform(0.1, 2.0, 20), [1.0, 0.6, 3.0]
    prior = np.ones(X.shape[1] + walking)
    for crop, size in zip(crops, spread[1:], strict=True):
        prior[crop] = size
    due = proper_posterior(np.hstack([X, walk]), y, variance, prior)

    basis = ReducedBasis(X, crops)
    few = np.append(np.repeat(spread, basis.sizes), np.ones(walking))
    found = proper_posterior(np.hstack([basis.X, walk]), y, variance, few)
    mean, root = basis.expanded(found.mean, found.root, np.array(spread))
    assert_allclose(mean, due.mean, rtol=1e-9, atol=1e-12)
    assert_allclose(root @ root.T, due.covariance(), rtol=1e-9, atol=1e-12)
    assert found.log_evidence == pytest.approx(due.log_evidence, rel=1e-12)


def test_nothing_is_lost_without_crops_or_rows() -> None:
    X, _ = design()
    assert_allclose(ReducedBasis(X, []).X, X)
    none = ReducedBasis(np.zeros((0, 0)), [np.zeros(0, dtype=int)])
    assert none.X.shape == (0, 0)
    assert none.sizes == [0, 0]
