"""The draws behind a forecast before its first jar, from the latest weight to the brine."""

import numpy as np
from msgspec import Struct

from jarcast.domain.stages import Link
from jarcast.forecast.request import Request
from jarcast.learning.arrays import Array
from jarcast.learning.fit.within_batch import WithinBatch
from jarcast.learning.model.scales import Scale


class Chain(Struct, frozen=True):
    """Draws of a batch before its first jar, each (draws,), place by place as its forecast's.

    ``weights`` in g after each link that lies ahead, of which ``cured`` is the chance of a cure;
    ``ready_g`` the weight as it goes into the jars; ``full_jars`` as the produce fills them, before
    it is settled what becomes of the last one, and ``jars`` by sort once it is; ``brine_ml`` what
    all of them take, of which ``loss_ml`` is what the pot keeps. ``jar_sd`` is how far one jar's
    density lies off another's, in logs, and ``within`` how they change along the batch;
    ``usual_scale`` and ``measure`` are what produce and brine are read by.
    """

    request: Request
    cured: float
    weights: tuple[tuple[Link, Array], ...]
    ready_g: Array
    full_jars: Array
    jars: tuple[Array, ...]
    brine_ml: Array
    loss_ml: Array
    jar_sd: Array
    within: WithinBatch
    usual_scale: Scale
    measure: Scale

    @property
    def scale(self) -> Scale:
        """The usual scale, with what this batch's own weight tells of it."""
        request = self.request
        return self.usual_scale if request.grams_sd else self.usual_scale.given([request.grams])

    @property
    def in_all(self) -> Array:
        """Jars of all sorts, (draws,)."""
        return np.asarray(sum(self.jars[1:], start=self.jars[0]))

    @property
    def volume_ml(self) -> Array:
        """Fill volume of all the jars in ml, (draws,)."""
        sorts = zip(self.jars, self.request.turns, strict=True)
        return np.asarray(sum(jars * turn.fill_ml for jars, turn in sorts))

    def part_of_volume(self, count: float) -> Array:
        """The part of the fill volume that the first so many jars are, (draws,); 1 for all."""
        left, first = np.full(self.brine_ml.size, float(count)), np.zeros(self.brine_ml.size)
        for jars, turn in zip(self.jars, self.request.turns, strict=True):
            filled = np.minimum(jars, left)
            left = left - filled
            first += filled * turn.fill_ml
        return np.where(left > 0.0, 1.0, first / np.maximum(self.volume_ml, 1e-9))
