"""Households of the accuracy harness whose batches are packed jar by jar and recorded anew.

Hands, crops, purchases, weights and jars are the plain world's of ``accuracy.households``, drawn
with the same seeds; a counter world changes what it names and nothing else. ``crops.csv`` holds the
published centres on their own scales (trim in logits, the rest in logs) as they were when these
worlds were made, so that the households stay when the starting beliefs change.

What is recorded:

- Every weighing is rounded to the household's scale, weights as bought to no less than 10 g, and is
  one step at least. The true weight is what the plain world wrote down, moved evenly within half of
  its own step (10 g as bought, else 5 g).
- A part-full last jar is counted to the half jar; whole jars are whole.
- Of brine a fifth more than planned is made, in whole measures; the plan is the printed amount, put
  right by how earlier batches of that crop came out. Whoever runs short heats half the plan again,
  or one time in four makes do: then all that was made is written, and nothing left. What is left is
  read to the measure, one at least.
- A note in the middle of packing tells the produce left, and the brine left in the pot, as read.
"""

import csv
import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path

import numpy as np
from accuracy.crops import QUANTITIES, Crop
from accuracy.households import (
    QUARTER_CUP_ML,
    SIZES,
    Household,
    make_household,
    printed_totals,
)
from accuracy.worlds import WORLDS, Course, Setting, World

from counter.packing import PART, Hand, Packing, draw_hand, pack
from jarcast.domain.batch import Batch
from jarcast.domain.jars import DEFAULT_HEADSPACE_IN, SHELF

PLAIN = WORLDS["plain"]
POUND_G = 453.59237
BATCHES = 34
_GENEROUS, _MAKES_DO = 1.2, 0.25
_HALF = {"quart": "pint", "quart-wide": "pint-wide", "pint": "half-pint", "pint-wide": "half-pint"}
_WEIGHTS = ("as_bought", "trimmed", "cured", "cooked")


@dataclass(frozen=True)
class Counter:
    """What is otherwise than in the plain world: a habit, tiring, instruments, notes."""

    name: str
    about: str
    habit: str = PART
    slope_sd: float = 0.0
    scale_g: float = 5.0
    other_scale_g: float | None = None  # the scale of the other half of the history
    measure_ml: float = QUARTER_CUP_ML
    notes: tuple[int, ...] = ()  # after so many jars every batch of the history has a note
    denser: float = 0.0  # log density above what the plain household packs
    first: int = 0  # so many jars of another sort come before
    other: str = "mouth"  # what that sort is another of: 'mouth' or 'size'
    named: bool = False  # a jar of half the size is written by its name, not as half a jar


@dataclass(frozen=True)
class Cooked:
    """One batch as it went: true weights in g by stage.

    ``printed`` is the jars, and brine in ml, that the published centres make of the weight as
    bought; ``made_ml`` the brine made before the first jar, ``pot_ml`` what another pot brings.
    """

    number: int
    crop: int
    setting: Setting
    jar: str
    weights: Mapping[str, float]
    packing: Packing
    printed: tuple[float, float]
    made_ml: float = 0.0
    pot_ml: float = 0.0


@dataclass(frozen=True)
class Note:
    """A reading in the middle of packing: after ``jars`` full ones."""

    jars: int
    produce_left_g: float
    pot_left_ml: float
    made_ml: float


@dataclass(frozen=True)
class Kitchen:
    """A household of a counter world; ``cooked`` are its batches in order, from the first.

    ``spreads`` is the world of ``accuracy`` that its hand, crops and batches differ by.
    """

    world: Counter
    seed: int
    number: int
    household: Household
    hand: Hand
    cooked: Sequence[Cooked]
    spreads: World = PLAIN

    def scale_g(self, number: int, own: int) -> float:
        """Step of the scale for a batch, where the history has ``own``.

        A change comes after half of the history, in even households to the world's first scale.
        """
        other = self.world.other_scale_g
        if other is None:
            return self.world.scale_g
        now, before = self.world.scale_g, other
        if self.number % 2:
            now, before = before, now
        return before if number < own // 2 else now

    def history(self, own: int) -> list[Batch]:
        """The first batches as they were recorded."""
        return [written(self, one, self.scale_g(one.number, own)) for one in self.cooked[:own]]

    def notes(self, own: int) -> dict[str, list[Note]]:
        """The notes made while these batches were packed, by their names."""
        return {
            f"batch {one.number + 1}": [
                self.note(one, jars, self.scale_g(one.number, own))
                for jars in self.world.notes
                if jars <= len(one.packing.full_g)
            ]
            for one in self.cooked[:own]
            if self.world.notes
        }

    def note(self, one: Cooked, jars: int, scale_g: float) -> Note:
        """What is read after so many full jars."""
        packing = one.packing
        left = packing.ready_g - packing.stood(jars)[0]
        poured = packing.poured_ml(jars)
        made = one.made_ml
        while made < poured:
            made += one.pot_ml
        measure = self.world.measure_ml
        return Note(jars, read(left, scale_g), read(made - poured, measure), made)

    def coming(self, own: int) -> Cooked:
        """The batch to forecast after so many: not one of the history."""
        if own not in SIZES:
            return self.cooked[own]
        unseen = self.household.unseen[SIZES.index(own)]
        one = cook(self, unseen.batch, unseen.crop, unseen.setting, own, tag=-1 - own)
        return planned(self.world, one, self.cooked[:own])


def read(value: float, step: float) -> float:
    """A reading to the nearest step, one at least: something is there, and is seen to be."""
    return max(round(value / step), 1) * step


@cache
def frozen_crops() -> tuple[Crop, ...]:
    """The published crops as they were when these worlds were made."""
    path = Path(__file__).with_name("crops.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(
            Crop(
                row["produce"], row["cut"], row["pack"], row["cured"],
                {quantity: float(row[quantity]) for quantity in QUANTITIES}, {},
            )
            for row in csv.DictReader(file)
        )  # fmt: skip


@lru_cache(maxsize=4)
def _household(number: int, seed: int) -> Household:
    return make_household(PLAIN, number, seed, frozen_crops())


def make_kitchen(world: Counter, number: int, seed: int, spreads: World = PLAIN) -> Kitchen:
    """The household of this number in a counter world, its batches packed."""
    if spreads is PLAIN:
        household = _household(number, seed)
    else:
        household = make_household(spreads, number, seed, frozen_crops())
    hand = draw_hand(world.habit, world.slope_sd, np.random.default_rng([seed, number, 101]))
    empty = Kitchen(world, seed, number, household, hand, (), spreads)
    rows = zip(household.clean, household.crop_of, household.settings, strict=True)
    cooked: list[Cooked] = []
    for i, (batch, crop, setting) in enumerate(rows):
        cooked.append(planned(world, cook(empty, batch, crop, setting, i, tag=i), cooked))
    return replace(empty, cooked=cooked)


def cook(
    kitchen: Kitchen, batch: Batch, crop: int, setting: Setting, number: int,
    *, tag: int, aside: float = 0.0,
) -> Cooked:  # fmt: skip
    """A batch of the plain world, packed jar by jar; no brine is planned for it yet.

    ``tag`` is the place of its own draws, ``aside`` the share of its ready produce not jarred.
    """
    household = kitchen.household
    rng = np.random.default_rng([kitchen.seed, kitchen.number, 102, 1000 + tag])
    weights = {}
    for stage in _WEIGHTS:
        grams = getattr(batch, f"{stage}_g")
        half = 5.0 if stage == "as_bought" else 2.5
        within = rng.uniform(-half, half)  # drawn whether it is weighed or not
        if grams is not None:
            weights[stage] = grams + within
    habits = household.habits[crop]
    habits = replace(habits, pack=habits.pack + kitchen.world.denser)
    ready = weights[setting.stages[-1]]
    first = (0, 0.0)
    if many := kitchen.world.first:
        first = (
            many,
            SHELF[other_sort(kitchen.world, batch.jar[0])].fill_volume_ml(DEFAULT_HEADSPACE_IN),
        )
    packing = pack(kitchen.spreads, habits, kitchen.hand, setting.fill_ml, ready, rng, aside, first)
    bought = np.array([weights["as_bought"]])
    course = Course({"as_bought": bought}, np.empty(0), np.empty(0))
    printed = printed_totals(household.crops[crop], setting, course)
    return Cooked(number, crop, setting, batch.jar[0], weights, packing, printed)


def planned(world: Counter, one: Cooked, before: Sequence[Cooked]) -> Cooked:
    """The same batch with its brine planned by how earlier ones of its crop came out."""
    came_out = [b.packing.need_ml / b.printed[1] for b in before if b.crop == one.crop]
    plan = one.printed[1] * (sum(came_out) / len(came_out) if came_out else 1.0)
    first, again = (math.ceil(s * plan / world.measure_ml) for s in (_GENEROUS, 0.5))
    return replace(one, made_ml=first * world.measure_ml, pot_ml=again * world.measure_ml)


def brine_written(one: Cooked, measure_ml: float, rng: np.random.Generator) -> tuple[float, float]:
    """Brine made and left in ml, as they are recorded."""
    made, need = one.made_ml, one.packing.need_ml
    for patience in rng.random(8):
        if need <= made:
            break
        if patience < _MAKES_DO:
            return made, 0.0
        made += one.pot_ml
    return (made, read(made - need, measure_ml)) if need <= made else (made, 0.0)


def written(kitchen: Kitchen, one: Cooked, scale_g: float) -> Batch:
    """A batch as its household writes it down."""
    rng = np.random.default_rng([kitchen.seed, kitchen.number, 103, one.number])
    made, left = brine_written(one, kitchen.world.measure_ml, rng)
    crop = kitchen.household.crops[one.crop]
    jar, jars = sorts_written(kitchen.world, one)
    return Batch(
        batch=f"batch {one.number + 1}",
        date=dt.date(2021, 6, 1) + dt.timedelta(days=9 * one.number),
        produce=crop.produce,
        cut=crop.cut,
        pack=crop.pack,
        jar=jar,
        jars=jars,
        headspace_in=0.5,
        cure_hours=one.setting.hours,
        brine_made_ml=made,
        brine_left_ml=left,
        **weighed(one, scale_g),
    )


def other_sort(world: Counter, jar: str) -> str:
    """The other sort of jar of a world: of the other mouth, or of the other size."""
    if world.other == "mouth":
        return jar.removesuffix("-wide") if jar.endswith("-wide") else f"{jar}-wide"
    old, new = ("pint", "quart") if jar.startswith("pint") else ("quart", "pint")
    return jar.replace(old, new)


def sorts_written(world: Counter, one: Cooked) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """The sorts of jar of a batch and how many of each, as they are recorded."""
    packing = one.packing
    count = read(packing.jars, 0.5) if packing.habit == PART else packing.jars
    if world.first:
        first, more = min(count, world.first), max(count - world.first, 0.0)
        sorts = (other_sort(world, one.jar), one.jar)
        return (sorts, (first, more)) if more else (sorts[:1], (first,))
    if world.named and count > 1 and count % 1:
        return (one.jar, _HALF[one.jar]), (count - 0.5, 1.0)
    return (one.jar,), (count,)


def weighed(one: Cooked, scale_g: float) -> dict[str, float]:
    """The weights of a batch as the scale reads them, by column."""
    return {
        f"{stage}_g": read(grams, max(scale_g, 10.0) if stage == "as_bought" else scale_g)
        for stage, grams in one.weights.items()
    }
