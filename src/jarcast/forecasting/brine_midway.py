"""Brine in the middle of packing: what stands in the jars, what the rest takes, what is left."""

import numpy as np

from jarcast.forecasting.brine import BrineSoFar, brine_in_jars, soft_floor
from jarcast.forecasting.midpack import share_gone
from jarcast.forecasting.packed import Packed
from jarcast.forecasting.settling import resampled, settle_normal
from jarcast.forecasting.values import Places
from jarcast.learning.brine import POT_ML, SPACE_SHARE
from jarcast.learning.regression import Array
from jarcast.packing import SoFar

_FEW = 0.02  # share of the draws, by their weights, that must fit what the pot tells
_FAR = -4.5  # log weight of a draw three sd off


def brine_so_far(
    so_far: SoFar, packed: Packed, left: tuple[Array, Array], rng: np.random.Generator
) -> BrineSoFar:
    """Brine in the middle of packing; ``left`` is the produce and the fill volume to come."""
    produce, volume, loss = packed.produce_g, packed.volume_ml, packed.loss_ml
    values, made, pot = packed.values, so_far.brine_made_ml, so_far.pot_left_ml
    spent = packed.spent_ml
    index: Places = np.arange(loss.size)
    told = so_far.brine_ml if volume > 0.0 else None
    if told is not None and packed.weighed:
        values = values.with_own(_own_seen(told, packed, rng))
    # Drawn before what is in the jars: with none filled it is by the same draws as before them.
    rest = soft_floor(brine_in_jars(values, *left, rng), left[1])
    if told is not None:
        in_jars = np.full(loss.size, float(told))
    else:
        drawn = brine_in_jars(values, produce, np.full(loss.size, volume), rng)
        in_jars = np.maximum(drawn, 0.0)
    if spent is None:
        part = volume / np.maximum(volume + left[1], 1e-9)
        spent = share_gone(part, rng) * loss
        if made is not None and pot is not None:
            index = _fitting(made - pot - in_jars, spent, rng)
    in_jars, rest, spent, loss = (draws[index] for draws in (in_jars, rest, spent, loss))
    still = rest + loss - spent
    total = in_jars + rest + loss
    if made is not None and pot is not None:
        total = max(made - pot, 0.0) + still
    there = None if made is None else np.maximum(made - in_jars - spent, 0.0)
    if pot is not None:
        there = np.full(loss.size, float(pot))
    # With no jar left to fill nothing is needed, whatever the pot loses yet.
    still = np.where(left[1][index] > 0.0, still, 0.0)
    return BrineSoFar(total, still, there, index)


def _own_seen(brine_ml: float, packed: Packed, rng: np.random.Generator) -> Array:
    """Draws of the room a gram takes, given the brine beside produce that was weighed."""
    own, produce = packed.values.own_ml, np.maximum(packed.produce_g, 1e-9)
    space = np.maximum(packed.volume_ml - produce * own, 0.0)
    reading = np.hypot(POT_ML, SPACE_SHARE * space) / produce
    seen = (packed.volume_ml - brine_ml) / produce
    return settle_normal(own, seen, reading, rng, float(own.std()))


def _fitting(lost: Array, spent: Array, rng: np.random.Generator) -> Places:
    """Places of draws in which as much was lost so far as the pot tells.

    Where hardly a draw fits, something else happened, a spill or a slip of the measuring cup: it
    says nothing of what the pot will lose yet, and all draws are kept.
    """
    doubt = 2.0 * POT_ML**2 + (0.1 * float(np.median(spent))) ** 2
    log_weight = -0.5 * (lost - spent) ** 2 / doubt
    weight = np.exp(log_weight - log_weight.max())
    if weight.sum() ** 2 < _FEW * weight.size * (weight**2).sum() or log_weight.max() < _FAR:
        return np.arange(lost.size)
    return resampled(log_weight, rng)
