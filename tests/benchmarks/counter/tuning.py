"""Orders tuned to one measured chance of running short, and what is left over then.

``orders`` of a way hold what each household would make at each of CHANCES, (households, chances);
between two of them what is made goes with the log of the chance.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Array = np.ndarray
CHANCES = np.geomspace(0.001, 0.6, 60)
_STEPS, _RESAMPLES, _GRID = 40, 200, 150

# What becomes of households' batches where each orders at this chance: whether each ran short, and
# what each had left over, of what it needed.
Way = Callable[[float], tuple[Array, Array]]


@dataclass(frozen=True)
class Tuned:
    """One way at the chance it was tuned to: the chance measured, and the mean left over."""

    chance: float
    short: float
    left: float


def at(orders: Array, chance: float) -> Array:
    """What is made at a chance between those of CHANCES, shape (households,)."""
    place = np.interp(np.log(chance), np.log(CHANCES), np.arange(len(CHANCES)))
    low = min(int(place), len(CHANCES) - 2)
    share = place - low
    return np.asarray((1.0 - share) * orders[:, low] + share * orders[:, low + 1])


def tuned(way: Way, target: float, most: float) -> Tuned:
    """The largest chance up to ``most`` at which ``target`` run short at most, by bisection."""
    low, high = np.log(CHANCES[0]), np.log(most)
    if way(most)[0].mean() <= target:
        low = high
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        if way(float(np.exp(middle)))[0].mean() <= target:
            low = middle
        else:
            high = middle
    short, left = way(float(np.exp(low)))
    return Tuned(float(np.exp(low)), float(short.mean()), float(left.mean()))


def largest_known(*orders: Array) -> float:
    """The largest of CHANCES at which every household has an order of each."""
    known = np.all([np.isfinite(one).all(axis=0) for one in orders], axis=0)
    return float(CHANCES[known][-1])


def side_by_side(
    ways: tuple[Way, Way], target: float, most: float
) -> tuple[tuple[Tuned, Tuned], float, float]:
    """Both ways tuned to the same measured chance, the second's left over the first's, its error.

    The chance is ``target``, or what both reach at the chance ``most``, if that is less. The error
    is that of households drawn anew, with both ways tuned anew.
    """
    reached = min(target, *(float(way(most)[0].mean()) for way in ways))
    first, second = tuned(ways[0], reached, most), tuned(ways[1], reached, most)
    return (first, second), second.left / first.left, _error(ways, target, most)


def _error(ways: tuple[Way, Way], target: float, most: float) -> float:
    """Standard error of the ratio: households drawn anew, tuned anew over a grid of chances."""
    grid = np.geomspace(CHANCES[0], most, _GRID)
    outcomes = [[np.array(one, dtype=float) for one in zip(*map(way, grid), strict=True)]
                for way in ways]  # fmt: skip
    households = outcomes[0][0].shape[1]
    rng = np.random.default_rng(0)
    ratios = []
    for _ in range(_RESAMPLES):
        picks = rng.integers(households, size=households)
        weights = np.bincount(picks, minlength=households) / households
        shorts, lefts = zip(*((short @ weights, left @ weights) for short, left in outcomes),
                            strict=True)  # fmt: skip
        reached = min(target, *(float(short[-1]) for short in shorts)) + 1e-9
        at_once, by_pots = (
            left[int(np.flatnonzero(short <= reached).max(initial=0))]
            for short, left in zip(shorts, lefts, strict=True)
        )
        ratios.append(by_pots / at_once)
    return float(np.std(ratios, ddof=1))
