"""What a reading would tell of a batch, foreseen before it is made.

Every draw is a batch that would be read. Those that would be expected to come to much the same by
what is read of them are looked at together: how far they still lie apart is what it leaves open.
"""

from typing import Literal

import numpy as np
from msgspec import Struct

from jarcast.forecast.chain import Chain
from jarcast.forecast.readings import volume_of
from jarcast.forecast.seeing import share_gone
from jarcast.learning.arrays import Array
from jarcast.learning.fit.within_batch import FARTHEST_JARS
from jarcast.learning.model.scales import Scale

_FARTHEST = 1.0  # in logs: no slope goes on for ever, over thousands of jars
_USUAL = (0.005, 0.995)  # quantiles: readings beyond them are far out
_ALIKE = 64  # draws that are looked at together
# Hyndman and Fan (1996), type 8: of few draws the others' ranges are too narrow.
_METHOD: Literal["median_unbiased"] = "median_unbiased"


class Left(Struct, frozen=True):
    """An amount regressed on what is to be seen: what it is then expected to be, and what is left.

    ``expected`` and ``off`` (groups, draws of each) add up to the amount, those expected to be
    least in the first group.
    """

    expected: Array
    off: Array

    def ordered(self, short_chance: float) -> Array:
        """Draws of the amount that is then enough but for this chance."""
        enough = np.quantile(self.off, 1.0 - short_chance, axis=1, method=_METHOD)
        return np.asarray((self.expected + enough[:, None]).ravel())

    def width(self, level: float) -> float:
        """Mean width of the range that will then hold so often."""
        tail = 0.5 * (1.0 - level)
        low, high = np.quantile(self.off, [tail, 1.0 - tail], axis=1, method=_METHOD)
        return float((high - low).mean())


def left_open(amount: Array, seen: list[Array]) -> Left:
    """What is left open of an amount (draws,) once these are seen, each (draws,), by least squares.

    A reading far out counts as the last of the usual ones: a few such draws would tilt the line for
    all the others. A few at the lower end are left out, so that the groups are of one size.
    """
    usual = (np.clip(one, *np.quantile(one, _USUAL)) for one in seen)
    columns = np.column_stack([np.ones(amount.size), *usual])
    # Each column over its own size, so that millilitres and jars weigh alike in the solution.
    columns /= np.maximum(np.abs(columns).max(axis=0), 1e-12)
    expected: Array = columns @ np.linalg.lstsq(columns, amount, rcond=None)[0]
    order = np.argsort(expected)
    size = min(_ALIKE, amount.size)
    order = order[amount.size % size :].reshape(-1, size)
    return Left(expected[order], amount[order] - expected[order])


class Readings(Struct, frozen=True):
    """What bowl and pot would tell once some jars are full, each (draws,).

    ``jars`` are the jars that it would come to by the produce in those; ``brine_ml`` what all would
    take by the brine of those.
    """

    jars: Array
    brine_ml: Array


def foreseen(chain: Chain, jars: int) -> Readings:
    """What bowl and pot would read once so many jars of a batch are full, in each of its draws.

    The produce is weighed before the first. The jars packed are part of all of them: their mean
    lies off the whole's by what the others differ.
    """
    rng = np.random.default_rng((chain.request.seed, jars))
    ready, in_all = chain.ready_g, np.maximum(chain.full_jars, jars)
    part = jars / in_all
    apart = chain.jar_sd * np.sqrt((1.0 - part) / jars)
    # How many jars earlier their middle is than that of the batch.
    earlier = np.minimum(0.5 * (in_all - jars), FARTHEST_JARS)
    slope = chain.within.draw_slope(in_all.size, rng)
    otherwise = apart * rng.standard_normal(in_all.size) - slope * earlier
    part *= np.exp(np.clip(otherwise, -_FARTHEST, _FARTHEST))
    weighed = ready * part + _off(chain.scale, in_all.size, rng)
    by_produce = ready * jars / np.maximum(weighed, 0.02 * ready * part)
    taken = np.maximum(chain.volume_ml - np.maximum(chain.brine_ml - chain.loss_ml, 0.0), 0.0)
    standing = np.maximum(volume_of(chain.request, jars) - taken * part, 0.0)
    gone = standing + share_gone(np.minimum(part, 1.0), rng) * chain.loss_ml
    gone = gone + _off(chain.measure, in_all.size, rng)
    return Readings(by_produce, gone / jars * by_produce)


def _off(scale: Scale, draws: int, rng: np.random.Generator) -> Array:
    """Draws of how far the difference of two readings lies off, each within half a step."""
    step = scale.draw(draws, rng)
    return np.asarray(step * (rng.random(draws) - rng.random(draws)))
