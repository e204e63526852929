"""Leave-one-out forecasts of a regression's rows, without fitting it once a row.

The coefficients come in groups that share a prior variance; EM solves the same rows again and
again while only the variances change.
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from jarcast.learning.arrays import Array


class LeaveOneOut(Struct, frozen=True):
    """Each row against its forecast from all the others.

    ``residual`` (n,) is the row less that forecast and ``predictive`` (n,) the variance of the
    forecast, without the row's own; ``squares`` (g,) is the expected sum of squares of each group's
    coefficients, given all rows.
    """

    residual: Array
    predictive: Array
    squares: Array


class Groups:
    """The columns X (n, p) of a regression's rows, in g groups side by side."""

    def __init__(self, X: Array, sizes: Sequence[int]) -> None:
        """``sizes`` are the numbers of columns of the groups."""
        self.X = X
        self.member = np.repeat(np.eye(len(sizes)), sizes, axis=0)  # (p, g)

    def leave_one_out(self, y: Array, variance: Array, prior: Array) -> LeaveOneOut:
        """Leave-one-out forecasts of y (n,).

        ``variance`` (n,) of the rows and ``prior`` (g,) of the coefficients of each group are
        known, so that the matrices are well conditioned and inverting them is as good as QR.
        Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, equations 5.10
        to 5.12.
        """
        p, size = len(self.member), 1.0 / np.sqrt(variance)
        scaled, target = self.X * size[:, None], y * size
        precision = scaled.T @ scaled
        precision.flat[:: p + 1] += self.member @ (1.0 / prior)
        covariance = np.linalg.inv(precision)
        mean = covariance @ (scaled.T @ target)
        leverage = ((scaled @ covariance) * scaled).sum(axis=1)
        # A row pulls the fit towards itself by its leverage; left out, it lies this much farther.
        kept = np.maximum(1.0 - leverage, 1e-12)
        residual = (target - scaled @ mean) / (kept * size)
        predictive = variance * np.maximum(1.0 / kept - 1.0, 0.0)
        squares = (mean**2 + covariance.diagonal()) @ self.member
        return LeaveOneOut(residual, predictive, squares)
