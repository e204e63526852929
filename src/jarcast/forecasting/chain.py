"""One batch forecast through the chain, jars and brine drawn together.

Every draw is one possible batch: its own trim, cure and cook, its own density, and the brine that
density leaves room for. Looser packing is more jars and more brine in each, so the two are never
forecast apart.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from jarcast.batch import Arrow
from jarcast.errors import ForecastError
from jarcast.forecasting.request import Request
from jarcast.kinds import makes_its_own_brine
from jarcast.learning.arrows import (
    Loadings,
    Situation,
    brine_loadings,
    centre,
    cure_strength,
    density_limit,
    limited,
    loadings,
)
from jarcast.learning.beliefs import CropBelief
from jarcast.learning.brine import SPACE_SHARE
from jarcast.learning.circumstances import cell_name
from jarcast.learning.draws import draw_effects, draw_noise
from jarcast.learning.learned import Learned, loss_so_far
from jarcast.learning.regression import Array

_AFTER = {
    "as_bought_g": (Arrow.TRIM, Arrow.CURE, Arrow.COOK),
    "trimmed_g": (Arrow.CURE, Arrow.COOK),
    "cured_g": (Arrow.COOK,),
    "cooked_g": (),
}


@dataclass(frozen=True, slots=True)
class Drawn:
    """Draws of one batch, each array (draws,): jars by sort, brine and ready weight."""

    jars: tuple[Array, ...]
    brine_ml: Array
    ready_g: Array
    cured: float  # chance of a cure that the forecast went by


def draw_batch(learned: Learned, request: Request) -> Drawn:
    """Draw a batch through the arrows that still lie ahead of the latest known weight."""
    rng = np.random.default_rng(request.seed)
    situation, cured = _situation(learned, request)
    ahead = [arrow for arrow in _AFTER[request.stage] if _happens(arrow, request, cured)]
    at_jars = [
        replace(situation, fill_ml=turn.fill_ml, wide=float(turn.jar.wide))
        for turn in request.turns
    ]
    values = _draw_arrows(learned, ahead, situation, at_jars, request.draws, rng)
    ready = np.full(request.draws, request.grams)
    for arrow in ahead:
        value = values[arrow][0]
        if arrow is Arrow.TRIM:
            ready = ready / (1.0 + np.exp(-np.clip(value, -30.0, 30.0)))
        elif arrow is Arrow.CURE and cured < 1.0:
            ready = ready * np.where(rng.random(request.draws) < cured, np.exp(value), 1.0)
        else:
            ready = ready * np.exp(value)
    limit = density_limit(situation.crop)
    densities = [limited(np.exp(value), limit) for value in values[Arrow.PACK]]
    jitter = learned.beliefs.people.jar_to_jar * rng.standard_normal(request.draws)
    jars = _fill(ready, densities, request, jitter)
    if learned.ways.jar_step >= 1.0:
        jars = (*jars[:-1], _evened(jars[-1], rng))
    volume = sum(n * t.fill_ml for n, t in zip(jars, request.turns, strict=True))
    brine = _draw_brine(learned, situation, ready, np.asarray(volume), rng)
    if makes_its_own_brine(request.produce, request.cut):
        brine = np.zeros(request.draws)
    if not (np.isfinite(brine).all() and all(np.isfinite(j).all() for j in jars)):
        raise ForecastError("the numbers given are too large or too small to forecast from")
    return Drawn(jars, brine, ready, cured)


def _situation(learned: Learned, request: Request) -> tuple[Situation, float]:
    crop = learned.beliefs.crop(request.produce, request.cut, request.pack)
    if request.cure_hours == 0 or (request.salt_g == 0 and not request.cure_hours):
        cured = 0.0
    elif request.cure_hours or request.salt_g:
        cured = 1.0
    else:
        cured = learned.ways.cure_chance(request.produce, request.cut, crop.cured)
        cured = 0.0 if cured < 0.1 else 1.0 if cured > 0.9 else cured
    salt = request.salt_g / request.trimmed_g if request.salt_g and request.trimmed_g else None
    usual = learned.ways.cure_hours
    strength = (
        cure_strength(request.cure_hours)
        if usual is None
        else cure_strength(request.cure_hours, usual)
    )
    at = Situation(
        crop=crop,
        produce=request.produce,
        cut=request.cut,
        pack=request.pack,
        cure=strength,
        salt_share=salt,
        ready_g=_ready_expected(request, crop, cured, strength),
    )
    return at, cured


def _ready_expected(request: Request, crop: CropBelief, cured: float, strength: float) -> float:
    """About what will go into the jars, by the published yields, in grams."""
    grams = request.grams
    if request.stage == "as_bought_g":
        grams *= crop.trim_yield.centre
    if request.stage in ("as_bought_g", "trimmed_g"):
        grams *= crop.cure_keep.centre ** (cured * strength)
    if request.stage != "cooked_g" and request.pack == "hot":
        grams *= crop.cook_keep.centre
    return grams


def _happens(arrow: Arrow, request: Request, cured: float) -> bool:
    if arrow is Arrow.CURE:
        return cured > 0.0
    if arrow is Arrow.COOK:
        return request.pack == "hot"
    return True


def _draw_arrows(
    learned: Learned,
    ahead: list[Arrow],
    situation: Situation,
    at_jars: list[Situation],
    draws: int,
    rng: np.random.Generator,
) -> dict[Arrow, list[Array]]:
    """Draws of each arrow on its scale; the pack arrow once for each sort of jar."""
    people = learned.beliefs.people
    wanted: list[tuple[Arrow, Situation]] = [(arrow, situation) for arrow in ahead]
    wanted += [(Arrow.PACK, at) for at in at_jars]
    values: dict[Arrow, list[Array]] = {}
    for block in learned.blocks:
        own = [(arrow, at) for arrow, at in wanted if arrow in block.arrows]
        if not own:
            continue
        sums: list[Loadings] = [loadings(arrow, at, people) for arrow, at in own]
        drawn, which = draw_effects(block, sums, draws, rng)
        noise = {
            arrow: draw_noise(block, arrow, cell_name(situation), which, rng)
            for arrow in {a: 0 for a, _ in own}
        }
        for column, (arrow, at) in enumerate(own):
            value = centre(arrow, at) + drawn[:, column] + noise[arrow]
            values.setdefault(arrow, []).append(value)
    return values


def _fill(
    ready: Array, densities: list[Array], request: Request, jitter: Array
) -> tuple[Array, ...]:
    """Jars of each sort that the ready produce fills, in their turns; ``jitter`` is jar to jar."""
    left = ready
    jars = []
    for turn, density in zip(request.turns, densities, strict=True):
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


def _draw_brine(
    learned: Learned,
    situation: Situation,
    ready: Array,
    volume: Array,
    rng: np.random.Generator,
) -> Array:
    """Brine used: the space the produce leaves, plus the pot loss."""
    people = learned.beliefs.people
    block, cell = learned.block(Arrow.BRINE), cell_name(situation)
    effects = brine_loadings(1.0, situation, people)
    own = {e: v for e, v in effects.items() if e.key != "loss"}
    loss = {e: v for e, v in effects.items() if e.key == "loss"}
    drawn, which = draw_effects(block, [own, loss], ready.size, rng)
    space = volume - ready * (1.0 / situation.crop.tissue.centre + drawn[:, 0])
    typical, sd = loss_so_far(block, people.loss_ml, people.loss_between_people)
    lost = _never_negative(people.loss_ml - drawn[:, 1], typical, sd)
    between = people.loss_between_batches * draw_noise(block, Arrow.BRINE, cell, which, rng)
    between = np.clip(between, -3.0, 3.0)
    lost = lost * np.exp(between - 0.5 * people.loss_between_batches**2)
    wobble = SPACE_SHARE * space * draw_noise(block, Arrow.BRINE, cell, which, rng)
    brine = space + wobble + lost
    # A soft floor: the densest packs still take a little brine.
    least = 0.02 * volume
    floored: Array = 0.5 * (brine + np.sqrt(brine**2 + least**2))
    return floored


def _never_negative(lost: Array, mean: float, sd: float) -> Array:
    """The same mean and spread on a scale that cannot go below 0 (lognormal)."""
    log_sd = math.sqrt(math.log1p((sd / mean) ** 2))
    standard = (lost - mean) / max(sd, 1e-9)
    bent: Array = mean * np.exp(log_sd * standard - 0.5 * log_sd**2)
    return bent
