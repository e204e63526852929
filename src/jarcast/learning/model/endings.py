"""What became of a batch's last jar, and of produce that never reached a jar.

A count of jars tells how much produce a jar took only by way of how the batch ended. Somebody who
leaves the last jar part full counts its part. Others only ever fill whole jars: the last one is
topped up with brine, or what would go into it is squeezed into the others, or it is eaten. And now
and then a good part of a batch is not jarred at all. Each way it may have gone is a *case*: how
much larger the jars' volume would be at the batch's own density (``volume``), and which share of
the ready produce stands in them (``share``).

Most households keep to one way; how often another ends a batch in which way is a Dirichlet belief.
A count with a part of a jar shows that the last one was left part full; a whole number is what
everybody else writes, and one in two of those who write half jars. Method: Bernardo and Smith,
Bayesian Theory, 1994, section 5.2.
"""

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.learning.arrays import Array

# Prior weights of the ways to end a batch, in batches. Common practice, no source.
PART_FULL, TOPPED_UP, SQUEEZED, EATEN = 0.16, 0.12, 0.12, 0.04
# Chance that a household keeps to none of them.
NO_USUAL_WAY = 0.3  # common practice, no source
# The batches' forecasts rest on one another, and their likelihoods multiplied say too much: the
# product counts by this power (a composite likelihood: Varin, Reid and Firth 2011, Statistica
# Sinica 21). Set by simulation.
TEMPER = 0.35
# So much more in the others is always squeezed in, none is beyond that much: shares of what they
# hold. Of a rest close to a whole jar this share is eaten, of a small one all.
_EASILY, _AT_MOST, _EATEN_FULL = 0.03, 0.16, 0.4  # common practice, no source
# Some of a batch not jarred: so often, and in batches that this belief is worth; so much of it.
NOT_JARRED, NOT_JARRED_WEIGHT = 0.02, 40.0  # common practice, no source
LEAST_MISSING, MOST_MISSING = 0.05, 0.7
_REMAINDERS = (np.arange(3) + 0.5) / 3  # of a jar, middles of equal parts
_CELLS = 8  # of what may not have been jarred, equal in logs
# Kinds of case, in order.
LEFT_PART_FULL, LAST_TOPPED_UP, LAST_SQUEEZED, LAST_EATEN, SOME_MISSING = range(5)
KIND = np.repeat(np.arange(5), [1, *3 * [len(_REMAINDERS)], _CELLS])
CASES = len(KIND)
_EDGES = np.linspace(math.log1p(-LEAST_MISSING), math.log1p(-MOST_MISSING), _CELLS + 1)
_CELL = float(_EDGES[1] - _EDGES[0])
_KEPT = np.exp(0.5 * (_EDGES[1:] + _EDGES[:-1]))  # share of the produce in the jars
_MISSING = _KEPT / _KEPT.sum()  # as likely to be each share missing


class Endings(Struct, frozen=True):
    """Chances of the ways a batch ends: they add up to 1, but for ``not_jarred``, which stands by.

    They are a household's ways; what becomes of a certain rest, ``split`` says.
    """

    part_full: float
    topped_up: float
    squeezed: float
    eaten: float
    not_jarred: float

    def split(self, remainder: Array, jars: Array | float) -> tuple[Array, Array, Array]:
        """Chances of a jar topped up, of squeezing in and of eating, beside a part-full jar's.

        Of a rest of ``remainder`` of a jar over ``jars`` full ones. What cannot be squeezed in, or
        is too much to eat, has a jar, topped up.
        """
        denser = remainder / np.maximum(jars, 0.1)
        goes_in = np.clip((_AT_MOST - denser) / (_AT_MOST - _EASILY), 0.0, 1.0)
        squeezed = self.squeezed * goes_in
        eaten = self.eaten * (1.0 - (1.0 - _EATEN_FULL) * remainder)
        return self.topped_up + self.squeezed + self.eaten - squeezed - eaten, squeezed, eaten


class Cases(Struct, frozen=True):
    """The cases of n batches.

    ``volume`` and ``share`` (n, CASES) as the module says; ``spread`` (n, CASES) is the variance of
    the logarithm of the volume within a case, ``share_spread`` that of the share. ``by_way`` (n, 3,
    CASES) are the chances of the cases for somebody who always tops up, squeezes in, or eats the
    rest; ``written`` (n,) the share of part-full jars that is written as the count is, ``whole``
    (n,) tells whether that is a whole number, and ``told`` (n,) whether it is recorded how much was
    not jarred, so that nothing more is missing.
    """

    volume: Array
    share: Array
    spread: Array
    share_spread: Array
    by_way: Array
    written: Array
    whole: NDArray[np.bool_]
    told: NDArray[np.bool_]

    def log_chance(self, endings: Endings) -> Array:
        """Log chance of each case by a household's endings, (n, CASES)."""
        ways = np.array([endings.topped_up, endings.squeezed, endings.eaten])
        chance = np.tensordot(self.by_way, ways, axes=(1, 0)) * self.whole[:, None]
        chance[:, 0] = endings.part_full * self.written
        # A part-full jar was left part full, also by somebody who says never to.
        chance[~self.whole, 0] = np.maximum(chance[~self.whole, 0], 1e-12)
        chance *= (1.0 - endings.not_jarred) / chance.sum(axis=1, keepdims=True)
        chance[:, KIND == SOME_MISSING] = endings.not_jarred * _MISSING
        chance[np.ix_(self.told, KIND == SOME_MISSING)] = 0.0
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(chance / chance.sum(axis=1, keepdims=True)))


def endings_of(
    counts: Iterable[float],
    step: float,
    whole_jars: bool | None = None,
    seen: "Seen | None" = None,
) -> Endings:
    """Chances for a next batch, given the jars of the batches so far.

    ``step`` is the part of a jar that part-full ones are counted to. ``whole_jars`` is what the
    person said of it, None where nothing was; ``seen`` what weights and brine say of the batches.
    """
    counts = list(counts)
    whole = sum(1 for count in counts if is_whole(count))
    ways = np.array([TOPPED_UP, SQUEEZED, EATEN])
    ways /= ways.sum()
    missing = 0.0
    if seen is not None:
        ways, missing = _usual_way(ways, seen.by_way), seen.not_jarred
    parted = _part_full(whole, len(counts) - whole, step)
    if whole_jars is not None:
        parted = 0.0 if whole_jars else 1.0
    topped, squeezed, eaten = ((1.0 - parted) * ways).tolist()
    not_jarred = (NOT_JARRED * NOT_JARRED_WEIGHT + missing) / (NOT_JARRED_WEIGHT + len(counts))
    return Endings(parted, topped, squeezed, eaten, not_jarred)


def _usual_way(prior: Array, by_way: Array) -> Array:
    """Chances of topping up, squeezing in and eating, given each batch's likelihood by way (n, 3).

    A household has one usual way, or none, and then each as often as people do.
    """
    usual = (1.0 - NO_USUAL_WAY) * prior
    log_weight = np.append(np.log(by_way).sum(axis=0), np.log(by_way @ prior).sum())
    log_weight *= TEMPER
    weight = np.append(usual, NO_USUAL_WAY) * np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    found: Array = weight[:3] + weight[3] * prior
    return found


def is_whole(count: float) -> bool:
    """Whether a count of jars is a whole number."""
    return abs(count - round(count)) < 1e-6


@lru_cache(maxsize=8)  # asked several times of the same history
def _part_full(whole: int, parts: int, step: float) -> float:
    """Chance that the next batch leaves its last jar part full.

    A household always does, never does, or has no usual way. Of the ``whole`` counts k may be
    part-full jars that were rounded; for the last each k is weighed.
    """
    others = TOPPED_UP + SQUEEZED + EATEN
    usual = (1.0 - NO_USUAL_WAY) / (PART_FULL + others)
    always = math.log(usual * PART_FULL) + whole * math.log(step) + parts * math.log1p(-step)
    never = -math.inf if parts else math.log(usual * others)
    k = np.arange(whole + 1.0)
    log_weight = (  # a choice of k, rounded, and the others not, under a Beta belief
        k * math.log(step)
        + parts * math.log1p(-step)
        - np.log(whole + 1.0)
        - _log_beta(k + 1.0, whole - k + 1.0)
        + _log_beta(PART_FULL + parts + k, others + whole - k)
        - _log_beta(PART_FULL, others)
        + math.log(NO_USUAL_WAY)
    )
    log_weight = np.concatenate(([always, never], log_weight))
    now_and_then = (PART_FULL + parts + k) / (PART_FULL + others + whole + parts)
    weight = np.exp(log_weight - log_weight.max())
    return float(weight @ np.concatenate(([1.0, 0.0], now_and_then)) / weight.sum())


def _log_beta(a: NDArray[np.floating] | float, b: NDArray[np.floating] | float) -> Array:
    """Logarithm of the beta function."""
    log_gamma = np.vectorize(math.lgamma, otypes=[float])
    return np.asarray(log_gamma(a) + log_gamma(b) - log_gamma(a + b))


def cases_of(jars: Sequence[float], step: float, told: Sequence[bool] = ()) -> Cases:
    """The cases of batches that filled so many jars, each in jars of its last sort.

    ``step`` is the part of a jar that a part-full one is counted to; ``told`` whether each batch
    says how much was not jarred, none of them where it is empty.
    """
    count = np.asarray(jars, dtype=float)[:, None]
    n, rest, shape = len(_REMAINDERS), _REMAINDERS, (len(count), CASES)
    volume, share, spread, share_spread = np.ones(shape), np.ones(shape), *np.zeros((2, *shape))
    topped, squeezed, eaten, missing = (
        kind == KIND for kind in (LAST_TOPPED_UP, LAST_SQUEEZED, LAST_EATEN, SOME_MISSING)
    )
    volume[:, topped] = np.maximum(count - 1.0 + rest, 0.1) / count
    volume[:, squeezed] = (count + rest) / count
    share[:, eaten] = count / (count + rest)
    share[:, missing] = _KEPT
    cell = (rest[1] - rest[0]) ** 2 / 12.0 / count**2
    spread[:, :1] = step**2 / 12.0 / count**2
    spread[:, topped | squeezed] = cell
    spread[:, missing] = 1.0 / 12.0 / count**2
    share_spread[:, eaten] = cell
    share_spread[:, missing] = _CELL**2 / 12.0
    by_way = np.zeros((len(count), 3, CASES))
    for way in range(3):
        always = Endings(0.0, float(way == 0), float(way == 1), float(way == 2), 0.0)
        by_way[:, way, topped] = always.split(rest, count - 1.0)[0] / n
        _, by_way[:, way, squeezed], by_way[:, way, eaten] = always.split(rest, count)
    by_way[:, :, squeezed | eaten] /= n
    whole = np.array([is_whole(number) for number in jars], dtype=bool)
    return Cases(
        volume, share, spread, share_spread, by_way, np.where(whole, step, 1.0 - step), whole,
        np.array(told, dtype=bool) if len(told) else np.zeros(len(count), dtype=bool),
    )  # fmt: skip


class Seen(Struct, frozen=True):
    """What weights and brine say of how the batches so far ended.

    ``by_way`` (n, 3) are the likelihoods of the whole-jar batches for somebody who always tops up,
    squeezes in, or eats; ``not_jarred`` is the expected number of batches of which some was not.
    """

    by_way: Array
    not_jarred: float


def ways_seen(cases: Cases, log_chance: Array, log_told: Array) -> Seen:
    """What the rows say of the ways: ``log_told`` (n, CASES) log likelihoods of the cases."""
    if not len(log_told):
        return Seen(np.zeros((0, 3)), 0.0)
    like = np.exp(log_told - log_told.max(axis=1, keepdims=True))
    chance = np.exp(log_chance) * like
    missing = chance[:, KIND == SOME_MISSING].sum(axis=1) / chance.sum(axis=1)
    by_way = np.einsum("nwc,nc->nw", cases.by_way, like)[cases.whole]
    return Seen(np.maximum(by_way, 1e-12), float(missing.sum()))
