"""CSV files in: the batches of a file some at a time, or all of them with every problem named."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from msgspec import Struct

from jarcast.batchtable.csv_file import CsvFile, Record, open_csv
from jarcast.batchtable.gathering import Gathering
from jarcast.batchtable.guard import text_in
from jarcast.batchtable.header import Header, read_header
from jarcast.batchtable.rows import MOST_REMEMBERED, Problem, RowChecker
from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import Flag, contradictions_in
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.ledger.entry import Entry

Tell = Callable[[int, int], None]
Flagged = tuple[str, Flag]  # name of the batch, what contradicts what in it


class Row(NamedTuple):
    """An entry, and the line of the file its row starts on."""

    line: int
    entry: Entry


class Table(Struct, frozen=True):
    """What a CSV file held.

    ``entries`` in the order of the file; ``repeated`` the names of batches that stood there again
    with the same values; ``ignored_columns`` the columns that are not of the batch table;
    ``flags`` the contradictions inside batches, each with the batch's name.
    """

    entries: tuple[Entry, ...]
    repeated: tuple[str, ...]
    ignored_columns: tuple[str, ...]
    flags: tuple[Flagged, ...]


def read_csv(
    path: str | Path, shelf: Mapping[str, Jar] = SHELF, today: dt.date | None = None
) -> Table:
    """Read a CSV file of batches.

    ``today`` is the last date a batch may have, the present day unless given. Raises BatchError
    if the file cannot be read or any row cannot be taken; ``problems`` then holds one line for
    each of them, with file, line, column, value, rule and mend.
    """
    with open_csv(Path(path)) as file:
        reader = TableReader(file, str(path), shelf, today)
        entries = tuple(row.entry for row in reader.rows())
    reader.finish()
    return Table(
        entries, tuple(reader.gathering.repeated), reader.ignored_columns, tuple(reader.flags)
    )


class TableReader:
    """Reads one CSV file, from its first row to its last.

    ``gathering`` holds the problems so far, and ``flags`` the contradictions inside batches.
    """

    def __init__(
        self, file: CsvFile, name: str, shelf: Mapping[str, Jar], today: dt.date | None
    ) -> None:
        """Read the header. Raises BatchError as ``read_header`` does."""
        self._file = file
        self._header = read_header(file.header, name)
        self._checker = RowChecker(shelf, today or dt.date.today(), file.separator == ";")
        self.gathering = Gathering(name)
        self._dotted = Gathering(name)  # problems only if the points in this table part thousands
        self.flags: list[Flagged] = []
        self._flagged: set[str] = set()
        self._volumes: dict[tuple[object, ...], float] = {}

    @property
    def ignored_columns(self) -> tuple[str, ...]:
        """The columns that are not of the batch table, as the header writes them."""
        return self._header.ignored

    def rows(self) -> Iterator[Row]:
        """The rows that can be taken, each batch once; whatever is wrong is gathered."""
        try:
            for record in self._file:
                place = f"line {record.line}"
                entry = self._entry(place, record)
                if entry is not None and self.gathering.is_new(place, entry):
                    self._flag(entry.batch)
                    yield Row(record.line, entry)
        except BatchError as error:  # the file breaks off here: what follows cannot be told apart
            self.gathering.broken(str(error))

    def chunks(self, most: int, tell: Tell | None) -> Iterator[list[Row]]:
        """The same rows, at most so many at a time.

        ``tell`` is called for each chunk with how much of the file is read, and all, in kB.
        """
        rows = self.rows()
        while chunk := list(islice(rows, most)):
            if tell is not None:
                tell(*self._file.progress())
            yield chunk

    def finish(self) -> None:
        """Raise BatchError with every problem, if there is one."""
        if self._checker.commas:
            self.gathering.join(self._dotted)
            self._dotted = Gathering(self._dotted.name)
        self.gathering.finish()

    def _entry(self, place: str, record: Record) -> Entry | None:
        if len(record.cells) != len(self._header.names):
            self.gathering.problem(place, _uneven(len(record.cells), len(self._header.names)))
            return None
        entry, problems = self._checker.check(_said(record.cells, self._header))
        if problems:
            self.gathering.problems(place, problems)
        if self._checker.dotted:
            self._dotted.problems(place, self._checker.dotted)
        return entry

    def _flag(self, batch: Batch) -> None:
        flags = contradictions_in(batch, self._volume(batch))
        if flags and batch.batch not in self._flagged:
            self._flagged.add(batch.batch)
            self.flags += ((batch.batch, flag) for flag in flags)

    def _volume(self, batch: Batch) -> float:
        """The fill volume of a batch's jars, in ml; most batches fill jars as others did."""
        jars = (batch.jar, batch.jars, batch.headspace_in)
        if (volume := self._volumes.get(jars)) is None:
            volume = batch.fill_volume_ml(self._checker.shelf)
            if len(self._volumes) < MOST_REMEMBERED:
                self._volumes[jars] = volume
        return volume


def _said(cells: Sequence[str], header: Header) -> dict[str, str]:
    """What a record says, by column; cells that say nothing are left out."""
    texts: Sequence[str]
    if "'" in "".join(cells):  # otherwise nothing is guarded
        texts = [text_in(cell, name) for cell, name in zip(cells, header.names, strict=True)]
    else:
        texts = [cell.strip() for cell in cells]
    return {name: text for name, text in zip(header.names, texts, strict=True) if text and name}


def _uneven(found: int, due: int) -> Problem:
    mend = (
        "put quotes around a cell with a separator in it"
        if found > due
        else "write a separator for each empty cell"
    )
    return Problem("", None, f"{found} cells where the header has {due}; {mend}")
