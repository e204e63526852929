"""New batches on their way into the ledger, some at a time, within one action."""

import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from jarcast.errors import BatchError
from jarcast.ledger.entry import (
    Entry,
    differences,
    said_anew,
    said_otherwise,
    side_by_side,
    with_values,
)
from jarcast.ledger.readings import entry_of, row_of, standing, write_readings
from jarcast.ledger.schema import STANDS
from jarcast.measures import Units

MOST_AT_ONCE = 1000  # entries: enough for SQLite to be busy, few enough to stay in the cache


class Names:
    """How many batches, and the names of the first of them."""

    def __init__(self, most: int | None) -> None:
        """Keep at most this many names, or all for None."""
        self._most = most
        self.count = 0
        self.kept: list[str] = []

    def note(self, names: Sequence[str]) -> None:
        """Count these, and keep their names if there is room."""
        self.count += len(names)
        room = None if self._most is None else max(self._most - len(self.kept), 0)
        self.kept += names[:room]


class Twice(Struct, frozen=True):
    """An entry whose batch was added earlier in the same action, with other values.

    ``at`` is its place among the entries just taken, ``first`` that of the earlier one among all
    that the action added, both from 0; ``differences`` says what differs.
    """

    at: int
    first: int
    differences: str


class Taken(Struct, frozen=True):
    """What became of some entries: the places of those added, in order, and those that differ."""

    added: Sequence[int]
    twice: tuple[Twice, ...]


class Answers(Struct, frozen=True):
    """Which of two values stand, by name of the batch: those that come in, or those there.

    ``units`` are those in which both are told where that is still open.
    """

    coming: frozenset[str] = frozenset()
    standing: frozenset[str] = frozenset()
    units: Units | None = None


class Adding:
    """The new batches of one action, whose bracket is open.

    ``added``, ``skipped`` (already there with the same values) and ``filled`` (there with less, or
    with other values that were answered for), and ``problems``: a line for each that is there with
    other values, or was withdrawn. ``differing`` are those with other values, each with what
    differs.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path,
        action: int,
        most_named: int | None = None,
        answers: Answers | None = None,
    ) -> None:
        """Start with nothing; ``most_named`` is how many names are kept of each, None for all.

        ``path`` names the ledger in messages. With ``answers`` empty cells of batches that are
        there are filled, and cells that are empty here say nothing.
        """
        self._connection = connection
        self._path = path
        self._action = action
        self._first_id = self._last_id() + 1
        self._undone = bool(connection.execute("SELECT 1 FROM undone LIMIT 1").fetchone())
        self._again: dict[int, int] = {}  # id to place: batches taken back once, in order
        self.added = Names(most_named)
        self.skipped = Names(most_named)
        self.filled = Names(most_named)
        self.problems: list[str] = []
        self.differing: list[tuple[str, str]] = []
        self._answers = answers
        self._met = bytearray(self._first_id)  # by id: batches from before that came in
        self._unlike: dict[int, int] = {}  # those that came otherwise than they stood, as a hash

    def take(self, entries: Sequence[Entry]) -> Taken:
        """Write down what is new among these; compare the rest with what stands.

        Raises LedgerError for a ledger whose batches cannot be read.
        """
        ids = self._ids_of([entry.batch.batch for entry in entries], taken=True)
        new: dict[str, int] = {}
        known: list[int] = []
        for at, entry in enumerate(entries):
            name = entry.batch.batch
            if name in ids or new.setdefault(name, at) != at:
                known.append(at)
        self._write(new, entries)
        return Taken(tuple(new.values()), self._compare(entries, known) if known else ())

    def _write(self, new: Mapping[str, int], entries: Sequence[Entry]) -> None:
        """Write down new batches, given the place of each by its name."""
        last = self._last_id()
        free = self._ids_of(list(new)) if self._undone else {}  # of batches that were taken back
        fresh = [name for name in new if name not in free]
        self._connection.executemany(
            "INSERT INTO batch (name) VALUES (?)", ((name,) for name in fresh)
        )
        # A new batch has the id after the last one: https://sqlite.org/autoinc.html
        ids = {**free, **{name: at for at, name in enumerate(fresh, last + 1)}}
        rows = (row_of(entries[at]) for at in new.values())
        write_readings(self._connection, rows, [ids[name] for name in new], self._action)
        for place, name in enumerate(new, self.added.count):
            if name in free:
                self._again[free[name]] = place
        self.added.note(list(new))

    def _ids_of(self, names: Sequence[str], *, taken: bool = False) -> dict[str, int]:
        """The ids of these batches, as far as they ever were in the ledger.

        ``taken``: only of those whose names are taken, as not all of it was taken back.
        """
        marks = ", ".join("?" * len(names))
        there = f"EXISTS (SELECT 1 FROM reading WHERE batch_id = batch.id AND {STANDS})"
        which = f" AND {there}" if taken else ""
        found = self._connection.execute(
            f"SELECT name, id FROM batch WHERE name IN ({marks}){which}",
            names,
        )
        return dict(found.fetchall())

    def _place_of(self, batch_id: int) -> int:
        """The place of a batch among all that the action added, from 0; below 0 for another's."""
        if (place := self._again.get(batch_id)) is not None:
            return place
        # Those that came again lie among the new ones, whose ids follow one another.
        place = batch_id - self._first_id
        for again in self._again.values():
            place += again <= place
        return place

    def _last_id(self) -> int:
        found = self._connection.execute("SELECT coalesce(max(id), 0) FROM batch").fetchone()
        return int(found[0])

    def _compare(self, entries: Sequence[Entry], places: Sequence[int]) -> tuple[Twice, ...]:
        """Skip what stands with the same values; note what does not."""
        names = [entries[at].batch.batch for at in places]
        there = standing(self._connection, names)
        ids = self._ids_of(names)
        twice: list[Twice] = []
        same: list[str] = []
        for at, name in zip(places, names, strict=True):
            if name not in there:
                self.problems.append(
                    f"batch '{name}': was withdrawn; 'jarcast undo' takes it back in"
                )
                continue
            owner, other = ids[name], self._differences(entries[at], there[name])
            first = self._place_of(owner)
            again = None if first >= 0 else self._comes_again(owner, entries[at], other)
            if again:
                self.problems.append(f"batch '{name}': comes twice, with other values")
            elif other and first >= 0:
                twice.append(Twice(at, first, other))
            elif (
                again is not None
                or not other
                or not self._fill(owner, entries[at], there[name], other)
            ):
                same.append(name)
        self.skipped.note(same)
        return tuple(twice)

    def _fill(self, owner: int, entry: Entry, row: Sequence[object], other: str) -> bool:
        """Fill the empty cells of a batch that is there; False where nothing is to be done.

        Other values are a problem, unless it was answered which stand.
        """
        name = entry.batch.batch
        before = entry_of(self._path, name, row)
        if self._answers is None:
            self.problems.append(f"batch '{name}': {other}")
            return True
        columns = said_anew(before.batch, entry.batch)
        if otherwise := said_otherwise(before.batch, entry.batch):
            if name in self._answers.coming:
                columns += otherwise
            elif name not in self._answers.standing:
                other = "; ".join(side_by_side(before, entry, otherwise, self._answers.units))
                self.problems.append(f"batch '{name}': {other}")
                self.differing.append((name, other))
                return True
        if not columns:
            return False
        try:
            filled = with_values(before, entry, columns)
        except BatchError as error:
            self.problems.append(f"batch '{name}': {error}")
            return True
        write_readings(self._connection, [row_of(filled)], [owner], self._action)
        self.filled.note([name])
        return True

    def _comes_again(self, owner: int, entry: Entry, other: str) -> bool | None:
        """Whether a batch that was there comes twice: None for not, else whether it differs.

        ``other`` is in what it differs from what stood there.
        """
        row = hash(row_of(entry)[:-1])
        if not self._met[owner]:
            self._met[owner] = 1
            if other:
                self._unlike[owner] = row
            return None
        return self._unlike[owner] != row if owner in self._unlike else bool(other)

    def _differences(self, entry: Entry, row: Sequence[object]) -> str:
        if row[:-1] == row_of(entry)[:-1]:  # however the values were typed
            return ""
        before = entry_of(self._path, entry.batch.batch, row).batch
        return "; ".join(differences(before, entry.batch))
