"""Whether a ledger is whole: nothing planted in it, no page damaged, no row gone.

Rows are never deleted, and SQLite gives a new row the id after the greatest, a rolled back one
using none up (https://sqlite.org/autoinc.html): the ids of a table are 1, 2, 3 ... without a gap.
"""

import sqlite3

from jarcast.errors import cut_short
from jarcast.ledger.digests import changes
from jarcast.ledger.schema import SCHEMA, objects_in, objects_of, version_of

_MOST_SHOWN = 200  # characters of what SQLite says


def problem_of(connection: sqlite3.Connection) -> str:
    """What is wrong with a ledger of a schema that is known, '' for nothing; in one view of it.

    The time goes with the size: 1 ms at 60 batches, 8 ms at 1,000, 90 ms at 10,000, where reading
    them all takes 190 ms. Raises sqlite3.Error.
    """
    connection.execute("BEGIN")
    try:
        return (
            _strange_schema(connection) or _broken_pages(connection) or _lost_rows(connection)
            or next(changes(connection), "")
        )  # fmt: skip
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def _strange_schema(connection: sqlite3.Connection) -> str:
    """What jarcast did not make; looked for before any of it is used, as a view may never end."""
    version = version_of(connection)
    if not 0 <= version <= SCHEMA:
        return f"its schema has the number {version}"
    found, due = objects_in(connection), objects_of(version)
    strange = [_named(*one) for one in found if one not in due]
    missing = [_named(*one) for one in due if one not in found]
    other = [_named(*one) for one in found if one in due and found[one] != due[one]]
    said = [
        f"{', '.join(names)} {'is' if len(names) == 1 else 'are'} {what}"
        for names, what in (
            (strange, "not of jarcast's making (whoever put that there can drop it again)"),
            (other, "not as jarcast made it"),
            (missing, "missing"),
        )
        if names
    ]
    return "; ".join(said)


def _named(kind: str, name: str) -> str:
    return f"{kind} '{cut_short(name)}'"


def _broken_pages(connection: sqlite3.Connection) -> str:
    """What SQLite finds wrong; that every index agrees with its table is a part of it."""
    said = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
    said = " ".join(said.removeprefix("*** in database main ***").split())
    return "" if said == "ok" else said[:_MOST_SHOWN]


def _lost_rows(connection: sqlite3.Connection) -> str:
    tables = [name for kind, name in objects_of(version_of(connection)) if kind == "table"]
    for table in tables:
        there, first, last = connection.execute(
            f"SELECT (SELECT count(*) FROM {table}), (SELECT min(id) FROM {table}), "
            f"(SELECT max(id) FROM {table})"
        ).fetchone()
        if there and (first, last) != (1, there):
            return f"of its table '{table}' rows are gone: {there} are there, the last is no {last}"
    if stray := connection.execute("PRAGMA foreign_key_check").fetchone():
        return f"a row of its table '{stray[0]}' belongs to a row of '{stray[2]}' that is gone"
    for what, query in _emptied(tables):
        if count := connection.execute(query).fetchone()[0]:
            return what.format(count=count)
    return ""


def _emptied(tables: list[str]) -> list[tuple[str, str]]:
    """What is said where rows that must be there are not, and the query that counts them."""
    if not tables:
        return []
    # A withdrawal says twice what it does: in itself, and in the kind of its action.
    turned = (
        "SELECT count(*) FROM withdrawal JOIN action ON action.id = action_id "
        "WHERE withdrawn IS NOT (kind = 'withdraw')"
    )
    of_actions = " UNION ALL ".join(
        f"SELECT action_id FROM {table}" for table in tables if table not in ("action", "batch")
    )
    marked = [("{count} of its withdrawals say two things", turned)]
    # One that took back itself, or what came after it, would send the view of them round for ever.
    late = "SELECT count(*) FROM undone WHERE undoes >= action_id"
    undone = [("{count} of its undos are of what came later", late)]
    return [
        *(undone if "undone" in tables else ()),
        *(marked if "withdrawal" in tables else ()),
        (
            "what was entered of {count} of its batches is gone",
            "SELECT count(*) FROM batch WHERE NOT EXISTS "
            "(SELECT 1 FROM reading WHERE batch_id = batch.id)",
        ),
        (
            "what {count} of its actions wrote is gone",  # one that writes nothing leaves no trace
            f"SELECT count(*) FROM action WHERE id NOT IN ({of_actions})",
        ),
    ]
