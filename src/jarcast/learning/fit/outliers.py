"""Long tails and slips: which of four kinds of noise each row has.

A row's noise is usual, wide, very wide, or a slip of the pen, whose size has nothing to do with the
batch. The responsibility of each kind is computed from the leave-one-out residual, so that a slip
in the only batch of a crop cannot explain itself.
"""

import numpy as np
from msgspec import Struct

from jarcast.learning.arrays import Array

WIDENING = np.array([1.0, 5.0, 25.0])  # noise variance of each kind, in units of the usual
TAIL_PRIOR = np.array([0.96, 0.035, 0.005])
# Noise variance over all kinds, in units of the usual kind's.
TAIL_WIDENING = float(TAIL_PRIOR @ WIDENING)
TAIL_WEIGHT = 20.0  # rows the prior is worth
SLIP_CHANCE = 0.015  # a value in a hundred or two; common practice, no source
NO_SLIP = 1e-12  # for a value that the user has confirmed


def usual_variance(sd: float) -> float:
    """Noise variance of the usual kind, where ``sd`` is that over all kinds."""
    return sd**2 / TAIL_WIDENING


class Outliers(Struct, frozen=True):
    """The responsibility of each kind of noise for each row, and what follows from it.

    ``responsibilities`` (4, n), that of a slip last; ``log_chance`` the log prior chances and
    ``kinds`` the noise variance of each kind, both (4, n). ``variance`` (n,) is the noise variance
    that each row counts with, ``relative`` (n,) its expected squared noise in units of its usual
    noise variance, ``known`` (n,) how much each row tells of the noise, 0 to 1.
    """

    responsibilities: Array
    log_chance: Array
    kinds: Array
    variance: Array
    relative: Array
    known: Array

    @property
    def evidence(self) -> float:
        """What the choice of kinds adds to the log evidence, in nats (a variational bound)."""
        log_chosen = np.log(np.maximum(self.responsibilities, 1e-300))
        widened = 0.5 * np.log(self.kinds / self.variance)
        return float((self.responsibilities * (self.log_chance - log_chosen - widened)).sum())


def find_outliers(
    residual: Array,
    predictive: Array,
    noise: Array,
    reading: Array,
    slip: Array,
    log_slipped: Array,
    tails: Array,
) -> Outliers:
    """Responsibilities of the kinds, from each row's leave-one-out residual.

    All (n,): ``residual`` and the variance ``predictive`` of its forecast; ``noise`` the usual
    noise variance; ``reading`` the variance of the error of reading; ``slip`` the variance of a
    slip. ``log_slipped`` (2, n) are the log prior chances of no slip and of one; ``tails`` (3,) the
    shares of the other kinds.
    """
    spread = WIDENING[:, None] * noise
    kinds = np.vstack((spread + reading, spread[0] + reading + slip))
    log_chance = np.vstack((np.log(tails)[:, None] + log_slipped[0], log_slipped[1]))
    total = kinds + predictive
    squared = residual**2 / total
    log_joint = log_chance - 0.5 * (np.log(total) + squared)
    joint = np.exp(log_joint - log_joint.max(axis=0))
    responsibilities = joint / joint.sum(axis=0)
    # Expected squared noise given the residual, each kind scaled back to the usual noise.
    seen = spread / total[:3]
    noisy = responsibilities[:3] * seen
    return Outliers(
        responsibilities=responsibilities,
        log_chance=log_chance,
        kinds=kinds,
        variance=1.0 / (responsibilities / kinds).sum(axis=0),
        relative=1.0 + (noisy * (squared[:3] - 1.0)).sum(axis=0),
        known=(noisy * seen).sum(axis=0),
    )


def tail_shares(responsibilities: Array) -> Array:
    """Posterior mean of the kinds' shares among the rows that are no slips, shape (3,)."""
    counts = TAIL_PRIOR * TAIL_WEIGHT + responsibilities[:3].sum(axis=1)
    found: Array = counts / counts.sum()
    return found
