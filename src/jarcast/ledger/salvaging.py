"""What can still be read of a damaged ledger, in a new one; what cannot is listed.

Every row is read by its id, so that a page that cannot be read costs the rows on it and no others.
A batch is taken over if all that was entered of it can be read; rows are numbered anew, and keep
their order, their day and the action that they belong to. The damaged file is only read.
"""

import datetime as dt
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from jarcast.domain.copies import Salvaged
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import LedgerError
from jarcast.files.reading import private_folder
from jarcast.files.whole import names_to_disk
from jarcast.ledger.connection import open_to_write
from jarcast.ledger.digests import changes
from jarcast.ledger.plain_words import in_plain_words
from jarcast.ledger.readings import STORED, entry_of
from jarcast.ledger.upgrading import READERS

Row = dict[str, Any]
Rows = dict[int, Row]  # of one table, by id

# Each table, after those that it refers to; and what one says of its rows.
_TABLES = {
    "action": "days on which something was entered",
    "batch": "names of batches",
    "own_jar": "measures of your own jars",
    "reading": "versions of batches",
    "confirmation": "values that were confirmed",
    "withdrawal": "withdrawals (a withdrawn batch may be back)",
    "undone": "undos (what was taken back may be back)",
    "step": "steps of open batches",
    "setting": "settings",
    "forecast": "forecasts that were kept",
    "card_text": "texts of recipe cards",
    "kept_brine": "notes of brine kept",
}
_REFERS = {"action_id": "action", "batch_id": "batch", "undoes": "action"}
_KINDS: dict[str, type] = {"TEXT": str, "REAL": float, "INTEGER": int}
_LEAST_BYTES = 8  # of a row in the file
_ERRORS = (sqlite3.Error, UnicodeDecodeError)


def salvage(ledger: Path, to: Path) -> Salvaged:
    """Copy every batch that reads whole to a new ledger. Raises LedgerError; nothing is there then.

    A ledger that is sound is copied whole.
    """
    with in_plain_words(to):
        if to.exists():
            raise LedgerError(f"{to} is there already; name a new file to copy to")
    with in_plain_words(ledger), tempfile.TemporaryDirectory(prefix="jarcast-") as name:
        copy = Path(shutil.copyfile(ledger, Path(name) / "damaged.sqlite3"))
        log = ledger.resolve().with_name(ledger.resolve().name + "-wal")
        if log.is_file():
            shutil.copyfile(log, copy.with_name(copy.name + "-wal"))
        with closing(sqlite3.connect(copy, isolation_level=None)) as source:
            torn: set[str] = set()
            found = {table: _read(source, table, copy.stat().st_size, torn) for table in _TABLES}
            if not found["reading"]:
                raise LedgerError(
                    f"not one batch of {ledger} can be read, so {to} was not made; 'jarcast "
                    "restore' lists the copies there are"
                )
            owners, doubtful = _owners(source), _doubtful(source)
    missing = [*_lost_batches(found, owners), *_lost_others(found, torn), *doubtful]
    with in_plain_words(to):
        private_folder(to.parent)
        with tempfile.TemporaryDirectory(dir=to.parent, prefix=".jarcast-") as name:
            new = Path(name) / to.name
            count = _write(new, found)
            new.rename(to)
        names_to_disk(to.parent)
    return Salvaged(to, count, tuple(missing))


def _read(source: sqlite3.Connection, table: str, size: int, torn: set[str]) -> Rows:
    """Rows of a table by id; those that cannot be read are left out, and the table is ``torn``."""
    declared: list[tuple[Any, ...]] = []
    with suppress(*_ERRORS):  # the list of tables may be damaged itself
        declared = source.execute(f"PRAGMA table_info({table})").fetchall()
    columns = {row[1]: (_KINDS[row[2]], bool(row[3])) for row in declared if row[2] in _KINDS}
    if not columns:  # an older schema has no such table
        return {}
    names = ", ".join(f'"{name}"' for name in columns)
    query = f"SELECT {names} FROM {table} NOT INDEXED"
    rows: list[tuple[Any, ...]] = []
    try:
        rows += source.execute(query)
    except _ERRORS:
        torn.add(table)
    there = {row[0] for row in rows}
    most = size // _LEAST_BYTES
    with suppress(*_ERRORS):
        most = source.execute(f"SELECT max(id) FROM {table} NOT INDEXED").fetchone()[0] or 0
    for number in {*range(1, min(most, size // _LEAST_BYTES) + 1)} - there:
        with suppress(*_ERRORS):
            rows += source.execute(f"{query} WHERE id = ?", (number,))
    found = {row[0]: row for row in rows if _of_kinds(row, columns.values())}
    named = {one: dict(zip(columns, found[one], strict=True)) for one in sorted(found)}
    return {one: row for one, row in named.items() if _legible(table, row)}


def _of_kinds(row: Sequence[object], kinds: Iterable[tuple[type, bool]]) -> bool:
    """Whether each cell is of its column's kind."""
    return all(
        isinstance(cell, kind) or (cell is None and not needed)
        for cell, (kind, needed) in zip(row, kinds, strict=True)
    )


def _legible(table: str, row: Row) -> bool:
    """Whether cells that hold more than a text or a number can be read."""
    try:
        for of, column, _, read in READERS:
            if of == table:
                read(row[column])
        if table == "own_jar":
            Jar(row["name"], row["capacity_ml"], row["bore_mm"])
    except (ValueError, TypeError):
        return False
    return True


def _owners(source: sqlite3.Connection) -> dict[int, int]:
    """The batch of each version, by the index: also of those that cannot be read."""
    rows: list[tuple[int, int]] = []
    query = "SELECT id, batch_id FROM reading INDEXED BY reading_of_batch ORDER BY batch_id"
    with suppress(*_ERRORS):
        rows += source.execute(query)
    return dict(rows)


def _doubtful(source: sqlite3.Connection) -> list[str]:
    """What does not fit the digest that was kept of it; its batches may be there, and changed."""
    try:
        return [f"compare with your notes: {one}" for one in changes(source)]
    except (*_ERRORS, IndexError):
        return ["whether what is there was changed since cannot be told"]


def _gaps(rows: Mapping[int, object], last: int = 0) -> list[int]:
    return [one for one in range(1, max((*rows, last), default=0) + 1) if one not in rows]


def _lost_batches(found: dict[str, Rows], owners: Mapping[int, int]) -> list[str]:
    """Take out batches that do not read whole, with all that belongs to them; a line for each."""
    batches, gaps = found["batch"], _gaps(found["reading"], max(owners, default=0))
    missing = {owners[number] for number in gaps if number in owners}
    unknown = sum(number not in owners for number in gaps)
    lines = []
    for number, why in sorted(_broken(found, missing).items()):
        name = batches.pop(number, {}).get("name")
        lines.append(f"batch '{name}': {why}" if name else f"a batch, the {number}th: {why}")
    for table in ("reading", "confirmation", "withdrawal"):
        for one in [n for n, row in found[table].items() if row["batch_id"] not in batches]:
            del found[table][one]
    if unknown:
        lines.append(f"{unknown} versions of batches, of which ones is not known")
    return lines


def _broken(found: Mapping[str, Rows], missing: Iterable[int]) -> dict[int, str]:
    """Why each batch that does not read whole does not, by its number.

    ``missing`` are batches that once had more versions than were found.
    """
    readings, batches = found["reading"].values(), found["batch"]
    jars = {*SHELF, *(row["name"] for row in found["own_jar"].values())}
    broken = dict.fromkeys(batches, "what was entered of it cannot be read")
    for row in readings:
        broken.pop(row["batch_id"], None)
    broken |= dict.fromkeys(missing, "not all that was entered of it can be read")
    for row in readings:
        named = batches.get(row["batch_id"])
        if named is None:
            broken[row["batch_id"]] = "its name cannot be read"
        elif why := _why_not(named["name"], row, jars):
            broken[row["batch_id"]] = why
    return broken


def _why_not(name: str, row: Row, jars: set[str]) -> str:
    """Why a version of a batch cannot be one; '' if it can."""
    cells = {"person": "", **row}
    try:
        entry = entry_of(Path(), name, [cells.get(column) for column in STORED])
    except LedgerError:
        return "it holds what no batch can"
    return "" if jars.issuperset(entry.batch.jar) else "nobody measured its jar"


def _lost_others(found: dict[str, Rows], torn: set[str]) -> list[str]:
    """Take out rows whose batch or undone action is gone; a line for each kind that misses some."""
    lines = []
    for table, what in _TABLES.items():
        rows = found[table]
        lost = len(_gaps(rows)) if table not in ("batch", "reading", "confirmation") else 0
        for number in [n for n, row in rows.items() if row.get("undoes", 1) not in found["action"]]:
            if "undoes" in rows[number]:
                del rows[number]
                lost += 1
        if lost or table in torn:
            lines.append(f"{lost} {what}" if lost else f"perhaps some {what}, the last of them")
    return lines


def _actions(found: Mapping[str, Rows]) -> Rows:
    """The actions that wrote what is there; one that cannot be read is made up, as of now."""
    now = dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
    rows = [row for rows in found.values() for row in rows.values() if "action_id" in row]
    out = {row["action_id"] for row in rows if row.get("withdrawn")}
    actions: Rows = {}
    for one in sorted({row["action_id"] for row in rows}):
        made_up = {"at": now, "kind": "withdraw" if one in out else "salvage", "version": "?"}
        known = found["action"].get(one, made_up)
        actions[one] = {column: known[column] for column in made_up}
    return actions


def _write(path: Path, found: Mapping[str, Rows]) -> int:
    """Write these rows, numbered anew, into a new ledger; gives how many batches stand in it."""
    every = {**found, "action": _actions(found)}
    new = {table: {old: number for number, old in enumerate(every[table], 1)} for table in _TABLES}
    with closing(open_to_write(path, 0.0)) as target:
        target.execute("BEGIN IMMEDIATE")
        for table in _TABLES:
            for old, row in every[table].items():
                cells = {
                    column: new[_REFERS[column]][cell] if column in _REFERS else cell
                    for column, cell in {**row, "id": old}.items()
                }
                cells["id"] = new[table][old]
                names = ", ".join(f'"{column}"' for column in cells)
                marks = ", ".join("?" * len(cells))
                target.execute(
                    f"INSERT INTO {table} ({names}) VALUES ({marks})", (*cells.values(),)
                )
        target.execute("COMMIT")
        return int(target.execute("SELECT count(*) FROM standing").fetchone()[0])
