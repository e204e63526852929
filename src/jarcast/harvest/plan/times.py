"""How long trimming and packing took, from the times at which the steps of a batch were noted."""

from collections.abc import Iterable, Sequence

from jarcast.errors import MeasureError
from jarcast.harvest.pace import OwnTimes, Timed
from jarcast.ledger.steps import Step, StepKind
from jarcast.measures import parse_weight

# Work with a longer gap between two notes was not steady; a shorter one is two notes made at once
# (common practice, no source).
MOST_MINUTES = 240.0
LEAST_MINUTES = 2.0


def own_times(steps: Iterable[Step]) -> OwnTimes:
    """The timed work in these steps, oldest first: grams trimmed, jars packed, and the minutes.

    Trimming runs from the note of the weight as bought to that of the trimmed weight; packing from
    one note of the jars so far to the next, or from the last weighing to the first such note.
    """
    by_batch: dict[str, list[Step]] = {}
    for step in steps:
        if step.kind is StepKind.BEGIN:
            by_batch[step.batch] = []
        by_batch.setdefault(step.batch, []).append(step)
    trimmed: list[Timed] = []
    packed: list[Timed] = []
    for own in by_batch.values():
        trimmed += _trimming(own)
        packed += _packing(own)
    return OwnTimes(tuple(trimmed), tuple(packed))


def _trimming(steps: Sequence[Step]) -> list[Timed]:
    bought: tuple[float, Step] | None = None
    for step in steps:
        if bought is not None and "trimmed" in step.typed and "as_bought" not in step.typed:
            return _timed(bought[0], bought[1], step)
        grams = _grams(step.typed.get("as_bought"))
        if grams and "trimmed" not in step.typed:
            bought = (grams, step)
    return []


def _packing(steps: Sequence[Step]) -> list[Timed]:
    found: list[Timed] = []
    jars: float = 0.0
    before: Step | None = None
    for step in steps:
        if step.kind in (StepKind.BEGIN, StepKind.WEIGH) and not jars:
            before = step
        elif step.kind is StepKind.PACK:
            now = float(step.cells.get("jars", 0.0))
            if before is not None and now > jars:
                found += _timed(now - jars, before, step)
            jars, before = now, step
    return found


def _timed(amount: float, start: Step, end: Step) -> list[Timed]:
    minutes = (end.at - start.at).total_seconds() / 60.0
    return [Timed(amount, minutes)] if LEAST_MINUTES <= minutes <= MOST_MINUTES else []


def _grams(text: str | None) -> float | None:
    try:
        return parse_weight(text) if text else None
    except MeasureError:
        return None
