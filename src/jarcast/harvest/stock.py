"""How far the jars at hand go over a harvest, and which line to put in which.

Each line goes into one sort of jar it may stand in, and on into others when that runs out. The best
choice leaves the least produce without a jar, then moves the fewest lines away from the jar they
were planned for, then leaves the most room in the jars left over. It is sought for the middle of
the forecast; where a sort may fall short all the same, its lines go on into jars left over.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct

from jarcast.domain.jar_text import turns_text
from jarcast.domain.jars import jar_key
from jarcast.errors import BatchError, ForecastError, RecipeError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.loads import WHOLE
from jarcast.harvest.together import Harvest, plan_harvest

if TYPE_CHECKING:
    from jarcast.learning.arrays import Array

_TRY_ALL = 3000  # choices that are all tried; beyond it, one line at a time is moved
_ROUNDS = 20
_RISKED = 0.005  # a smaller chance of falling short is not mentioned
_SEARCHED = 60  # lines; with more of them each stays where it was planned, or goes where it may


class Place(Struct, frozen=True):
    """Where a line goes: ``jar`` as a forecast takes it, '' where none at hand may be used.

    ``planned`` tells whether all of it, as much as is expected, stands in the sort it was planned
    for. ``without`` counts the jars of it that find none at hand, those of the batches before it
    taken first; ``fits`` is whether any sort at hand may be used for it.
    """

    jar: str
    planned: bool
    without: Outcome
    fits: bool = True


class Sort(Struct, frozen=True):
    """One sort of jar over the harvest: those at hand, those taken, and those left over.

    ``needed`` counts those of lines that were planned for it and found none, too.
    """

    have: float
    taken: Outcome
    left: Outcome
    needed: Outcome

    @property
    def short(self) -> float:
        """Chance that there are not enough of them."""
        return self.needed.chance_above(self.have)


class FromStock(Struct, frozen=True):
    """A harvest put into the jars at hand; ``places`` run beside its lines.

    ``enough`` is the chance that every line finds its jars: 0 where one has none to stand in.
    ``without`` counts the jars that find none.
    """

    harvest: Harvest
    places: tuple[Place, ...]
    sorts: Mapping[str, Sort]
    enough: float
    without: Outcome


class _Line(Struct, frozen=True):
    """A line to place: sorts at hand it may stand in, the one planned, its volume in ml.

    ``fits`` holds for each sort what one jar of it takes, in ml, with the line's own headspace.
    """

    fits: Mapping[str, float]
    planned: str
    volume_ml: float


_List = tuple[tuple[str, float], ...]  # sorts and counts in the order they are filled


class _Dealt(Struct, frozen=True):
    """Jars dealt out: sorts and counts a line, and the volume in ml that found no jar."""

    taken: tuple[_List, ...]
    missing_ml: float
    left_ml: float


def from_stock(
    habits: Habits,
    lines: Sequence[Mapping[str, Any]],
    have: Mapping[str, float],
    draws: int = 4096,
    seed: int = 0,
) -> FromStock:
    """Put the lines of a harvest into the jars at hand, ``have`` counts of each sort.

    A line by a recipe stands in the recipe's tested sizes and in no other. Raises as
    ``plan_harvest`` does, BatchError for a sort that is not known, and ForecastError where there
    are no jars, or a count that is not whole.
    """
    stock = {jar_key(name, habits.shelf): float(count) for name, count in have.items()}
    if not all(math.isfinite(n) and n >= 0 for n in stock.values()) or not any(stock.values()):
        raise ForecastError(
            "jars you have: say how many of which sort, such as '14 pint-wide, 9 quart'"
        )
    for key, count in stock.items():
        if count != int(count):
            raise ForecastError(
                f"jars you have: {count:g} {key} is not a whole number; count each empty jar as 1"
            )
    planned = plan_harvest(habits, lines, draws=draws, seed=seed)
    fitting: dict[tuple[object, ...], dict[str, float]] = {}  # lines alike are tried once
    for line in lines:
        if (same := _alike(line)) not in fitting:
            fitting[same] = _fitting(habits, line, stock)
    asked = [
        _Line(fitting[_alike(line)], one.request.turns[0].jar.key, _volume(one))
        for line, one in zip(lines, planned.lines, strict=True)
    ]
    fills = {key: habits.shelf[key].fill_volume_ml() for key in stock}
    taken = _deal(_choose(asked, stock, fills), asked, stock, fills).taken

    def judged(lists: Sequence[_List]) -> FromStock:
        jars = [turns_text([(count, key) for key, count in own]) if own else "" for own in lists]
        final = [
            {**line, "jar": jar} if jar else line for line, jar in zip(lines, jars, strict=True)
        ]
        harvest = plan_harvest(habits, final, draws=draws, seed=seed)
        without, needed, used = _dealt(harvest, jars, stock)
        rows = zip(jars, asked, taken, without, strict=True)
        places = tuple(
            Place(jar, {key for key, _ in own} == {line.planned}, short, bool(line.fits))
            for jar, line, own, short in rows
        )
        return _judged(harvest, places, stock, needed, used)

    found = judged(taken)
    short = {key for key, sort in found.sorts.items() if sort.short > _RISKED}
    longer = _going_on(asked, taken, stock, short)
    if longer == taken:
        return found
    return max(found, judged(longer), key=lambda one: one.enough)  # the first where both are alike


def _alike(line: Mapping[str, Any]) -> tuple[object, ...]:
    """What decides on the jars that a line may stand in, and on what one of them takes."""
    recipe = line.get("recipe")
    said = (line.get(key) for key in ("produce", "cut", "pack", "headspace_in"))
    return (getattr(recipe, "key", recipe), *said)


def _fitting(
    habits: Habits, line: Mapping[str, Any], stock: Mapping[str, float]
) -> dict[str, float]:
    """Sorts at hand that a line may stand in, of a recipe the tested ones only, and their fill."""
    found = {}
    for key in stock:
        try:
            (tried,) = habits.forecast_together([{**line, "jar": key}], draws=1)
        except (RecipeError, BatchError):
            continue
        found[key] = tried.request.turns[0].fill_ml
    return found


def _volume(forecast: Forecast) -> float:
    """Fill volume in ml that a line is expected to take."""
    sorts = zip(forecast.jars_by_sort, forecast.request.turns, strict=True)
    return sum(jars.median * turn.fill_ml for jars, turn in sorts)


Choice = tuple[str, ...]


def _choose(
    lines: Sequence[_Line], stock: Mapping[str, float], fills: Mapping[str, float]
) -> Choice:
    """The sort each line starts with; '' for one that may stand in none."""
    options = [tuple(line.fits) or ("",) for line in lines]

    def cost(choice: Choice) -> tuple[float, int, float]:
        dealt = _deal(choice, lines, stock, fills)
        away = sum(
            any(key != line.planned for key, _ in taken)
            for line, taken in zip(lines, dealt.taken, strict=True)
        )
        return round(dealt.missing_ml, 3), away, -dealt.left_ml

    if math.prod(len(own) for own in options) <= _TRY_ALL:
        return min(itertools.product(*options), key=cost)
    best: Choice = tuple(
        line.planned if line.planned in own else own[0]
        for line, own in zip(lines, options, strict=True)
    )
    for _ in range(_ROUNDS if len(lines) <= _SEARCHED else 0):
        near = (
            (*best[:place], other, *best[place + 1 :])
            for place, own in enumerate(options)
            for other in own
            if other != best[place]
        )
        better = min(near, key=cost, default=best)
        if cost(better) >= cost(best):
            break
        best = better
    return best


def _deal(
    choice: Choice,
    lines: Sequence[_Line],
    stock: Mapping[str, float],
    fills: Mapping[str, float],
) -> _Dealt:
    """Deal the jars out line by line: first the sort chosen, then whichever there is most of."""
    left, dealt, missing = dict(stock), [], 0.0
    for first, line in zip(choice, lines, strict=True):
        rest, taken = line.volume_ml, []
        own = line.fits
        others = sorted((k for k in own if k != first), key=lambda k: -left[k] * own[k])
        for key in [first, *others] if first else []:
            used = min(left[key], math.ceil(rest / own[key] - WHOLE))
            if used > 0 and rest > 0.0:
                taken.append((key, used))
                left[key] -= used
                rest = max(rest - used * own[key], 0.0)
        dealt.append(tuple(taken))
        missing += rest
    return _Dealt(tuple(dealt), missing, sum(n * fills[key] for key, n in left.items()))


def _going_on(
    lines: Sequence[_Line], taken: tuple[_List, ...], stock: Mapping[str, float], short: set[str]
) -> tuple[_List, ...]:
    """Lists of lines that end in a sort which may fall short, going on into jars left over.

    What is left of a sort is shared out evenly; the last sort of a list has no count, so it is the
    one most are left of.
    """
    left = dict(stock)
    for key, count in itertools.chain.from_iterable(taken):
        left[key] -= count
    spare = sorted((key for key in left if left[key] >= 1.0), key=lambda key: left[key])
    on = {
        at: [key for key in spare if key in line.fits and key not in dict(own)]
        for at, (line, own) in enumerate(zip(lines, taken, strict=True))
        if own and own[-1][0] in short
    }
    on = {at: keys for at, keys in on.items() if keys}
    wanted = [key for at, keys in on.items() for key in (taken[at][-1][0], *keys)]

    def share(key: str) -> float:
        return left[key] // wanted.count(key)

    found = list(taken)
    for at, keys in on.items():
        *firsts, (key, count) = taken[at]
        middle = [(other, share(other)) for other in keys[:-1] if share(other) >= 1.0]
        found[at] = (*firsts, (key, count + share(key)), *middle, (keys[-1], left[keys[-1]]))
    return tuple(found)


def _dealt(
    harvest: Harvest, jars: Sequence[str], stock: Mapping[str, float]
) -> tuple[list[Outcome], dict[str, Array], dict[str, Array]]:
    """Jars of each line that find none, line by line; by sort those needed, and those taken.

    Drawn jointly; a part-full jar takes a whole one. A line without a place, its jar '', needs the
    sort it was planned for, and takes none.
    """
    draws = harvest.jars.draws.size
    needed = {key: np.zeros(draws) for key in stock}
    taken = {key: np.zeros(draws) for key in stock}
    without = [Outcome(np.zeros(draws))] * len(jars)
    for at in sorted(range(len(jars)), key=lambda at: not jars[at]):  # without a place comes last
        short = np.zeros(draws)
        forecast = harvest.lines[at]
        for turn, count in zip(forecast.request.turns, forecast.jars_by_sort, strict=True):
            key, own = turn.jar.key, np.ceil(count.draws - WHOLE)
            if key not in stock:
                short = short + own
                continue
            short = short + np.maximum(own - np.maximum(stock[key] - needed[key], 0.0), 0.0)
            needed[key] = needed[key] + own
            if jars[at]:
                taken[key] = taken[key] + own
        without[at] = Outcome(short)
    return without, needed, taken


def _judged(
    harvest: Harvest,
    places: tuple[Place, ...],
    stock: Mapping[str, float],
    needed: Mapping[str, Array],
    taken: Mapping[str, Array],
) -> FromStock:
    enough = np.full(harvest.jars.draws.size, all(place.jar for place in places))
    for key, count in stock.items():
        enough &= taken[key] <= count
    sorts_of = {
        key: Sort(
            count, Outcome(taken[key]), Outcome(np.maximum(count - taken[key], 0.0)),
            Outcome(needed[key]),
        )
        for key, count in stock.items()
    }  # fmt: skip
    without = Outcome(np.sum([place.without.draws for place in places], axis=0))
    return FromStock(harvest, places, sorts_of, float(enough.mean()), without)
