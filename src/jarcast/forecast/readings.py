"""Which reading of a batch in the middle of packing tells what, and the jars filled by then."""

import math
from collections.abc import Sequence

from msgspec.structs import replace

from jarcast.domain.packing import SoFar
from jarcast.forecast.packed import PotRead
from jarcast.forecast.request import JarTurn, Request


def telling(so_far: SoFar) -> SoFar:
    """The newest reading that tells of the produce in its jars: weighed, or else by its brine."""
    filled = [reading for reading in so_far.readings if reading.jars > 0]
    weighed = [r for r in filled if r.produce_g is not None or r.produce_left_g is not None]
    by_brine = [r for r in filled if r.brine_ml is not None or (r.used_ml or 0.0) > 0.0]
    return (weighed or by_brine or [so_far])[0]


def pot_read(readings: Sequence[SoFar], request: Request, jars: float = 0.0) -> PotRead | None:
    """The newest reading of the pot, beside so many jars as are packed now."""
    for reading in readings:
        if reading.pot_left_ml is not None:
            share = 1.0
            if reading.jars < jars:
                share = volume_of(request, reading.jars) / volume_of(request, jars)
            return PotRead(reading.brine_made_ml, reading.pot_left_ml, share)
    return None


def volume_of(request: Request, jars: float) -> float:
    """Fill volume in ml of the first so many jars."""
    filled, _ = turns_left(request, jars)
    return math.fsum(n * t.fill_ml for n, t in zip(filled, request.turns, strict=True))


def turns_left(request: Request, jars: float) -> tuple[tuple[float, ...], tuple[JarTurn, ...]]:
    """Jars of each sort filled so far, its sorts in their turns, and the turns still to come."""
    filled, turns = [], []
    for turn in request.turns:
        done = min(jars, turn.count)
        jars -= done
        filled.append(done)
        turns.append(replace(turn, count=turn.count - done))
    return tuple(filled), tuple(turns)
