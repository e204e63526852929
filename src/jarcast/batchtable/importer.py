"""A CSV file into the ledger: all of its batches, or none of them and every problem it has.

Rows are read, checked and written some at a time, in one transaction: memory does not grow with the
file, and an error anywhere undoes everything.
"""

import datetime as dt
from array import array
from collections import deque
from collections.abc import Mapping
from itertools import chain, islice
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from jarcast.batchtable.csv_file import open_csv
from jarcast.batchtable.csv_in import Flagged, Row, TableReader, Tell
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.adding import MOST_AT_ONCE, Adding, Answers, Names

# Chunks that are read before the ledger is opened to write. A file of a household's size is checked
# whole by then: one that is refused leaves no trace, and nobody waits for the disk it is read from.
_AHEAD = 5


class Imported(Struct, frozen=True):
    """What became of a file: names of batches ``added``, and ``skipped`` as they were known.

    ``filled`` are those that were there with empty cells, or other values that were answered for.
    ``ignored_columns`` and ``flags`` are those of a Table.
    """

    added: Names
    skipped: Names
    filled: Names
    ignored_columns: tuple[str, ...]
    flags: tuple[Flagged, ...]


def import_csv(
    file: Path,
    ledger: Ledger,
    shelf: Mapping[str, Jar] = SHELF,
    *,
    today: dt.date | None = None,
    tell: Tell | None = None,
    most_named: int | None = None,
    answers: Answers = Answers(),  # noqa: B008 - it is frozen
    person: str = "",
) -> Imported:
    """Take the batches of a CSV file into the ledger, opened to look or to write.

    ``today`` is the last date a batch may have, the present day unless given; ``tell`` is called
    now and then with how much is done, and all; ``most_named`` is how many names are kept, all
    unless given; ``answers`` tell which of two values stand; ``person`` packed what names nobody.
    Raises BatchError as ``read_csv`` and ``Ledger.adding`` do, and for a file without batches;
    LedgerError.
    """
    with open_csv(file) as opened:
        reader = TableReader(opened, str(file), shelf, today)
        chunks = reader.chunks(MOST_AT_ONCE, tell)
        ahead = list(islice(chunks, _AHEAD))
        if len(ahead) < _AHEAD or reader.gathering.count:
            deque(chunks, maxlen=0)  # the rest of a file that is refused is only looked through
            reader.finish()
        if not ahead:
            raise BatchError(
                f"{file} has a header but no batches under it; add a row for each, or name another "
                "file"
            )
        ledger.to_write()
        with ledger.adding("import", most_named, answers) as adding:
            reader.gathering.leave_to_ledger()
            lines = array("L")  # of each batch that was added
            for chunk in chain(ahead, chunks):
                _write(chunk, adding, lines, reader, person)
            reader.finish()
            adding.skipped.note(reader.gathering.repeated)
    return Imported(
        adding.added, adding.skipped, adding.filled, reader.ignored_columns, tuple(reader.flags)
    )


def packed_by(entry: Entry, person: str) -> Entry:
    """An entry with who packed it, where it names nobody."""
    if entry.batch.person:
        return entry
    return Entry(replace(entry.batch, person=person), entry.typed)


def _write(
    chunk: list[Row], adding: Adding, lines: "array[int]", reader: TableReader, person: str
) -> None:
    """Write a chunk. A batch that an earlier chunk held with other values is a problem."""
    entries = [row.entry for row in chunk]
    taken = adding.take([packed_by(one, person) for one in entries] if person else entries)
    lines.extend(chunk[at].line for at in taken.added)
    for twice in taken.twice:
        line, entry = chunk[twice.at]
        first = f"line {lines[twice.first]}"
        reader.gathering.twice(f"line {line}", entry.batch.batch, first, twice.differences)
