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
_NEVER = 1e-12  # of a value that the user stands by


class Judged(Struct, frozen=True):
    """Shares of the kinds for each row, and what follows from them.

    ``shares`` (n, 4), the last the chance of a slip; ``variance`` (n,) the noise variance each row
    counts with; ``relative`` (n,) the expected squared noise of the row in units of its noise
    variance; ``known`` (n,) how much each row tells of the noise, 0 to 1; ``price`` what the
    evidence pays for the kinds the rows were given (variational bound, in nats).
    """

    shares: Array
    variance: Array
    relative: Array
    known: Array
    price: float


def judge(
    residual: Array,
    doubt: Array,
    noise: Array,
    reading: Array,
    slip: Array,
    tails: Array,
    sure: Array,
) -> Judged:
    """Judge each row from its residual against the forecast by the others.

    All (n,): ``residual`` and its forecast variance ``doubt``; ``noise`` the usual noise variance;
    ``reading`` the variance of reading; ``slip`` the variance of a slip; ``sure`` whether it is
    known to be none. ``tails`` (3,).
    """
    spread = noise[:, None] * WIDENING
    kinds = np.column_stack([spread + reading[:, None], noise + reading + slip])
    slipped = np.where(sure, _NEVER, SLIP_CHANCE)[:, None]
    chance = np.hstack([tails * (1.0 - slipped), slipped])
    total = kinds + doubt[:, None]
    log_share = np.log(chance) - 0.5 * (np.log(total) + residual[:, None] ** 2 / total)
    log_share -= log_share.max(axis=1, keepdims=True)
    shares = np.exp(log_share)
    shares /= shares.sum(axis=1, keepdims=True)
    variance = 1.0 / (shares / kinds).sum(axis=1)
    # Expected squared noise given the residual, each kind scaled back to the usual noise.
    seen = spread / total[:, :3]
    squared = seen**2 * residual[:, None] ** 2 / spread + (1.0 - seen)
    relative = (shares[:, :3] * squared).sum(axis=1) + shares[:, 3]
    known = (shares[:, :3] * seen**2).sum(axis=1)
    surely = np.maximum(shares, 1e-300)
    price = shares * (np.log(chance) - np.log(surely) - 0.5 * np.log(kinds / variance[:, None]))
    return Judged(shares, variance, relative, known, float(price.sum()))


def tail_shares(shares: Array) -> Array:
    """Posterior mean of the kinds' shares among rows that are no slips, shape (3,)."""
    counts = TAIL_PRIOR * TAIL_WEIGHT + shares[:, :3].sum(axis=0)
    found: Array = counts / counts.sum()
    return found
