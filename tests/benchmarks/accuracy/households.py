"""Invented households: a hand, some crops, a history as it was recorded, and unseen batches."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from msgspec.structs import replace as written_otherwise
from numpy.typing import NDArray

from accuracy.crops import QUANTITIES, Crop, published_crops, unlisted_crops
from accuracy.worlds import PINT_ML, Course, Habits, Setting, World, carry
from jarcast.domain.batch import Batch
from jarcast.domain.jars import DEFAULT_HEADSPACE_IN, ML_PER_FL_OZ, SHELF

TUNING_SEED = 1847  # what is tuned is tuned on these households
REPORTING_SEED = 90210  # and reported on these
SIZES = (0, 1, 2, 3, 5, 8, 13, 21, 34)  # own batches a forecast may rest on
QUARTER_CUP_ML = 2 * ML_PER_FL_OZ
_JARS = ("pint", "pint-wide", "quart", "quart-wide")
_WEIGHTS = ("as_bought_g", "trimmed_g", "cured_g", "cooked_g")
_SLIPS = {"_g": (2.2, 10.0), "_ml": (4.0, 10.0)}  # lb for kg, decimal point, cups for quarts
_PRINTED_LOSS_ML = 150.0


@dataclass(frozen=True)
class Unseen:
    """A batch to forecast: what is known of it, and the truth that is scored.

    ``batch`` holds the stage weights as they would be recorded; ``jars`` is unrounded fill
    volume over one jar's fill volume, ``brine_ml`` all that was needed. ``printed`` is what the
    published centres make of the weight as bought: (jars, brine in ml).
    """

    after: int  # batches in the history before it
    crop: int
    setting: Setting
    batch: Batch
    habits: Habits  # the true ones, at that time
    jars: float
    brine_ml: float
    printed: tuple[float, float]

    def known(self, ask: str) -> tuple[str, float]:
        """Stage and weight in g that a forecast starts from; ask is 'ready' or 'as_bought'."""
        stage = self.setting.stages[-1] if ask == "ready" else ask
        weight: float = getattr(self.batch, f"{stage}_g")
        return stage, weight


@dataclass(frozen=True)
class Household:
    """One household; ``history`` is what it wrote down, ``clean`` the same without slips."""

    world: World
    number: int
    crops: Sequence[Crop]
    cured: Sequence[bool]
    history: Sequence[Batch]
    clean: Sequence[Batch]
    crop_of: Sequence[int]  # crop of each batch of the history
    settings: Sequence[Setting]  # of each batch of the history
    unseen: Sequence[Unseen]  # one for each of SIZES
    truths: Sequence[tuple[float, float]]  # jars and brine in ml of each batch of the history
    habits: Sequence[Habits]  # the true ones of each crop, before any drift


def make_household(
    world: World, number: int, seed: int, table: Sequence[Crop] | None = None
) -> Household:
    """The household of this number; the same in every world but for what the world changes.

    ``table`` are the crops to pick from, the published ones unless given.
    """
    rng = np.random.default_rng([seed, number])
    crops = pick_crops(world, rng, table)
    cured = [c.cured == "usual" or (c.cured == "sometimes" and rng.random() < 0.5) for c in crops]
    habits = true_habits(world, crops, rng)
    share = rng.dirichlet(np.full(len(crops), 2.0))
    kitchen = Kitchen(world, crops, cured, habits, share, [[] for _ in crops], rng)
    kept, unseen = [], []
    for n in range(max(SIZES) + 1):
        if n in SIZES:
            unseen.append(kitchen.pack(n, kept=False))
        if n < max(SIZES):
            kept.append(kitchen.pack(n, kept=True))
    clean = [one.batch for one in kept]
    return Household(
        world=world,
        number=number,
        crops=crops,
        cured=cured,
        history=_spoilt(world, clean, np.random.default_rng([seed, number, 1])),
        clean=clean,
        crop_of=[one.crop for one in kept],
        settings=[one.setting for one in kept],
        unseen=unseen,
        truths=[(one.jars, one.brine_ml) for one in kept],
        habits=habits,
    )


def pick_crops(world: World, rng: np.random.Generator, table: Sequence[Crop] | None) -> list[Crop]:
    """Three to six crops, no two of the same produce, hot packs less often."""
    table = table or (unlisted_crops() if world.unlisted else published_crops())
    weight = np.array([0.4 if crop.hot else 1.0 for crop in table])
    order = rng.choice(len(table), size=len(table), replace=False, p=weight / weight.sum())
    wanted = int(rng.integers(3, 7))
    picked: dict[str, Crop] = {}
    for index in order:
        picked.setdefault(table[index].produce, table[index])
        if len(picked) == wanted:
            break
    return list(picked.values())


def true_habits(world: World, crops: Sequence[Crop], rng: np.random.Generator) -> list[Habits]:
    hand = {link: rng.normal(0.0, spread) for link, spread in world.hand.items()}
    loss = math.log(world.loss_ml) + rng.normal(0.0, world.loss_people)
    habits = []
    for crop in crops:
        value = {}
        for quantity in QUANTITIES:
            side = 1.0 if rng.random() < 0.5 else -1.0
            value[quantity] = (
                crop.centre[quantity]
                + hand.get(quantity, 0.0)
                + rng.normal(0.0, world.crop[quantity])
                + side * world.off_book.get(quantity, 0.0)
            )
        habits.append(Habits(**value, loss=loss))
    return habits


def printed_chain(crop: Crop, setting: Setting, stage: str) -> float:
    """Ready weight over the weight at this stage, by the published centres."""
    keep = 1.0
    for after in setting.stages[setting.stages.index(stage) + 1 :]:
        if after == "trimmed":
            keep /= 1.0 + math.exp(-crop.centre["trim"])
        else:
            keep *= math.exp(crop.centre["cure" if after == "cured" else "cook"])
    return keep


def printed_totals(crop: Crop, setting: Setting, course: Course) -> tuple[float, float]:
    """Jars, and brine in ml, of the weight as bought by the published centres."""
    bought = float(course.weights["as_bought"][0])
    ready = bought * printed_chain(crop, setting, "as_bought")
    fill_ml = ready * math.exp(-crop.centre["pack"])
    brine_ml = fill_ml - ready * math.exp(-crop.centre["tissue"]) + _PRINTED_LOSS_ML
    return fill_ml / setting.fill_ml, brine_ml


def _rounded(value: float, step: float) -> float:
    return max(round(value / step), 1) * step


@dataclass
class Kitchen:
    """A household at work: packs one batch after another and writes them down."""

    world: World
    crops: Sequence[Crop]
    cured: Sequence[bool]
    habits: Sequence[Habits]
    share: NDArray[np.float64]  # how often each crop is packed
    came_out: Sequence[list[float]]  # brine written as used over the printed, by crop
    rng: np.random.Generator

    def pack(self, after: int, kept: bool) -> Unseen:
        """Buy for about 4 to 20 pints by the printed yield, and pack it; a kept one is learned."""
        k = int(self.rng.choice(len(self.crops), p=self.share))
        crop, habits = self.crops[k], self.habits[k]
        now = replace(habits, pack=habits.pack + self.world.drift_at(after + 1))
        jar = _JARS[int(self.rng.integers(len(_JARS)))]
        pints = float(np.exp(self.rng.normal(math.log(9.0), 0.4)))
        hours = float(self.rng.integers(12, 25)) if self.cured[k] else 0.0
        setting = Setting(hours, crop.hot, SHELF[jar].fill_volume_ml(DEFAULT_HEADSPACE_IN))
        ready = pints * PINT_ML * math.exp(crop.centre["pack"])
        bought = ready / printed_chain(crop, setting, "as_bought")
        course = carry(self.world, now, setting, "as_bought", bought, self.rng)
        printed = printed_totals(crop, setting, course)
        batch = self._written(after, k, setting, course, jar, printed[1])
        if kept:
            self.came_out[k].append((batch.brine_used_ml or 0.0) / printed[1])
            if self.world.sparse:
                batch = written_otherwise(batch, trimmed_g=None, cured_g=None, cooked_g=None)
        truth = float(course.jars[0]), float(course.brine_ml[0])
        return Unseen(after, k, setting, batch, now, *truth, printed)

    def _written(
        self, after: int, k: int, setting: Setting, course: Course, jar: str, printed_ml: float
    ) -> Batch:
        crop, before = self.crops[k], self.came_out[k]
        plan = printed_ml * (sum(before) / len(before) if before else 1.0)
        made, left = _brine_written(self.world, plan, float(course.brine_ml[0]), self.rng)
        return Batch(
            batch=f"batch {after + 1}",
            date=dt.date(2021, 6, 1) + dt.timedelta(days=9 * after),
            produce=crop.produce,
            cut=crop.cut,
            pack=crop.pack,
            jar=(jar,),
            jars=(_rounded(float(course.jars[0]), 0.5),),
            headspace_in=DEFAULT_HEADSPACE_IN,
            as_bought_g=_weighed(course, "as_bought", 10.0),
            trimmed_g=_weighed(course, "trimmed", 5.0),
            cure_hours=setting.hours,
            cured_g=_weighed(course, "cured", 5.0),
            cooked_g=_weighed(course, "cooked", 5.0),
            brine_made_ml=made,
            brine_left_ml=left,
        )


def _weighed(course: Course, stage: str, step: float) -> float | None:
    grams = course.weights.get(stage)
    return None if grams is None else _rounded(float(grams[0]), step)


def _brine_written(
    world: World, plan: float, needed: float, rng: np.random.Generator
) -> tuple[float, float]:
    """Brine made and left in ml. How much is made rests on the plan alone, never on the batch."""
    made = math.ceil(world.generous * plan / QUARTER_CUP_ML) * QUARTER_CUP_ML
    pot = math.ceil(0.5 * plan / QUARTER_CUP_ML) * QUARTER_CUP_ML
    patience = rng.random(8)
    for chance in patience:
        if needed <= made:
            break
        if chance < world.makes_do:
            return made, 0.0
        made += pot
    if needed > made:
        return made, 0.0
    return made, _rounded(made - needed, QUARTER_CUP_ML)


def _spoilt(world: World, history: list[Batch], rng: np.random.Generator) -> list[Batch]:
    """The history with the world's missing weights and gross slips."""
    if not (world.slips or world.missing):
        return history
    spoilt = []
    for batch in history:
        values: dict[str, float | None] = {
            name: getattr(batch, name)
            for name in (*_WEIGHTS, "brine_made_ml", "brine_left_ml")
            if getattr(batch, name)
        }
        for name in values:
            if name in _WEIGHTS and rng.random() < world.missing:
                values[name] = None
        if rng.random() < world.slips:
            values.update(_slip(values, rng))
        spoilt.append(written_otherwise(batch, **values))  # type: ignore[arg-type]
    return spoilt


def _slip(values: Mapping[str, float | None], rng: np.random.Generator) -> dict[str, float]:
    """One value that was recorded, off by a factor people get wrong."""
    written = {name: value for name, value in values.items() if value is not None}
    name = sorted(written)[int(rng.integers(len(written)))]
    factors = _SLIPS["_ml" if name.endswith("_ml") else "_g"]
    factor = factors[int(rng.integers(len(factors)))]
    up = rng.random() < 0.5
    return {name: written[name] * factor if up else written[name] / factor}
