"""The step of a scale, or of a measuring cup, told by the readings themselves.

A reading stands within half a step of what was there. Readings that are all multiples of a step
speak for it: read to a step of s, a weight is as likely to be any multiple of it, so of two steps
that both fit the coarser is the likelier, by the ratio of the two for each reading. One scale may
be changed for another. Method: the forward and backward pass of a hidden Markov chain (Rabiner
1989, Proceedings of the IEEE 77).
"""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.domain.batch import Batch
from jarcast.domain.packing import SoFar
from jarcast.domain.read_only import ReadOnly
from jarcast.domain.stages import AS_BOUGHT, STAGE_COLUMNS
from jarcast.learning.arrays import Array
from jarcast.measures import CUP_ML, OUNCE_G

# Usual steps of scales in g and of cups and marks in ml, and how usual each is. Common practice, no
# source.
_GRAMS = {1.0: 6.0, 2.0: 1.0, 5.0: 6.0, 10.0: 3.0, 20.0: 1.0, 50.0: 1.5, 100.0: 1.5}
_OUNCES = {1 / 8: 1.0, 1.0: 3.0, 2.0: 1.0, 4.0: 1.5, 8.0: 1.0, 16.0: 0.5}
_MILLILITRES = {5.0: 1.0, 10.0: 1.0, 25.0: 1.0, 50.0: 2.0, 100.0: 1.0}
_CUPS = {1 / 8: 1.0, 1 / 4: 8.0, 1 / 2: 4.0, 1.0: 1.0}
_WEIGHTS = _GRAMS | {float(OUNCE_G) * step: chance for step, chance in _OUNCES.items()}
_VOLUMES = _MILLILITRES | {float(CUP_ML) * step: chance for step, chance in _CUPS.items()}
_CHANGED = 0.03  # chance of another scale from a batch to the next; common practice, no source
_MISREAD = 0.02  # chance that a reading is no multiple of its scale's step
_ROUNDED = 0.51  # g or ml that a reading may be off its multiple: written down to the whole one


class Scale(Struct, frozen=True):
    """What is believed of the step of one scale now: steps (s,) in g or ml and their chances."""

    steps: Array
    chances: Array

    @property
    def variance(self) -> float:
        """Variance of one reading about what was there, in g or ml squared."""
        return float(self.chances @ self.steps**2) / 12.0

    def given(self, readings: Sequence[float | None]) -> "Scale":
        """The same after more readings of it, all by one scale."""
        chances = self.chances.copy()
        for reading in readings:
            if reading:
                chances = chances * _likelihood(self.steps, np.array([reading]))[0]
                chances /= chances.sum()
        return Scale(self.steps, chances)

    def draw(self, draws: int, rng: np.random.Generator) -> Array:
        """Draws of the step, shape (draws,)."""
        drawn: Array = rng.choice(self.steps, size=draws, p=self.chances)
        return drawn


def exactly(step: float) -> Scale:
    """A scale whose step is told."""
    return Scale(np.array([step]), np.ones(1))


def usual_weights() -> Scale:
    """A scale for produce of which no reading is known."""
    return _scale(_WEIGHTS)


def usual_cups() -> Scale:
    """Cups and marks for brine of which no reading is known."""
    return _scale(_VOLUMES)


def _scale(usual: Mapping[float, float]) -> Scale:
    chances = np.array(list(usual.values()))
    return Scale(np.array(list(usual)), chances / chances.sum())


def read_side_by_side(
    kitchen: Sequence[tuple[Scale, Sequence[float], Sequence[int]]],
) -> list[tuple[Scale, Array]]:
    """For each instrument the scale after its readings, and each reading's variance, (n,).

    Of each come its usual scale, the readings, oldest first, and their times, which rise: readings
    of one time are by one scale. A hidden Markov chain both ways in time (Rabiner 1989).

    What is expected before each reading, and what all later ones say of its scale, go by one and
    the same rule, so that all of these are carried along together; what an instrument lacks in
    steps or readings is filled up with steps of no chance and readings that tell nothing.
    """
    seen, places = zip(*(_by_time(*one) for one in kitchen), strict=True)
    counts = [len(of_one) for of_one in seen]
    k, most, steps = len(kitchen), max(counts), max(usual.steps.size for usual, _, _ in kitchen)
    like, prior = np.zeros((most, 2 * k, steps)), np.zeros((k, steps))
    for i, ((usual, _, _), of_one) in enumerate(zip(kitchen, seen, strict=True)):
        prior[i, : usual.steps.size] = usual.chances
        for place, in_turn in ((i, of_one), (k + i, of_one[::-1])):
            like[:, place, : usual.steps.size] = 1.0
            like[: counts[i], place, : usual.steps.size] = in_turn
    start, summed = np.vstack((prior, np.ones_like(prior))), np.vstack((np.ones_like(prior), prior))
    going, changed = np.empty((most + 1, 2 * k, steps)), _CHANGED * start
    going[0] = start
    for i in range(most):
        told = going[i] * like[i]
        told *= (1.0 - _CHANGED) / np.einsum("ij,ij->i", told, summed)[:, None]
        np.add(told, changed, out=going[i + 1])
    found = []
    for i, ((usual, _, _), n, place) in enumerate(zip(kitchen, counts, places, strict=True)):
        ahead, back = going[: n + 1, [i, k + i], : usual.steps.size].swapaxes(0, 1)
        both = ahead[:n] * seen[i] * back[:n][::-1]
        both /= both.sum(axis=1, keepdims=True)
        found.append((Scale(usual.steps, ahead[n]), (both @ usual.steps**2 / 12.0)[place]))
    return found


def _by_time(
    usual: Scale, readings: Sequence[float], times: Sequence[int]
) -> tuple[Array, NDArray[np.intp]]:
    """Likelihood of what was read at each time, (times, steps), and the place of each reading."""
    each = _likelihood(usual.steps, np.asarray(readings, dtype=float))
    if not len(each):
        return each, np.zeros(0, dtype=int)
    starts, place = np.unique(times, return_index=True, return_inverse=True)[1:]
    return np.multiply.reduceat(each, starts), place


def _likelihood(steps: Array, readings: Array) -> Array:
    """Likelihood of each reading at each step, (n, s): how many whole grams share a multiple."""
    nearest = np.maximum(np.round(readings[:, None] / steps), 1.0) * steps
    fits = np.abs(readings[:, None] - nearest) <= np.minimum(_ROUNDED, 0.5 * steps)
    return np.asarray((1.0 - _MISREAD) * fits * np.maximum(steps, 1.0) + _MISREAD)


class Instruments(Struct, frozen=True):
    """The scale and the cups of a kitchen, and the variance of each reading recorded.

    ``produce`` in g and ``brine`` in ml are what reads now; ``variance`` holds, by the batch's
    number and the column, that of the step alone, in g or ml squared; ``now`` is that of each
    column's instrument today.
    """

    produce: Scale
    brine: Scale
    variance: Mapping[tuple[int, str], float]
    now: Mapping[str, float] = ReadOnly({})

    def of(self, time: int, column: str) -> float:
        """Variance of the reading in this column of the batch of this number.

        Of one that tells nothing of its scale, such as an empty pot, as is read now.
        """
        found = self.variance.get((time, column))
        return self.now[column] if found is None else found


_BY_SCALE = {  # what is read by the same instrument: big weights often on another scale
    "as bought": (AS_BOUGHT,),
    "ready": tuple(column for column in STAGE_COLUMNS if column != AS_BOUGHT),
    "brine": ("brine_made_ml", "brine_left_ml"),
}


def instruments_of(
    batches: Sequence[Batch],
    packed: Mapping[str, Sequence[SoFar]],
    doubted: Sequence[frozenset[str]],
) -> Instruments:
    """The instruments behind the readings of batches in order of time, notes of packing included.

    A pot left empty (0) tells nothing of a cup, nor does a value in a ``doubted`` column.
    """
    kitchen, of_each = [], []
    for name, columns in _BY_SCALE.items():
        usual = usual_cups() if name == "brine" else usual_weights()
        keys: list[tuple[int, str]] = []
        readings: list[float] = []
        for time, batch in enumerate(batches):
            sure = [column for column in columns if column not in doubted[time]]
            for key, amount in _readings(time, batch, sure, packed.get(batch.batch, ()), name):
                keys.append(key)
                readings.append(amount)
        kitchen.append((usual, readings, [time for time, _ in keys]))
        of_each.append(keys)
    found = read_side_by_side(kitchen)
    variance: dict[tuple[int, str], float] = {}
    now: dict[str, float] = {}
    for columns, keys, (scale, read) in zip(_BY_SCALE.values(), of_each, found, strict=True):
        variance.update(zip(keys, read.tolist(), strict=True))
        now.update(dict.fromkeys(columns, scale.variance))
    (_, _), (produce, _), (brine, _) = found
    return Instruments(produce, brine, variance, now)


def _readings(
    time: int, batch: Batch, columns: Sequence[str], notes: Sequence[SoFar], name: str
) -> Iterator[tuple[tuple[int, str], float]]:
    for column in columns:
        amount = getattr(batch, column)
        if amount:
            yield (time, column), float(amount)
    if name == "as bought":
        return
    noted = ("produce_g", "produce_left_g") if name == "ready" else ("brine_ml", "pot_left_ml")
    for number, note in enumerate(notes):
        for column in noted:
            if amount := getattr(note, column):
                yield (time, f"note {number} {column}"), float(amount)
