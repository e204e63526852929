"""How far a plan has come: which of its batches are done, which are open, what is left to do.

A line that bears the name of a batch in the ledger is done, and counts as it turned out. One that
bears the name of an open batch goes on from the latest weight noted there.
"""

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.packing import SoFar
from jarcast.domain.pots import packing_by
from jarcast.domain.said_weight import Weight, read_weight
from jarcast.errors import BatchError, MeasureError
from jarcast.harvest.plan.line import WEIGHTS, Plan, PlanLine
from jarcast.ledger.steps import OpenBatch
from jarcast.measures import parse_hours


class State(StrEnum):
    """How far one line has come."""

    DONE = "done"
    OPEN = "open"
    PARTLY = "partly"
    TO_DO = "to do"


class Progress(Struct, frozen=True):
    """One line, how far it has come, and what its batch came to or has come to.

    ``line`` holds the weights of an open batch where they were noted, or what is left of a line
    that is done in part. ``batches`` are the closed ones that count for it, by date.
    """

    line: PlanLine
    state: State
    batches: tuple[Batch, ...] = ()
    so_far: SoFar | None = None

    @property
    def batch(self) -> Batch | None:
        """The first batch that was closed for it."""
        return self.batches[0] if self.batches else None

    @property
    def filled(self) -> float:
        """Jars filled for it in closed batches."""
        return sum(one.total_jars for one in self.batches)


def progress(
    plan: Plan,
    batches: Iterable[Batch],
    in_the_making: Iterable[OpenBatch],
    shelf: Mapping[str, Jar] = SHELF,
) -> tuple[Progress, ...]:
    """Every line of the plan in order, with how far it has come; ``shelf`` knows own baskets."""
    closed = {batch.batch: batch for batch in batches}
    begun = {one.name: one for one in in_the_making}
    return lines_so_far(plan.lines, closed, begun, shelf)


def lines_so_far(
    lines: Sequence[PlanLine],
    closed: Mapping[str, Batch],
    begun: Mapping[str, OpenBatch],
    shelf: Mapping[str, Jar] = SHELF,
) -> tuple[Progress, ...]:
    """Lines beside the batches of their names, those closed and those begun."""
    found = []
    for line in lines:
        if line.name in closed:
            found.append(Progress(line, State.DONE, batches=(closed[line.name],)))
        elif line.name in begun:
            found.append(_open(line, begun[line.name], shelf))
        else:
            found.append(Progress(line, State.TO_DO))
    return tuple(found)


def _open(line: PlanLine, batch: OpenBatch, shelf: Mapping[str, Jar]) -> Progress:
    """The line with the weights that were noted since its batch was begun."""
    typed = batch.typed
    noted: dict[str, Weight] = {}
    for stage in WEIGHTS:
        grams = _grams(stage, typed, shelf)
        if grams is not None:
            noted[f"{stage}_g"] = grams
    hours = _hours(typed.get("cure_hours"))
    if hours is not None:
        noted["cure_hours"] = hours
    if person := typed.get("person", ""):
        line = replace(line, person=person)
    kept = replace(line, **_without_guesses(line, noted), **noted)
    return Progress(kept, State.OPEN, so_far=packing_by(batch.log))


def _without_guesses(line: PlanLine, noted: Mapping[str, Weight]) -> dict[str, None]:
    """The plan's own weights, dropped once the batch itself was weighed."""
    stages = [f"{stage}_g" for stage in WEIGHTS]
    if not any(stage in noted for stage in stages):
        return {}
    return {stage: None for stage in stages if stage not in noted and getattr(line, stage)}


def _grams(stage: str, typed: Mapping[str, str], shelf: Mapping[str, Jar]) -> Weight | None:
    """A weight of an open batch as it was typed: weighed, or counted in containers or cups."""
    text, grams = typed.get(stage), typed.get(f"{stage}_g")
    crop = typed.get("produce", ""), typed.get("cut", "")
    try:
        if text:
            return read_weight(text, stage, *crop, shelf).grams
        return float(grams) if grams else None
    except (MeasureError, BatchError, ValueError):
        return None  # it is told where the batch is worked on


def _hours(text: str | None) -> float | None:
    try:
        return parse_hours(text) if text else None
    except MeasureError:
        return None
