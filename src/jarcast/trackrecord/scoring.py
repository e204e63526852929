"""How one outcome came out against what was forecast, and how often is often enough."""

import math

import numpy as np
from msgspec import Struct

from jarcast.forecast.outcome import Outcome
from jarcast.trackrecord.stored import LEVELS, at_levels

RANGES = (0.5, 0.8, 0.9)  # the ranges that are scored
SHORT_CHANCE = 0.05  # an order at this chance of running short is scored too
_BAND = 0.95


class Mark(Struct, frozen=True):
    """One outcome scored, in its own unit.

    ``held`` tells of each of RANGES whether it held. ``miss`` is what happened less the median.
    With ``at_least`` the brine ran out: more may have been needed than is known, ``held`` is False
    only where a range was surely passed, ``miss`` is never negative. ``average`` is what the
    running average said.
    """

    was: float
    at_least: bool
    held: tuple[bool, ...]
    short: bool
    miss: float
    crps: float
    average: float | None


def mark(outcome: Outcome, was: float, average: float | None, *, at_least: bool = False) -> Mark:
    """Score one outcome against what happened, or against the least that can have happened."""
    held = []
    for level in RANGES:
        low, high = outcome.interval(level)
        held.append(was <= high and (at_least or was >= low))
    miss = was - outcome.median
    return Mark(
        was=was,
        at_least=at_least,
        held=tuple(held),
        short=was > outcome.quantile(1.0 - SHORT_CHANCE),
        miss=max(miss, 0.0) if at_least else miss,
        crps=crps(outcome, was, at_least=at_least),
        average=average,
    )


def crps(outcome: Outcome, was: float, *, at_least: bool = False) -> float:
    """Continuous ranked probability score, in the outcome's unit; less is better.

    Twice the mean quantile loss over all levels (Laio and Tamea 2007, Hydrology and Earth System
    Sciences 11, 1267-1277), by the trapezoid rule on 101 of them. With ``at_least`` only what the
    forecast says below that amount counts: the integral of F squared up to it (Avati et al. 2019,
    Countdown regression, UAI: the survival CRPS of a right-censored outcome), which is the score
    of the forecast cut off there.
    """
    levels = np.array(LEVELS)
    at = at_levels(outcome)
    if at_least:
        at = np.minimum(at, was)
    loss = 2.0 * np.where(was < at, (1.0 - levels) * (at - was), levels * (was - at))
    return float(np.sum(0.5 * (loss[1:] + loss[:-1]) * np.diff(levels)))


class Frequency(Struct, frozen=True):
    """Something that should happen with a chance, and how often it did."""

    chance: float
    times: int
    of: int

    @property
    def share(self) -> float:
        """How often it happened, 0 to 1; 0 where it never could."""
        return self.times / self.of if self.of else 0.0

    @property
    def by_chance(self) -> tuple[int, int]:
        """Fewest and most times, 19 times in 20, if the chance is right: central binomial range."""
        tail = 0.5 * (1.0 - _BAND)
        return _binomial_quantile(tail, self.of, self.chance), _binomial_quantile(
            1.0 - tail, self.of, self.chance
        )

    @property
    def band(self) -> tuple[float, float]:
        """Where the true share may lie, 19 times in 20 (Wilson 1927, JASA 22, 209-212)."""
        if not self.of:
            return 0.0, 1.0
        z2 = 1.959963984540054**2  # normal quantile at 0.975, squared
        middle = (self.times + 0.5 * z2) / (self.of + z2)
        inside = self.share * (1.0 - self.share) / self.of + z2 / (4.0 * self.of**2)
        half = math.sqrt(z2 * inside) / (1.0 + z2 / self.of)
        return max(middle - half, 0.0), min(middle + half, 1.0)


def _binomial_quantile(level: float, of: int, chance: float) -> int:
    """Least count whose binomial distribution function reaches a level."""
    reached = 0.0
    for times in range(of + 1):
        log_ways = math.lgamma(of + 1) - math.lgamma(times + 1) - math.lgamma(of - times + 1)
        odds = times * math.log(chance) + (of - times) * math.log1p(-chance)
        reached += math.exp(log_ways + odds)
        if reached >= level:
            return times
    return of
