"""What the jars filled so far say of the rest of the batch."""

from collections.abc import Callable

import numpy as np
from msgspec.structs import replace

from jarcast.domain.packing import SoFar
from jarcast.forecast.cannot_be import (
    check_brine,
    check_count,
    packed_grams,
)
from jarcast.forecast.packed import Packed, nothing_packed
from jarcast.forecast.readings import pot_read, telling, turns_left, volume_of
from jarcast.forecast.ready import ready_weight
from jarcast.forecast.remaining import Ahead
from jarcast.forecast.seeing import Jars, Seeing
from jarcast.forecast.values import Values
from jarcast.forecast.weighing import Weighing, weighing_by
from jarcast.learning.arrays import Array
from jarcast.learning.fit.within_batch import Mark, Stretch, stretches
from jarcast.learning.learned import Learned


def packed_so_far(
    learned: Learned,
    ahead: Ahead,
    so_far: SoFar,
    values: Values,
    start: Array,
    loss_ml: Array,
    rng: np.random.Generator,
) -> Packed:
    """The draws that fit the jars filled so far; ``start`` (draws,) is the latest known weight.

    Raises ForecastError for more in the jars, or left, than there was or they hold.
    """
    request = ahead.request
    jars, turns = turns_left(request, so_far.jars)
    volume = volume_of(request, so_far.jars)
    check_brine(so_far, volume)
    weighing = weighing_by(learned.instruments, request, so_far, start.size, rng)
    if not request.grams_sd:
        start = weighing.read(request.grams)

    def ready_of(drawn: Values) -> Array:
        return ready_weight(ahead, drawn, start, rng)

    if volume <= 0.0:
        left = so_far.produce_left_g
        ready = ready_of(values) if left is None else weighing.read(left)
        nothing = nothing_packed(values, ready, loss_ml, request)
        pot = pot_read(so_far.readings, request)
        return replace(nothing, turns=turns, pot=pot, weighing=weighing)
    told = telling(so_far)
    known = packed_grams(request, told, weighed=ahead.weighed)
    then, _ = turns_left(request, told.jars)
    about = _jars_in_all(ahead, told, known, values, ready_of)
    within = learned.within.given(_stretches(ahead, so_far, weighing))
    values = replace(values, slope=within.draw_slope(start.size, rng))
    seeing = Seeing(learned, ahead, Jars(then, 0.0, about), weighing, rng)
    check_count(request, so_far, volume * seeing.expected(values))
    found = seeing.told(values, ready_of, told, loss_ml)
    if told.jars < so_far.jars:
        since = tuple(now - before for now, before in zip(jars, then, strict=True))
        rest = Seeing(learned, ahead, Jars(since, told.jars, about), weighing, rng)
        found = rest.onward(found)
    weighed = known is not None and told is so_far
    by = so_far.readings if found.spent_ml is None else (told,)
    return Packed(
        found.values, found.ready_g, found.packed_g, jars, volume, turns, found.loss_ml,
        found.spent_ml, weighed, pot_read(by, request, so_far.jars), weighing, found.unusual,
    )  # fmt: skip


def _stretches(ahead: Ahead, so_far: SoFar, weighing: Weighing) -> list[Stretch]:
    """What was packed from one weighing of this batch to the next, the oldest first."""
    marks = [Mark(0.0, 0.0, 0.0)]
    for reading in reversed(so_far.readings):
        grams = reading.produce_g
        if grams is None and reading.produce_left_g is not None and ahead.weighed:
            grams = ahead.request.grams - reading.produce_left_g
        if grams is not None and reading.jars > marks[-1].jars:
            marks.append(Mark(reading.jars, grams, weighing.variance))
    return stretches(marks, lambda jars: volume_of(ahead.request, jars))


def _jars_in_all(
    ahead: Ahead,
    told: SoFar,
    known: float | None,
    values: Values,
    ready_of: Callable[[Values], Array],
) -> float:
    """About how many jars the batch will fill, by the jars so far or else as expected before."""
    left = told.produce_left_g
    if left is None and known is not None and ahead.weighed:
        left = ahead.request.grams - known
    if known and left is not None:
        return told.jars * (1.0 + max(left, 0.0) / known)
    each = float(np.exp(np.median(values.pack[:, -1]))) * ahead.request.turns[-1].fill_ml
    return max(float(np.median(ready_of(values))) / each, told.jars)
