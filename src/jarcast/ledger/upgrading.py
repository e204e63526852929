"""A ledger of an older schema is read through before it is brought up to date.

Damage that lay unnoticed in it would be carried over, and the copy that is kept of it before would
be offered as a sound one.
"""

import datetime as dt
import hashlib
import sqlite3
from collections.abc import Callable
from pathlib import Path

from jarcast.ledger.backups import damaged, legible
from jarcast.ledger.cells import from_json, texts
from jarcast.ledger.readings import SELECT, entry_of
from jarcast.ledger.schema import migrate_within, objects_of, version_of

# Cells that hold more than a text or a number, by table and column, and what reads them.
READERS: tuple[tuple[str, str, str, Callable[[str], object]], ...] = (
    ("action", "at", "when something was entered", dt.datetime.fromisoformat),
    ("forecast", "known", "a forecast kept in it", from_json),
    ("forecast", "answer", "a forecast kept in it", from_json),
    ("step", "typed", "what was typed of a batch in the making", texts),
    ("step", "cells", "a step of a batch in the making", from_json),
    ("own_jar", "typed", "what a jar was measured by", texts),
)


def check_upgrade(connection: sqlite3.Connection, path: Path) -> None:
    """Try to bring an older ledger up to date, look, and take it back.

    Raises LedgerError where a cell cannot be read or a row would not be as it was, and
    sqlite3.Error.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        columns = _columns(connection)
        before = _contents(connection, columns)
        migrate_within(connection)
        for table, content in _contents(connection, columns).items():
            if content != before[table]:
                raise damaged(path, f"brought up to date, its table '{table}' holds other rows")
        _read_all(connection, path)
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def _read_all(connection: sqlite3.Connection, path: Path) -> None:
    """Read every batch and every cell that is not plain. Raises LedgerError."""
    rows = connection.execute(f"{SELECT} FROM reading AS r JOIN batch ON batch.id = r.batch_id")
    for name, *row in rows:
        entry_of(path, name, row)
    for table, column, what, read in READERS:
        for (cell,) in connection.execute(f"SELECT {column} FROM {table}"):
            with legible(path, what):
                read(cell)


def _columns(connection: sqlite3.Connection) -> dict[str, str]:
    """The columns that each table has now, as a query names them."""
    return {
        table: ", ".join(f'"{row[1]}"' for row in connection.execute(f"PRAGMA table_info({table})"))
        for kind, table in objects_of(version_of(connection))
        if kind == "table"
    }


def _contents(
    connection: sqlite3.Connection, columns: dict[str, str]
) -> dict[str, tuple[int, bytes]]:
    """How many rows each table has, and a digest of what stands in these columns of it."""
    found = {}
    for table, names in columns.items():
        count, digest = 0, hashlib.sha256()
        for row in connection.execute(f"SELECT {names} FROM {table} ORDER BY id"):
            count += 1
            digest.update(repr(row).encode())
        found[table] = (count, digest.digest())
    return found
