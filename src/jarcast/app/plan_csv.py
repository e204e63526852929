"""A plan as CSV with what it comes to: its own columns as they were written, then the results."""

import csv
from collections.abc import Callable, Sequence
from typing import TextIO

from jarcast.app.harvest import Answer
from jarcast.batchtable.guard import guard
from jarcast.batchtable.header import column_name
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.plan.line import COLUMNS, SELDOM, Plan
from jarcast.harvest.plan.parsing import KEPT_RESULTS, OURS, RESULTS


def table(cells: Sequence[Sequence[str]]) -> Callable[[TextIO], None]:
    """What writes rows of cells as CSV, by RFC 4180."""

    def fill(stream: TextIO) -> None:
        csv.writer(stream, lineterminator="\r\n").writerows(cells)

    return fill


def rows(answer: Answer, level: float = 0.8) -> list[list[str]]:
    """Header and one row a line of the plan; numbers to a hundredth, brine to a millilitre.

    ``read_plan`` reads the plan back.
    """
    loads = _loads(answer)
    columns = _columns(answer.plan)
    names = [column_name(column) for column in columns]
    ours = RESULTS if answer.kept is None else (*RESULTS, *KEPT_RESULTS)
    results = [f"{OURS}{name}" if name in names else name for name in ours]
    found = [[*map(guard, columns), *results]]
    for at, one in enumerate(answer.progress):
        own = one.line.own
        typed = [*own, *(one.line.typed.get(name, "") for name in names[len(own) :])]
        typed = [guard(cell) for cell in typed]
        forecast = answer.forecasts[at]
        if forecast is None:
            jars = f"{one.filled:g}"
            used = [batch.brine_used_ml for batch in one.batches]
            known = sum(ml for ml in used if ml is not None)
            brine = "" if None in used else f"{known:.0f}"
            results = [one.state.value, jars, jars, jars, brine, brine, brine, "", ""]
        else:
            asked = answer.asked
            make = forecast.brine_to_make(asked.short_chance, asked.units)
            results = [
                one.state.value,
                *_range(forecast.jars, level, 2),
                *_range(forecast.brine_ml, level, 0),
                f"{make:.0f}" if forecast.has_brine else "",
                loads.get(at, ""),
            ]
        found.append([*typed, *results, *_kept(answer, at)])
    return found


def _kept(answer: Answer, at: int) -> list[str]:
    """Of a plan that is kept: jars planned and filled, and the batches that filled them."""
    if answer.kept is None:
        return []
    one = answer.progress[at]
    names = ", ".join(batch.batch for batch in one.batches)
    return [f"{answer.kept.planned[at][0]:.2f}", f"{one.filled:g}", guard(names)]


def _columns(plan: Plan) -> list[str]:
    """The plan's own columns as they are written, then those that its typed lines take beside."""
    said = {column for line in plan.lines if not line.own for column in line.typed}
    if plan.columns:
        there = {column_name(column) for column in plan.columns}
        return [*plan.columns, *(column for column in COLUMNS if column in said - there)]
    return [column for column in COLUMNS if column in said or column not in SELDOM]


def _range(outcome: Outcome, level: float, digits: int) -> list[str]:
    low, high = outcome.interval(level)
    return [f"{value:.{digits}f}" for value in (outcome.median, low, high)]


def _loads(answer: Answer) -> dict[int, str]:
    """Loads of the canner by line of the plan, where its room is known."""
    found: dict[int, float] = {}
    for run in answer.day.runs if answer.day is not None else ():
        if run.loads is not None:
            at = answer.to_do[run.line]
            found[at] = found.get(at, 0.0) + run.loads.median
    return {at: f"{loads:g}" for at, loads in found.items()}
