"""Brine in the middle of packing: what stands in the jars, what the rest takes, what is left."""

import numpy as np
from numpy.typing import NDArray

from jarcast.domain.packing import SoFar
from jarcast.forecast.brine import BrineSoFar, brine_in_jars, soft_floor
from jarcast.forecast.conditioning import condition_normal, resampled
from jarcast.forecast.packed import Packed, PotRead
from jarcast.forecast.seeing import share_gone
from jarcast.forecast.values import Places
from jarcast.forecast.weighing import Weighing
from jarcast.learning.arrays import Array
from jarcast.learning.model.brine_rows import SPACE_SHARE

_FEW = 0.02  # share of the draws, by their weights, that must fit what the pot tells
_FAR = -4.5  # log weight of a draw three sd off


def brine_so_far(
    so_far: SoFar,
    packed: Packed,
    weighing: Weighing,
    left: tuple[Array, Array],
    rng: np.random.Generator,
) -> BrineSoFar:
    """Brine in the middle of packing; ``left`` is the produce and the fill volume to come."""
    produce, volume, loss = packed.produce_g, packed.volume_ml, packed.loss_ml
    values, made, pot = packed.values, so_far.brine_made_ml, packed.pot
    since = 0.0 if pot is None else 1.0 - pot.share  # of what is packed, after the pot was read
    told = so_far.brine_ml if volume > 0.0 else None
    if told is not None and packed.weighed:
        own = _own_seen(told, packed, weighing, rng)
        unusual = packed.unusual
        values = values.with_own(own if unusual is None else np.where(unusual, values.own_ml, own))
    # Drawn before what is in the jars: with none filled it is by the same draws as before them.
    rest = soft_floor(brine_in_jars(values, *left, rng), left[1])
    if told is not None:
        in_jars = np.maximum(told + weighing.pot_error(), 0.0)
    else:
        drawn = brine_in_jars(values, produce, np.full(loss.size, volume), rng)
        in_jars = np.maximum(drawn, 0.0)
    spent, gone, index = _losses(packed, weighing, in_jars, left[1], rng)
    # As it would be read: beside the space itself, what the wet produce and air make of it.
    room = np.maximum(left[1] - left[0] * values.own_ml, rest) + loss - gone
    read, off = weighing.pot_error(), weighing.pot_error()  # of what was left, and of what was made
    draws = in_jars, rest, loss, gone, in_jars * since + gone - spent, room, read, off
    in_jars, rest, loss, gone, taken, room, read, off = (one[index] for one in draws)
    still = rest + loss - gone
    total = in_jars + rest + loss
    if pot is not None and pot.made_ml is not None:
        total = np.maximum(pot.made_ml + off - pot.left_ml - read, 0.0) + taken + still
    there = None if made is None else np.maximum(made - in_jars - gone, 0.0)
    if pot is not None:
        # What was read is shown as read; how far it may be off counts in what is still needed, and
        # in what there is room for.
        there = np.maximum(pot.left_ml + _made_since(pot, made) - taken, 0.0)
        still, room = np.maximum(still - read, 0.0), np.maximum(room - read, 0.0)
    # With no jar left to fill nothing is needed, whatever the pot loses yet.
    some = left[1][index] > 0.0
    still, room = np.where(some, still, 0.0), np.where(some, room, 0.0)
    return BrineSoFar(total, still, there, index, room)


def _losses(
    packed: Packed,
    weighing: Weighing,
    in_jars: Array,
    volume_left: Array,
    rng: np.random.Generator,
) -> tuple[Array, Array, Places]:
    """What of the pot's loss was gone when the pot was read, and is now; places that fit it."""
    pot, spent, loss = packed.pot, packed.spent_ml, packed.loss_ml
    since = 0.0 if pot is None else 1.0 - pot.share
    later = packed.volume_ml * since
    index: Places = np.arange(loss.size)
    if spent is None:
        part = (packed.volume_ml - later) / np.maximum(packed.volume_ml + volume_left, 1e-9)
        spent = share_gone(part, rng) * loss
        if pot is not None and pot.made_ml is not None:
            lost = pot.made_ml - pot.left_ml - in_jars * (1.0 - since)
            index = _fitting(lost, spent, weighing.pot_variance, rng, packed.unusual)
    if since <= 0.0:
        return spent, spent, index
    part = later / np.maximum(later + volume_left, 1e-9)
    return spent, spent + share_gone(part, rng) * (loss - spent), index


def _made_since(pot: PotRead, made_ml: float | None) -> float:
    """Brine made since the pot was read, in ml."""
    if made_ml is None or pot.made_ml is None:
        return 0.0
    return max(made_ml - pot.made_ml, 0.0)


def _own_seen(
    brine_ml: float, packed: Packed, weighing: Weighing, rng: np.random.Generator
) -> Array:
    """Draws of the room a gram takes, given the brine beside produce that was weighed."""
    own, produce = packed.values.own_ml, np.maximum(packed.produce_g, 1e-9)
    space = np.maximum(packed.volume_ml - produce * own, 0.0)
    reading = np.sqrt(weighing.pot_variance + (SPACE_SHARE * space) ** 2) / produce
    seen = (packed.volume_ml - brine_ml) / produce
    return condition_normal(own, seen, reading, rng, float(own.std()))


def _fitting(
    lost: Array,
    spent: Array,
    pot_variance: float,
    rng: np.random.Generator,
    unusual: NDArray[np.bool_] | None = None,
) -> Places:
    """Places of draws in which as much was lost so far as the pot tells.

    Where hardly a draw fits, something else happened, a spill or a slip of the measuring cup: it
    says nothing of what the pot will lose yet, and all draws are kept. How many are ``unusual`` was
    judged by the pot already, and stays.
    """
    places: Places = np.arange(lost.size)
    if unusual is not None and unusual.any() and not unusual.all():
        for chosen in (unusual, ~unusual):
            places[chosen] = places[chosen][
                _fitting(lost[chosen], spent[chosen], pot_variance, rng)
            ]
        return places
    doubt = 2.0 * pot_variance + (0.1 * float(np.median(spent))) ** 2
    log_weight = -0.5 * (lost - spent) ** 2 / doubt
    weight = np.exp(log_weight - log_weight.max())
    if weight.sum() ** 2 < _FEW * weight.size * (weight**2).sum() or log_weight.max() < _FAR:
        return places
    return resampled(log_weight, rng)
