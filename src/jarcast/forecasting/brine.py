"""Draws of the brine of one batch: what stands between the pieces, and what the pot keeps."""

import math

import numpy as np

from jarcast.batch import Arrow
from jarcast.forecasting.midpack import Packed
from jarcast.forecasting.settling import resampled, settle_normal
from jarcast.forecasting.values import Values
from jarcast.learning.brine import POT_ML, SPACE_SHARE
from jarcast.learning.learned import Learned, loss_so_far
from jarcast.learning.regression import Array
from jarcast.packing import SoFar

# The pot's loss goes along with the jars, by and large: so many jars' worth of doubt about it.
_LOSS_EVENNESS = 4.0  # common practice, no source


def pot_loss(learned: Learned, values: Values, rng: np.random.Generator) -> Array:
    """Draws of the brine boiled off, spilt and stuck to the pot over one batch, in ml."""
    people, block = learned.beliefs.people, learned.block(Arrow.BRINE)
    typical, sd = loss_so_far(block, people.loss_ml, people.loss_between_people)
    lost = _never_negative(values.lost_ml, typical, sd)
    noise = values.brine_sd * rng.standard_normal(lost.size)
    between = np.clip(people.loss_between_batches * noise, -3.0, 3.0)
    drawn: Array = lost * np.exp(between - 0.5 * people.loss_between_batches**2)
    return drawn


def brine_in_jars(
    values: Values,
    produce_g: Array,
    volume_ml: Array,
    rng: np.random.Generator,
) -> Array:
    """Draws of the brine that stands between the pieces in jars of this volume, in ml."""
    space = volume_ml - produce_g * values.own_ml
    found: Array = space * (1.0 + SPACE_SHARE * values.brine_sd * rng.standard_normal(space.size))
    return found


def brine_so_far(
    so_far: SoFar,
    packed: Packed,
    left: tuple[Array, Array],
    loss: Array,
    rng: np.random.Generator,
) -> tuple[Array, Array, Array | None]:
    """Brine of the whole batch, what the rest still takes, and what there is of it, in ml.

    ``left`` is the produce and the fill volume still to come.
    """
    produce, volume = packed.produce_g, packed.volume_ml
    values = packed.values
    if so_far.brine_ml is not None and volume > 0.0:
        space = np.maximum(volume - produce * values.own_ml, 0.0)
        reading = np.hypot(POT_ML, SPACE_SHARE * space) / np.maximum(produce, 1e-9)
        seen = (volume - so_far.brine_ml) / np.maximum(produce, 1e-9)
        own = settle_normal(values.own_ml, seen, reading, rng, float(values.own_ml.std()))
        values = values.with_own(own)
        in_jars = np.full(loss.size, float(so_far.brine_ml))
    else:
        drawn = brine_in_jars(values, produce, np.full(loss.size, volume), rng)
        in_jars = np.maximum(drawn, 0.0)
    rest = brine_in_jars(values, *left, rng)
    rest = 0.5 * (rest + np.sqrt(rest**2 + (0.02 * left[1]) ** 2))  # as ever, a soft floor
    part = volume / np.maximum(volume + left[1], 1e-9)
    gone = rng.beta(0.5 + _LOSS_EVENNESS * part, 0.5 + _LOSS_EVENNESS * (1.0 - part))
    gone = np.where(part > 0.0, gone, 0.0)
    made, pot = so_far.brine_made_ml, so_far.pot_left_ml
    if made is not None and pot is not None:
        lost = made - pot - in_jars  # up to now
        doubt = 2.0 * POT_ML**2 + (0.1 * loss) ** 2
        index = resampled(-0.5 * (lost - gone * loss) ** 2 / doubt - 0.5 * np.log(doubt), rng)
        gone, loss = gone[index], loss[index]
    to_come = (1.0 - gone) * loss
    still = rest + to_come
    if made is not None and pot is not None:
        total = max(made - pot, 0.0) + still
    else:
        total = in_jars + rest + loss
    there = None if made is None else np.maximum(made - in_jars - gone * loss, 0.0)
    if pot is not None:
        there = np.full(loss.size, float(pot))
    return total, still, there


def _never_negative(lost: Array, mean: float, sd: float) -> Array:
    """The same mean and spread on a scale that cannot go below 0 (lognormal)."""
    log_sd = math.sqrt(math.log1p((sd / mean) ** 2))
    standard = (lost - mean) / max(sd, 1e-9)
    bent: Array = mean * np.exp(log_sd * standard - 0.5 * log_sd**2)
    return bent
