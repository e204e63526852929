"""One batch forecast through the chain, jars and brine drawn together.

Every draw is one possible batch: its own trim, cure and cook, its own density, and the brine that
density leaves room for. Looser packing is more jars and more brine in each, so the two are never
forecast apart.
"""

import math
from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.domain.names import makes_its_own_brine
from jarcast.domain.stages import Link
from jarcast.errors import ForecastError
from jarcast.forecast.brine import BrineSoFar, brine_in_jars, pot_loss, soft_floor
from jarcast.forecast.chain import Chain
from jarcast.forecast.last_jar import Fill, end_batch
from jarcast.forecast.packed import Packed, nothing_packed
from jarcast.forecast.ready import weights_ahead
from jarcast.forecast.remaining import Ahead, look_ahead
from jarcast.forecast.request import Request
from jarcast.forecast.values import Values, draw_values
from jarcast.learning.arrays import Array
from jarcast.learning.draws import alike, mirrored, noise_sds, normals, pairs_of
from jarcast.learning.fit.within_batch import FARTHEST_JARS
from jarcast.learning.learned import Learned
from jarcast.learning.model.links import density_limit, limited


class Drawn(Struct, frozen=True):
    """Draws of one batch, each array (draws,): jars by sort, brine and ready weight.

    ``jars_to_come`` and ``brine_to_come_ml`` are what is left to pack and still takes, of a batch
    in the middle of it; ``there_ml`` is the brine in the pot, None where that is not known.
    ``room_ml`` is the most brine that the jars to come and the pot can take, None before packing.
    ``start_g`` is the latest known weight, in doubt where only a range of it was told; ``cured``
    the chance of a cure that the forecast went by. ``chain`` is None in the middle of packing, and
    ``unusual`` tells which draws take it that the bowl weighed then does not tell what is in the
    jars; None where all go by the bowl.
    """

    jars: tuple[Array, ...]
    brine_ml: Array
    ready_g: Array
    jars_to_come: Array
    brine_to_come_ml: Array
    there_ml: Array | None
    room_ml: Array | None
    start_g: Array
    cured: float
    chain: Chain | None = None
    unusual: NDArray[np.bool_] | None = None


def draw_batches(
    learned: Learned, requests: list[Request], draws: int, seed: int, *, lines: bool = False
) -> list[Drawn]:
    """Draw batches through the links that still lie ahead of each one's latest known weight.

    They are drawn together: in each draw the person is the same, and each batch has its own noise.
    Raises ForecastError for a reading that cannot be, with its number where these are ``lines``.
    """
    rng = np.random.default_rng(seed)
    aheads = [look_ahead(learned, request) for request in requests]
    values = draw_values(learned, aheads, draws, rng)
    found = []
    for number, both in enumerate(zip(aheads, values, strict=True), start=1):
        try:
            found.append(_carry(learned, *both, rng))
        except ForecastError as error:
            if not lines:
                raise
            raise ForecastError(f"line {number}: {error}") from error
    return found


def _carry(learned: Learned, ahead: Ahead, values: Values, rng: np.random.Generator) -> Drawn:
    request = ahead.request
    start = _start(request, values, rng)
    loss = pot_loss(learned, values, rng)
    weights: list[tuple[Link, Array]] = []
    if request.so_far is None:
        weights = weights_ahead(ahead, values, start, rng)
        ready = weights[-1][1] if weights else start
        packed = nothing_packed(values, ready, loss, request)
    else:
        from jarcast.forecast.midpack import packed_so_far

        packed = packed_so_far(learned, ahead, request.so_far, values, start, loss, rng)
    jar_sd = noise_sds(learned.within.noise, pairs_of(start.size), rng)

    def jar_to_jar() -> Array:
        return mirrored(jar_sd * rng.standard_normal(jar_sd.size), start.size)

    limit = density_limit(ahead.situation.crop)
    later: Array | float = 0.0
    if packed.values.slope.size:  # the jars to come lie by half of those filled past the middle
        later = packed.values.slope * min(0.5 * sum(packed.jars), FARTHEST_JARS)
    densities = [limited(np.exp(column + later), limit) for column in packed.values.pack.T]
    left = packed.ready_g
    if request.so_far is not None:
        left = np.maximum(left - packed.produce_g, 0.0)
    fills = _fill(left, densities, packed, jar_to_jar)
    endings = learned.endings if request.smaller_jar else learned.endings.without_smaller
    ended = end_batch(endings, fills, left, limit, rng)
    drawn = _with_brine(ahead, packed, start, ended.produce_g, ended.jars, rng)
    if request.so_far is not None and request.so_far.jars:
        return drawn
    full = np.asarray(sum(fill.jars for fill in fills))
    return replace(drawn, chain=_chain(learned, drawn, request, weights, full, jar_sd, loss))


def _chain(
    learned: Learned,
    drawn: Drawn,
    request: Request,
    weights: list[tuple[Link, Array]],
    full_jars: Array,
    jar_sd: Array,
    loss: Array,
) -> Chain:
    return Chain(
        request=request,
        cured=drawn.cured,
        weights=tuple(weights),
        ready_g=drawn.ready_g,
        full_jars=full_jars,
        jars=drawn.jars,
        brine_ml=drawn.brine_ml,
        loss_ml=loss,
        jar_sd=alike(jar_sd, loss.size),
        within=learned.within,
        usual_scale=learned.instruments.produce,
        measure=learned.instruments.brine,
    )


def _with_brine(
    ahead: Ahead,
    packed: Packed,
    start: Array,
    left: Array,
    to_come: tuple[Array, ...],
    rng: np.random.Generator,
) -> Drawn:
    request = ahead.request
    volume = np.asarray(sum(n * t.fill_ml for n, t in zip(to_come, packed.turns, strict=True)))
    if request.so_far is None or packed.weighing is None:
        between = brine_in_jars(packed.values, left, volume, rng)
        total = soft_floor(between + packed.loss_ml, volume)
        brine = BrineSoFar(total, total, None, slice(None))
    else:
        from jarcast.forecast.midpack_brine import brine_so_far

        brine = brine_so_far(request.so_far, packed, packed.weighing, (left, volume), rng)
    kept = brine.index
    to_come = tuple(jars[kept] for jars in to_come)
    jars = tuple(before + after for before, after in zip(packed.jars, to_come, strict=True))
    total, still, there = brine.total, brine.still, brine.there
    if makes_its_own_brine(request.produce, request.cut):
        total, still, there = 0.0 * total, 0.0 * still, None
    more = np.asarray(sum(to_come[1:], start=to_come[0]))
    if not math.isfinite(total.sum() + more.sum()):
        raise ForecastError("the numbers given are too large or too small to forecast from")
    ready = packed.ready_g[kept]
    unusual = None if packed.unusual is None else packed.unusual[kept]
    return Drawn(
        jars, total, ready, more, still, there, brine.room, start, ahead.cured, unusual=unusual
    )


def _start(request: Request, values: Values, rng: np.random.Generator) -> Array:
    """Draws of the latest known weight, exact for one that was weighed."""
    draws = values.pack.shape[0]
    if not request.grams_sd:
        return np.full(draws, request.grams)
    return np.asarray(request.grams * np.exp(request.grams_sd * normals(draws, rng)))


def _fill(
    ready: Array,
    densities: list[Array],
    packed: Packed,
    jar_to_jar: Callable[[], Array],
) -> list[Fill]:
    """Jars of each sort that the ready produce fills, in their turns.

    ``jar_to_jar`` draws how far one jar's log density lies off the batch's, shape (draws,).
    """
    left = ready
    fills = []
    for before, turn, density in zip(packed.jars, packed.turns, densities, strict=True):
        each = turn.fill_ml * density
        # k jars average out the differences from jar to jar.
        count = np.minimum(np.maximum(left / each, 1.0), max(turn.count, 1.0))
        each = each * np.exp(jar_to_jar() / np.sqrt(count))
        filled = np.minimum(left / each, turn.count)
        left = np.maximum(left - filled * each, 0.0)
        fills.append(Fill(before, filled, turn.count, each, turn.fill_ml))
    return fills
