"""How far a batch has come: what is in its jars, and the draws that fit it."""

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.forecast.request import JarTurn, Request
from jarcast.forecast.values import Values
from jarcast.forecast.weighing import Weighing
from jarcast.learning.arrays import Array


class PotRead(Struct, frozen=True):
    """The last reading of the pot: brine made by then and left in it, in ml; None is not known.

    ``share`` is the part of the fill volume packed up to now that was packed by then.
    """

    made_ml: float | None
    left_ml: float
    share: float = 1.0


class Packed(Struct, frozen=True):
    """A batch up to now: the draws that fit it, and what is done.

    ``values``, ``ready_g`` and ``produce_g`` are draws (draws,) of the links, of all the ready
    produce and of that in the jars; ``jars`` by sort and their ``volume_ml`` were counted;
    ``turns`` are the jars still to fill. ``loss_ml`` is the batch's pot loss, ``spent_ml`` what of
    it was gone when the ``pot`` was read, None where that is not drawn yet; ``weighed`` whether the
    produce was, ``weighing`` how finely it all was read, and ``unusual`` which draws take it that
    what is not left is not all in the jars.
    """

    values: Values
    ready_g: Array
    produce_g: Array
    jars: tuple[float, ...]
    volume_ml: float
    turns: tuple[JarTurn, ...]
    loss_ml: Array
    spent_ml: Array | None = None
    weighed: bool = False
    pot: PotRead | None = None
    weighing: Weighing | None = None
    unusual: NDArray[np.bool_] | None = None


def nothing_packed(values: Values, ready_g: Array, loss_ml: Array, request: Request) -> Packed:
    """A batch before its first jar."""
    none = (0.0,) * len(request.turns)
    return Packed(values, ready_g, np.zeros(ready_g.size), none, 0.0, request.turns, loss_ml)
