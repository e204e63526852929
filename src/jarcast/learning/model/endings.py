"""What became of a batch's last jar, and of produce that never reached a jar.

A count of jars tells how much produce a jar took only by way of how the batch ended. Somebody who
leaves the last jar part full counts its part. Others only ever fill whole jars: the last one is
topped up with brine, or what would go into it is squeezed into the others, or it is eaten. Or it
has a jar of half the size where that will do, topped up, which counts as half a jar or is called by
its own name. And now and then a good part of a batch is not jarred at all. Each way it may have
gone is a *case*: how much larger the jars' volume would be at the batch's own density (``volume``),
and which share of the ready produce stands in them (``share``).

Most households keep to one way; how often another ends a batch in which way is a Dirichlet belief.
Half a jar shows that the last one was left part full, or was a smaller one; another part, that it
was left part full. A whole number is what everybody else writes, and one in two of those who write
half jars. Method: Bernardo and Smith, Bayesian Theory, 1994, section 5.2.
"""

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.domain.last_jar import LastJar
from jarcast.learning.arrays import Array

# Prior weights of the ways to end a batch, in batches. Common practice, no source.
PART_FULL, TOPPED_UP, SQUEEZED, EATEN, SMALLER = 0.16, 0.12, 0.12, 0.04, 0.01
# Chance that a household keeps to none of them.
NO_USUAL_WAY = 0.3  # common practice, no source
# The batches' forecasts rest on one another, and their likelihoods multiplied say too much: the
# product counts by this power (a composite likelihood: Varin, Reid and Firth 2011, Statistica
# Sinica 21). Set by simulation.
TEMPER = 0.35
# So much more in the others is always squeezed in, none is beyond that much: shares of what they
# hold. Of a rest close to a whole jar this share is eaten, of a small one all.
_EASILY, _AT_MOST, _EATEN_FULL = 0.03, 0.16, 0.4  # common practice, no source
# Chances of a last jar of a smaller size by its name for who has other ways (three quarts and just
# one pint), and of a part that is no half for who has smaller jars.
_NAMED, _NOT_HALF = 0.02, 0.02  # common practice, no source
# Nobody takes a lid for a mouthful: the rest, in jars, that is always topped up by who says so.
_WORTH_A_JAR = 0.3  # common practice, no source
_APART = 1.2  # a sort that holds so many times as much is another size, not just another mouth
_HALF = 0.5  # size of a smaller jar, and how often it will do
# Some of a batch not jarred: so often, and in batches that this belief is worth; so much of it.
NOT_JARRED, NOT_JARRED_WEIGHT = 0.02, 40.0  # common practice, no source
LEAST_MISSING, MOST_MISSING = 0.05, 0.7
_REMAINDERS = (np.arange(3) + 0.5) / 3  # of a jar, middles of equal parts
# How much of each part lies above a half, where a smaller jar would not do.
_UPPER = np.clip(_REMAINDERS + 0.5 / 3 - _HALF, 0.0, 1.0 / 3) / (1.0 - _HALF)
_WHOLE = 1e-6  # a count this close to a whole number is one
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

    ``smaller``: the rest has a jar of half the size, topped up, or a whole one. ``least`` is the
    rest in jars that who tops up surely gives a jar; of less, the less the more often it is eaten.

    They are a household's ways; what becomes of a certain rest, ``split`` says.
    """

    part_full: float
    topped_up: float
    squeezed: float
    eaten: float
    not_jarred: float
    smaller: float = 0.0
    least: float = 0.0

    @property
    def without_smaller(self) -> "Endings":
        """Where no smaller jar may be used the rest is left in a part-full one."""
        return replace(self, part_full=self.part_full + self.smaller, smaller=0.0)

    def split(self, remainder: Array, jars: Array | float) -> tuple[Array, Array, Array]:
        """Chances of a jar topped up, of squeezing in and of eating, beside a part-full jar's.

        Of a rest of ``remainder`` of a jar over ``jars`` full ones. What cannot be squeezed in, or
        is too much to eat, has a jar, topped up.
        """
        denser = remainder / np.maximum(jars, 0.1)
        goes_in = np.clip((_AT_MOST - denser) / (_AT_MOST - _EASILY), 0.0, 1.0)
        squeezed = self.squeezed * goes_in
        eaten = self.eaten * (1.0 - (1.0 - _EATEN_FULL) * remainder)
        if self.least:
            eaten = eaten + self.topped_up * _too_little(remainder, self.least)
        return self.topped_up + self.squeezed + self.eaten - squeezed - eaten, squeezed, eaten


def _too_little(remainder: Array, least: float) -> Array:
    """How often such a rest is eaten by who gives a jar to what is more than ``least`` of one."""
    return np.asarray(np.maximum(1.0 - remainder / least, 0.0))


class Cases(Struct, frozen=True):
    """The cases of n batches.

    ``volume`` and ``share`` (n, CASES) as the module says; ``spread`` (n, CASES) is the variance of
    the logarithm of the volume within a case, ``share_spread`` that of the share. ``by_way`` (n, 4,
    CASES) are the chances of what was written and of each case for somebody who always tops up,
    squeezes in, eats the rest, or has smaller jars: these count as topped up. ``written`` (n,) is
    the share of part-full jars that is written as the count is, ``whole`` (n,) tells whether that
    is a whole number, and ``told`` (n,) whether it is recorded how much was not jarred, so that
    nothing more is missing.
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
        ways = np.array([endings.topped_up, endings.squeezed, endings.eaten, endings.smaller])
        chance = np.tensordot(self.by_way, ways, axes=(1, 0))
        if endings.least:
            little = endings.topped_up * _too_little(_REMAINDERS, endings.least)
            moved = self.by_way[:, 0, KIND == LAST_TOPPED_UP] * little
            chance[:, KIND == LAST_TOPPED_UP] -= moved
            chance[:, KIND == LAST_EATEN] += moved
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
    said: LastJar = LastJar.LEARN,
    seen: "Seen | None" = None,
    *,
    named: int = 0,
) -> Endings:
    """Chances for a next batch, given the jars of the batches so far.

    ``step`` is the part of a jar that part-full ones are counted to, ``said`` what the person said
    of the last one; ``seen`` is what weights and brine say of the batches, and so many more as
    ``named`` ended on a jar of a smaller size.
    """
    ended = np.array(list(counts), dtype=float)
    whole = int(_are_whole(ended).sum())
    halves = int(_are_whole(2.0 * ended).sum()) - whole
    ways = np.array([TOPPED_UP, SQUEEZED, EATEN])
    ways /= ways.sum()
    missing = 0.0
    if seen is not None:
        ways, missing = _usual_way(ways, seen.by_way), seen.not_jarred
    parted, smaller = _not_whole(whole, halves, len(ended) - whole - halves, named, step)
    if said is not LastJar.LEARN:
        parted, smaller = float(said is LastJar.PART), float(said is LastJar.SMALLER)
    if said in (LastJar.TOPPED, LastJar.EATEN):
        ways = np.array([float(said is LastJar.TOPPED), 0.0, float(said is LastJar.EATEN)])
    filled = max(1.0 - parted - smaller, 0.0)  # rounding may take it a little below
    topped, squeezed, eaten = (filled * ways).tolist()
    batches = len(ended) + named
    not_jarred = (NOT_JARRED * NOT_JARRED_WEIGHT + missing) / (NOT_JARRED_WEIGHT + batches)
    least = _WORTH_A_JAR if said is LastJar.TOPPED else 0.0
    return Endings(parted, topped, squeezed, eaten, not_jarred, smaller, least)


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


def _are_whole(counts: Array) -> NDArray[np.bool_]:
    """Which counts of jars are whole numbers."""
    return np.asarray(np.abs(counts - np.round(counts)) < _WHOLE)


def last_size(first_ml: float, last_ml: float) -> float:
    """The size of a smaller last jar in jars of the last sort: half of one, or a whole one where
    the first sort is larger by more than another mouth makes it.
    """
    return 1.0 if first_ml > _APART * last_ml else _HALF


@lru_cache(maxsize=8)  # asked several times of the same history
def _not_whole(
    whole: int, halves: int, others: int, named: int, step: float
) -> tuple[float, float]:
    """Chances that the next batch leaves its last jar part full, and that of a smaller jar.

    A household always does the one, always has the other, fills whole jars, or has no usual way,
    and then it is part full or whole. There were so many whole counts, with half a jar, with
    ``others`` of its parts, and that ended on a smaller jar by name. Of the whole counts k may be
    part-full jars that were rounded; for the last each k is weighed.
    """
    full, parts = TOPPED_UP + SQUEEZED + EATEN, halves + others
    usual = (1.0 - NO_USUAL_WAY) / (PART_FULL + full + SMALLER)
    of_parts = parts * math.log1p(-step)
    always = whole * math.log(step) + of_parts + named * math.log(_NAMED)
    never = -math.inf if parts else named * math.log(_NAMED)
    smaller = (whole + halves + named) * math.log(_HALF) + others * math.log(_NOT_HALF)
    k = np.arange(whole + 1.0)
    log_weight = (  # a choice of k, rounded, and the others not, under a Beta belief
        k * math.log(step)
        + of_parts
        + named * math.log(_NAMED)
        - np.log(whole + 1.0)
        - _log_beta(k + 1.0, whole - k + 1.0)
        + _log_beta(PART_FULL + parts + k, full + whole - k)
        - _log_beta(PART_FULL, full)
        + math.log(NO_USUAL_WAY)
    )
    kept = np.array([always, never, smaller]) + np.log(usual * np.array([PART_FULL, full, SMALLER]))
    log_weight = np.concatenate((kept, log_weight))
    now_and_then = (PART_FULL + parts + k) / (PART_FULL + full + whole + parts)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    return float(weight[0] + weight[3:] @ now_and_then), float(weight[2])


def _log_beta(a: NDArray[np.floating] | float, b: NDArray[np.floating] | float) -> Array:
    """Logarithm of the beta function."""
    log_gamma = np.vectorize(math.lgamma, otypes=[float])
    return np.asarray(log_gamma(a) + log_gamma(b) - log_gamma(a + b))


def cases_of(
    jars: Sequence[float],
    step: float,
    told: Sequence[bool] = (),
    counted: Sequence[float] | None = None,
) -> Cases:
    """The cases of batches that filled so many jars, each in jars of its last sort.

    ``step`` is the part of a jar that a part-full one is counted to; ``told`` whether each batch
    says how much was not jarred, none of them where it is empty. ``counted`` are the counts that
    show how each ended, where the jars are not all of one sort: of those ``jars`` is no count.
    """
    count = np.asarray(jars, dtype=float)[:, None]
    ended = count[:, 0] if counted is None else np.asarray(counted, dtype=float)
    whole, half = _are_whole(ended), _are_whole(2.0 * ended)
    size = np.where(whole, 1.0, _HALF)[:, None]  # of the last jar, where that is not part full
    n, rest, shape = len(_REMAINDERS), _REMAINDERS, (len(count), CASES)
    volume, share, spread, share_spread = np.ones(shape), np.ones(shape), *np.zeros((2, *shape))
    topped, squeezed, eaten, missing = (
        kind == KIND for kind in (LAST_TOPPED_UP, LAST_SQUEEZED, LAST_EATEN, SOME_MISSING)
    )
    volume[:, topped] = np.maximum(count - size + size * rest, 0.1) / count
    volume[:, squeezed] = (count + rest) / count
    share[:, eaten] = count / (count + rest)
    share[:, missing] = _KEPT
    cell = (rest[1] - rest[0]) ** 2 / 12.0 / count**2
    spread[:, :1] = step**2 / 12.0 / count**2
    spread[:, topped] = cell * size**2
    spread[:, squeezed] = cell
    spread[:, missing] = 1.0 / 12.0 / count**2
    share_spread[:, eaten] = cell
    share_spread[:, missing] = _CELL**2 / 12.0
    by_way = np.zeros((len(count), 4, CASES))
    for way in range(3):
        always = Endings(0.0, float(way == 0), float(way == 1), float(way == 2), 0.0)
        by_way[:, way, topped] = always.split(rest, count - 1.0)[0] / n
        _, by_way[:, way, squeezed], by_way[:, way, eaten] = always.split(rest, count)
    by_way[:, :, squeezed | eaten] /= n
    by_way *= whole[:, None, None]
    by_way[:, 3, topped] = _HALF * np.where(whole[:, None], _UPPER, half[:, None] / n)
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
    by_way = np.einsum("nwc,nc->nw", cases.by_way[:, :3], like)[cases.whole]
    return Seen(np.maximum(by_way, 1e-12), float(missing.sum()))
