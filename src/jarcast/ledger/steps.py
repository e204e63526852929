"""Batches in the making: what was noted of each, step by step, before it is one in the ledger.

A step is 'begin', 'weigh', 'pack' (how far the packing has come), 'close' or 'drop'. A batch is
open from its 'begin' until it is closed or dropped. Its steps stay: those of the packing teach how
jars differ from one another.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping
from enum import StrEnum
from typing import Any

from msgspec import Struct, field

from jarcast.domain.packing import SoFar
from jarcast.domain.pots import Made
from jarcast.errors import BatchError, MeasureError, cut_short
from jarcast.ledger.annotations import confirm_within
from jarcast.ledger.backups import legible
from jarcast.ledger.cells import from_json, texts, to_json
from jarcast.ledger.entry import Entry, cell_text
from jarcast.ledger.kept_brine import Kept, give_back_within, keep_within, take_within
from jarcast.ledger.readings import STORED, row_of
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger
from jarcast.measures import parse_volume


class StepKind(StrEnum):
    """What a step does."""

    BEGIN = "begin"
    WEIGH = "weigh"
    PACK = "pack"
    AMEND = "amend"
    CLOSE = "close"
    DROP = "drop"
    REOPEN = "reopen"


class Step(Struct, frozen=True):
    """One step of a batch in the making.

    ``typed`` is what was typed, by column of the batch table as a kitchen names it ('trimmed').
    ``cells`` of a 'pack' step are what it was read as, by the names of SoFar; of another step they
    hold ``sure``, columns whose odd values the user stands by, and where a recipe was typed
    ``card``: whether that is the key or the file of a recipe's card, or a name alone, ``digest``
    of the card's text, and ``as_begun`` where the batch goes on by that text, kept in the ledger,
    though the card was changed; ``mends``
    tells that the brine made was said anew, and no other pot was.
    """

    batch: str
    kind: StepKind
    typed: Mapping[str, str]
    cells: Mapping[str, Any]
    at: dt.datetime
    action: int


class OpenBatch(Struct, frozen=True):
    """A batch in the making and its steps since it was begun."""

    name: str
    steps: tuple[Step, ...] = field(default=())

    @property
    def typed(self) -> dict[str, str]:
        """What was typed of the batch, by column; the latest word on each counts.

        An empty text takes a value away. Notes add up, and of the packing only the brine made and
        the sorts of jar are columns of the batch.
        """
        found: dict[str, str] = {}
        for step in self.steps:
            said = dict(step.typed)
            if step.kind is StepKind.PACK:
                said = {name: text for name, text in said.items() if name in ("brine_made", "jar")}
            found = _added(found, said)
        return found

    @property
    def planned_jars(self) -> str:
        """The jars as they were planned: what was said of them outside the notes of the packing."""
        planning = (step for step in self.steps if step.kind is not StepKind.PACK)
        said = [step.typed["jar"] for step in planning if "jar" in step.typed]
        return said[-1] if said else ""

    def typed_with(self, more: Mapping[str, str]) -> dict[str, str]:
        """What was typed, and more after it."""
        return _added(self.typed, more)

    @property
    def card(self) -> bool | None:
        """Whether the recipe is a card's key or file; None where that was not noted."""
        return card_noted(self.steps, self.typed.get("recipe", ""))

    @property
    def card_digest(self) -> str:
        """Digest of its card's text when the recipe was typed; '' where none was noted."""
        return str(self._of_recipe.get("digest", ""))

    @property
    def by_old_card(self) -> bool:
        """Whether it goes on by its card's text as that is kept in the ledger."""
        return bool(self._of_recipe.get("as_begun"))

    @property
    def _of_recipe(self) -> Mapping[str, Any]:
        """What was kept when its recipe was last typed."""
        return cells_of_recipe(self.steps, self.typed.get("recipe", ""))

    @property
    def newest(self) -> int:
        """The action of its latest step."""
        return self.steps[-1].action

    @property
    def packed(self) -> tuple[SoFar, ...]:
        """How far the packing had come, note by note."""
        return tuple(SoFar(**step.cells) for step in self.steps if step.kind is StepKind.PACK)

    @property
    def log(self) -> tuple[Made | SoFar, ...]:
        """Brine made and readings while packing, in order."""
        return tuple(one for step in self.steps for one in _logged(step))

    @property
    def sure(self) -> frozenset[str]:
        """Columns whose odd values the user stood by, and has not typed anew since."""
        found: set[str] = set()
        for step in self.steps:
            if step.kind is not StepKind.PACK:
                found -= {name + unit for name in step.typed for unit in ("", "_g", "_ml")}
                found |= set(step.cells.get("sure", ()))
        return frozenset(found)


def _logged(step: Step) -> Iterator[Made | SoFar]:
    """What a step says of the pots; of one that both makes and reads, the pot comes first."""
    note = SoFar(**step.cells) if step.kind is StepKind.PACK else None
    for column in ("brine_made", "brine_made_ml"):
        if (text := step.typed.get(column)) is not None:
            said = _ml(text, column) if note is None else note.brine_made_ml
            yield Made(said, bool(step.cells.get("mends")))
    if note is not None:
        yield note


def _ml(text: str, column: str) -> float | None:
    try:
        exact = column.endswith("_ml")
        return (float(text) if exact else parse_volume(text)) if text.strip() else None
    except (MeasureError, ValueError):
        return None  # a step holds only what could be read; another jarcast may read more


def _added(before: Mapping[str, str], more: Mapping[str, str]) -> dict[str, str]:
    """Typed texts with later ones; a note joins those before, unless it is there already."""
    found = {**before, **more}
    old, new = before.get("note", "").strip(), more.get("note", "").strip()
    if old and new:
        found["note"] = old if new in old.split("; ") else f"{old}; {new}"
    return found


def steps(ledger: Ledger, name: str | None = None, *, undone_too: bool = False) -> list[Step]:
    """Steps of one batch, or of all, oldest first; without those taken back, unless asked for.

    Raises LedgerError.
    """
    which = "" if undone_too else f"AND {STANDS} "
    rows = ledger.rows(
        "SELECT step.batch, step.kind, step.typed, step.cells, action.at, action.id "
        "FROM step JOIN action ON action.id = step.action_id "
        f"WHERE step.batch = coalesce(?, step.batch) {which}ORDER BY step.id",
        name,
    )
    with legible(ledger.path, "a step of a batch"):
        found = [
            Step(
                batch, StepKind(kind), texts(typed), from_json(cells),
                dt.datetime.fromisoformat(at), action,
            )
            for batch, kind, typed, cells, at, action in rows
        ]  # fmt: skip
        for step in found:
            _check_cells(step)
    return found


def _check_cells(step: Step) -> None:
    """Raise ValueError or TypeError for cells that no step has."""
    if step.kind is StepKind.PACK:
        SoFar(**step.cells)
    elif not all(isinstance(column, str) for column in step.cells.get("sure", ())):
        raise ValueError(f"batch '{cut_short(step.batch)}' is sure of what has no name")


def open_batches(ledger: Ledger) -> list[OpenBatch]:
    """Batches that were begun and neither closed nor dropped, in the order they were begun."""
    return in_the_making(steps(ledger))[0]


def dropped_batches(ledger: Ledger) -> list[OpenBatch]:
    """Batches that were dropped, and neither opened again nor begun anew since."""
    return in_the_making(steps(ledger))[1]


def in_the_making(every: Iterable[Step]) -> tuple[list[OpenBatch], list[OpenBatch]]:
    """Of the steps of all batches: batches that are open, and those that were dropped."""
    found: dict[str, list[Step]] = {}
    dropped: dict[str, list[Step]] = {}
    for step in every:
        name = step.batch
        if step.kind is StepKind.BEGIN:
            found.pop(name, None)
            dropped.pop(name, None)
            found[name] = [step]
        elif step.kind is StepKind.CLOSE:
            found.pop(name, None)
        elif step.kind is StepKind.DROP and name in found:
            dropped[name] = [*found.pop(name), step]
        elif step.kind is StepKind.REOPEN and name in dropped:
            found[name] = [*dropped.pop(name), step]
        elif name in found:
            found[name].append(step)
    open_now, out = (
        [OpenBatch(name, tuple(own)) for name, own in ones.items()] for ones in (found, dropped)
    )
    return open_now, out


def card_noted(found: Iterable[Step], recipe: str) -> bool | None:
    """Whether a recipe was a card's key or file when it was last typed; None if not noted."""
    noted = cells_of_recipe(found, recipe).get("card")
    return None if noted is None else bool(noted)


def cells_of_recipe(found: Iterable[Step], recipe: str) -> Mapping[str, Any]:
    """What the step kept in which this recipe was last typed."""
    said = [step for step in found if step.typed.get("recipe", "").strip() == recipe.strip()]
    return said[-1].cells if said else {}


UNANSWERED = "unanswered"  # the setting that holds such an action, and the kind of what wrote it


def written_unanswered(ledger: Ledger, entry: Entry, action: int) -> str:
    """The name of the batch that the last action before this one wrote unanswered; '' for none.

    All but the name must be the same, also how it was typed.
    """
    rows = ledger.rows(
        f"SELECT batch.name, {', '.join(STORED)} "
        "FROM reading JOIN batch ON batch.id = batch_id "
        f"WHERE {STANDS} AND action_id = (SELECT max(id) FROM action "
        "WHERE kind NOT IN ('setting', ?1) AND id < ?2) "
        "AND action_id = (SELECT CAST(value AS INTEGER) FROM setting WHERE key = ?1 "
        "ORDER BY id DESC LIMIT 1)",
        UNANSWERED, action,
    )  # fmt: skip
    for name, *row in rows:
        if tuple(row) == row_of(entry) and ledger.find(name) is not None:
            return str(name)
    return ""


def notes_in(every: Iterable[Step]) -> dict[str, tuple[SoFar, ...]]:
    """Of the steps of all batches: the notes of the packing of each since it was last begun."""
    found: dict[str, list[SoFar]] = {}
    for step in every:
        if step.kind is StepKind.BEGIN:
            found[step.batch] = []
        elif step.kind is StepKind.PACK:
            found.setdefault(step.batch, []).append(SoFar(**step.cells))
    return {name: tuple(notes) for name, notes in found.items() if notes}


def begin(
    ledger: Ledger, name: str, typed: Mapping[str, str], cells: Mapping[str, Any] | None = None
) -> Step:
    """Open a batch; gives its first step.

    Raises BatchError when its name is taken, by an open batch or a closed one.
    """
    with ledger.writing("begin") as action:
        if any(one.name == name for one in open_batches(ledger)):
            raise BatchError(
                f"batch '{name}' is already open; go on with it, or give this one another name"
            )
        if ledger.knows(name):
            raise BatchError(f"batch '{name}' is already in the ledger; give this one another name")
        return _write(ledger, action, name, StepKind.BEGIN, typed, cells or {})


def add_step(
    ledger: Ledger,
    name: str,
    kind: StepKind,
    typed: Mapping[str, str],
    cells: Mapping[str, Any] | None = None,
    after: int | None = None,
    taken: Kept | None = None,
) -> Step:
    """Note a step of an open batch; gives the step.

    ``after`` is the action of the latest step that was read, where this one builds on it;
    ``taken`` is brine that was kept, and goes into this batch; what a batch took is kept again
    when it is dropped. Raises BatchError when no such
    batch is open, or steps have come after that one, or less brine is kept.
    """
    with ledger.writing(kind.value) as action:
        _open_still(ledger, name, "'jarcast begin' opens one", after)
        step = _write(ledger, action, name, kind, typed, cells or {})
        if taken is not None:
            take_within(ledger, action, name, taken)
        if kind is StepKind.DROP:
            give_back_within(ledger, action, name)
    return step


def close(
    ledger: Ledger,
    name: str,
    entry: Entry,
    typed: Mapping[str, str],
    sure: Collection[str] = (),
    after: int | None = None,
    kept: Kept | None = None,
) -> None:
    """Make an open batch one of the ledger's, with what is stood by of it, all in one.

    ``sure`` are columns whose odd values the user stands by; those that the batch has no value of
    are passed over. ``after`` is the action of the latest step that ``entry`` was made of;
    ``kept`` is clean brine of it that is kept. Raises BatchError when no such batch is open, or
    steps have come after that one.
    """
    with ledger.writing("close") as action:
        _open_still(ledger, name, "'jarcast batches' lists what is closed", after)
        if ledger.knows(name):
            raise BatchError(
                f"batch '{name}' is already in the ledger, recorded while it was open; 'jarcast "
                "amend' changes it, 'jarcast drop' ends the open one"
            )
        ledger.insert(entry, action)
        held = [column for column in sorted(sure) if cell_text(entry.batch, column)]
        confirm_within(ledger, action, name, held)
        _write(ledger, action, name, StepKind.CLOSE, typed, {})
        if kept is not None:
            keep_within(ledger, action, name, kept)


def _open_still(ledger: Ledger, name: str, hint: str, after: int | None) -> None:
    """Raise BatchError unless the batch is open and was not changed after that action."""
    found = [one for one in open_batches(ledger) if one.name == name]
    if not found:
        raise BatchError(f"no batch '{cut_short(name)}' is open; {hint}")
    if after is not None and found[0].newest != after:
        raise BatchError(
            f"batch '{cut_short(name)}' was changed at another terminal meanwhile; nothing was "
            "recorded, so run it again"
        )


def _write(
    ledger: Ledger,
    action: int,
    name: str,
    kind: StepKind,
    typed: Mapping[str, str],
    cells: Mapping[str, Any],
) -> Step:
    ledger.execute(
        "INSERT INTO step (action_id, batch, kind, typed, cells) VALUES (?, ?, ?, ?, ?)",
        action,
        name,
        kind.value,
        to_json(typed),
        to_json(cells),
    )
    return Step(
        batch=name, kind=kind, typed=typed, cells=cells, at=dt.datetime.now(dt.UTC), action=action
    )
