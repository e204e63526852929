"""How fast one works, from one's own times only: a rate nobody timed is not known.

Rates are taken to differ by factors from batch to batch, normal in logarithms with both moments
unknown: their forecast is Student's t (Gelman et al., Bayesian Data Analysis, section 3.2). How
fast the person is belongs to all batches; what one batch adds is its own.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from jarcast.learning.arrays import Array

FEWEST_TIMES = 3  # with fewer the spread between times is hardly known
_FURTHEST = 2.5  # a factor of 12, in logs: a t with two degrees of freedom has no bounds


class Timed(NamedTuple):
    """A piece of work that was timed: grams trimmed or jars packed, and the minutes it took."""

    amount: float
    minutes: float


class OwnTimes(Struct, frozen=True):
    """All the timed work there is."""

    trimmed: tuple[Timed, ...] = ()
    packed: tuple[Timed, ...] = ()


class Rate(Struct, frozen=True):
    """Amount a minute: the middle, its log sd from time to time, and on how many it rests."""

    middle: float
    log_sd: float
    times: int

    def minutes(self, amounts: Sequence[Array], rng: np.random.Generator) -> list[Array]:
        """Minutes for each amount (draws,), drawn together: the person is the same in all."""
        if not amounts:
            return []
        draws, dof = amounts[0].size, self.times - 1
        sd = self.log_sd / np.sqrt(rng.chisquare(dof, draws) / dof)
        person = sd / math.sqrt(self.times) * rng.standard_normal(draws)
        return [
            amount
            / self.middle
            * np.exp(np.clip(person + sd * rng.standard_normal(draws), -_FURTHEST, _FURTHEST))
            for amount in amounts
        ]


def rate(timed: Sequence[Timed]) -> Rate | None:
    """The rate that these times tell of; None for fewer than three of them."""
    logs = [math.log(one.amount / one.minutes) for one in timed if one.amount > 0 < one.minutes]
    if len(logs) < FEWEST_TIMES:
        return None
    middle = math.fsum(logs) / len(logs)
    variance = math.fsum((log - middle) ** 2 for log in logs) / (len(logs) - 1)
    return Rate(math.exp(middle), math.sqrt(variance), len(logs))
