"""An uncertain amount, as draws."""

import math
from functools import cached_property

import numpy as np
from msgspec import Struct

from jarcast.errors import ForecastError
from jarcast.learning.arrays import Array


class Outcome(Struct, frozen=True, dict=True):
    """An uncertain amount: ``draws`` (draws,) of what may come, all finite and none below 0.

    Draws of two outcomes of one forecast belong together, place by place. They are not independent
    of one another: they come in mirrored pairs, one from each half.
    """

    draws: Array

    @cached_property
    def _sorted(self) -> Array:
        return np.sort(self.draws)

    @property
    def median(self) -> float:
        """The middle: as likely more as less."""
        return self.quantile(0.5)

    def quantile(self, p: float) -> float:
        """The amount that is not exceeded with chance p, 0 <= p <= 1. Raises ForecastError."""
        if not 0.0 <= p <= 1.0:
            raise ForecastError(f"a chance lies between 0 and 1; {p} was asked for")
        # Linear between order statistics: Hyndman and Fan (1996), type 7.
        at = p * (self.draws.size - 1)
        low = math.floor(at)
        high = min(low + 1, self.draws.size - 1)
        values = self._sorted
        return float(values[low] + (at - low) * (values[high] - values[low]))

    def interval(self, level: float = 0.8) -> tuple[float, float]:
        """Low and high of the central range that holds with chance ``level``."""
        if not 0.0 < level < 1.0:
            raise ForecastError(f"the level of a range lies between 0 and 1; {level} was asked for")
        tail = 0.5 * (1.0 - level)
        return self.quantile(tail), self.quantile(1.0 - tail)

    def chance_above(self, amount: float) -> float:
        """Chance that the outcome is more than an amount."""
        return float(np.mean(self.draws > amount))
