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
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.learning.arrays import Array

WIDENING = np.array([1.0, 5.0, 25.0])  # noise variance of each kind, in units of the usual
_USUAL_NOISE = np.append(WIDENING, 1.0)  # beside a slip a row has its usual noise
_KINDS = len(_USUAL_NOISE)
TAIL_PRIOR = np.array([0.96, 0.035, 0.005])
# Noise variance over all kinds, in units of the usual kind's.
TAIL_WIDENING = float(TAIL_PRIOR @ WIDENING)
TAIL_WEIGHT = 20.0  # rows the prior is worth
SLIP_CHANCE = 0.015  # a value in a hundred or two; common practice, no source
NO_SLIP = 1e-12  # for a value that the user has confirmed
FAINTEST = 1e3  # a site's variance, at most, in units of the row's whole variance
_LOG_2PI = math.log(2.0 * math.pi)
_NOTHING = -690.0  # log of a chance that is next to none, and whose exponential is no subnormal
_AT_A_TIME = 256  # rows: what is worked on stays in the processor's cache


def usual_variance(sd: float) -> float:
    """Noise variance of the usual kind, where ``sd`` is that over all kinds."""
    return sd**2 / TAIL_WIDENING


class Rows(Struct, frozen=True, dict=True):
    """What the rows of a block say, whatever the coefficients.

    ``y`` (n,) are the targets; ``shift`` (n, G) moves them in each case, ``reading`` (n, G) is the
    variance of the error of reading there, ``log_case`` (n, G) the case's log chance. ``slip`` (n,)
    is the variance of a slip, ``log_slipped`` (2, n) the log chances of no slip and of one.
    ``ceiling`` (n,) marks targets that are upper bounds. ``seldom`` (G,) marks cases so seldom that
    they are taken with the usual noise alone: both at once would be next to never.
    """

    y: Array
    shift: Array
    reading: Array
    log_case: Array
    slip: Array
    log_slipped: Array
    ceiling: Array
    seldom: NDArray[np.bool_]

    @cached_property
    def parts(self) -> "tuple[tuple[slice, Rows], ...]":
        """The rows a few at a time, with their places."""
        ends = (slice(i, i + _AT_A_TIME) for i in range(0, len(self.y), _AT_A_TIME))
        return tuple(
            (at, Rows(
                self.y[at], self.shift[at], self.reading[at], self.log_case[at], self.slip[at],
                self.log_slipped[:, at], self.ceiling[at], self.seldom,
            ))
            for at in ends
        )  # fmt: skip

    @cached_property
    def possible(self) -> "Ways":
        """The cases that can be, each with the kinds of noise it may have."""
        return self.ways(self.log_case > -np.inf)

    def ways(self, can_be: NDArray[np.bool_]) -> "Ways":
        """These cases (n, G), each with the kinds of noise it may have."""
        each = np.repeat(can_be[:, None], _KINDS, axis=1)
        each[:, 1:, self.seldom] = False
        row, kind, case = each.nonzero()
        return Ways(
            each,
            kind * len(self.y) + row,
            row,
            np.searchsorted(row, np.arange(len(self.y))),
            np.searchsorted(row * _KINDS + kind, np.arange(len(self.y) * _KINDS)),
            self.shift[row, case],
            self.reading[row, case],
            self.log_case[row, case],
            self.ceiling[row].nonzero()[0],
        )


class Ways(Struct, frozen=True):
    """The m ways in which n rows may have come about, side by side: a kind of noise and a case.

    ``each`` (n, 4, G) tells which there are, in that order; after a part-full jar it is half of
    the cases. ``at`` (m,) is each way's place in values (4, n), ``row`` (m,) its row; ``start``
    (n,) is where a row's begin, ``of_kind`` (4n,) where those of each of its kinds do. The others
    (m,) are as in ``Rows``, and ``ceiling`` (k,) names the upper bounds.
    """

    each: NDArray[np.bool_]
    at: NDArray[np.intp]
    row: NDArray[np.intp]
    start: NDArray[np.intp]
    of_kind: NDArray[np.intp]
    shift: Array
    reading: Array
    log_case: Array
    ceiling: NDArray[np.intp]

    def off(self, rows: Rows, forecast: Array) -> Array:
        """How far each way is off its row's forecast, (m,)."""
        found: Array = (rows.y - forecast).take(self.row) + self.shift
        return found

    def summed(self, values: Array) -> Array:
        """Values (m,) summed over each row, (n,)."""
        return np.add.reduceat(values, self.start)

    def by_kind(self, values: Array) -> Array:
        """Values (m,) summed over each kind of noise of each row, (4, n)."""
        return np.add.reduceat(values, self.of_kind).reshape(-1, _KINDS).T


class Sites(Struct, frozen=True):
    """The sites of n rows, and what came out beside them.

    ``y`` and ``variance`` (n,) are the normal readings. ``responsibilities`` (4, n) of the kinds of
    noise, that of a slip last. ``relative`` (n,) is a row's expected squared noise in units of its
    usual noise variance, ``known`` (n,) how much it tells of the noise, 0 to 1. ``evidence`` is
    what the mixtures add to the log evidence of the normal readings, in nats.
    """

    y: Array
    variance: Array
    responsibilities: Array
    relative: Array
    known: Array
    evidence: float


def find_sites(rows: Rows, forecast: Array, predictive: Array, noise: Array, tails: Array) -> Sites:
    """Sites by the rows' forecasts from all the other rows.

    All (n,): ``forecast`` and its variance ``predictive``, the usual ``noise`` variance; ``tails``
    (3,) the shares of the kinds of noise but slips.
    """
    if len(rows.y) > _AT_A_TIME:
        return _joined([
            find_sites(part, forecast[at], predictive[at], noise[at], tails)
            for at, part in rows.parts
        ])  # fmt: skip
    ways = rows.possible
    kinds, log_kind = _kinds(rows, noise, tails)
    total = (kinds + predictive).take(ways.at) + ways.reading
    off = ways.off(rows, forecast)
    log_like, pull, shrink, square, sharp = _moments(off, total, ways.ceiling)
    log_joint = log_like + log_kind.take(ways.at) + ways.log_case
    top = np.maximum.reduceat(log_joint, ways.start)
    # Of a row in units of ``mass``. What is next to nothing is kept clear of underflow: it is slow.
    joint = np.exp(np.maximum(log_joint - top.take(ways.row), _NOTHING))
    responsibilities = ways.by_kind(joint)
    mass = responsibilities.sum(axis=0)
    # The forecast's mean moves by predictive * slope, its variance falls by predictive^2 * bend.
    slope = ways.summed(joint * pull) / mass
    moved = pull - slope.take(ways.row)
    bend = ways.summed(joint * (shrink - moved * moved)) / mass
    whole = predictive + noise + rows.reading[:, 0]
    bend = np.maximum(bend, 1.0 / (predictive + FAINTEST * whole))
    log_normal = -0.5 * (np.log(2.0 * math.pi / bend) + slope**2 / bend)
    # Expected squared noise given the row, each kind scaled back to the usual noise; not of slips.
    kinds[-1] = 0.0
    seen = kinds.take(ways.at) / total
    noisy = joint * seen
    return Sites(
        y=forecast + slope / bend,
        variance=1.0 / bend - predictive,
        responsibilities=responsibilities / mass,
        relative=1.0 + ways.summed(noisy * (square - 1.0)) / mass,
        known=ways.summed(noisy * seen * sharp) / mass,
        evidence=float((top + np.log(mass) - log_normal).sum()),
    )


def _joined(parts: Sequence[Sites]) -> Sites:
    """The sites of rows in parts."""

    def together(name: str) -> Array:
        return np.concatenate([getattr(part, name) for part in parts], axis=-1)

    return Sites(
        y=together("y"),
        variance=together("variance"),
        responsibilities=together("responsibilities"),
        relative=together("relative"),
        known=together("known"),
        evidence=math.fsum(part.evidence for part in parts),
    )


def judge_cases(
    rows: Rows, forecast: Array, predictive: Array, noise: Array, tails: Array
) -> tuple[Array, Array]:
    """Chance of each case of each row, and the log likelihood of each, both (n, G).

    Asked as ``find_sites``. A case that cannot be has a likelihood all the same.
    """
    if len(rows.y) > _AT_A_TIME:
        parts = [
            judge_cases(part, forecast[at], predictive[at], noise[at], tails)
            for at, part in rows.parts
        ]
        chances, told = (np.concatenate(found) for found in zip(*parts, strict=True))
        return chances, told
    ways = rows.ways(np.ones(rows.shift.shape, dtype=bool))
    kinds, log_kind = _kinds(rows, noise, tails)
    total = (kinds + predictive).take(ways.at) + ways.reading
    log_told = np.full(ways.each.shape, -np.inf)
    log_told[ways.each] = log_kind.take(ways.at)
    log_told[ways.each] += _moments(ways.off(rows, forecast), total, ways.ceiling)[0]
    told = log_told.max(axis=1)
    told = told + np.log(np.exp(log_told - told[:, None]).sum(axis=1))
    chances = told + rows.log_case
    chances = np.exp(chances - chances.max(axis=1, keepdims=True))
    return chances / chances.sum(axis=1, keepdims=True), told


def _kinds(rows: Rows, noise: Array, tails: Array) -> tuple[Array, Array]:
    """Noise variance of each kind, and the log chance of each, both (4, n)."""
    kinds = _USUAL_NOISE[:, None] * noise
    kinds[-1] += rows.slip
    log_kind = rows.log_slipped.take((0, 0, 0, 1), axis=0)
    log_kind[:-1] += np.log(tails)[:, None]
    return kinds, log_kind


def _moments(
    off: Array, total: Array, ceiling: NDArray[np.intp]
) -> tuple[Array, Array, Array, Array, Array | float]:
    """For rows off their forecast by ``off`` (m,), with variance ``total`` (m,).

    Log likelihood; how it pulls the mean and shrinks the variance, in units of ``predictive`` and
    its square; the expected square of the standardised row; how sharply it is known. ``ceiling``
    (k,) are the places of upper bounds.
    """
    shrink = 1.0 / total
    pull = off * shrink
    square = off * pull
    log_like = 0.5 * (np.log(shrink) - square - _LOG_2PI)
    if not ceiling.size:
        return log_like, pull, shrink, square, 1.0
    # Truncated normals: the row lies below its target.
    size = np.sqrt(shrink[ceiling])
    at = np.clip(off[ceiling] * size, -30.0, 30.0)
    below = np.maximum(0.5 * _erfc(-at / math.sqrt(2.0)), 1e-300)
    hazard = np.exp(-0.5 * at * at) / math.sqrt(2.0 * math.pi) / below
    known = np.clip(hazard * (hazard + at), 0.0, 1.0)
    log_like[ceiling] = np.log(below)
    pull[ceiling] = -hazard * size
    shrink[ceiling] *= known
    square[ceiling] = 1.0 - at * hazard
    sharp = np.ones_like(total)
    sharp[ceiling] = known
    return log_like, pull, shrink, square, sharp


def _erfc(values: Array) -> Array:
    """The complementary error function; numpy has none, and scipy takes long to load."""
    return np.fromiter(map(math.erfc, values.tolist()), dtype=float, count=values.size)


def tail_shares(responsibilities: Array) -> Array:
    """Posterior mean of the kinds' shares among the rows that are no slips, shape (3,)."""
    counts = TAIL_PRIOR * TAIL_WEIGHT + responsibilities[:3].sum(axis=1)
    found: Array = counts / counts.sum()
    return found
