"""Long tails: what share of each row's surprise is a wide batch, and what share is a slip.

A row's noise is one of a few kinds: usual, wide, very wide, or a slip of the pen, whose size has
nothing to do with the batch. The shares are judged from the forecast of each row by all the
others, so that a slip in the only batch of a crop cannot explain itself.
"""

import numpy as np
from msgspec import Struct

from jarcast.learning.regression import Array

WIDENING = np.array([1.0, 5.0, 25.0])  # noise variance of each kind, in units of the usual
TAIL_PRIOR = np.array([0.96, 0.035, 0.005])
# Noise variance over all kinds, in units of the usual kind's.
TAIL_WIDENING = float(TAIL_PRIOR @ WIDENING)
TAIL_WEIGHT = 20.0  # rows the prior is worth
SLIP_CHANCE = 0.015  # a value in a hundred or two; common practice, no source
NO_SLIP = 1e-12  # of a value that the user stands by


class Judged(Struct, frozen=True):
    """Shares of the kinds for each row, and what follows from them.

    ``shares`` (4, n), the last the chance of a slip, from the prior ``log_chance`` and the noise
    variance ``kinds`` of each, both (4, n); ``variance`` (n,) the noise variance each row counts
    with; ``relative`` (n,) the expected squared noise of the row in units of its noise variance;
    ``known`` (n,) how much each row tells of the noise, 0 to 1.
    """

    shares: Array
    log_chance: Array
    kinds: Array
    variance: Array
    relative: Array
    known: Array

    @property
    def price(self) -> float:
        """What the evidence pays for the kinds the rows were given, in nats (variational bound)."""
        surely = np.log(np.maximum(self.shares, 1e-300))
        widened = 0.5 * np.log(self.kinds / self.variance)
        return float((self.shares * (self.log_chance - surely - widened)).sum())


def judge(
    residual: Array,
    doubt: Array,
    noise: Array,
    reading: Array,
    slip: Array,
    log_slipped: Array,
    tails: Array,
) -> Judged:
    """Judge each row from its residual against the forecast by the others.

    All (n,): ``residual`` and its forecast variance ``doubt``; ``noise`` the usual noise variance;
    ``reading`` the variance of reading; ``slip`` the variance of a slip. ``log_slipped`` (2, n) are
    the logs of the prior chances of no slip and of one. ``tails`` (3,).
    """
    kinds, log_chance = np.empty((2, 4, len(noise)))
    spread = WIDENING[:, None] * noise
    np.add(spread, reading, out=kinds[:3])
    kinds[3] = kinds[0] + slip
    np.add(np.log(tails)[:, None], log_slipped[0], out=log_chance[:3])
    log_chance[3] = log_slipped[1]
    total = kinds + doubt
    squared = residual**2 / total
    shares = log_chance - 0.5 * (np.log(total) + squared)
    shares = np.exp(shares - np.maximum.reduce(shares))
    shares /= np.add.reduce(shares)
    # Expected squared noise given the residual, each kind scaled back to the usual noise.
    seen = spread / total[:3]
    noisy = shares[:3] * seen
    return Judged(
        shares=shares,
        log_chance=log_chance,
        kinds=kinds,
        variance=1.0 / np.add.reduce(shares / kinds),
        relative=1.0 + np.add.reduce(noisy * (squared[:3] - 1.0)),
        known=np.add.reduce(noisy * seen),
    )


def tail_shares(shares: Array) -> Array:
    """Posterior mean of the kinds' shares among rows that are no slips, shape (3,)."""
    counts = TAIL_PRIOR * TAIL_WEIGHT + np.add.reduce(shares[:3], axis=1)
    found: Array = counts / np.add.reduce(counts)
    return found
