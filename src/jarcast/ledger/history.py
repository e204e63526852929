"""Everything that was entered of one batch, in order: its steps, versions, and what was said of it.

One event for each thing the user did; its changes are by column, with what was typed.
"""

from collections.abc import Mapping, Sequence
from itertools import groupby

from jarcast.domain.batch import Batch, number_text
from jarcast.domain.events import UNDO, Change, Event
from jarcast.domain.fields import ALL_COLUMNS, FIELD_OF, KITCHEN, NUMBERS
from jarcast.errors import MeasureError
from jarcast.ledger.annotations import Annotation, AnnotationKind, annotations, check_known
from jarcast.ledger.entry import Reading, cell_text
from jarcast.ledger.steps import OpenBatch, Step, StepKind, steps
from jarcast.ledger.store import Ledger
from jarcast.ledger.undoing import Undos, moment_of, root_of, taken_back, undoes

Thing = Step | Reading | Annotation
# A note of the packing: what it holds beside columns of the batch, and how that was typed.
_PACKED = {
    "jars": ("jars_so_far", "jars"),
    "produce_g": ("produce_so_far_g", "produce"),
    "brine_ml": ("brine_so_far_ml", "brine"),
    "produce_left_g": ("produce_left_g", "produce_left"),
    "pot_left_ml": ("pot_left_ml", "pot_left"),
}


def batch_history(ledger: Ledger, name: str) -> list[Event]:
    """Everything that was entered of a batch, open or closed, oldest first.

    Raises BatchError when nothing ever was, and LedgerError.
    """
    things: list[Thing] = [
        *steps(ledger, name, undone_too=True),
        *ledger.history(name, undone_too=True),
        *annotations(ledger, name, undone_too=True),
    ]
    if not things:
        check_known(ledger, name)
    things.sort(key=lambda thing: thing.action)
    done = {action: list(own) for action, own in groupby(things, key=lambda thing: thing.action)}
    undos = undoes(ledger)
    out = taken_back(undos)
    everything = (
        (own, _event(done, undos, action, own, action in out)) for action, own in done.items()
    )
    found = [e for own, e in everything if e.changes or not all(map(_passed_over, own))]
    for action, targets in undos.items():
        if root_of(undos, action) in done:
            when = moment_of(ledger, action)
            found.append(Event(UNDO, when, action, (), targets[0], action in out))
    return sorted(found, key=lambda event: event.action)


def _passed_over(thing: Thing) -> bool:
    """Whether a step says nothing but that a question was passed over, or takes a value away."""
    return (
        isinstance(thing, Step)
        and thing.kind is StepKind.WEIGH
        and not thing.cells
        and not any(text.strip() for text in thing.typed.values())
        and len(thing.typed) == 1
    )


def _event(
    everything: Mapping[int, Sequence[Thing]],
    undos: Undos,
    action: int,
    done: Sequence[Thing],
    undone: bool,
) -> Event:
    """What an action changed of what stood just before it."""
    out = taken_back({undo: targets for undo, targets in undos.items() if undo < action})
    made: list[Step] = []  # steps of the batch since it was begun
    stood: Batch | None = None
    for before, own in everything.items():
        if before >= action or before in out:
            continue
        for thing in own:
            if isinstance(thing, Reading):
                stood = thing.entry.batch
            elif isinstance(thing, Step):
                made = [thing] if thing.kind is StepKind.BEGIN else [*made, thing]
    said = [thing for thing in done if isinstance(thing, Step)]
    versions = [thing for thing in done if isinstance(thing, Reading)]
    changes: list[Change] = []
    if versions:
        changes = _entered(stood, made, versions[-1], said)
    else:
        for step in said:
            made = [] if step.kind is StepKind.BEGIN else made
            changes += _stepped(made, step)
            made = [*made, step]
    confirmed = (one for one in done if isinstance(one, Annotation) and one.column)
    changes += [Change(one.column, one.value, one.value) for one in confirmed]
    return Event(_kind(done), done[0].at, action, tuple(changes), undone=undone)


def _kind(done: Sequence[Thing]) -> str:
    """The word for an action; those of one action share it."""
    kind = done[0].kind
    return kind.value if isinstance(kind, StepKind | AnnotationKind) else kind


def _entered(
    stood: Batch | None, made: Sequence[Step], reading: Reading, said: Sequence[Step]
) -> list[Change]:
    """What a version of a batch changes, against the one before or the steps that led to it."""
    entry = reading.entry
    if stood is not None:
        before = {column: cell_text(stood, column) for column in ALL_COLUMNS}
    else:
        before = _read_all(OpenBatch(entry.batch.batch, tuple(made)).typed)
    now = {KITCHEN.get(name, name) for step in said for name in step.typed}
    found = []
    for column in ALL_COLUMNS[1:]:
        old, new = before.get(column, ""), cell_text(entry.batch, column)
        # Words of a step may be spelt otherwise in the batch it came to: that is no change.
        spelt = stood is None and old and new and column not in NUMBERS and column not in now
        if old != new and not spelt:
            found.append(_change(column, old, new, entry.typed.get(column, "")))
    return found


def _stepped(made: Sequence[Step], step: Step) -> list[Change]:
    """What a step of an open batch changes of what was typed before it."""
    earlier = OpenBatch(step.batch, tuple(made)).typed
    later = OpenBatch(step.batch, (*made, step)).typed
    before, after = _read_all(earlier), _read_all(later)
    typed = {KITCHEN.get(name, name): text for name, text in step.typed.items()}
    found = [
        _change(column, before.get(column, ""), after.get(column, ""), typed.get(column, ""))
        for column in ALL_COLUMNS
        if before.get(column, "") != after.get(column, "")
    ]
    if step.kind is not StepKind.PACK:
        return found
    last = next((one.cells for one in reversed(made) if one.kind is StepKind.PACK), {})
    for name, (column, as_typed) in _PACKED.items():
        old, new = (_number(cells.get(name)) for cells in (last, step.cells))
        if new and old != new:
            found.append(_change(column, old, new, step.typed.get(as_typed, "")))
    return found


def _change(column: str, before: str, after: str, typed: str) -> Change:
    return Change(column, before, after, "" if typed.strip() == after else typed.strip())


def _number(value: float | None) -> str:
    return "" if value is None else number_text(value)


def _read_all(typed: Mapping[str, str]) -> dict[str, str]:
    """What was typed, as the batch table would write it."""
    return {KITCHEN.get(name, name): _read(KITCHEN.get(name, name), typed[name]) for name in typed}


def _read(column: str, text: str) -> str:
    field = FIELD_OF.get(column)
    reader = field.read if field is not None and field.unit else None
    if reader is None or not text.strip():
        return text.strip()
    try:
        return number_text(float(reader(text)))
    except MeasureError:  # a step holds only what could be read; another jarcast may read more
        return text.strip()
