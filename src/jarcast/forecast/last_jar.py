"""What becomes of the last jar: left part full, topped up with brine, squeezed in, or eaten.

A draw's jars come out as a number with a part. Somebody who leaves the last jar part full has just
that. Who tops it up has one jar more, of which brine fills the rest, or half a jar where the rest
goes into a smaller one; who squeezes the rest into the others has one less, and so has who eats it,
with that much less produce in the jars. The tool learns which of these a household does.
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from jarcast.learning.arrays import Array
from jarcast.learning.model.endings import Endings, last_size

_CLOSEST = 0.95  # of the limit of density: what is squeezed in cannot come closer


class Ended(Struct, frozen=True):
    """Jars of each sort, each (draws,), and the ready produce that stands in them, in g."""

    jars: tuple[Array, ...]
    produce_g: Array


class Fill(Struct, frozen=True):
    """Jars of one sort before it is settled what becomes of the last one.

    ``before`` of them are filled already, ``jars`` (draws,) are to come, of ``most`` at most;
    ``full_g`` (draws,) is the produce in a full one, ``fill_ml`` its volume.
    """

    before: float
    jars: Array
    most: float
    full_g: Array
    fill_ml: float


def end_batch(
    endings: Endings,
    fills: Sequence[Fill],
    produce_g: Array,
    limit: float,
    rng: np.random.Generator,
) -> Ended:
    """End each draw in one of the ways that this household ends its batches.

    ``produce_g`` (draws,) is what the jars to come hold between them; ``limit`` is the greatest
    density there is, in g/ml.
    """
    draws = produce_g.size
    way = rng.random(draws)
    ended: list[Array] = []
    produce = produce_g
    filled, volume = np.zeros(draws), np.zeros(draws)  # by the sorts before, those packed included
    packed_g = sum((fill.before * fill.full_g for fill in fills), start=produce_g)
    for fill in fills:
        count = fill.before + fill.jars
        down = np.maximum(np.floor(count + 1e-9), fill.before)
        rest = np.maximum(count - down, 0.0)
        full = filled + down
        topped, squeezed, eaten = endings.split(rest, full)
        fits = packed_g <= _CLOSEST * limit * (volume + down * fill.fill_ml)
        last = (fill.jars > 0.0) & (fill.jars < fill.most) & (rest > 0.0)
        some = full >= 1.0
        gone = last & (way < eaten) & some
        pressed = last & ~gone & (way < eaten + squeezed) & some & fits
        whole = topped + squeezed + eaten
        up = last & ~gone & ~pressed & (way < whole)
        count = np.where(up, np.ceil(count - 1e-9), np.where(gone | pressed, down, count))
        if endings.smaller:
            each = last_size(fills[0].fill_ml, fill.fill_ml)
            small = last & (way >= whole) & (way < whole + endings.smaller)
            count = np.where(small, np.ceil(count / each - 1e-9) * each, count)
        produce = np.where(gone, produce - rest * fill.full_g, produce)
        ended.append(count - fill.before)
        filled = filled + count
        volume = volume + count * fill.fill_ml
    return Ended(tuple(ended), np.maximum(produce, 0.0))
