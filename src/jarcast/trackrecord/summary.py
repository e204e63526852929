"""Habits made readable: each crop's trim, cure, density and brine beside the published value."""

import datetime as dt
import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.last_jar import LastJar
from jarcast.domain.names import cut_key, pack_key, person_key, produce_key
from jarcast.domain.said_weight import Z80
from jarcast.domain.stages import AS_BOUGHT, STAGE_OF, STAGE_REACHED_BY, Link, weighed
from jarcast.forecast.habits import Habits
from jarcast.forecast.known import (
    DRAWS,
    SEED,
    Known,
    crops_put_up,
    known,
    own_values,
    published,
    usual_situation,
)
from jarcast.learning.brine_link import loss_so_far
from jarcast.learning.draws import draw_effects, person_change
from jarcast.learning.latest import learned_from
from jarcast.learning.learned import Learned
from jarcast.learning.model.beliefs import QUANTITIES
from jarcast.learning.model.effects import POT_LOSS, brine_loadings
from jarcast.learning.model.links import WEIGHT_LINKS, Situation

_SURE = 0.2  # a chance of the last jar this far from certain is a habit
_TREND_CHANCE = 0.9  # a trend is told from this certainty on


class Habit(Struct, frozen=True):
    """One habit beside the published value; ``batches`` of one's own it rests on.

    ``name`` is 'trim yield', 'cure keep', 'cook keep' or 'density' (g/ml).
    """

    name: str
    own: Known
    published: Known
    batches: int


class JarHabit(Struct, frozen=True):
    """Brine that goes into one jar of a sort, ml, pot loss aside, and the produce in it, g."""

    jar: str
    brine_ml: Known
    produce_g: Known


class CropHabits(Struct, frozen=True):
    """All the habits of one produce x cut x pack."""

    produce: str
    cut: str
    pack: str
    batches: int
    published: str
    habits: tuple[Habit, ...]
    jars: tuple[JarHabit, ...]


class Trend(Struct, frozen=True):
    """How the person effect of a link changed since a batch; ``change`` is relative.

    0.08 is 8 % more produce in a jar, or kept by the cure; for the trim 8 % more kept for each
    gram trimmed away. ``sure`` is the chance that it went in this direction.
    """

    link: Link
    since: str
    change: Known
    sure: float


class LastJarHabit(Struct, frozen=True):
    """What becomes of the last jar: the chances that it is left part full and that the rest has a
    smaller one, and whether that is what the person said or was learned from so many batches.
    """

    part_full: float
    smaller: float
    told: bool
    batches: int

    @property
    def habit(self) -> str:
        """'part', 'smaller', 'whole', or '': now one, now another, or not known well."""
        whole = 1.0 - self.part_full - self.smaller
        chances = {"part": self.part_full, "smaller": self.smaller, "whole": whole}
        return next((habit for habit, chance in chances.items() if chance >= 1.0 - _SURE), "")


class PersonHabits(Struct, frozen=True):
    """One person of several: batches of theirs, and their habits with the kitchen's usual crop."""

    name: str
    batches: int
    crop: CropHabits


class HabitSummary(Struct, frozen=True):
    """Everything that was learned, to be read; ``people`` only where a kitchen has several."""

    crops: tuple[CropHabits, ...]
    loss_ml: Known
    trends: tuple[Trend, ...]
    batches: int
    last_jar: LastJarHabit | None = None
    people: tuple[PersonHabits, ...] = ()


_QUANTITIES = tuple((link, QUANTITIES[link].replace("_", " ")) for link in WEIGHT_LINKS)


def summarise(
    habits: Habits, batches: Sequence[Batch], since: dt.date | None = None
) -> HabitSummary:
    """Summarise what was learned from these batches (the ones the habits were learned from).

    Trends are told since the first batch of each year, or since the first one from ``since`` on.
    """
    batches = learned_from(batches)
    people = habits.learned.beliefs.people
    mean, sd = loss_so_far(
        habits.learned.block(Link.BRINE), people.loss_ml, people.loss_between_people
    )
    log_sd = math.sqrt(math.log1p((sd / mean) ** 2))
    middle = mean * math.exp(-0.5 * log_sd**2)
    loss = Known(middle, middle * math.exp(-Z80 * log_sd), middle * math.exp(Z80 * log_sd))
    cells = sorted(crops_put_up(habits.learned))
    return HabitSummary(
        crops=tuple(_crop(habits, cell, batches) for cell in cells),
        loss_ml=loss,
        trends=_trends(habits, batches, since),
        batches=habits.learned.batches,
        last_jar=_last_jar(habits.learned),
        people=_people(habits, batches),
    )


def _people(habits: Habits, batches: Sequence[Batch]) -> tuple[PersonHabits, ...]:
    """The people of a kitchen side by side, who made most first; () for a kitchen of one."""
    counts = habits.learned.practice.people
    if len(counts) < 2:
        return ()
    cells = crops_put_up(habits.learned)
    usual = max(sorted(cells), key=lambda cell: cells[cell])
    found = []
    for key in sorted(counts, key=lambda key: -counts[key]):
        own = [batch for batch in batches if person_key(batch.person) == key]
        crop = _crop(habits, usual, own, ((key, 1.0),))
        found.append(PersonHabits(own[0].person if own else key, counts[key], crop))
    return tuple(found)


def _last_jar(learned: Learned) -> LastJarHabit:
    told = learned.last_jar is not LastJar.LEARN
    endings = learned.endings
    return LastJarHabit(endings.part_full, endings.smaller, told, learned.batches)


def crop_of(habits: Habits, batch: Batch) -> tuple[str, str, str]:
    """Produce, cut and pack of a batch, as its crop is listed."""
    pack = pack_key(batch.pack) or habits.usual_pack(batch.produce, batch.cut)
    return produce_key(batch.produce), cut_key(batch.cut), pack


def _crop(
    habits: Habits,
    cell: tuple[str, str, str],
    batches: Sequence[Batch],
    who: tuple[tuple[str, float], ...] = (),
) -> CropHabits:
    """Habits with a crop of those who may have made a batch, the kitchen's people if not said."""
    produce, cut, pack = cell
    own = [b for b in batches if crop_of(habits, b) == cell]
    at = usual_situation(habits.learned, cell, who)
    found = []
    for link, name in _QUANTITIES:
        count = _count(own, link)
        if link in (Link.CURE, Link.COOK) and not count:
            continue
        draws = own_values(habits.learned, link, at)
        found.append(Habit(name, known(draws), published(link, at), count))
    jars = sorted({key for batch in own for key in batch.jar}) or [habits.usual_jar]
    return CropHabits(
        produce, cut, pack, len(own), at.crop.known, tuple(found),
        tuple(_jar(habits, at, key) for key in jars),
    )  # fmt: skip


def _count(batches: Sequence[Batch], link: Link) -> int:
    """Batches that tell of a link directly."""
    if link not in STAGE_REACHED_BY:
        return sum(bool(weighed(batch)) for batch in batches)
    needed = {STAGE_REACHED_BY[link], *((STAGE_OF[AS_BOUGHT],) if link is Link.TRIM else ())}
    return sum(needed <= {*weighed(batch)} for batch in batches)


def _jar(habits: Habits, at: Situation, key: str) -> JarHabit:
    jar = habits.shelf[key]
    fill = jar.fill_volume_ml()
    at = replace(at, fill_ml=fill, wide=float(jar.wide))
    density = own_values(habits.learned, Link.PACK, at)
    people = habits.learned.beliefs.people
    effects = {e: v for e, v in brine_loadings(1.0, at, people).items() if e != POT_LOSS}
    rng = np.random.default_rng(SEED + 1)
    drawn, _ = draw_effects(habits.learned.block(Link.BRINE), [effects], DRAWS, rng)
    own_volume = 1.0 / at.crop.tissue.centre + drawn[:, 0]
    brine = np.maximum(fill * (1.0 - density * own_volume), 0.0)
    return JarHabit(key, known(brine), known(fill * density))


def _trends(habits: Habits, batches: Sequence[Batch], since: dt.date | None) -> tuple[Trend, ...]:
    """Changes of the person effect since each of several batches, oldest first, where sure."""
    dates = sorted(batch.date for batch in batches)
    found = []
    for number in _starts(dates, since):
        for link in (Link.TRIM, Link.CURE, Link.PACK):
            change = _Change(habits.learned, link, number)
            if change.sure >= _TREND_CHANCE:
                ends = (math.expm1(change.quantile(p)) for p in (0.5, 0.1, 0.9))
                found.append(Trend(link, dates[number].isoformat(), Known(*ends), change.sure))
    return tuple(found)


def _starts(dates: Sequence[dt.date], since: dt.date | None) -> list[int]:
    """Numbers of the batches since which changes are told, of dates in order."""
    if since is not None:
        return [number for number, date in enumerate(dates) if date >= since][:1]
    firsts: dict[int, int] = {}
    for number, date in enumerate(dates):
        firsts.setdefault(date.year, number)
    earlier = [number for year, number in firsts.items() if year < dates[-1].year]
    return earlier or [*firsts.values()]


class _Change:
    """How far a link's person effect moved since a batch, on the link's scale.

    A mixture of normals, one for each step size of the random walk; at 0 it has not moved at all.
    """

    def __init__(self, learned: Learned, link: Link, number: int) -> None:
        self.parts = person_change(learned, link, number)

    def _below(self, change: float) -> float:
        return math.fsum(
            weight * (NormalDist().cdf((change - mean) / sd) if sd > 0.0 else float(change >= mean))
            for weight, mean, sd in self.parts
        )

    @property
    def sure(self) -> float:
        """Chance that it moved the way it is likelier to have moved; not at all is neither."""
        up = math.fsum(
            weight * NormalDist().cdf(mean / sd) for weight, mean, sd in self.parts if sd > 0.0
        )
        moving = math.fsum(weight for weight, _, sd in self.parts if sd > 0.0)
        return max(up, moving - up)

    def quantile(self, p: float) -> float:
        """By bisection."""
        low = min(mean - 9.0 * sd for _, mean, sd in self.parts)
        high = max(mean + 9.0 * sd for _, mean, sd in self.parts)
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self._below(middle) < p else (low, middle)
        return 0.5 * (low + high)
