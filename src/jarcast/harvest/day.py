"""The day of a harvest: which loads the canner runs, and how long it all takes.

Minutes of a process come from the card and the altitude alone, and are left open where the card
has none. Times of one's own work come from one's own times alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct

from jarcast.domain.jars import size_of
from jarcast.domain.stages import AS_BOUGHT, before_salt
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.loads import WHOLE, Load, Process, Run, schedule, shared_loads
from jarcast.harvest.pace import OwnTimes, rate
from jarcast.recipes import process_rows_for

if TYPE_CHECKING:
    from jarcast.forecast.answer import Forecast
    from jarcast.learning.arrays import Array

NO_TIMES = OwnTimes()

NO_RECIPE = "as long as your tested recipe says"
NO_ALTITUDE = "see the card: your altitude is not known"
SEE_SOURCE = "not on the card for this jar, pack and altitude; see its source"
SEVERAL_WAYS = "the card has several; look there for the one you use"
REFRIGERATOR = "no process on the card: these are for the refrigerator"


class Canner(Struct, frozen=True):
    """How many jars of each size one run of the canner holds."""

    holds: Mapping[str, int]


class Work(Struct, frozen=True):
    """The steps of one batch: hours to trim and to pack, None where not known.

    ``cure_hours`` is lowest and highest, None for no cure or one whose hours are not known.
    """

    line: int
    trims: bool
    trim_hours: Outcome | None
    cures: bool
    cure_hours: tuple[float, float] | None
    pack_hours: Outcome | None


_NO_TIMES = " (fewer than three of your own times are recorded)"


class Day(Struct, frozen=True):
    """The whole day. ``loads`` is None without a canner; ``hours`` where the pace is not known.

    ``hours`` leaves out what no card and no time of one's own tells; ``left_out`` names it.
    """

    runs: tuple[Run, ...]
    loads: Outcome | None
    schedule: tuple[Load, ...]
    work: tuple[Work, ...]
    hours: Outcome | None
    left_out: tuple[str, ...]


def plan_day(
    forecasts: Sequence[Forecast],
    *,
    canner: Canner | None = None,
    altitude_ft: float | None = None,
    times: OwnTimes = NO_TIMES,
    days: Sequence[object] = (),
    seed: int = 0,
) -> Day:
    """Loads and hours of these batches, whose draws belong together place by place.

    ``days`` are those of each batch, in any form: batches of other days share no load.
    """
    runs = shared_loads(
        tuple(
            run
            for line, forecast in enumerate(forecasts)
            for run in _runs(line, forecast, canner, altitude_ft)
        ),
        days,
    )
    loaded = [run.started.draws for run in runs if run.started is not None]
    work = _work(forecasts, times, np.random.default_rng([seed, 1]))
    hours, starts = _clock(forecasts, runs, work)
    return Day(
        runs=runs,
        loads=Outcome(np.sum(loaded, axis=0)) if loaded else None,
        schedule=schedule(runs, starts),
        work=work,
        hours=hours,
        left_out=_left_out(runs, work, canner, hours),
    )


def _runs(
    line: int, forecast: Forecast, canner: Canner | None, altitude_ft: float | None
) -> list[Run]:
    full: dict[str, Array] = {}
    for turn, jars in zip(forecast.request.turns, forecast.jars_by_sort, strict=True):
        size = size_of(turn.jar.key)
        full[size] = full.get(size, 0.0) + np.floor(jars.draws + WHOLE)
    found = []
    for size, whole in full.items():
        process = process_of(forecast, size, altitude_ft)
        room = None if canner is None else canner.holds.get(size)
        loads = Outcome(np.ceil(whole / room)) if room and process.canned else None
        found.append(Run(line, size, Outcome(whole), room, loads, process, forecast.request.pack))
    return found


def process_of(forecast: Forecast, size: str, altitude_ft: float | None) -> Process:
    """The process of the forecast's card for a size of jar: never a number of its own."""
    recipe = forecast.recipe
    if recipe is None:
        return Process(None, why=NO_RECIPE)
    if recipe.safety is None or not recipe.safety.process:
        return Process(None, why=REFRIGERATOR, canned=False)
    if altitude_ft is None:
        return Process(None, why=NO_ALTITUDE)
    rows = process_rows_for(recipe, size, pack=forecast.request.pack, altitude_ft=altitude_ft)
    ways = {(row.method, row.minutes, row.pressure_psi) for row in rows}
    if len(ways) != 1:
        return Process(None, why=SEVERAL_WAYS if ways else SEE_SOURCE)
    method, minutes, psi = ways.pop()
    return Process(minutes, method if psi is None else f"{method} at {psi:g} psi")


def _work(
    forecasts: Sequence[Forecast], times: OwnTimes, rng: np.random.Generator
) -> tuple[Work, ...]:
    trim, pack = rate(times.trimmed), rate(times.packed)
    grams = [_to_trim(forecast) for forecast in forecasts]
    jars = [forecast.jars_to_come.draws for forecast in forecasts]
    trimming = trim.minutes(grams, rng) if trim else [None] * len(grams)
    packing = pack.minutes(jars, rng) if pack else [None] * len(jars)
    return tuple(
        Work(
            line=line,
            trims=bool(weight.any()),
            trim_hours=None if trimmed is None else Outcome(trimmed / 60.0),
            cures=_cures(forecast),
            cure_hours=_cure_hours(forecast),
            pack_hours=None if packed is None else Outcome(packed / 60.0),
        )
        for line, (forecast, weight, trimmed, packed) in enumerate(
            zip(forecasts, grams, trimming, packing, strict=True)
        )
    )


def _to_trim(forecast: Forecast) -> Array:
    """Grams still to trim: all of what is known as bought only."""
    request = forecast.request
    if request.stage != AS_BOUGHT or request.so_far is not None:
        return np.zeros(forecast.jars.draws.size)
    return forecast.start_g.draws


def _cures(forecast: Forecast) -> bool:
    """Whether a cure most likely lies ahead."""
    request = forecast.request
    ahead = before_salt(request.stage) and request.so_far is None
    return ahead and forecast.cured > 0.5


def _cure_hours(forecast: Forecast) -> tuple[float, float] | None:
    if not _cures(forecast):
        return None
    hours, recipe = forecast.request.cure_hours, forecast.recipe
    if hours is not None:
        return hours, hours
    return recipe.cure.hours if recipe is not None and recipe.cure is not None else None


def _clock(
    forecasts: Sequence[Forecast], runs: Sequence[Run], work: Sequence[Work]
) -> tuple[Outcome | None, dict[tuple[int, str, int], float]]:
    """Hours from the first cut to the last load out, cures left out, and when each load may start.

    One pair of hands takes the batches in their order, and one canner the loads in theirs: a load
    goes in once its jars are packed and the load before is out. None where the pace is not known.
    """
    starts: dict[tuple[int, str, int], float] = {}
    if not work or any(one.pack_hours is None for one in work):
        return None, starts
    if any(one.trims and one.trim_hours is None for one in work):
        return None, starts
    hands = np.zeros(forecasts[0].jars.draws.size)
    canner = hands.copy()
    for one in work:
        if one.trims and one.trim_hours is not None:
            hands = hands + one.trim_hours.draws
        packing = one.pack_hours.draws if one.pack_hours is not None else hands * 0.0
        own = [run for run in runs if run.line == one.line and run.started is not None]
        total = np.maximum(
            sum((run.started.draws for run in own if run.started), start=0.0 * hands), 1
        )
        before = 0.0 * hands
        for run in own:
            loads = run.started.draws if run.started is not None else before
            for number in range(int(loads.max(initial=0.0))):
                runs_it = loads > number
                packed = hands + packing * np.minimum((before + number + 1) / total, 1.0)
                start = np.maximum(canner, packed)
                starts[(run.line, run.size, number)] = float(np.median(start))
                minutes = run.process.minutes or 0.0
                canner = np.where(runs_it, start + minutes / 60.0, canner)
            before = before + loads
        hands = hands + packing
    return Outcome(np.maximum(hands, canner)), starts


def _left_out(
    runs: Sequence[Run], work: Sequence[Work], canner: Canner | None, hours: Outcome | None
) -> tuple[str, ...]:
    """What the loads and hours do not count, in words."""
    found: list[str] = []
    if canner is not None:
        unknown = {run.size for run in runs if run.room is None and run.process.canned}
        found += [f"loads of {size} jars: the canner's room for them is not known"
                  for size in sorted(unknown)]  # fmt: skip
    if any(not run.process.canned for run in runs):
        found.append("jars for the refrigerator: they need no load")
    if hours is None:
        if any(one.pack_hours is None for one in work):
            found.append(f"how fast you pack{_NO_TIMES}")
        if any(one.trims and one.trim_hours is None for one in work):
            found.append(f"how fast you trim{_NO_TIMES}")
        return tuple(found)
    if canner is not None:
        found.append("heating the canner and letting jars rest: no card says how long")
        if any(run.loads is not None and run.process.minutes is None for run in runs):
            found.append("the process of loads whose minutes are not known here")
    if any(one.cures for one in work):
        found.append("the hours in salt")
    return tuple(found)
