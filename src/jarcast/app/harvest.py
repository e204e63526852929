"""The answer to a plan: what is done, what the rest comes to, what to buy, and the day."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from msgspec import Struct, field

from jarcast.app.plan_progress import Progress, State
from jarcast.batchtable.gathering import Gathering
from jarcast.batchtable.rows import Problem
from jarcast.domain.batch import Batch
from jarcast.errors import JarcastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.day import Canner, Day, plan_day
from jarcast.harvest.pace import OwnTimes
from jarcast.harvest.plan.line import Plan
from jarcast.harvest.shopping import Price, Shopping, Size, shopping
from jarcast.harvest.stock import FromStock, from_stock
from jarcast.harvest.together import Harvest, plan_harvest
from jarcast.measures import Units
from jarcast.recipes import UNSAID, Place

DRAWS = 4096
MANY_LINES, FEWER_DRAWS = 200, 2048  # a long plan is answered from fewer draws: about a second
VERY_MANY_LINES, FEWEST_DRAWS = 1000, 1024  # and a very long one from fewer still


class Asked(Struct, frozen=True):
    """What is asked of a plan beside its lines.

    ``have`` counts the jars at hand, by sort; ``person`` packs what names nobody and is not begun.
    """

    units: Units = Units.US
    short_chance: float = 0.05
    canner: Canner | None = None
    place: Place = UNSAID
    sizes: tuple[Size, ...] = ()
    prices: tuple[Price, ...] = ()
    times: OwnTimes = field(default_factory=OwnTimes)
    have: Mapping[str, float] | None = None
    seed: int = 0
    person: str = ""


class Kept(Struct, frozen=True):
    """The plan as it was kept, and batches of its crops that count for none of its lines.

    ``planned`` and ``total`` are jars as they were forecast then, the middle and a range that
    holds 8 times in 10, line by line and in all.
    """

    name: str
    kept: dt.date
    since: dt.date
    planned: tuple[tuple[float, float, float], ...]
    total: tuple[float, float, float]
    not_counted: tuple[Batch, ...]


class Answer(Struct, frozen=True):
    """A plan answered.

    ``progress`` and ``forecasts`` run beside the plan's lines, a forecast being None for a batch
    that is done. ``harvest``, ``shopping`` and ``day`` are of what is left, None when all is done;
    ``to_do`` are the places of the lines left, from 0. ``jars_done`` counts the jars that stand
    filled in closed batches. ``stock`` tells which line goes into which of the jars at hand, where
    those were counted; the harvest is then in those. ``kept`` is what was planned, of a plan that
    is kept.
    """

    plan: Plan
    progress: tuple[Progress, ...]
    forecasts: tuple[Forecast | None, ...]
    harvest: Harvest | None
    shopping: Shopping | None
    day: Day | None
    asked: Asked
    to_do: tuple[int, ...]
    jars_done: float
    stock: FromStock | None = None
    kept: "Kept | None" = None

    def place(self, line: int) -> str:
        """Where one of the lines left stands in the plan."""
        return self.progress[self.to_do[line]].line.place

    def name(self, line: int) -> str:
        """The name of one of the lines left; '' where it has none."""
        return self.progress[self.to_do[line]].line.name

    @property
    def jars(self) -> Outcome | None:
        """All the jars of the plan, those of closed batches included; None when all is done."""
        if self.harvest is None:
            return None
        return Outcome(self.harvest.jars.draws + self.jars_done)


def answer(plan: Plan, so_far: Sequence[Progress], habits: Habits, asked: Asked) -> Answer:
    """Forecast what is left of a plan, and what it takes.

    Raises BatchError with every line that cannot be answered in ``problems``.
    """
    to_do = [at for at, one in enumerate(so_far) if one.state is not State.DONE]
    lines = [keywords(so_far[at], habits, asked.person) for at in to_do]
    draws = DRAWS if len(lines) <= MANY_LINES else FEWER_DRAWS
    draws = draws if len(lines) <= VERY_MANY_LINES else FEWEST_DRAWS
    harvest = _harvest([so_far[at] for at in to_do], lines, habits, draws, asked.seed)
    stock = None
    if harvest is not None and asked.have is not None:
        stock = from_stock(habits, lines, asked.have, draws, asked.seed)
        harvest = stock.harvest
    forecasts: list[Forecast | None] = [None] * len(so_far)
    for at, forecast in zip(to_do, harvest.lines if harvest else (), strict=True):
        forecasts[at] = forecast
    left = harvest.lines if harvest else ()
    _check_short([so_far[at] for at in to_do], left, asked.short_chance)
    return Answer(
        plan=plan,
        progress=tuple(so_far),
        forecasts=tuple(forecasts),
        harvest=harvest,
        shopping=_shopping(left, asked) if left else None,
        day=_day(left, asked, [so_far[at].line.days for at in to_do]) if left else None,
        asked=asked,
        to_do=tuple(to_do),
        jars_done=sum(one.filled for one in so_far),
        stock=stock,
    )


def keywords(one: Progress, habits: Habits, person: str = "") -> dict[str, Any]:
    """A line as ``plan_harvest`` takes it; cut, pack and jar, if not said, are the usual ones."""
    from jarcast.forecast.usual import cut_if_unsaid, usual_choices

    line, said = one.line, one.line.forecast_keywords()
    if one.state is State.TO_DO and person:
        said.setdefault("person", person)
    usual_cut = cut_if_unsaid(habits, line.recipe, line.produce, line.cut)
    cut = line.cut or usual_cut
    usual = usual_choices(habits, line.recipe, line.produce, cut)
    for key, value in zip(("cut", "pack", "jar"), (usual_cut, *usual), strict=True):
        if value:
            said.setdefault(key, value)
    return said if one.so_far is None else {**said, "so_far": one.so_far}


def _harvest(
    left: Sequence[Progress],
    lines: Sequence[dict[str, Any]],
    habits: Habits,
    draws: int,
    seed: int,
) -> Harvest | None:
    if not lines:
        return None
    try:
        return plan_harvest(habits, lines, draws=draws, seed=seed)
    except JarcastError:
        _tell_every_problem(left, lines, habits)
        raise


def unanswerable(
    so_far: Sequence[Progress], habits: Habits, person: str = ""
) -> Iterator[tuple[str, str]]:
    """The lines left that cannot be answered by themselves: where each stands, and why not."""

    def alone(one: Progress) -> object:
        return habits.forecast(**keywords(one, habits, person), draws=1)

    left = [one for one in so_far if one.state is not State.DONE]
    return _failing(left, [partial(alone, one) for one in left])


def _tell_every_problem(
    left: Sequence[Progress], lines: Sequence[dict[str, Any]], habits: Habits
) -> None:
    """Raise BatchError with each line that cannot be answered, by its place in the plan."""
    _try_each(left, [partial(habits.forecast, **line, draws=1) for line in lines])


def _check_short(
    left: Sequence[Progress], forecasts: Sequence[Forecast], short_chance: float
) -> None:
    """Raise BatchError with each line that has no floor for so large a chance of running short."""
    _try_each(left, [partial(one.allow_short, short_chance) for one in forecasts])


def _try_each(left: Sequence[Progress], trials: Sequence[Callable[[], object]]) -> None:
    """Run a trial for each line; raise BatchError with every problem, by its place in the plan."""
    gathering = Gathering("the plan")
    for place, why in _failing(left, trials):
        gathering.problem(place, Problem("", None, why))
    gathering.finish()


def _failing(
    left: Sequence[Progress], trials: Sequence[Callable[[], object]]
) -> Iterator[tuple[str, str]]:
    """The lines whose trial fails: where each stands in the plan, and why."""
    for one, trial in zip(left, trials, strict=True):
        try:
            trial()
        except JarcastError as error:
            yield one.line.place, str(error)


def _shopping(left: Sequence[Forecast], asked: Asked) -> Shopping:
    return shopping(
        left,
        short_chance=asked.short_chance,
        sizes=asked.sizes,
        prices=asked.prices,
        units=asked.units,
        have=asked.have or {},
    )


def _day(left: Sequence[Forecast], asked: Asked, days: Sequence[object]) -> Day:
    return plan_day(
        left,
        canner=asked.canner,
        altitude_ft=asked.place.altitude_ft,
        times=asked.times,
        days=days,
        seed=asked.seed,
    )
