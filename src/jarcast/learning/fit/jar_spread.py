"""How one jar differs from the next within a batch, learned from notes made while packing.

Between two notes some jars were filled with some produce. Their mean density scatters about the
batch's with the jar-to-jar sd over the root of their number. The batch's own density cancels, and
with it the spread between batches.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from jarcast.domain.batch import Batch
from jarcast.domain.jars import Jar
from jarcast.domain.packing import SoFar
from jarcast.domain.stages import too_heavy
from jarcast.learning.arrays import Array
from jarcast.learning.model.circumstances import Circumstances, ready_weight
from jarcast.learning.model.weight_rows import scale_variance
from jarcast.learning.posterior import Noise

PRIOR_DOF = (
    16.0  # differences between jars that the prior spread is worth; common practice, no source
)
# A squared residual counts as so many variances at most: a slip teaches little.
_FARTHEST = 9.0
_ITERATIONS = 5


def jar_spread(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    packed: Mapping[str, Sequence[SoFar]],
    usual: float,
    shelf: Mapping[str, Jar],
) -> Noise:
    """Variance of log density from jar to jar, from its inverse-gamma posterior.

    ``packed`` holds the notes of each batch in order, ``usual`` is the prior sd. Method: Gelman et
    al., Bayesian Data Analysis, 3rd ed., section 3.2.
    """
    noted = [
        np.array(_between_notes(batch, ready_weight(batch, case), packed[batch.batch], shelf)).T
        for batch, case in zip(batches, cases, strict=True)
        if packed.get(batch.batch)
    ]
    noted = [found for found in noted if found.size and found.shape[1] > 1]
    dof = PRIOR_DOF + sum(found.shape[1] - 1 for found in noted)
    variance = usual**2
    for _ in range(_ITERATIONS if noted else 0):
        total = PRIOR_DOF * usual**2 + sum(_squares(found, variance) for found in noted)
        variance = total / dof
    return Noise(variance, dof)


def _squares(found: Array, variance: float) -> float:
    """Squared residuals of one batch's stretches about its own mean, those far off cut short."""
    log_density, jars, reading = found
    weight = 1.0 / (1.0 / jars + reading / variance)
    farthest = np.sqrt(_FARTHEST * variance / weight)
    middle = float(np.median(log_density))
    pulled = np.clip(log_density, middle - farthest, middle + farthest)
    residual = pulled - weight @ pulled / weight.sum()
    return float((weight * residual**2).sum())


def _between_notes(
    batch: Batch, ready: float | None, notes: Sequence[SoFar], shelf: Mapping[str, Jar]
) -> list[tuple[float, float, float]]:
    """Log density, jars and variance of reading of what was packed from each note to the next."""
    marks = [(0.0, 0.0)]
    for note in notes:
        grams = note.produce_g
        if grams is None and note.produce_left_g is not None and ready is not None:
            grams = ready - note.produce_left_g
        if grams is not None and _can_be(note, grams, batch, ready):
            marks.append((note.jars, grams))
    if ready is not None:
        marks.append((batch.total_jars, ready))
    found = []
    for (jars, grams), (more_jars, more_grams) in pairwise(marks):
        step, packed = more_jars - jars, more_grams - grams
        if step < 0.5 or packed <= 0.0:
            continue
        volume = _volume(batch, more_jars, shelf) - _volume(batch, jars, shelf)
        if volume > 0.0:
            # The last part of a jar is judged by eye; the end of the batch is rounded to it.
            rounding = (0.15 / step) ** 2 if more_jars != round(more_jars) else 0.0
            reading = 2.0 * scale_variance(packed) + rounding
            found.append((float(np.log(packed / volume)), step, reading))
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
