"""Each habit over time: what every batch showed, and what was learned up to then."""

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import produce_key
from jarcast.domain.packing import SoFar
from jarcast.domain.stages import AS_BOUGHT, COOKED, CURED, TRIMMED, Link
from jarcast.forecast.habits import Habits, habits_from
from jarcast.forecast.known import Known, crops_put_up
from jarcast.learning.model.circumstances import circumstances_of, ready_column, ready_weight
from jarcast.trackrecord.summary import CropHabits, HabitSummary, crop_of, summarise

_MOST_STEPS = 10  # at which the history is learned again
_MOST_BATCHES = 4000  # learned from in all these steps together; with more it takes too long
_MOST_SEEN = 300  # batches shown of one crop, the latest

Cell = tuple[str, str, str]  # produce, cut, pack


class Seen(Struct, frozen=True):
    """What one batch showed of a habit; ``odd`` where the value does not fit the others."""

    date: dt.date
    value: float
    odd: bool


class HabitInTime(Struct, frozen=True):
    """One habit: what batches showed, what was learned up to each date, what is published.

    ``name`` and the unit of the values are those of ``summary.Habit``.
    """

    name: str
    seen: tuple[Seen, ...]
    learned: tuple[tuple[dt.date, Known], ...]
    published: Known


class CropInTime(Struct, frozen=True):
    """The habits of one crop; ``jar`` is the sort it is mostly put into, which holds ``fill_ml``.

    ``batches`` counts all of the crop, of which ``left_out`` older ones are not among those seen.
    """

    produce: str
    cut: str
    pack: str
    batches: int
    left_out: int
    jar: str
    fill_ml: float
    habits: tuple[HabitInTime, ...]


def habits_in_time(
    habits: Habits,
    batches: Sequence[Batch],
    now: HabitSummary,
    *,
    most: int = 4,
    produce: str = "",
    odd: Collection[tuple[str, str]] = (),
    packed: Mapping[str, Sequence[SoFar]] = MappingProxyType({}),
) -> tuple[CropInTime, ...]:
    """The crops put up most, ``most`` of them at most, of one produce where that is named.

    ``habits`` is what was learned from all ``batches``, with ``packed`` notes on how far their
    packing had come, and ``now`` its summary; ``odd`` names values, as (batch, column), that do
    not fit.
    """
    ordered = sorted(batches, key=lambda batch: batch.date)
    there = {crop_of(habits, batch) for batch in ordered}  # part of a table may be given alone
    counts = {
        cell: count
        for cell, count in crops_put_up(habits.learned).items()
        if cell in there and (not produce or cell[0] == produce_key(produce))
    }
    cells = sorted(counts, key=lambda cell: (-counts[cell], cell))[:most]
    steps = _steps(habits, ordered, cells, packed)
    if ordered:
        steps.append((ordered[-1].date, _by_cell(now)))
    doubted = frozenset(odd)
    return tuple(_crop(habits, ordered, cell, steps, doubted) for cell in cells)


_Step = tuple[dt.date, dict[Cell, CropHabits]]


def _steps(
    habits: Habits,
    ordered: Sequence[Batch],
    cells: Sequence[Cell],
    packed: Mapping[str, Sequence[SoFar]],
) -> list[_Step]:
    """What was known of these crops at some dates of the history before its last."""
    if not ordered or not cells:
        return []
    count = len(ordered)
    times = min(_MOST_STEPS, _MOST_BATCHES // count, count)
    ends = sorted({count * step // times for step in range(1, times)} - {0})
    steps = []
    for end in ends:
        learned = habits.learned
        known = habits_from(
            ordered[:end], learned.beliefs, habits.shelf, packed, last_jar=learned.last_jar
        )
        # A pack left out early is the usual one as it is known now: a crop is one line throughout.
        usual = replace(known.learned, usual_pack=learned.usual_pack)
        known = replace(known, learned=usual)
        steps.append((ordered[end - 1].date, _known_of(known, ordered[:end], cells)))
    return steps


def _known_of(
    habits: Habits, batches: Sequence[Batch], cells: Sequence[Cell]
) -> dict[Cell, CropHabits]:
    learned = habits.learned
    wanted = {cell: count for cell, count in crops_put_up(habits.learned).items() if cell in cells}
    summary = summarise(replace(habits, learned=replace(learned, cells=wanted)), batches)
    return _by_cell(summary)


def _by_cell(summary: HabitSummary) -> dict[Cell, CropHabits]:
    return {(crop.produce, crop.cut, crop.pack): crop for crop in summary.crops}


def _crop(
    habits: Habits,
    ordered: Sequence[Batch],
    cell: Cell,
    steps: Sequence[_Step],
    odd: Collection[tuple[str, str]],
) -> CropInTime:
    own = [batch for batch in ordered if crop_of(habits, batch) == cell]
    now = steps[-1][1][cell]
    jar = _usual_jar(own)
    seen = _seen(habits, own[-_MOST_SEEN:], odd)
    return CropInTime(
        *cell,
        batches=len(own),
        left_out=max(len(own) - _MOST_SEEN, 0),
        jar=jar,
        fill_ml=habits.shelf[jar].fill_volume_ml(),
        habits=tuple(
            HabitInTime(
                name=habit.name,
                seen=tuple(seen.get(habit.name, ())),
                learned=tuple(_learned(steps, cell, habit.name)),
                published=habit.published,
            )
            for habit in now.habits
        ),
    )


def _usual_jar(batches: Sequence[Batch]) -> str:
    counts: dict[str, float] = {}
    for batch in batches:
        for key, count in zip(batch.jar, batch.jars, strict=True):
            counts[key] = counts.get(key, 0.0) + count
    return max(counts, key=lambda key: counts[key])


def _learned(steps: Sequence[_Step], cell: Cell, name: str) -> list[tuple[dt.date, Known]]:
    """By date; of several steps on one day the last."""
    found: dict[dt.date, Known] = {}
    for date, crops in steps:
        crop = crops.get(cell)
        for habit in crop.habits if crop is not None else ():
            if habit.name == name:
                found[date] = habit.own
    return list(found.items())


def _seen(
    habits: Habits, batches: Sequence[Batch], odd: Collection[tuple[str, str]]
) -> dict[str, list[Seen]]:
    found: dict[str, list[Seen]] = {}
    for batch in batches:
        for name, (value, columns) in values_of(batch, habits).items():
            doubted = any((batch.batch, column) in odd for column in columns)
            found.setdefault(name, []).append(Seen(batch.date, value, doubted))
    return found


_BETWEEN = {  # habit: its link, the weight before, the weight after
    "trim yield": (Link.TRIM, AS_BOUGHT, TRIMMED),
    "cure keep": (Link.CURE, TRIMMED, CURED),
}


def values_of(batch: Batch, habits: Habits) -> dict[str, tuple[float, tuple[str, ...]]]:
    """What one batch shows of each habit by its own weights, and the columns that show it.

    A ratio of two weights, and g/ml for the density. Values that contradict one another show
    nothing.
    """
    shelf: Mapping[str, Jar] = habits.shelf or SHELF
    barred = {link for flag in contradictions(batch, shelf) for link in flag.links}
    found: dict[str, tuple[float, tuple[str, ...]]] = {}
    for name, (link, first, second) in _BETWEEN.items():
        before, after = getattr(batch, first), getattr(batch, second)
        if link not in barred and before and after:
            found[name] = after / before, (first, second)
    column = CURED if batch.cured_g else TRIMMED
    before, cooked = getattr(batch, column), getattr(batch, COOKED)
    if Link.COOK not in barred and before and cooked:
        found["cook keep"] = cooked / before, (column, COOKED)
    case = circumstances_of(batch, habits.learned.beliefs, shelf, habits.learned.practice)
    ready = ready_weight(batch, case)
    if Link.PACK not in barred and ready and math.isfinite(case.volume_ml):
        found["density"] = ready / case.volume_ml, (ready_column(case), "jars")
    return found
