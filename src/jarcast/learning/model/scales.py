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

from jarcast.domain.batch import Batch
from jarcast.domain.packing import SoFar
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


def read_by(
    usual: Scale, readings: Sequence[float], times: Sequence[int] | None = None
) -> tuple[Scale, Array]:
    """The scale after these readings, oldest first, and each reading's variance, (n,).

    Readings of the same of ``times``, which rise, are by one scale; without them each is apart.
    """
    each = _likelihood(usual.steps, np.asarray(readings, dtype=float))
    if not len(each):
        return usual, np.zeros(0)
    starts, of = np.unique(range(len(each)) if times is None else times, return_index=True,
                           return_inverse=True)[1:]  # fmt: skip
    seen = np.multiply.reduceat(each, starts)
    n, prior = len(seen), usual.chances
    ahead, back = np.empty((n + 1, prior.size)), np.ones((n + 1, prior.size))
    ahead[0] = prior
    for i in range(n):
        told = ahead[i] * seen[i]
        ahead[i + 1] = (1.0 - _CHANGED) * told / told.sum() + _CHANGED * prior
    for i in range(n - 1, -1, -1):
        told = back[i + 1] * seen[i]
        told = (1.0 - _CHANGED) * told + _CHANGED * (prior @ told)
        back[i] = told / told.max()
    # ``ahead[i]`` is before reading i, ``back[i + 1]`` what all later ones say of its scale.
    both = ahead[:n] * seen * back[1:]
    both /= both.sum(axis=1, keepdims=True)
    return Scale(usual.steps, ahead[n]), (both @ usual.steps**2 / 12.0)[of]


def _likelihood(steps: Array, readings: Array) -> Array:
    """Likelihood of each reading at each step, (n, s): how many whole grams share a multiple."""
    nearest = np.maximum(np.round(readings[:, None] / steps), 1.0) * steps
    fits = np.abs(readings[:, None] - nearest) <= np.minimum(_ROUNDED, 0.5 * steps)
    return np.asarray((1.0 - _MISREAD) * fits * np.maximum(steps, 1.0) + _MISREAD)


class Instruments(Struct, frozen=True):
    """The scale and the cups of a kitchen, and the variance of each reading recorded.

    ``produce`` in g and ``brine`` in ml are what reads now; ``variance`` holds, by the batch's
    number and the column, that of the step alone, in g or ml squared.
    """

    produce: Scale
    brine: Scale
    variance: Mapping[tuple[int, str], float]

    def of(self, time: int, column: str) -> float:
        """Variance of the reading in this column of the batch of this number."""
        return self.variance[time, column]


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
    now: dict[str, Scale] = {}
    variance: dict[tuple[int, str], float] = {}
    for name, columns in _BY_SCALE.items():
        usual = usual_cups() if name == "brine" else usual_weights()
        keys: list[tuple[int, str]] = []
        readings: list[float] = []
        for time, batch in enumerate(batches):
            sure = [column for column in columns if column not in doubted[time]]
            for key, amount in _readings(time, batch, sure, packed.get(batch.batch, ()), name):
                keys.append(key)
                readings.append(amount)
        now[name], found = read_by(usual, readings, [time for time, _ in keys])
        variance |= dict(zip(keys, found.tolist(), strict=True))
        present = now[name].variance
        for time, _ in enumerate(batches):  # an empty pot, as the cup now in use reads
            for column in columns:
                variance.setdefault((time, column), present)
    return Instruments(now["ready"], now["brine"], variance)


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
