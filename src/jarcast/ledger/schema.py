"""The ledger's tables, as numbered migrations.

The first migration turns an empty database into schema 1, each later one a schema into the next.
A migration that has been released is never edited: what it wrote is out there.
"""

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from functools import cache, partial
from pathlib import Path
from typing import Any

ONLY_READ = "mode=ro&immutable=1"  # of a file that nobody writes
APPLICATION_ID = 0x6A617263  # 'jarc' in ASCII; SQLite keeps it in the file's header

_NEVER = "nothing in the ledger is changed or deleted; add a reading that supersedes"

# `reading` holds one whole row of the batch table for each version of a batch; the newest stands.
# `typed` is what was typed, as JSON from column to text, where that differs from a plain number.
_SCHEMA_1 = (
    """
    CREATE TABLE action (
        id INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        kind TEXT NOT NULL,
        version TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE batch (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE
    ) STRICT
    """,
    """
    CREATE TABLE reading (
        id INTEGER PRIMARY KEY,
        batch_id INTEGER NOT NULL REFERENCES batch (id),
        action_id INTEGER NOT NULL REFERENCES action (id),
        date TEXT NOT NULL,
        produce TEXT NOT NULL,
        cut TEXT NOT NULL,
        pack TEXT NOT NULL,
        jar TEXT NOT NULL,
        headspace_in REAL,
        as_bought_g REAL,
        trimmed_g REAL,
        salt_g REAL,
        cure_hours REAL,
        cured_g REAL,
        cooked_g REAL,
        jars TEXT NOT NULL,
        brine_made_ml REAL,
        brine_left_ml REAL,
        sealed REAL,
        recipe TEXT NOT NULL,
        note TEXT NOT NULL,
        typed TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX reading_of_batch ON reading (batch_id, id)",
    "CREATE INDEX reading_of_action ON reading (action_id)",
    """
    CREATE TABLE setting (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        key TEXT NOT NULL,
        value TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX setting_of_key ON setting (key, id)",
    """
    CREATE VIEW standing AS
    SELECT reading.* FROM reading
    WHERE reading.id = (
        SELECT max(newest.id) FROM reading AS newest WHERE newest.batch_id = reading.batch_id
    )
    """,
)


def _make(statements: Iterable[str], tables: Iterable[str], connection: sqlite3.Connection) -> None:
    """Run statements; the ``tables`` they make only grow from then on."""
    for statement in statements:
        connection.execute(statement)
    for table in tables:
        _only_grows(connection, table)


def _only_grows(connection: sqlite3.Connection, table: str) -> None:
    for event in ("UPDATE", "DELETE"):
        connection.execute(
            f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
        )


# `forecast` holds forecasts that were kept, each for a batch that need not be there yet: its name,
# what was known and what was answered, both as JSON.
_SCHEMA_2 = (
    """
    CREATE TABLE forecast (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        batch TEXT NOT NULL,
        known TEXT NOT NULL,
        answer TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX forecast_of_batch ON forecast (batch, id)",
)


# `step` holds what was noted of a batch while it was made, before it is one: what was typed and
# what it was read as, both as JSON from name to value. `confirmation` holds values found odd that
# the user stands by, as the batch table writes them; `withdrawal` takes a batch out, or back in.
# `own_jar` holds jars the user measured.
_SCHEMA_3 = (
    """
    CREATE TABLE step (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        batch TEXT NOT NULL,
        kind TEXT NOT NULL,
        typed TEXT NOT NULL,
        cells TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX step_of_batch ON step (batch, id)",
    """
    CREATE TABLE confirmation (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        batch_id INTEGER NOT NULL REFERENCES batch (id),
        "column" TEXT NOT NULL,
        value TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE withdrawal (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        batch_id INTEGER NOT NULL REFERENCES batch (id),
        withdrawn INTEGER NOT NULL
    ) STRICT
    """,
    "CREATE INDEX withdrawal_of_batch ON withdrawal (batch_id, id)",
    """
    CREATE TABLE own_jar (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        name TEXT NOT NULL,
        capacity_ml REAL NOT NULL,
        bore_mm REAL NOT NULL,
        typed TEXT NOT NULL
    ) STRICT
    """,
    "DROP VIEW standing",
    """
    CREATE VIEW standing AS
    SELECT reading.* FROM reading
    WHERE reading.id = (
        SELECT max(newest.id) FROM reading AS newest WHERE newest.batch_id = reading.batch_id
    )
    AND NOT coalesce(
        (
            SELECT withdrawn FROM withdrawal
            WHERE withdrawal.batch_id = reading.batch_id ORDER BY withdrawal.id DESC LIMIT 1
        ),
        0
    )
    """,
)


# `reading.not_jarred_g` is what of the ready produce never went into a jar.
# `reading.person` is who packed the batch, `action.digest` of what the action wrote (`digests`).
# `action.request` is a key by which a request that comes twice is known, and a digest of what it
# asked. `card_text` the words of a recipe card as they stood. `step.made_ml`, the brine that was
# made by then, is filled by nobody yet.
_SCHEMA_4 = (
    "ALTER TABLE reading ADD COLUMN person TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE reading ADD COLUMN not_jarred_g REAL",
    "ALTER TABLE action ADD COLUMN request TEXT",
    "ALTER TABLE action ADD COLUMN digest TEXT",
    "CREATE UNIQUE INDEX action_of_request ON action (request) WHERE request IS NOT NULL",
    "ALTER TABLE step ADD COLUMN made_ml REAL",
    """
    CREATE TABLE card_text (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        key TEXT NOT NULL,
        digest TEXT NOT NULL,
        text TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX card_text_of_key ON card_text (key, id)",
    """
    CREATE TABLE undone (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        undoes INTEGER NOT NULL REFERENCES action (id)
    ) STRICT
    """,
    "CREATE INDEX undone_of_action ON undone (undoes, id)",
)
# `undone` holds actions that take back others, which may themselves have taken some back. Each undo
# that lies above an action turns it over once: with an odd number of them it is taken back. Its
# rows stay, and count for nothing. The index covers what `standing` asks.
_UNDONE = (
    """
    CREATE VIEW undone_now AS
    WITH RECURSIVE above (action_id, undo) AS (
        SELECT undoes, action_id FROM undone
        UNION ALL
        SELECT above.action_id, undone.action_id
        FROM above JOIN undone ON undone.undoes = above.undo
    )
    SELECT action_id FROM above GROUP BY action_id HAVING count(*) % 2 = 1
    """,
    "DROP INDEX reading_of_batch",
    "CREATE INDEX reading_of_batch ON reading (batch_id, id, action_id)",
    "DROP VIEW standing",
    """
    CREATE VIEW standing AS
    SELECT reading.* FROM reading
    WHERE reading.id = (
        SELECT max(newest.id) FROM reading AS newest
        WHERE newest.batch_id = reading.batch_id
        AND newest.action_id NOT IN (SELECT action_id FROM undone_now)
    )
    AND NOT coalesce(
        (
            SELECT withdrawn FROM withdrawal
            WHERE withdrawal.batch_id = reading.batch_id
            AND withdrawal.action_id NOT IN (SELECT action_id FROM undone_now)
            ORDER BY withdrawal.id DESC LIMIT 1
        ),
        0
    )
    """,
)
STANDS = "action_id NOT IN (SELECT action_id FROM undone_now)"  # of rows that were not taken back
# `kept_brine` holds clean brine kept for the next pot of a recipe: what was kept of a batch, or
# taken for one, in ml below 0.
_KEPT_BRINE = (
    """
    CREATE TABLE kept_brine (
        id INTEGER PRIMARY KEY,
        action_id INTEGER NOT NULL REFERENCES action (id),
        recipe TEXT NOT NULL,
        batch TEXT NOT NULL,
        ml REAL NOT NULL,
        typed TEXT NOT NULL
    ) STRICT
    """,
)


def _to_schema_4(connection: sqlite3.Connection) -> None:
    _make((*_SCHEMA_4, *_UNDONE, *_KEPT_BRINE), ("card_text", "undone", "kept_brine"), connection)
    _nothing_replaced(connection, "action", "id", "request")
    _nothing_replaced(connection, "batch", "id", "name")
    for table in (
        "reading", "forecast", "step", "confirmation", "withdrawal", "own_jar", "card_text",
        "undone", "kept_brine",
    ):  # fmt: skip
        _nothing_replaced(connection, table, "id")


def _nothing_replaced(connection: sqlite3.Connection, table: str, *unique: str) -> None:
    """Refuse INSERT OR REPLACE of a row that is there; it fires no trigger that sees a deletion.

    https://sqlite.org/lang_conflict.html. Of a row without an id of its own, NEW.id is -1 here.
    """
    there = " OR ".join(
        f"EXISTS (SELECT 1 FROM {table} WHERE {column} = NEW.{column})" for column in unique
    )
    connection.execute(
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {there} "
        f"BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
    )


# `reading.cost` is what a batch cost, in the kitchen's own currency.
_SCHEMA_5 = ("ALTER TABLE reading ADD COLUMN cost REAL",)
MIGRATIONS: tuple[Callable[[sqlite3.Connection], None], ...] = (
    partial(_make, _SCHEMA_1, ("action", "batch", "reading", "setting")),
    partial(_make, _SCHEMA_2, ("forecast",)),
    partial(_make, _SCHEMA_3, ("step", "confirmation", "withdrawal", "own_jar")),
    _to_schema_4,
    partial(_make, _SCHEMA_5, ()),
)
SCHEMA = len(MIGRATIONS)


def connected(path: Path, query: str, **ways: Any) -> sqlite3.Connection:
    """A connection to the database in a file, opened as the ``query`` of its address says."""
    address = f"{path.absolute().as_uri()}?{query}"
    opened: sqlite3.Connection = sqlite3.connect(address, uri=True, **ways)
    return opened


def version_of(connection: sqlite3.Connection) -> int:
    """The schema the database has; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def has_its_tables(connection: sqlite3.Connection) -> bool:
    """Whether tables of every schema are there: a ledger, also where its header is damaged."""
    query = "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN (?, ?, ?)"
    return bool(connection.execute(query, ("action", "batch", "reading")).fetchone()[0] == 3)


# As SQLite makes them when it is asked to ANALYZE: https://sqlite.org/fileformat2.html#stat1tab
_OF_ANALYZE = (
    ("table", "sqlite_stat1", "CREATE TABLE sqlite_stat1(tbl,idx,stat)"),
    ("table", "sqlite_stat4", "CREATE TABLE sqlite_stat4(tbl,idx,neq,nlt,ndlt,sample)"),
)


def objects_in(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """Tables, indexes, views and triggers by kind and name: on which table, and their SQL.

    What SQLite notes down for itself when it is asked to ANALYZE is left out.
    """
    rows = connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema")
    return {
        (str(kind), str(name)): " ".join(f"{table} {sql}".split())
        for kind, name, table, sql in rows
        if (kind, name, sql) not in _OF_ANALYZE
    }


@cache
def objects_of(version: int) -> dict[tuple[str, str], str]:
    """What a ledger of this schema holds, as ``objects_in`` gives it."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as memory:
        for number in range(version):
            MIGRATIONS[number](memory)
        return objects_in(memory)


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the database to the present schema, all in one transaction.

    The version is read again inside the transaction: another process may have been quicker.
    """
    if version_of(connection) >= SCHEMA:
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        migrate_within(connection)
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def migrate_within(connection: sqlite3.Connection) -> None:
    """The migrations that are due, as part of a transaction."""
    for number in range(version_of(connection), SCHEMA):
        MIGRATIONS[number](connection)
        connection.execute(f"PRAGMA user_version = {number + 1}")
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
