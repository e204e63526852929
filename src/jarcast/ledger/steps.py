"""Batches in the making: what was noted of each, step by step, before it is one in the ledger.

A step is 'begin', 'weigh', 'pack' (how far the packing has come), 'close' or 'drop'. A batch is
open from its 'begin' until it is closed or dropped. Its steps stay: those of the packing teach how
jars differ from one another.
"""

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from jarcast.errors import BatchError, LedgerError
from jarcast.ledger.book import Ledger
from jarcast.ledger.entry import Entry
from jarcast.packing import SoFar


class StepKind(StrEnum):
    """What a step does."""

    BEGIN = "begin"
    WEIGH = "weigh"
    PACK = "pack"
    CLOSE = "close"
    DROP = "drop"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a batch in the making.

    ``typed`` is what was typed, ``cells`` what it was read as, by name; of a 'pack' step the names
    are those of SoFar.
    """

    batch: str
    kind: StepKind
    typed: Mapping[str, str]
    cells: Mapping[str, Any]
    at: dt.datetime
    action: int


@dataclass(frozen=True, slots=True)
class OpenBatch:
    """A batch in the making and its steps since it was begun."""

    name: str
    steps: tuple[Step, ...] = field(default=())

    @property
    def typed(self) -> dict[str, str]:
        """What was typed of the batch, by column; the latest word on each counts."""
        found: dict[str, str] = {}
        for step in self.steps:
            if step.kind is not StepKind.PACK:
                found.update(step.typed)
        return found

    @property
    def packed(self) -> tuple[SoFar, ...]:
        """How far the packing had come, note by note."""
        return tuple(SoFar(**step.cells) for step in self.steps if step.kind is StepKind.PACK)


def steps(ledger: Ledger, name: str | None = None) -> list[Step]:
    """Steps of one batch, or of all, oldest first. Raises LedgerError."""
    rows = ledger.rows(
        "SELECT step.batch, step.kind, step.typed, step.cells, action.at, action.id "
        "FROM step JOIN action ON action.id = step.action_id "
        "WHERE step.batch = coalesce(?, step.batch) ORDER BY step.id",
        name,
    )
    try:
        return [
            Step(
                batch, StepKind(kind), json.loads(typed), json.loads(cells),
                dt.datetime.fromisoformat(at), action,
            )
            for batch, kind, typed, cells, at, action in rows
        ]  # fmt: skip
    except ValueError as error:
        raise LedgerError(
            f"{ledger.path} is damaged: a step of a batch kept in it cannot be read ({error}). It "
            "was left as it is; go on from a copy of it made earlier"
        ) from error


def open_batches(ledger: Ledger) -> list[OpenBatch]:
    """Batches that were begun and neither closed nor dropped, in the order they were begun."""
    found: dict[str, list[Step]] = {}
    for step in steps(ledger):
        if step.kind is StepKind.BEGIN:
            found.pop(step.batch, None)
            found[step.batch] = [step]
        elif step.kind in (StepKind.CLOSE, StepKind.DROP):
            found.pop(step.batch, None)
        elif step.batch in found:
            found[step.batch].append(step)
    return [OpenBatch(name, tuple(own)) for name, own in found.items()]


def packing_notes(ledger: Ledger) -> dict[str, tuple[SoFar, ...]]:
    """How the packing of each batch went, note by note, since it was last begun."""
    found: dict[str, list[SoFar]] = {}
    for step in steps(ledger):
        if step.kind is StepKind.BEGIN:
            found[step.batch] = []
        elif step.kind is StepKind.PACK:
            found.setdefault(step.batch, []).append(SoFar(**step.cells))
    return {name: tuple(notes) for name, notes in found.items() if notes}


def begin(ledger: Ledger, name: str, typed: Mapping[str, str]) -> None:
    """Open a batch. Raises BatchError when its name is taken, by an open batch or a closed one."""
    with ledger.writing("begin") as action:
        if any(one.name == name for one in open_batches(ledger)):
            raise BatchError(f"batch '{name}' is open already; go on with it, or name this another")
        if ledger.knows(name):
            raise BatchError(f"batch '{name}' is already in the ledger; name this one another")
        _write(ledger, action, name, StepKind.BEGIN, typed, {})


def add_step(
    ledger: Ledger,
    name: str,
    kind: StepKind,
    typed: Mapping[str, str],
    cells: Mapping[str, Any] | None = None,
) -> None:
    """Note a step of an open batch. Raises BatchError when no such batch is open."""
    with ledger.writing(kind.value) as action:
        if all(one.name != name for one in open_batches(ledger)):
            raise BatchError(f"no batch '{name}' is open; 'jarcast begin' opens one")
        _write(ledger, action, name, kind, typed, cells or {})


def close(ledger: Ledger, name: str, entry: Entry, typed: Mapping[str, str]) -> None:
    """Make an open batch one of the ledger's, both in one. Raises BatchError."""
    with ledger.writing("close") as action:
        if all(one.name != name for one in open_batches(ledger)):
            raise BatchError(f"no batch '{name}' is open; 'jarcast batches' lists what is closed")
        ledger.insert(entry, action)
        _write(ledger, action, name, StepKind.CLOSE, typed, {})


def _write(
    ledger: Ledger,
    action: int,
    name: str,
    kind: StepKind,
    typed: Mapping[str, str],
    cells: Mapping[str, Any],
) -> None:
    ledger.execute(
        "INSERT INTO step (action_id, batch, kind, typed, cells) VALUES (?, ?, ?, ?, ?)",
        action,
        name,
        kind.value,
        *(
            json.dumps(dict(part), ensure_ascii=False, sort_keys=True, allow_nan=False)
            for part in (typed, cells)
        ),
    )
