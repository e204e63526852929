"""A digest of what each action wrote, by which a row that was changed by other hands is noticed.

It stands in the action's own row, which is written last: over that row, over every row of the
action with the name of its batch, and over those of earlier actions that have no digest (an older
jarcast wrote them). Its first part is the schema whose columns it is over. Rows are told by
``ascii``, which is the same in every Python, numbers exact.
"""

import hashlib
import sqlite3
from bisect import bisect_left
from collections.abc import Iterator
from contextlib import closing
from functools import cache

from msgspec import Struct

from jarcast.errors import cut_short
from jarcast.ledger.schema import MIGRATIONS, SCHEMA, version_of

_FIRST = 4  # the schema that brought the column
_LENGTH = 32  # hexadecimal digits of a SHA-256: 128 bits
_MOST_NAMED = 3


class Begun(Struct, frozen=True):
    """An action that is being written: its id, and what of the ledger its digest is not over.

    ``after`` is the last action with a digest, ``marks`` the last row of each table by then.
    """

    action: int
    after: int
    marks: dict[str, int]


@cache
def _columns(schema: int) -> dict[str, str]:
    """What a digest is over of each table that belongs to actions, as a query names it."""
    found = {}
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as memory:
        for migrate in MIGRATIONS[:schema]:
            migrate(memory)
        tables = memory.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        for (table,) in tables.fetchall():
            names = [row[1] for row in memory.execute(f"PRAGMA table_info({table})")]
            if "action_id" not in names:
                continue
            columns = ["action_id", *(f'"{name}"' for name in names if name != "action_id")]
            if "batch_id" in names:
                columns.append(f"(SELECT name FROM batch WHERE batch.id = {table}.batch_id)")
            found[table] = ", ".join(columns)
    return {"action": "id, id, at, kind, version, request", **found}


def begun(connection: sqlite3.Connection) -> Begun:
    """The action that is next; while the write lock is held. Its row need not be there yet."""
    last = connection.execute("SELECT id, digest FROM action ORDER BY id DESC LIMIT 1").fetchone()
    if last is None:
        return Begun(1, 0, {})
    if last[1] is None:  # the first to be written here since an older jarcast
        query = "SELECT coalesce(max(id), 0) FROM action WHERE digest IS NOT NULL"
        return Begun(last[0] + 1, connection.execute(query).fetchone()[0], {})
    marks = {
        table: connection.execute(f"SELECT coalesce(max(id), 0) FROM {table}").fetchone()[0]
        for table in _columns(SCHEMA)
    }
    return Begun(last[0] + 1, last[0], marks)


def finish(
    connection: sqlite3.Connection,
    new: Begun,
    at: str,
    kind: str,
    version: str,
    request: str | None = None,
) -> None:
    """Write the row of an action, once all its other rows are there."""
    own = hashlib.sha256()
    for table, columns in _columns(SCHEMA).items():
        for row in connection.execute(
            f"SELECT {columns} FROM {table} WHERE id > ? ORDER BY id", (new.marks.get(table, 0),)
        ):
            if row[0] > new.after:
                own.update(ascii(row).encode())
        if table == "action":
            own.update(ascii((new.action, new.action, at, kind, version, request)).encode())
    connection.execute(
        "INSERT INTO action (id, at, kind, version, request, digest) VALUES (?, ?, ?, ?, ?, ?)",
        (new.action, at, kind, version, request, f"{SCHEMA}:{own.hexdigest()[:_LENGTH]}"),
    )


def changes(connection: sqlite3.Connection) -> Iterator[str]:
    """What was changed since it was written, for each action of which a row was.

    Raises sqlite3.Error.
    """
    query = "SELECT id, digest FROM action WHERE digest IS NOT NULL ORDER BY id"
    ends = [] if version_of(connection) < _FIRST else connection.execute(query).fetchall()
    if not ends:
        return
    ids = [int(end) for end, _ in ends]
    last = connection.execute("SELECT max(id) FROM action").fetchone()[0]
    if last > ids[-1]:
        yield f"{_entered(connection, ids[-1], last)} has no digest, so no jarcast wrote it"
        ids.append(last)
    schemas = {str(digest).partition(":")[0] for _, digest in ends}
    due: list[list[str]] = [[] for _ in ids]  # by the columns of each schema
    for schema in (one for one in range(_FIRST, SCHEMA + 1) if str(one) in schemas):
        own = [hashlib.sha256() for _ in ids]
        for table, columns in _columns(schema).items():
            for row in connection.execute(f"SELECT {columns} FROM {table} ORDER BY id"):
                own[bisect_left(ids, row[0])].update(ascii(row).encode())
        for found, one in zip(due, own, strict=True):
            found.append(f"{schema}:{one.hexdigest()[:_LENGTH]}")
    for place, (end, digest) in enumerate(ends):
        if digest not in due[place]:
            first = ids[place - 1] if place else 0
            yield f"{_entered(connection, first, end)} was changed since it was written"


def _entered(connection: sqlite3.Connection, after: int, last: int) -> str:
    """What actions up to one entered, as one says it: the day, and the batches."""
    at = connection.execute("SELECT at FROM action WHERE id = ?", (last,)).fetchone()[0]
    rows = connection.execute(
        "SELECT DISTINCT name FROM (SELECT action_id, name FROM reading "
        "JOIN batch ON batch.id = batch_id UNION ALL SELECT action_id, batch FROM step) "
        "WHERE action_id > ? AND action_id <= ?",
        (after, last),
    ).fetchall()
    names = ", ".join(f"'{cut_short(name)}'" for (name,) in rows[:_MOST_NAMED])
    more = f" and {len(rows) - _MOST_NAMED} more" if len(rows) > _MOST_NAMED else ""
    of = f" of batch {names}{more}" if rows else ""
    return f"what was entered on {at[:10]}{of}"
