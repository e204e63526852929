"""The ledger itself: batches in, batches out, and every version of each."""

import datetime as dt
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from msgspec.structs import replace

from jarcast._version import __version__
from jarcast.domain.batch import Batch
from jarcast.domain.events import PLAN
from jarcast.domain.fields import ALL_COLUMNS
from jarcast.domain.jars import SHELF
from jarcast.errors import BatchError, OtherValuesError, a_line_each
from jarcast.files.written import STANDS_IN
from jarcast.ledger.adding import MOST_AT_ONCE, Adding, Answers
from jarcast.ledger.backups import copy_of_the_day, damaged, legible
from jarcast.ledger.connection import check_sqlite, let_write, open_to_look, open_to_write
from jarcast.ledger.digests import begun, finish
from jarcast.ledger.entry import AddResult, Entry, Reading, Request, cell_text, differences
from jarcast.ledger.plain_words import in_plain_words
from jarcast.ledger.readings import SELECT, entry_of, row_of, write_readings
from jarcast.ledger.schema import STANDS

WAIT_SECONDS = 10.0  # for another jarcast to finish writing


class Ledger:
    """A household's batches in one SQLite file.

    ``Ledger.open`` makes one; use it as a context manager. Every error is a LedgerError of one
    sentence, and leaves the ledger as it was.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path,
        *,
        writing: bool = True,
        wait_seconds: float = WAIT_SECONDS,
    ) -> None:
        """Take over an open connection; ``Ledger.open`` is the way in."""
        self._connection = connection
        self._may_write = writing
        self._wait_seconds = wait_seconds
        self._action: int | None = None  # while it is written
        self._jars = {*SHELF}  # with those of one's own, once one was met
        self.request: Request | None = None  # that asks for what is written
        self.path = path

    @classmethod
    def open(
        cls, path: str | Path, *, writing: bool = False, wait_seconds: float = WAIT_SECONDS
    ) -> Self:
        """Open the ledger at ``path``, to look or to write.

        To look never makes or changes a file: a ledger that is not there is empty. To write makes
        the file, readable by its owner only, and its folder. ``wait_seconds`` is how long to wait
        for another process that writes. Raises LedgerError.
        """
        check_sqlite()
        path = Path(path)
        opened = open_to_write if writing else open_to_look
        connection = opened(path, wait_seconds)
        return cls(connection, path, writing=writing, wait_seconds=wait_seconds)

    def to_write(self) -> None:
        """Let a ledger that was opened to look be written to, as one opened to write.

        Raises LedgerError.
        """
        if not self._may_write:
            self._connection = let_write(self._connection, self.path, self._wait_seconds)
            self._may_write = True

    def close(self) -> None:
        """Close the file; the ledger cannot be used after."""
        self._connection.close()

    def __enter__(self) -> Self:
        """The ledger itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file, whatever happened."""
        self.close()

    # Looking

    def entries(self) -> list[Entry]:
        """Every batch as it stands, with what was typed; by date, then in order of entry."""
        return list(self.each())

    def each(self) -> Iterator[Entry]:
        """The same, one after another."""
        return self._standing("ORDER BY r.date, r.batch_id")

    def _standing(self, which: str, *values: str) -> Iterator[Entry]:
        """Batches as they stand, with the columns whose present values the user stands by."""
        stood_by = self._stood_by()
        query = f"{SELECT} FROM standing AS r JOIN batch ON batch.id = r.batch_id {which}"
        with in_plain_words(self.path):
            for row in self._connection.execute(query, values):
                entry = self._entry(row[0], row[1:])
                if columns := stood_by.get(row[0]):
                    entry = _confirmed(entry, columns)
                yield entry

    def batches(self) -> list[Batch]:
        """Every batch as it stands; by date, then in order of entry."""
        return [entry.batch for entry in self.entries()]

    def state_of_batches(self) -> tuple[Any, ...]:
        """What ``batches`` rests on: as long as this is the same, they are the same."""
        tables = ("reading", "confirmation", "withdrawal", "undone")  # they only grow
        newest = ", ".join(f"(SELECT max(id) FROM {table})" for table in tables)
        when = "SELECT at FROM action JOIN reading ON action.id = action_id"
        last = f"({when} ORDER BY reading.id DESC LIMIT 1)"  # another, once a copy was restored
        return self.rows(f"SELECT {newest}, {last}")[0]

    def find(self, name: str) -> Entry | None:
        """The batch of this name as it stands, or None."""
        return next(self._standing("WHERE batch.name = ?", name), None)

    def knows(self, name: str) -> bool:
        """Whether a batch of this name is recorded, withdrawn or not.

        One whose entries were all taken back is none: its name is free.
        """
        query = "SELECT 1 FROM reading JOIN batch ON batch.id = batch_id WHERE name = ? AND "
        return bool(self.rows(f"{query}{STANDS} LIMIT 1", name))

    def at_most(self, count: int) -> bool:
        """Whether no more batches than this stand."""
        query = "SELECT count(*) FROM (SELECT 1 FROM standing LIMIT ?)"
        return bool(self.rows(query, count + 1)[0][0] <= count)

    def history(self, name: str, *, undone_too: bool = False) -> list[Reading]:
        """Every version of a batch, oldest first; the last one stands. Empty if there is none.

        Those that were taken back are left out, unless ``undone_too``.
        """
        which = "" if undone_too else f" AND {STANDS}"
        return self._readings(f"WHERE batch.name = ?{which}", name)

    def readings(self) -> list[Reading]:
        """Every version of every batch that was not taken back, in the order of entry."""
        return self._readings(f"WHERE {STANDS}")

    def _readings(self, which: str, *values: str) -> list[Reading]:
        rows = self.rows(
            f"{SELECT}, action.at, action.kind, action.version, action.id FROM reading AS r "
            "JOIN batch ON batch.id = r.batch_id JOIN action ON action.id = r.action_id "
            f"{which} ORDER BY r.id",
            *values,
        )
        with legible(self.path, "when a batch was entered"):
            when = [dt.datetime.fromisoformat(row[-4]) for row in rows]
        return [
            Reading(self._entry(row[0], row[1:-4]), at, *row[-3:])
            for row, at in zip(rows, when, strict=True)
        ]

    def settings(self) -> dict[str, str]:
        """What was last remembered under each key, the plans that are kept left out."""
        rows = self.rows(
            f"SELECT key, value FROM setting WHERE key NOT GLOB '{PLAN}*' AND {STANDS} ORDER BY id"
        )
        return {str(key): str(value) for key, value in rows}

    def setting(self, key: str) -> str | None:
        """What was last remembered under this key, or None."""
        return self.settings().get(key)

    @contextmanager
    def looking(self) -> Iterator[None]:
        """A bracket in which all that is read is of one moment, whoever writes meanwhile."""
        with in_plain_words(self.path):
            self._connection.execute("BEGIN")
            try:
                yield
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    # Writing

    def add(self, entries: Iterable[Entry], kind: str, answers: Answers | None = None) -> AddResult:
        """Take in new batches, all or none; those already there with the same values are skipped.

        ``kind`` names the action: 'import', 'record'; ``answers`` are those of ``adding``. Raises
        as that does.
        """
        ready = tuple(entries)  # whatever they are read from is read before the ledger is held
        with self.adding(kind, answers=answers) as adding:
            _take_all(adding, ready)
        return AddResult(tuple(adding.added.kept), tuple(adding.skipped.kept))

    @contextmanager
    def adding(
        self, kind: str, most_named: int | None = None, answers: Answers | None = None
    ) -> Iterator[Adding]:
        """The bracket in which new batches are taken in as they come, all or none.

        ``most_named`` is how many names are kept of the batches added, and of those skipped; all,
        unless given. With ``answers`` a batch that is there is filled where it is empty. Raises
        OtherValuesError at its end, with every such batch in ``problems``, when one is already
        there with other values, and LedgerError.
        """
        with self.writing(kind) as action:
            adding = Adding(self._connection, self.path, action, most_named, answers)
            yield adding
            _refuse(adding)

    def add_within(self, entries: Iterable[Entry], action: int) -> AddResult:
        """Take in new batches as ``add`` does, as part of an action; inside ``writing`` only."""
        adding = Adding(self._connection, self.path, action)
        _take_all(adding, tuple(entries))
        _refuse(adding)
        return AddResult(tuple(adding.added.kept), tuple(adding.skipped.kept))

    def amend(self, entry: Entry) -> bool:
        """Write down new values for a batch that is there; gives whether anything was written.

        They supersede what stood, which stays readable; the same values write nothing. Raises
        BatchError for a batch that is not there, and LedgerError.
        """
        return self.amend_with(entry.batch.batch, lambda _: entry)[1]

    def amend_with(self, name: str, change: Callable[[Entry], Entry]) -> tuple[Entry, bool]:
        """Write down what ``change`` makes of a batch as it stands; it and whether it is new.

        Nobody else writes between the reading and the writing, so that two who amend different
        values at once lose neither. Raises as ``amend`` does, and what ``change`` raises.
        """
        with self.writing("amend") as action:
            standing = self.find(name)
            if standing is None:
                raise BatchError(
                    f"there is no batch '{name}' to amend; 'jarcast batches' lists their names"
                )
            entry = change(standing)
            if not differences(standing.batch, entry.batch):
                return entry, False
            owner = self.rows("SELECT id FROM batch WHERE name = ?", name)[0][0]
            write_readings(self._connection, [row_of(entry)], [owner], action)
            return entry, True

    def remember(self, key: str, value: str) -> None:
        """Keep a setting, such as the units of this kitchen. Raises LedgerError."""
        with self.writing("setting") as action:
            if self.setting(key) != value:
                self._connection.execute(
                    "INSERT INTO setting (action_id, key, value) VALUES (?, ?, ?)",
                    (action, key, value),
                )

    @contextmanager
    def writing(self, kind: str) -> Iterator[int]:
        """The one bracket in which anything is written; gives the id of the action.

        It ends in one commit or in none: an error undoes everything, and an action that wrote
        nothing leaves no trace. Inside another it is a part of that one's action. The ``request``
        that asked for it is kept with it, so that one that comes twice is known.
        """
        if self._action is not None:
            yield self._action
            return
        connection, counts = self._connection, kind != "setting"  # one is never what was asked
        if counts:
            STANDS_IN.clear()
        with in_plain_words(self.path):
            connection.execute("BEGIN IMMEDIATE")
            try:
                copy_of_the_day(connection, self.path)
                now = dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
                connection.execute("PRAGMA defer_foreign_keys = ON")  # its own row comes last
                new, before = begun(connection), connection.total_changes
                self._action = new.action
                yield new.action
                if connection.total_changes > before:
                    asked, self.request = self.request, None
                    said = None if asked is None else f"{asked.key}:{asked.digest}"
                    finish(connection, new, now, kind, __version__, said)
                    connection.execute("COMMIT")
                    if counts:
                        STANDS_IN.append((self.path, new.action))
            finally:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                self._action = None

    def digest_of(self, request: str) -> str | None:
        """Digest of what a request asked that was recorded already; None for a new one."""
        query = "SELECT request FROM action WHERE request > ? AND request < ?"
        rows = self.rows(query, f"{request}:", f"{request};")  # ';' comes after ':'
        return str(rows[0][0]).partition(":")[2] if rows else None

    def newest(self) -> int:
        """Number of the newest action; 0 in an empty ledger."""
        return int(self.rows("SELECT coalesce(max(id), 0) FROM action")[0][0])

    def execute(self, statement: str, *values: str | float | None) -> None:
        """Run one statement that writes; inside ``writing`` only."""
        self._connection.execute(statement, values)

    def insert(self, entry: Entry, action: int) -> None:
        """A new batch; inside ``writing`` only. Raises BatchError when its name is taken."""
        name = entry.batch.batch
        if self.knows(name):
            raise BatchError(f"batch '{name}' is already in the ledger")
        Adding(self._connection, self.path, action).take([entry])

    def rows(self, query: str, *values: str | int | None) -> list[tuple[Any, ...]]:
        """Rows that a query finds. Raises LedgerError."""
        with in_plain_words(self.path):
            return self._connection.execute(query, values).fetchall()

    def _stood_by(self) -> dict[str, set[tuple[str, str]]]:
        """The columns that the user stands by, each with its value, by batch."""
        by_batch: dict[str, set[tuple[str, str]]] = {}
        for name, column, value in self.rows(
            'SELECT batch.name, c."column", c.value FROM confirmation AS c '
            f"JOIN batch ON batch.id = c.batch_id WHERE {STANDS}"
        ):
            if column not in ALL_COLUMNS:
                raise damaged(self.path, f"a value of '{column[:60]}' is confirmed in it")
            by_batch.setdefault(name, set()).add((column, value))
        return by_batch

    def _entry(self, name: str, row: Sequence[Any]) -> Entry:
        """An entry from what the ledger keeps. Raises LedgerError if no batch can be so."""
        entry = entry_of(self.path, name, row)
        if not self._jars.issuperset(entry.batch.jar):
            self._jars |= {str(key) for (key,) in self.rows("SELECT name FROM own_jar")}
            if strange := [key for key in entry.batch.jar if key not in self._jars]:
                what = f"batch '{name}' cannot be read (nobody measured a jar '{strange[0][:60]}')"
                raise damaged(self.path, what)
        return entry


def _confirmed(entry: Entry, stood_by: Iterable[tuple[str, str]]) -> Entry:
    """An entry with the columns in which it still has the value that the user stands by."""
    columns = frozenset(c for c, value in stood_by if cell_text(entry.batch, c) == value)
    return Entry(replace(entry.batch, confirmed=columns), entry.typed)


def _take_all(adding: Adding, entries: Sequence[Entry]) -> None:
    """Take in entries some at a time; one that comes twice with other values is a problem."""
    for start in range(0, len(entries), MOST_AT_ONCE):
        some = entries[start : start + MOST_AT_ONCE]
        for twice in adding.take(some).twice:
            name = some[twice.at].batch.batch
            adding.problems.append(f"batch '{name}': {twice.differences}")


def _refuse(adding: Adding) -> None:
    """Raise BatchError where a batch is already there with other values, or was withdrawn."""
    if problems := tuple(dict.fromkeys(adding.problems)):  # a row that is repeated: once
        raise OtherValuesError(_already_there(problems), problems, tuple(adding.differing))


def _already_there(problems: Sequence[str]) -> str:
    return (
        "already in the ledger with other values; nothing was recorded. Give the batch another "
        'name, or correct the one that is there: jarcast amend "NAME" column=...\n'
        + a_line_each(problems)
    )
