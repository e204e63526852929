"""Readings at the counter: what was there, given what the scale and the cup said.

Every reading stands within half a step of what was there, the weighing of the whole batch among
them. The same draw of it counts for the density of the jars and for what is left to pack.
"""

import numpy as np

from jarcast.domain.packing import SoFar
from jarcast.forecast.request import Request
from jarcast.learning.arrays import Array
from jarcast.learning.model.scales import Instruments, exactly

# What clings to a bowl that is weighed again and again: less than of a stage's weight. An sd in
# grams; common practice, no source.
_BOWL_G = 2.0


class Weighing:
    """Draws of what readings of one batch stand for; their steps are drawn once."""

    def __init__(self, step_g: Array, step_ml: Array, rng: np.random.Generator) -> None:
        """``step_g`` and ``step_ml`` (draws,) are draws of the scale's and the measure's step."""
        self._step_g, self._step_ml, self._rng = step_g, step_ml, rng

    @property
    def variance(self) -> float:
        """Variance in g squared of one weighing."""
        return float((self._step_g**2).mean()) / 12.0 + _BOWL_G**2

    @property
    def pot_variance(self) -> float:
        """Variance in ml squared of one reading of brine."""
        return float((self._step_ml**2).mean()) / 12.0

    def read(self, grams: float) -> Array:
        """Draws of the produce that was there when so much was read, in g, never below 0.

        An empty bowl needs no scale: where 0 was read there was nothing.
        """
        if grams <= 0.0:
            return np.zeros(self._step_g.size)
        off = self._step_g * (self._rng.random(self._step_g.size) - 0.5)
        off = off + _BOWL_G * self._rng.standard_normal(off.size)
        return np.maximum(grams + off, 0.0)

    def pot_error(self) -> Array:
        """Draws of how far a reading of brine lies off what was there, in ml."""
        found: Array = self._step_ml * (self._rng.random(self._step_ml.size) - 0.5)
        return found


def weighing_by(
    instruments: Instruments, request: Request, so_far: SoFar, draws: int, rng: np.random.Generator
) -> Weighing:
    """The instruments of a batch in the middle of packing, by what is told or what it was read to.

    A step that was not told is judged by the household's readings and by those of this batch.
    """
    told = next((r.produce_step_g for r in so_far.readings if r.produce_step_g is not None), None)
    scale = instruments.produce if told is None else exactly(told)
    if told is None:
        weights = [] if request.grams_sd else [request.grams]
        for reading in so_far.readings:
            weights += [w for w in (reading.produce_g, reading.produce_left_g) if w]
        scale = scale.given(weights)
    told = next((r.brine_step_ml for r in so_far.readings if r.brine_step_ml is not None), None)
    measure = instruments.brine if told is None else exactly(told)
    if told is None:
        read = [(r.brine_ml, r.pot_left_ml, r.brine_made_ml) for r in so_far.readings]
        measure = measure.given([ml for one in read for ml in one if ml])
    return Weighing(scale.draw(draws, rng), measure.draw(draws, rng), rng)
