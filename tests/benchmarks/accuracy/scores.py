"""Scores of a forecast given as draws, and their averages over households with error bands."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# What score() gives, in order. CRPS and WIDTH are divided by the true total, so that a batch of
# twenty jars does not drown one of four. A divisor that goes with the truth rewards forecasts that
# are a little low, so CRPS_PRINTED is divided by the printed total instead, which everybody knows
# beforehand and which leaves the score proper. LEFT and TOTAL are in the unit of the outcome.
CRPS, CRPS_PRINTED, IN50, IN80, IN90, WIDTH, SHORT, LEFT, TOTAL = range(9)
SCORES = 9
FAILED = np.full(SCORES, np.inf)  # a forecaster that gave no forecast; not run is NaN


def crps(draws: Array, truth: float) -> float:
    """Continuous ranked probability score of draws, in the units of the truth; less is better.

    Mean |x - truth| less half the mean |x - x'|, over all pairs of draws (Gneiting and Raftery
    2007, JASA 102, eq. 21); the second mean comes from the sorted draws in one pass.
    """
    ordered = np.sort(draws)
    count = len(ordered)
    rank = 2.0 * np.arange(1, count + 1) - count - 1.0
    return float(np.abs(ordered - truth).mean() - rank @ ordered / count**2)


def score(draws: Array, truth: float, printed: float) -> Array:
    """All scores of one forecast, shape (SCORES,); ``printed`` is the printed recipe's total."""
    if not np.all(np.isfinite(draws)):
        return FAILED
    ordered = np.sort(draws)
    q05, q10, q25, q75, q90, q95 = np.quantile(ordered, [0.05, 0.1, 0.25, 0.75, 0.9, 0.95])
    miss = crps(ordered, truth)
    return np.array([
        miss / truth,
        miss / printed,
        q25 <= truth <= q75,
        q10 <= truth <= q90,
        q05 <= truth <= q95,
        (q90 - q10) / truth,
        truth > q95,  # a '5 % order' is the 95 % quantile
        max(q95 - truth, 0.0),
        truth,
    ])  # fmt: skip


@dataclass(frozen=True)
class Figure:
    """A figure and its standard error over households."""

    value: float
    error: float

    def within(self, low: float, high: float) -> bool:
        """Whether the band of two standard errors overlaps a window."""
        return self.value + 2 * self.error >= low and self.value - 2 * self.error <= high


def mean(values: Sequence[float] | Array) -> Figure:
    """Mean of one figure a household."""
    known = np.asarray(values, dtype=float)
    known = known[np.isfinite(known)]
    if len(known) < 2:
        return Figure(np.nan, np.nan)
    return Figure(float(known.mean()), float(known.std(ddof=1) / np.sqrt(len(known))))


def ratio(values: Array, base: Array) -> Figure:
    """Mean over mean of two figures a household, over the households that have both.

    The error is that of a ratio of means by the delta method (Cochran 1977, Sampling Techniques,
    3rd ed., chapter 6).
    """
    both = np.isfinite(values) & np.isfinite(base)
    if both.sum() < 2:
        return Figure(np.nan, np.nan)
    top, bottom = values[both], base[both]
    found = top.mean() / bottom.mean()
    spread = (top - found * bottom).std(ddof=1)
    return Figure(float(found), float(spread / bottom.mean() / np.sqrt(both.sum())))


def median_ratio(values: Array, base: Array, resamples: int = 200) -> Figure:
    """Median over households of one figure over another; error from resampled households."""
    both = np.isfinite(values) & np.isfinite(base)
    if both.sum() < 2:
        return Figure(np.nan, np.nan)
    found = values[both] / base[both]
    picks = np.random.default_rng(0).integers(len(found), size=(resamples, len(found)))
    return Figure(float(np.median(found)), float(np.median(found[picks], axis=1).std(ddof=1)))


def by_household(scores: Array) -> Array:
    """Mean over sizes for each household: (households, sizes) -> (households,)."""
    known = np.isfinite(scores)
    count = known.sum(axis=1)
    total = np.where(known, scores, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
