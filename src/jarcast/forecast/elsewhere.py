"""Where the bowl that is weighed tells only half of it.

What is not in the bowl is taken to be in the jars. Now and then some of it is neither: eaten, given
away, in a second bowl; or the scale was misread, or the bowl weighed with it. Each is a component
beside the usual one: how likely it is in a batch goes with how well it explains what was read.
"""

import numpy as np
from msgspec import Struct

from jarcast.learning.arrays import Array
from jarcast.learning.model.endings import LEAST_MISSING, MOST_MISSING

# Chances, when the bowl is weighed, that part of the produce is gone, that part of it stands aside
# to be packed yet, and that the weight tells nothing; and by what share of the produce it is off
# then, by and large. Common practice, no source.
GONE, ASIDE, MISREAD, _OFF_SHARE = 0.04, 0.015, 0.015, 0.15


class Component(Struct, frozen=True):
    """What may have happened: its chance, what there is to pack in all, and each draw's weight.

    ``ready_g`` and ``log_weight`` (draws,): logs of the density, by gram, of what the bowl reads.
    """

    chance: float
    ready_g: Array
    log_weight: Array


def beside_the_usual(ready_g: Array, packed_g: Array, left_g: Array) -> tuple[Component, ...]:
    """Some of it is gone, or stands aside, or the bowl tells nothing.

    ``ready_g``, ``packed_g`` and ``left_g`` (draws,) are all the produce there was, that in the
    jars before the bowl was weighed, and what the bowl reads. What is elsewhere is a share of all,
    anything from 5 to 70 % of it, as what is not jarred in the end is.
    """
    share = 1.0 - (packed_g + left_g) / ready_g
    inside = (share >= LEAST_MISSING) & (share <= MOST_MISSING)
    even = np.where(inside, -np.log((MOST_MISSING - LEAST_MISSING) * ready_g), -np.inf)
    scale = _OFF_SHARE * ready_g
    off = np.abs(ready_g - packed_g - left_g)
    misread = np.where(packed_g <= ready_g, -off / scale - np.log(2.0 * scale), -np.inf)
    return (
        Component(GONE, packed_g + left_g, even),
        Component(ASIDE, ready_g, even),
        Component(MISREAD, ready_g, misread),
    )
