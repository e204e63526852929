"""What each row says of the coefficients, as one normal reading: its site.

A row's noise is of one of four kinds: usual, wide, very wide, or a slip of the pen, whose size has
nothing to do with the batch. A row may also have come about in one of several cases, each of which
moves its target; and it may be only an upper bound. Its likelihood is then a mixture. The row's
forecast from all the others (left out itself, so that a slip in the only batch of a crop cannot
explain itself) times that likelihood has a mean and a variance, and the normal reading that gives
the same two is the row's site (expectation propagation: Minka 2001, UAI; Rasmussen and Williams,
Gaussian Processes for Machine Learning, 2006, section 3.6). A row whose cases disagree says little;
no choice between them is made.
"""

import math

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
FAINTEST = 1e3  # a site's variance, at most, in units of the row's whole variance
_ERFC = np.vectorize(math.erfc, otypes=[float])


def usual_variance(sd: float) -> float:
    """Noise variance of the usual kind, where ``sd`` is that over all kinds."""
    return sd**2 / TAIL_WIDENING


class Rows(Struct, frozen=True):
    """What the rows of a block say, whatever the coefficients.

    ``y`` (n,) are the targets; ``shift`` (n, G) moves them in each case, ``reading`` (n, G) is the
    variance of the error of reading there, ``log_case`` (n, G) the case's log chance. ``slip`` (n,)
    is the variance of a slip, ``log_slipped`` (2, n) the log chances of no slip and of one.
    ``ceiling`` (n,) marks targets that are upper bounds.
    """

    y: Array
    shift: Array
    reading: Array
    log_case: Array
    slip: Array
    log_slipped: Array
    ceiling: Array


class Sites(Struct, frozen=True):
    """The sites of n rows, and what came out beside them.

    ``y`` and ``variance`` (n,) are the normal readings. ``responsibilities`` (4, n) of the kinds of
    noise, that of a slip last; ``cases`` (n, G) those of the cases and ``told`` (n, G) the log
    likelihood of each. ``relative`` (n,) is a row's expected squared noise in units of its usual
    noise variance, ``known`` (n,) how much it tells of the noise, 0 to 1. ``evidence`` is what the
    mixtures add to the log evidence of the normal readings, in nats.
    """

    y: Array
    variance: Array
    responsibilities: Array
    cases: Array
    told: Array
    relative: Array
    known: Array
    evidence: float


def find_sites(rows: Rows, forecast: Array, predictive: Array, noise: Array, tails: Array) -> Sites:
    """Sites by the rows' forecasts from all the other rows.

    All (n,): ``forecast`` and its variance ``predictive``, the usual ``noise`` variance; ``tails``
    (3,) the shares of the kinds of noise but slips.
    """
    spread = WIDENING[:, None] * noise
    kinds = np.concatenate((spread, spread[:1] + rows.slip))  # (4, n)
    log_kind = np.concatenate((np.log(tails)[:, None] + rows.log_slipped[0], rows.log_slipped[1:]))
    total = kinds[:, :, None] + rows.reading + predictive[:, None]  # (4, n, G)
    off = (rows.y - forecast)[:, None] + rows.shift
    log_like, pull, shrink, square, sharp = _moments(off, total, rows.ceiling)
    log_told = log_kind[:, :, None] + log_like
    log_joint = log_told + rows.log_case
    top = log_joint.max(axis=(0, 2))
    joint = np.exp(log_joint - top[:, None])
    mass = joint.sum(axis=(0, 2))
    joint /= mass[:, None]
    # The forecast's mean moves by predictive * slope, its variance falls by predictive^2 * bend.
    slope = (joint * pull).sum(axis=(0, 2))
    bend = (joint * (shrink - (pull - slope[:, None]) ** 2)).sum(axis=(0, 2))
    whole = predictive + noise + rows.reading[:, 0]
    bend = np.maximum(bend, 1.0 / (predictive + FAINTEST * whole))
    variance = 1.0 / bend - predictive
    y = forecast + slope / bend
    log_normal = -0.5 * (np.log(2.0 * math.pi / bend) + slope**2 / bend)
    # Expected squared noise given the row, each kind scaled back to the usual noise.
    seen = spread[:, :, None] / total[:3]
    noisy = joint[:3] * seen
    told = log_told.max(axis=0)
    told = told + np.log(np.exp(log_told - told).sum(axis=0))
    return Sites(
        y=y,
        variance=variance,
        responsibilities=joint.sum(axis=2),
        cases=joint.sum(axis=0),
        told=told,
        relative=1.0 + (noisy * (square[:3] - 1.0)).sum(axis=(0, 2)),
        known=(noisy * seen * sharp[:3]).sum(axis=(0, 2)),
        evidence=float((top + np.log(mass) - log_normal).sum()),
    )


def _moments(off: Array, total: Array, ceiling: Array) -> tuple[Array, Array, Array, Array, Array]:
    """For rows off their forecast by ``off`` (n, G), with variance ``total`` (4, n, G).

    Log likelihood; how it pulls the mean and shrinks the variance, in units of ``predictive`` and
    its square; the expected square of the standardised row; how sharply it is known.
    """
    z = off / np.sqrt(total)
    square = z * z
    log_like = -0.5 * (np.log(2.0 * math.pi * total) + square)
    pull, shrink, sharp = off / total, 1.0 / total, np.ones_like(total)
    if ceiling.any():
        # Truncated normals: the row lies below its target.
        at = np.clip(z[:, ceiling], -30.0, 30.0)
        below = 0.5 * _ERFC(-at / math.sqrt(2.0))
        hazard = np.exp(-0.5 * at * at) / math.sqrt(2.0 * math.pi) / np.maximum(below, 1e-300)
        known = np.clip(hazard * (hazard + at), 0.0, 1.0)
        log_like[:, ceiling] = np.log(np.maximum(below, 1e-300))
        pull[:, ceiling] = -hazard / np.sqrt(total[:, ceiling])
        shrink[:, ceiling] = known / total[:, ceiling]
        square[:, ceiling] = 1.0 - at * hazard
        sharp[:, ceiling] = known
    return log_like, pull, shrink, square, sharp


def tail_shares(responsibilities: Array) -> Array:
    """Posterior mean of the kinds' shares among the rows that are no slips, shape (3,)."""
    counts = TAIL_PRIOR * TAIL_WEIGHT + responsibilities[:3].sum(axis=1)
    found: Array = counts / counts.sum()
    return found
