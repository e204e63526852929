"""A plan as CSV with what it comes to: its own columns as they were written, then the results."""

import csv
from pathlib import Path
from typing import TextIO

from jarcast.app.harvest import Answer
from jarcast.batchtable.guard import guard
from jarcast.files.whole import write_whole_text
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.plan.line import COLUMNS
from jarcast.harvest.plan.parsing import RESULTS


def write_plan(answer: Answer, path: str | Path, level: float = 0.8) -> None:
    """Write the plan and its results, by RFC 4180; ``read_plan`` reads the plan back.

    The file appears whole or not at all. Raises JarcastError if it cannot be written; a file that
    was there is then as it was.
    """
    table = rows(answer, level)

    def fill(stream: TextIO) -> None:
        csv.writer(stream, lineterminator="\r\n").writerows(table)

    write_whole_text(Path(path), fill, "plan.csv")


def rows(answer: Answer, level: float = 0.8) -> list[list[str]]:
    """Header and one row a line of the plan; numbers to a hundredth, brine to a millilitre."""
    loads = _loads(answer)
    named = any(one.line.person for one in answer.progress)
    columns = [column for column in COLUMNS if named or column != "person"]
    table = [[*columns, *RESULTS]]
    for at, one in enumerate(answer.progress):
        typed = [guard(one.line.typed.get(column, "")) for column in columns]
        forecast = answer.forecasts[at]
        if forecast is None:
            jars = f"{one.batch.total_jars:g}" if one.batch is not None else ""
            used = one.batch.brine_used_ml if one.batch is not None else None
            brine = "" if used is None else f"{used:.0f}"
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
        table.append([*typed, *results])
    return table


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
