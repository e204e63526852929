"""The links of the chain: on what scale each is learned, and where published yields put it.

    trim   logit(trimmed / as bought)
    cure   log(cured / trimmed), growing with the hours and levelling off
    cook   log(cooked / what went into the pot)
    pack   log density of the ready produce in the fill volume, below its limit
    brine  fill volume - brine used = ready weight / tissue density - pot loss   (in ml)

A link's value for a batch is its published centre plus a sum of effects; see ``effects``.
"""

import math
from functools import lru_cache
from typing import TypeVar

import numpy as np
from msgspec import Struct

from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.model.beliefs import CropBelief

WEIGHT_LINKS = (Link.TRIM, Link.CURE, Link.COOK, Link.PACK)
CURE_HOURS = 5.0  # most of the water leaves in the first hours; common practice, no source
USUAL_CURE_HOURS = 12.0  # overnight
USUAL_READY_G = 3500.0  # a batch of the usual size
PINT_ML = 437.0  # fill volume of the usual jar
_LIMIT_SHARPNESS = 16.0
NEAREST_LIMIT = 0.985  # a density read at or past its limit is taken as this share of it

_Density = TypeVar("_Density", float, Array)


class Situation(Struct, frozen=True, gc=False):
    """What the links' values depend on, for one batch, recorded or to come.

    ``cure`` is the share of a full cure's shrink reached (0 to 1); ``salt_share`` grams of salt a
    gram of trimmed produce; ``fill_ml`` the mean fill volume of its jars and ``wide`` the share of
    them with a wide mouth; ``ready_g`` about what goes into the jars. ``people`` are the chances of
    who trimmed and packed, by name; none in a kitchen of one. ``stranger`` is the name of somebody
    who is new to a kitchen of one.
    """

    crop: CropBelief
    produce: str
    cut: str
    pack: str
    cure: float = 1.0
    salt_share: float | None = None
    fill_ml: float = PINT_ML
    wide: float = 0.0
    ready_g: float = USUAL_READY_G
    people: tuple[tuple[str, float], ...] = ()
    stranger: str = ""


def cure_strength(hours: float | None, usual: float = USUAL_CURE_HOURS) -> float:
    """Share of a full (24 h) cure's shrink reached after these hours; levels off."""
    hours = usual if hours is None else hours
    return (1.0 - math.exp(-hours / CURE_HOURS)) / (1.0 - math.exp(-24.0 / CURE_HOURS))


def logit(share: float) -> float:
    """Log odds of a share between 0 and 1."""
    return math.log(share / (1.0 - share))


def centre(link: Link, at: Situation) -> float:
    """Published centre of a weight link on its scale."""
    if link is Link.TRIM:
        return logit(at.crop.trim_yield.centre)
    if link is Link.CURE:
        return at.cure * math.log(at.crop.cure_keep.centre)
    if link is Link.COOK:
        return math.log(at.crop.cook_keep.centre)
    return _log_unlimited(at.crop.density.centre, density_limit(at.crop))


@lru_cache(maxsize=1024)  # a long ledger asks for a few of them over and over
def _log_unlimited(density: float, limit: float) -> float:
    return math.log(unlimited(density, limit))


def density_limit(crop: CropBelief) -> float:
    """Greatest density of produce in a jar, g/ml: that of its tissue, cooked soft."""
    return 1.03 * crop.tissue.centre


def limited(density: _Density, limit: float) -> _Density:
    """Bend a density (g/ml) below its limit: far below nothing changes, and none lies at it."""
    ratio = np.minimum(density / limit, 1e6)
    bent: _Density = density / (1.0 + ratio**_LIMIT_SHARPNESS) ** (1.0 / _LIMIT_SHARPNESS)
    return bent


def unlimited(density: _Density, limit: _Density | float) -> _Density:
    """The inverse of ``limited``; a density at or past the limit is taken as just under it."""
    ratio = np.minimum(density / limit, NEAREST_LIMIT)
    found: _Density = limit * ratio / (1.0 - ratio**_LIMIT_SHARPNESS) ** (1.0 / _LIMIT_SHARPNESS)
    return found


def slope_of_limit(free: Array, limit: Array | float) -> Array:
    """How much faster the unlimited density grows than the density, both in logs."""
    slope: Array = 1.0 + (free / limit) ** _LIMIT_SHARPNESS
    return slope
