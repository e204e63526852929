"""Draws of the brine of one batch: what stands between the pieces, and what the pot keeps."""

import math

import numpy as np
from msgspec import Struct

from jarcast.forecast.values import Places, Values
from jarcast.learning.arrays import Array
from jarcast.learning.draws import mirrored
from jarcast.learning.learned import Learned
from jarcast.learning.model.brine_rows import SPACE_SHARE


def pot_loss(learned: Learned, values: Values, rng: np.random.Generator) -> Array:
    """Draws of the brine boiled off, spilt and stuck to the pot over one batch, in ml."""
    people = learned.beliefs.people
    sd = float(values.lost_ml.std())
    typical = max(float(values.lost_ml.mean()), 0.1 * people.loss_ml)
    # Of this person: the same mean and spread on a scale that cannot go below 0 (lognormal).
    log_sd = math.sqrt(math.log1p((sd / typical) ** 2))
    usual = (values.lost_ml - typical) * (log_sd / max(sd, 1e-9))
    between = people.loss_between_batches
    noise = between * values.brine_sd * rng.standard_normal(values.brine_sd.size)
    noise = np.minimum(np.maximum(noise, -3.0), 3.0)
    middle = math.log(typical) - 0.5 * (log_sd**2 + between**2)
    drawn: Array = np.exp(middle + usual + mirrored(noise, usual.size))
    return drawn


def brine_in_jars(
    values: Values,
    produce_g: Array,
    volume_ml: Array,
    rng: np.random.Generator,
) -> Array:
    """Draws of the brine that stands between the pieces in jars of this volume, in ml."""
    space = volume_ml - produce_g * values.own_ml
    noise = SPACE_SHARE * values.brine_sd * rng.standard_normal(values.brine_sd.size)
    found: Array = space * (1.0 + mirrored(noise, space.size))
    return found


def soft_floor(brine: Array, volume: Array) -> Array:
    """Brine in ml kept above 0 smoothly: the densest packs still take a little."""
    least = 0.02 * volume
    floored: Array = 0.5 * (brine + np.sqrt(brine**2 + least**2))
    return floored


class BrineSoFar(Struct, frozen=True):
    """Draws in ml of the whole batch's brine, what the rest still takes, and what there is of it.

    ``index`` are the places of the draws they belong to, a slice where all of them stay; ``room``
    is the most that the jars to come and the pot can take, None before the packing.
    """

    total: Array
    still: Array
    there: Array | None
    index: Places | slice
    room: Array | None = None
