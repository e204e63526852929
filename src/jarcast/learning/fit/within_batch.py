"""How the jars of one batch differ, learned from notes made while packing.

Between two notes some jars were filled with some produce: a stretch. Its mean log density lies off
the batch's by the jar-to-jar sd over the root of the number of jars, and by a slope: packers tire,
and later jars come out looser. The batch's own density cancels, and with it the spread between
batches.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.jars import Jar
from jarcast.domain.packing import SoFar
from jarcast.domain.stages import too_heavy
from jarcast.learning.arrays import Array
from jarcast.learning.model.circumstances import Circumstances, ready_weight
from jarcast.learning.model.scales import Instruments
from jarcast.learning.model.weight_rows import SCALE_SHARE
from jarcast.learning.posterior import Noise

PRIOR_DOF = (
    16.0  # differences between jars that the prior spread is worth; common practice, no source
)
# Change of log density from one jar to the next: the chance that a person's jars stay as they
# were, and mean and sd of the change in people whose jars do not. Common practice, no source; that
# packers tire, and that their later jars are looser, is what they say themselves.
STEADY = 0.8
SLOPE_MEAN, SLOPE_SD = -0.001, 0.007
# So many jars from the middle of a batch the slope goes on; packers tire no further.
FARTHEST_JARS = 20.0  # common practice, no source
# A squared residual counts as so many variances at most: a slip teaches little.
_FARTHEST = 9.0
_ITERATIONS = 5
# Sd in jars of a part-full last jar that was counted, and of a whole one that may hold less, or of
# which the rest was squeezed into others.
_PART_JAR, _LAST_JAR = 0.15, 0.3


class Stretch(Struct, frozen=True):
    """Jars filled from one note to the next: their mean log density and its variance of reading.

    ``middle`` is the number of the jar in their midst, ``jars`` how many they are.
    """

    log_density: float
    jars: float
    middle: float
    reading: float


class Mark(Struct, frozen=True):
    """A point in the packing of a batch: jars filled, the produce in them, and both their doubts.

    ``variance`` is that of the weight, in g squared; ``jars_sd`` that of a part-full jar by eye.
    """

    jars: float
    produce_g: float
    variance: float
    jars_sd: float = 0.0


class WithinBatch(Struct, frozen=True):
    """How jars of one batch differ: log density from jar to jar, and its slope along the batch.

    ``noise`` is the variance about the slope; ``slope`` and ``slope_sd`` are the change from one
    jar to the next and how well it is known, of a packer whose jars change; ``steady`` is the
    chance that they do not.
    """

    noise: Noise
    slope: float
    slope_sd: float
    steady: float = 0.0

    def given(self, stretches: Sequence[Stretch]) -> "WithinBatch":
        """The same after the stretches of one batch; it takes two to tell of the slope."""
        slope, sd = _slope(
            [_columns(stretches)], self.noise.variance, self.slope, self.slope_sd, self.slope
        )
        steady = _steady(self.steady, (self.slope, self.slope_sd), (slope, sd))
        return WithinBatch(self.noise, slope, sd, steady)

    def draw_slope(self, draws: int, rng: np.random.Generator) -> Array:
        """Draws of the change of log density from one jar to the next, shape (draws,)."""
        slope = self.slope + self.slope_sd * rng.standard_normal(draws)
        return np.where(rng.random(draws) < self.steady, 0.0, slope)


def jars_within(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    packed: Mapping[str, Sequence[SoFar]],
    usual: float,
    shelf: Mapping[str, Jar],
    instruments: Instruments,
) -> WithinBatch:
    """Learn from the notes of each batch, ``packed`` by its name and in order.

    ``usual`` is the prior sd from jar to jar. Its variance has an inverse-gamma posterior, the
    slope a normal one, one given the other in turn. Method: Gelman et al., Bayesian Data Analysis,
    3rd ed., section 3.2.
    """
    noted = []
    for time, (batch, case) in enumerate(zip(batches, cases, strict=True)):
        if notes := packed.get(batch.batch):
            found = _between_notes(batch, time, case, notes, shelf, instruments)
            if len(found) > 1:
                noted.append(_columns(found))
    variance, dof, slope, slope_sd = usual**2, PRIOR_DOF, SLOPE_MEAN, SLOPE_SD
    for _ in range(_ITERATIONS if noted else 0):
        slope, slope_sd = _slope(noted, variance, SLOPE_MEAN, SLOPE_SD, slope)
        told = np.sum([_told(found, variance, slope) for found in noted], axis=0)
        dof = PRIOR_DOF + float(told[1])
        variance = (PRIOR_DOF * usual**2 + float(told[0])) / dof
    steady = _steady(STEADY, (SLOPE_MEAN, SLOPE_SD), (slope, slope_sd))
    return WithinBatch(Noise(variance, dof), slope, slope_sd, steady)


def _columns(stretches: Sequence[Stretch]) -> Array:
    """Log densities, jars, middles and variances of reading, (4, stretches)."""
    found = [(s.log_density, s.jars, s.middle, s.reading) for s in stretches]
    return np.array(found).reshape(-1, 4).T


def _weights(found: Array, variance: float) -> Array:
    weight: Array = variance / (variance / found[1] + found[3])
    return weight


def _slope(
    noted: Sequence[Array], variance: float, mean: float, sd: float, now: float
) -> tuple[float, float]:
    """Mean and sd of the slope, given the jar-to-jar variance, from batches of unknown density.

    ``mean`` and ``sd`` are the prior's; ``now`` is what is taken for the slope so far.
    """
    precision, pull = 1.0 / sd**2, mean / sd**2
    for found in noted:
        weight = _weights(found, variance)
        if weight.size < 2:
            continue
        off = found[2] - weight @ found[2] / weight.sum()
        seen = _pulled(found[0], now * found[2], weight, variance)
        precision += float(weight @ off**2) / variance
        pull += float((weight * off) @ seen) / variance
    return pull / precision, 1.0 / np.sqrt(precision)


def _steady(chance: float, before: tuple[float, float], after: tuple[float, float]) -> float:
    """The chance of no slope at all, where a slope's mean and sd went from ``before`` to ``after``.

    The odds change by the ratio of the two densities at 0 (Dickey 1971, Annals of Mathematical
    Statistics 42, 204-223; from memory).
    """
    if not 0.0 < chance < 1.0:
        return chance
    at_zero = [-0.5 * (mean / sd) ** 2 - math.log(sd) for mean, sd in (before, after)]
    log_odds = math.log(chance / (1.0 - chance)) + at_zero[1] - at_zero[0]
    return 1.0 / (1.0 + math.exp(-min(max(log_odds, -30.0), 30.0)))


def _pulled(log_density: Array, due: Array, weight: Array, variance: float) -> Array:
    """Log densities, those far from what is due cut short."""
    off = log_density - due
    middle = float(np.median(off))
    farthest = np.sqrt(_FARTHEST * variance / weight)
    pulled: Array = due + np.clip(off, middle - farthest, middle + farthest)
    return pulled


def _told(found: Array, variance: float, slope: float) -> tuple[float, float]:
    """What one batch's stretches tell of the variance: squares about its line, and their number.

    A stretch counts by the share of its variance that is the jars' own, squared: one in doubt by
    its reading tells next to nothing (Fisher's scoring of a variance component).
    """
    weight = _weights(found, variance)
    due = slope * found[2]
    off = _pulled(found[0], due, weight, variance) - due
    residual = off - weight @ off / weight.sum()
    known = (weight / found[1]) ** 2
    squares = float((known * weight * residual**2).sum())
    return squares, float((known * (1.0 - weight / weight.sum())).sum())


def _between_notes(
    batch: Batch,
    time: int,
    case: Circumstances,
    notes: Sequence[SoFar],
    shelf: Mapping[str, Jar],
    instruments: Instruments,
) -> list[Stretch]:
    """The stretches of a finished batch."""
    ready = ready_weight(batch, case)
    whole = None if ready is None else ready + (batch.not_jarred_g or 0.0)
    marks = [Mark(0.0, 0.0, 0.0)]
    for number, note in enumerate(notes):
        column, grams = "produce_g", note.produce_g
        if grams is None and note.produce_left_g is not None and whole is not None:
            column, grams = "produce_left_g", whole - note.produce_left_g
        if grams is not None and _can_be(note, grams, batch, whole):
            step = note.produce_step_g
            told = instruments.variance.get((time, f"note {number} {column}"), 0.0)
            marks.append(Mark(note.jars, grams, told if step is None else step**2 / 12.0))
    if ready is not None:
        # A whole number of jars may be one whose last was topped up, or took more than its share.
        ended = _PART_JAR if case.counted % 1 else _LAST_JAR
        marks.append(Mark(batch.total_jars, ready, instruments.produce.variance, ended))

    def volume(jars: float) -> float:
        return _volume(batch, jars, shelf)

    return stretches(marks, volume)


def stretches(marks: Sequence[Mark], volume: Callable[[float], float]) -> list[Stretch]:
    """Stretches from each mark to the next; ``volume`` is that in ml of the first so many jars."""
    found = []
    for one, two in pairwise(marks):
        jars, packed = two.jars - one.jars, two.produce_g - one.produce_g
        room = volume(two.jars) - volume(one.jars)
        if jars < 0.5 or packed <= 0.0 or room <= 0.0:
            continue
        counted = (one.jars_sd**2 + two.jars_sd**2) / jars**2
        reading = (one.variance + two.variance) / packed**2 + 2.0 * SCALE_SHARE**2 + counted
        middle = 0.5 * (one.jars + two.jars + 1.0)
        found.append(Stretch(float(np.log(packed / room)), jars, middle, reading))
    return found


def _can_be(note: SoFar, grams: float, batch: Batch, ready: float | None) -> bool:
    """Whether a note fits the finished batch; one with a slip of the pen teaches nothing."""
    if note.jars > batch.total_jars + 0.5 or grams <= 0.0:
        return False
    return ready is None or not too_heavy(grams, ready)


def _volume(batch: Batch, jars: float, shelf: Mapping[str, Jar]) -> float:
    """Fill volume in ml of a batch's first jars, its sorts being filled in their order."""
    volume = 0.0
    for key, count in zip(batch.jar, batch.jars, strict=True):
        filled = min(jars, count)
        volume += filled * shelf[key].fill_volume_ml(batch.headspace_in)
        jars -= filled
    return volume
