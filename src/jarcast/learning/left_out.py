"""Each row of a regression seen by all the others, without as many fits.

The coefficients come in groups that share a prior variance, and the same rows are solved round
after round while only the variances change: what the rounds have in common is worked out once.
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from jarcast.learning.regression import Array

# Rows that are solved faster than the columns: so many however few these are, or so many each.
_FEW, _FEW_A_COLUMN = 48, 1.1


class LeftOut(Struct, frozen=True):
    """Each row seen by all the others: ``miss`` (n,) is the row less its forecast and ``doubt``
    (n,) the variance of that forecast; ``squares`` (g,) the expected sum of squares of each group's
    coefficients.
    """

    miss: Array
    doubt: Array
    squares: Array


class Groups:
    """The columns X (n, p) of a regression's rows, in g groups that stand side by side."""

    def __init__(self, X: Array, sizes: Sequence[int]) -> None:
        """Lay out groups of these numbers of columns."""
        self.X, self.sizes = X, np.array(sizes)
        n, p = X.shape
        self.few = n <= max(_FEW, _FEW_A_COLUMN * p)
        if self.few:  # what each group adds to the rows' covariance
            shared = np.empty((len(sizes), n, n))
            for part, own in zip(np.split(X, np.cumsum(sizes)[:-1], axis=1), shared, strict=True):
                np.matmul(part, part.T, out=own)
            self.shared = shared.reshape(len(sizes), n * n)
        else:
            self.member = np.repeat(np.eye(len(sizes)), self.sizes, axis=0)  # (p, g)

    def left_out(self, y: Array, variance: Array, prior: Array) -> LeftOut:
        """Leave-one-out forecasts of y (n,).

        ``variance`` (n,) of the rows and ``prior`` (g,) of the coefficients of each group are
        known: the matrices are then well conditioned, and the faster of the two ways to invert is
        taken. Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, equations 5.10
        to 5.12.
        """
        solve = self._by_rows if self.few else self._by_columns
        alpha, precision, squares = solve(y, variance, prior)
        doubt = np.maximum(1.0 / precision - variance, 0.0)
        return LeftOut(alpha / precision, doubt, squares)

    def _by_rows(self, y: Array, variance: Array, prior: Array) -> tuple[Array, Array, Array]:
        n = len(y)
        covariance = prior @ self.shared
        covariance[:: n + 1] += variance
        inverse = np.asarray(np.linalg.inv(covariance.reshape(n, n)), dtype=np.float64)
        alpha = inverse @ y
        # A coefficient's mean is v x'alpha and its variance v - v^2 x'(inverse)x.
        told = self.shared @ (alpha[:, None] * alpha - inverse).ravel()
        return alpha, inverse.diagonal(), prior * (self.sizes + prior * told)

    def _by_columns(self, y: Array, variance: Array, prior: Array) -> tuple[Array, Array, Array]:
        p, size = len(self.member), 1.0 / np.sqrt(variance)
        scaled, target = self.X * size[:, None], y * size
        information = scaled.T @ scaled
        information.flat[:: p + 1] += self.member @ (1.0 / prior)
        covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
        mean = covariance @ (target @ scaled)
        leverage = np.add.reduce((scaled @ covariance) * scaled, axis=1)
        alpha = (target - scaled @ mean) * size
        precision = np.maximum(1.0 - leverage, 1e-12) * size**2
        return alpha, precision, (mean**2 + covariance.diagonal()) @ self.member
