"""One batch from what was typed for it, and into the ledger."""

import datetime as dt
from collections.abc import Collection, Mapping
from functools import partial

from msgspec.structs import replace

from jarcast.app.work import Work
from jarcast.batchtable.rows import RowChecker, shortened
from jarcast.domain.batch import Batch, free_name
from jarcast.domain.fields import ALL_COLUMNS, KITCHEN, typed_name
from jarcast.domain.jar_text import with_sorts
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import cut_key, produce_key
from jarcast.errors import BatchError
from jarcast.ledger import Entry
from jarcast.ledger.annotations import check_standing, confirm_within
from jarcast.ledger.entry import cell_text
from jarcast.ledger.kept_brine import Kept, keep_within
from jarcast.ledger.steps import open_batches, written_unanswered
from jarcast.ledger.whole_names import is_taken


def write_down(
    work: Work,
    entry: Entry,
    *,
    named: bool = True,
    sure: Collection[str] = (),
    kept: Kept | None = None,
) -> tuple[Batch, bool]:
    """Write one batch in the ledger; gives it as it then stands, and whether it is new there.

    ``named`` tells whether its name was typed: one that is made up is numbered until no other batch
    has it, unless the same was written just before and could not be answered: it is that batch once
    more. ``sure`` are columns whose odd values the user stands by, ``kept`` is clean brine of it
    kept for the next pot of its recipe; they are written with it, all in one. Raises BatchError and
    LedgerError.
    """
    ledger = work.ledger
    with work.writing("record") as action:
        name = entry.batch.batch
        if not named:
            before = written_unanswered(ledger, entry, action)
            name = before or free_name(name, partial(is_taken, ledger))
            entry = Entry(replace(entry.batch, batch=name), entry.typed)
        elif name.strip() in {one.name for one in open_batches(ledger)}:
            raise BatchError(f"batch '{shortened(name)}' is open; 'jarcast close' records it")
        added = bool(ledger.add_within([entry], action).added)
        held = [column for column in sorted(sure) if cell_text(entry.batch, column)]
        if held or not added:
            confirm_within(ledger, action, entry.batch.batch, held)
        if added and kept is not None:
            keep_within(ledger, action, entry.batch.batch, kept)
        if added:
            return replace(entry.batch, confirmed=frozenset(held)), True
        return check_standing(ledger, entry.batch.batch).batch, False


def make_entry(
    typed: Mapping[str, str | None],
    today: dt.date,
    shelf: Mapping[str, Jar] = SHELF,
) -> Entry:
    """An entry from typed texts by column, ``None`` for what was not said.

    The date is today unless typed, and a name is made up where none was. Raises
    BatchError with every problem at once.
    """
    cells = _filled(typed)
    cells.setdefault("date", today.isoformat())
    if "batch" not in cells:
        cells["batch"] = new_name(cells, ())
    return _checked(cells, today, shelf)


def read(
    typed: Mapping[str, str | None], today: dt.date, shelf: Mapping[str, Jar] = SHELF
) -> Batch:
    """A batch that is not finished, from typed texts by column, with the checks of a finished one.

    What every batch needs and this one does not have yet is made up: its name, date and produce
    are '?', today and '?', its jars one pint. Raises BatchError with every problem at once.
    """
    cells = _filled(typed)
    trial = {"batch": "?", "date": today.isoformat(), "produce": "?", "jar": "pint"} | cells
    trial.setdefault("jars", " + ".join("1" for _ in trial["jar"].split("+")))
    return _checked(trial, today, shelf).batch


def _filled(typed: Mapping[str, str | None]) -> dict[str, str]:
    return {column: text for column, text in typed.items() if text is not None and text.strip()}


def _checked(cells: Mapping[str, str], today: dt.date, shelf: Mapping[str, Jar]) -> Entry:
    entry, problems = RowChecker(shelf, today).check(cells)
    if entry is None:
        lines = tuple(f"{_words(p.column)} '{shortened(p.cell)}': {p.why}" for p in problems)
        joined = "\n  ".join(lines)
        raise BatchError(f"nothing was recorded: {joined}", lines)
    return entry


def _words(column: str) -> str:
    """A column as one says it: 'headspace_in' -> 'headspace', 'as_bought' -> 'as bought'."""
    return column.removesuffix("_in").replace("_", " ")


def new_name(cells: Mapping[str, str], taken: Collection[str]) -> str:
    """A name that tells the batch: 2025-08-31 carrot sticks, with a number where it is taken."""
    day = cells["date"].strip()[:10]  # a time of day may stand after it
    words = [day, produce_key(cells.get("produce", ""))]
    words.append(cut_key(cells.get("cut", "")))
    return free_name(" ".join(word for word in words if word)[:80], taken.__contains__)


def kitchen_cells(typed: Mapping[str, str]) -> dict[str, str]:
    """Typed changes under the names a kitchen uses: 'trimmed_g=2500' is 'trimmed=2500 g'.

    Raises BatchError for a column that no batch has, or that is its name.
    """
    found = {}
    for column, text in typed.items():
        exact = KITCHEN.get(column, column)
        if exact not in ALL_COLUMNS or exact == "batch":
            raise _no_value(column)
        name = typed_name(exact)
        unit = "" if name == column or not text.strip() else f" {exact.rpartition('_')[2]}"
        found[name] = f"{text}{unit}" if name != exact else text
    return found


def _no_value(column: str) -> BatchError:
    known = ", ".join(typed_name(c) for c in ALL_COLUMNS if c != "batch")
    return BatchError(f"'{shortened(column)}' is not a value to amend; choose from {known}")


def amend(work: Work, name: str, changes: Mapping[str, str], today: dt.date) -> tuple[Entry, bool]:
    """Change values of a batch by column; an empty text takes a value away.

    What stood before stays readable in the ledger. Gives the batch as it then stands, and whether
    anything changed. Raises BatchError and LedgerError.
    """
    standing = work.ledger.find(name)
    if standing is None:
        raise BatchError(f"there is no batch '{shortened(name)}'; 'jarcast batches' lists them")

    def changed(before: Entry) -> Entry:
        return amended(before, changes, today, work.shelf)

    changed(standing)  # what cannot be is refused before the ledger is opened to write
    with work.writing("amend"):
        return work.ledger.amend_with(name, changed)


def amended(
    before: Entry, changes: Mapping[str, str], today: dt.date, shelf: Mapping[str, Jar]
) -> Entry:
    """A batch as it stands, with changes by column. Raises BatchError."""
    cells: dict[str, str | None] = {}
    for column in ALL_COLUMNS:
        typed = before.typed.get(column)
        cells[typed_name(column) if typed else column] = typed or cell_text(before.batch, column)
    for column, text in with_sorts(changes, shelf).items():
        exact = KITCHEN.get(column, column)
        if exact not in ALL_COLUMNS or exact == "batch":
            raise _no_value(column)
        cells.pop(exact, None)
        cells.pop(typed_name(exact), None)
        cells[column] = text
    return make_entry(cells, today, shelf)
