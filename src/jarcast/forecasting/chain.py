"""One batch forecast through the chain, jars and brine drawn together.

Every draw is one possible batch: its own trim, cure and cook, its own density, and the brine that
density leaves room for. Looser packing is more jars and more brine in each, so the two are never
forecast apart.
"""

from dataclasses import dataclass

import numpy as np

from jarcast.batch import Arrow
from jarcast.errors import ForecastError
from jarcast.forecasting.ahead import Ahead, look_ahead
from jarcast.forecasting.brine import brine_in_jars, brine_so_far, pot_loss
from jarcast.forecasting.midpack import Packed, nothing_packed, packed_so_far
from jarcast.forecasting.request import JarTurn, Request
from jarcast.forecasting.values import Values, draw_values
from jarcast.kinds import makes_its_own_brine
from jarcast.learning.arrows import density_limit, limited
from jarcast.learning.learned import Learned
from jarcast.learning.regression import Array


@dataclass(frozen=True, slots=True)
class Drawn:
    """Draws of one batch, each array (draws,): jars by sort, brine and ready weight.

    ``jars_to_come`` and ``brine_to_come_ml`` are what is left to pack and still takes, of a batch
    in the middle of it; ``there_ml`` is the brine in the pot, None where that is not known.
    ``start_g`` is the latest known weight, in doubt where only a range of it was told; ``cured``
    the chance of a cure that the forecast went by.
    """

    jars: tuple[Array, ...]
    brine_ml: Array
    ready_g: Array
    jars_to_come: Array
    brine_to_come_ml: Array
    there_ml: Array | None
    start_g: Array
    cured: float


def draw_batch(learned: Learned, request: Request) -> Drawn:
    """Draw a batch through the arrows that still lie ahead of the latest known weight."""
    return draw_batches(learned, [request], request.draws, request.seed)[0]


def draw_batches(learned: Learned, requests: list[Request], draws: int, seed: int) -> list[Drawn]:
    """Draw batches together: place by place the same hand, each with noise of its own."""
    rng = np.random.default_rng(seed)
    aheads = [look_ahead(learned, request) for request in requests]
    values = draw_values(learned, aheads, draws, rng)
    return [_carry(learned, *both, rng) for both in zip(aheads, values, strict=True)]


def _carry(learned: Learned, ahead: Ahead, values: Values, rng: np.random.Generator) -> Drawn:
    request = ahead.request
    start = _start(request, values, rng)

    def ready_of(drawn: Values) -> Array:
        return _ready(ahead, drawn, start, rng)

    if request.so_far is None:
        packed = nothing_packed(values, ready_of(values), request)
    else:
        packed = packed_so_far(learned, ahead, request.so_far, values, ready_of, rng)
    jar_sd = np.sqrt(learned.jar_to_jar.variance / _chi(learned.jar_to_jar.dof, start.size, rng))
    limit = density_limit(ahead.situation.crop)
    densities = [limited(np.exp(column), limit) for column in packed.values.pack.T]
    jitter = jar_sd * rng.standard_normal(start.size)
    left = np.maximum(packed.ready_g - packed.produce_g, 0.0)
    to_come = _fill(left, densities, packed.turns, jitter)
    if learned.ways.jar_step >= 1.0:
        to_come = (*to_come[:-1], _evened(to_come[-1], rng))
    return _with_brine(learned, ahead, packed, start, left, to_come, rng)


def _with_brine(
    learned: Learned,
    ahead: Ahead,
    packed: Packed,
    start: Array,
    left: Array,
    to_come: tuple[Array, ...],
    rng: np.random.Generator,
) -> Drawn:
    request = ahead.request
    volume = np.asarray(sum(n * t.fill_ml for n, t in zip(to_come, packed.turns, strict=True)))
    loss = pot_loss(learned, packed.values, rng)
    if request.so_far is None:
        between = brine_in_jars(packed.values, left, volume, rng)
        total = still = _floored(between + loss, volume)
        there = None
    else:
        total, still, there = brine_so_far(request.so_far, packed, (left, volume), loss, rng)
    jars = tuple(before + after for before, after in zip(packed.jars, to_come, strict=True))
    if makes_its_own_brine(request.produce, request.cut):
        total, still, there = 0.0 * total, 0.0 * still, None
    if not (np.isfinite(total).all() and all(np.isfinite(j).all() for j in jars)):
        raise ForecastError("the numbers given are too large or too small to forecast from")
    more = np.asarray(sum(to_come[1:], start=to_come[0]))
    return Drawn(jars, total, packed.ready_g, more, still, there, start, ahead.cured)


def _start(request: Request, values: Values, rng: np.random.Generator) -> Array:
    """Draws of the latest known weight, exact for one that was weighed."""
    draws = values.pack.shape[0]
    if not request.grams_sd:
        return np.full(draws, request.grams)
    return np.asarray(request.grams * np.exp(request.grams_sd * rng.standard_normal(draws)))


def _ready(ahead: Ahead, values: Values, start: Array, rng: np.random.Generator) -> Array:
    """Weight as it goes into the jars, through the arrows that still lie ahead."""
    ready = start
    for arrow in ahead.arrows:
        value = values.ahead[arrow]
        if arrow is Arrow.TRIM:
            ready = ready / (1.0 + np.exp(-np.clip(value, -30.0, 30.0)))
        elif arrow is Arrow.CURE and ahead.cured < 1.0:
            ready = ready * np.where(rng.random(ready.size) < ahead.cured, np.exp(value), 1.0)
        else:
            ready = ready * np.exp(value)
    return ready


def _chi(dof: float, draws: int, rng: np.random.Generator) -> Array:
    return np.asarray(rng.chisquare(dof, draws) / dof)


def _fill(
    ready: Array, densities: list[Array], turns: tuple[JarTurn, ...], jitter: Array
) -> tuple[Array, ...]:
    """Jars of each sort that the ready produce fills, in their turns; ``jitter`` is jar to jar."""
    left = ready
    jars = []
    for turn, density in zip(turns, densities, strict=True):
        each = turn.fill_ml * density
        # k jars average out the differences from jar to jar.
        each = each * np.exp(jitter / np.sqrt(np.maximum(left / each, 1.0)))
        filled = np.minimum(left / each, turn.count)
        left = np.maximum(left - filled * each, 0.0)
        jars.append(filled)
    return tuple(jars)


def _evened(jars: Array, rng: np.random.Generator) -> Array:
    """The last jar topped up or squeezed in, by one who only ever fills whole jars."""
    moved = jars + rng.uniform(-0.5, 0.5, jars.size)
    return np.where(jars > 0.0, np.maximum(moved, np.minimum(jars, 0.5)), 0.0)


def _floored(brine: Array, volume: Array) -> Array:
    """A soft floor: the densest packs still take a little brine."""
    least = 0.02 * volume
    floored: Array = 0.5 * (brine + np.sqrt(brine**2 + least**2))
    return floored
