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

from jarcast.batchtable.csv_file import open_csv
from jarcast.batchtable.csv_in import Flagged, Reading, Row, Tell
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.ledger import Ledger
from jarcast.ledger.adding import MOST_AT_ONCE, Adding, Names

# Blocks that are read before the ledger is opened to write. A file of a household's size is checked
# whole by then: one that is refused leaves no trace, and nobody waits for the disk it is read from.
_AHEAD = 5


class Imported(Struct, frozen=True):
    """What became of a file: names of batches ``added``, and ``skipped`` as they were known.

    ``ignored_columns`` and ``flags`` are those of a Table.
    """

    added: Names
    skipped: Names
    ignored_columns: tuple[str, ...]
    flags: tuple[Flagged, ...]


def import_csv(
    file: Path,
    ledger: Path,
    shelf: Mapping[str, Jar] = SHELF,
    *,
    today: dt.date | None = None,
    tell: Tell | None = None,
    most_named: int | None = None,
) -> Imported:
    """Take the batches of a CSV file into the ledger at a path.

    ``today`` is the last date a batch may have, the present day unless given; ``tell`` is called
    now and then with how much is done, and all; ``most_named`` is how many names are kept, all
    unless given. Raises BatchError as ``read_csv`` and ``Ledger.add`` do, and for a file without
    batches; LedgerError.
    """
    with open_csv(file) as opened:
        reading = Reading(opened, str(file), shelf, today)
        blocks = reading.blocks(MOST_AT_ONCE, tell)
        ahead = list(islice(blocks, _AHEAD))
        if len(ahead) < _AHEAD or reading.gathering.count:
            deque(blocks, maxlen=0)  # the rest of a file that is refused is only looked through
            reading.finish()
        if not ahead:
            raise BatchError(
                f"{file} has a header and no batches under it; write a row for each, or name "
                "another file"
            )
        with (
            Ledger.open(ledger, writing=True) as book,
            book.adding("import", most_named) as adding,
        ):
            reading.gathering.leave_to_ledger()
            lines = array("L")  # of each batch that was added
            for block in chain(ahead, blocks):
                _write(block, adding, lines, reading)
            reading.finish()
            adding.skipped.note(reading.gathering.repeated)
    return Imported(adding.added, adding.skipped, reading.ignored_columns, tuple(reading.flags))


def _write(block: list[Row], adding: Adding, lines: "array[int]", reading: Reading) -> None:
    """Write a block. A batch that an earlier block held with other values is a problem."""
    taken = adding.take([row.entry for row in block])
    lines.extend(block[at].line for at in taken.added)
    for twice in taken.twice:
        line, entry = block[twice.at]
        first = f"line {lines[twice.first]}"
        reading.gathering.twice(f"line {line}", entry.batch.batch, first, twice.differences)
