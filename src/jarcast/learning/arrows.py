"""The arrows of the chain: on what scale each is learned and what it moves with.

An arrow's value for a batch is its published centre plus a sum of standardised effects: each
effect has a standard normal prior, and its loading carries the size. Effects: the person's hand,
the produce, the cut and the two together (so that a new cut of a known crop starts close), and
the arrow's covariates.

    trim   logit(trimmed / as bought)
    cure   log(cured / trimmed), growing with the hours and levelling off
    cook   log(cooked / what went into the pot)
    pack   log density of the ready produce in the fill volume, below its limit
    brine  fill volume - brine used = ready weight / tissue density - pot loss   (in ml)
"""

import math
from functools import lru_cache

import numpy as np
from msgspec import Struct

from jarcast.batch import Arrow
from jarcast.learning.beliefs import CropBelief, People
from jarcast.learning.regression import Array

WEIGHT_ARROWS = (Arrow.TRIM, Arrow.CURE, Arrow.COOK, Arrow.PACK)

# How a crop's distance from its published centre is split: common to all of them (published yields
# as a whole run high or low for one kitchen), to the produce, to the cut, and particular to the two
# together. Common practice, no source; checked by simulation.
_COMMON, _PRODUCE, _CUT, _CELL = (math.sqrt(part) for part in (0.4, 0.3, 0.1, 0.2))

CURE_HOURS = 5.0  # most of the water leaves in the first hours; common practice, no source
USUAL_CURE_HOURS = 12.0  # overnight
USUAL_SALT_SHARE = 0.03
SALT_EFFECT = 0.04  # sd of the change in log keep for an e-fold of salt
JAR_SIZE_EFFECT = 0.04  # sd of the change in log density for an e-fold of jar size
WIDE_EFFECT = 0.03
BATCH_SIZE_EFFECT = 0.06  # sd of the change in log density for an e-fold of the batch
USUAL_READY_G = 3500.0  # batch about which that effect turns
TISSUE_HAND = 0.01  # sd between people of the ready weight's own volume: how well it is drained
PINT_ML = 437.0  # fill volume about which the jar size effect turns
_LIMIT_DOUBLINGS = 4
LIMIT_SHARPNESS = 2.0**_LIMIT_DOUBLINGS  # by squares and square roots: quicker than powers


class Effect(Struct, frozen=True, cache_hash=True):
    """Name of one coefficient."""

    arrow: Arrow
    group: str  # 'hand', 'crop' or 'covariate'
    key: str


Loadings = dict[Effect, float]

_QUANTITIES = {
    Arrow.TRIM: "trim_yield", Arrow.CURE: "cure_keep", Arrow.COOK: "cook_keep",
    Arrow.PACK: "density",
}  # fmt: skip
_SALT = Effect(Arrow.CURE, "covariate", "salt")
_JAR_SIZE = Effect(Arrow.PACK, "covariate", "jar size")
_BATCH_SIZE = Effect(Arrow.PACK, "covariate", "batch size")
_WIDE_MOUTH = Effect(Arrow.PACK, "covariate", "wide mouth")
_DRAINED = Effect(Arrow.BRINE, "hand", "drained")
POT_LOSS = Effect(Arrow.BRINE, "hand", "loss")


class Situation(Struct, frozen=True):
    """What the arrows move with, for one batch, recorded or to come.

    ``cure`` is the share of a full cure's shrink reached (0 to 1); ``salt_share`` grams of salt a
    gram of trimmed produce; ``fill_ml`` the mean fill volume of its jars and ``wide`` the share of
    them with a wide mouth; ``ready_g`` about what goes into the jars.
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


def cure_strength(hours: float | None, usual: float = USUAL_CURE_HOURS) -> float:
    """Share of a full (24 h) cure's shrink reached after these hours; levels off."""
    hours = usual if hours is None else hours
    return (1.0 - math.exp(-hours / CURE_HOURS)) / (1.0 - math.exp(-24.0 / CURE_HOURS))


def logit(share: float) -> float:
    """Log odds of a share between 0 and 1."""
    return math.log(share / (1.0 - share))


def centre(arrow: Arrow, at: Situation) -> float:
    """Published centre of an arrow on its scale."""
    if arrow is Arrow.TRIM:
        return logit(at.crop.trim_yield.centre)
    if arrow is Arrow.CURE:
        return at.cure * math.log(at.crop.cure_keep.centre)
    if arrow is Arrow.COOK:
        return math.log(at.crop.cook_keep.centre)
    return _pack_centre(at.crop.density.centre, density_limit(at.crop))


@lru_cache(1024)
def _pack_centre(density: float, limit: float) -> float:
    return math.log(unlimited(density, limit))


@lru_cache(1024)
def _usual_loadings(
    arrow: Arrow, produce: str, cut: str, pack: str, hand: float, spread: float
) -> Loadings:
    """The hand, and how a crop lies off its published centre: common, produce, cut and cell."""
    # Raw and hot packs of one cut share the produce's and the cut's effect, not the cell's.
    cell = f"{produce}/{cut}" + (f"/{pack}" if arrow is Arrow.PACK else "")
    return {
        Effect(arrow, "hand", ""): hand,
        Effect(arrow, "published", ""): spread * _COMMON,
        Effect(arrow, "crop", produce): spread * _PRODUCE,
        Effect(arrow, "crop", f"*/{cut}"): spread * _CUT,
        Effect(arrow, "crop", cell + "/"): spread * _CELL,
    }


def loadings(arrow: Arrow, at: Situation, people: People) -> Loadings:
    """Effects an arrow moves with and how much, on its scale."""
    hand: float = getattr(people, arrow).hand
    spread: float = getattr(at.crop, _QUANTITIES[arrow]).spread
    found = _usual_loadings(arrow, at.produce, at.cut, at.pack, hand, spread).copy()
    if arrow is Arrow.CURE:
        if at.salt_share:
            salt = math.log(min(max(at.salt_share, 0.003), 0.3) / USUAL_SALT_SHARE)
            found[_SALT] = SALT_EFFECT * salt
        found = {effect: value * at.cure for effect, value in found.items()}
    if arrow is Arrow.PACK:
        size = math.log(at.fill_ml / PINT_ML)
        found[_JAR_SIZE] = JAR_SIZE_EFFECT * size
        batch = math.log(min(max(at.ready_g / USUAL_READY_G, 0.02), 50.0))
        found[_BATCH_SIZE] = BATCH_SIZE_EFFECT * batch
        found[_WIDE_MOUTH] = WIDE_EFFECT * at.wide
    return found


def brine_loadings(ready_g: float, at: Situation, people: People) -> Loadings:
    """Effects on fill volume less brine used, in ml, for this ready weight."""
    own_volume = ready_g / at.crop.tissue.centre
    return {
        _DRAINED: own_volume * TISSUE_HAND,
        Effect(Arrow.BRINE, "crop", at.produce): own_volume * at.crop.tissue.spread,
        POT_LOSS: -people.loss_ml * people.loss_between_people,
    }


def density_limit(crop: CropBelief) -> float:
    """Densest that produce can stand in a jar, g/ml: its tissue's density, cooked soft."""
    return 1.03 * crop.tissue.centre


def limited(density: Array, limit: float | Array) -> Array:
    """Soft limit: far below it nothing changes, near it the density bends away, never an atom."""
    bend = np.asarray(density / limit)
    np.minimum(bend, 1e6, out=bend)
    for _ in range(_LIMIT_DOUBLINGS):
        np.square(bend, out=bend)
    bend += 1.0
    for _ in range(_LIMIT_DOUBLINGS):
        np.sqrt(bend, out=bend)
    return np.asarray(density / bend)


def unlimited_all(density: Array, limit: float) -> Array:
    """``unlimited`` of many densities."""
    ratio = np.minimum(density / limit, 0.985)
    found: Array = limit * ratio / (1.0 - ratio**LIMIT_SHARPNESS) ** (1.0 / LIMIT_SHARPNESS)
    return found


def unlimited(density: float, limit: float) -> float:
    """The inverse of ``limited``; a reading at or past the limit is taken just under it."""
    ratio = min(density / limit, 0.985)
    return float(limit * ratio / (1.0 - ratio**LIMIT_SHARPNESS) ** (1.0 / LIMIT_SHARPNESS))
