"""A CSV file into the ledger: all of its batches, or none and every problem it has.

Most files hold nothing odd, and are read and written many rows at a time, in memory that does not
grow with the file. Whatever is odd undoes all that: the file is then read again with care, row by
row and whole before anything is written, which says what is wrong or takes it in.
"""

import datetime as dt
import os
from collections.abc import Callable, Iterator, Mapping
from itertools import chain, islice
from pathlib import Path

from msgspec import Struct

from jarcast.errors import BatchError, MeasureError
from jarcast.interchange.columns import Columns
from jarcast.interchange.csv_in import read_csv
from jarcast.interchange.gather import Flagged
from jarcast.interchange.header import read_header
from jarcast.interchange.lines import CsvFile, Odd, open_csv
from jarcast.interchange.rows import RowChecker
from jarcast.kinds import SHELF, Jar
from jarcast.ledger import Ledger
from jarcast.ledger.blocks import MOST_ROWS, Block, Names, blocks_of

# Blocks that are read before the ledger is opened to write. A file of a household's size is checked
# whole by then: one that is refused leaves no trace, and nobody waits for the disk it is read from.
_AHEAD = 5

Tell = Callable[[int, int], None]


class TakenIn(Struct, frozen=True):
    """What became of a file: names of batches ``added``, and ``skipped`` as they were known.

    ``ignored_columns`` and ``flags`` are those of a Table.
    """

    added: Names
    skipped: Names
    ignored_columns: tuple[str, ...]
    flags: tuple[Flagged, ...]


def take_in(
    file: Path,
    ledger: Path,
    shelf: Mapping[str, Jar] = SHELF,
    *,
    today: dt.date | None = None,
    tell: Tell | None = None,
    most_named: int | None = None,
) -> TakenIn:
    """Take the batches of a CSV file into the ledger at a path.

    ``today`` is the last date a batch may have, the present day unless given; ``tell`` is called
    now and then with how much is done, and all; ``most_named`` is how many names are kept, all
    unless given. Raises BatchError as ``read_csv`` and ``Ledger.add`` do, and for a file without
    batches; LedgerError.
    """
    today = today or dt.date.today()
    try:
        return _quickly(file, ledger, RowChecker(shelf, today), tell, most_named)
    except Odd:
        pass
    table = read_csv(file, shelf, today, tell)
    if not table.entries:
        raise _no_batches(file)
    with Ledger.open(ledger, writing=True) as opened:
        done = opened.add_blocks(blocks_of(table.entries, tell), "import", most_named)
    done.skipped.note(table.repeated)
    return TakenIn(done.added, done.skipped, table.ignored_columns, table.flags)


def _quickly(
    path: Path, ledger: Path, checker: RowChecker, tell: Tell | None, most_named: int | None
) -> TakenIn:
    if not os.path.isfile(path):  # noqa: PTH113 (no name makes it raise): a pipe is read only once
        raise Odd
    with open_csv(path) as file:
        header = read_header(file.header, str(path))
        checker.decimal_comma = file.separator == ";"
        columns = Columns(header, checker)
        blocks = _blocks(file, columns, tell)
        ahead = list(islice(blocks, _AHEAD))
        if not ahead:
            raise _no_batches(path)
        names = [name for block in ahead for name in block.names]
        if len(set(names)) < len(names):  # the same or at odds: to be said before a ledger is made
            raise Odd
        with Ledger.open(ledger, writing=True) as opened:
            try:
                done = opened.add_blocks(chain(ahead, blocks), "import", most_named)
            except BatchError as error:  # if the file is at odds with itself, that is to be said
                raise Odd from error
    return TakenIn(done.added, done.skipped, header.ignored, tuple(columns.flags))


def _blocks(file: CsvFile, columns: Columns, tell: Tell | None) -> Iterator[Block]:
    for records in file.blocks(MOST_ROWS):
        if tell is not None:
            tell(*file.progress())
        try:
            block = columns.block(records)
        except (BatchError, MeasureError) as error:
            raise Odd from error
        if block is not None:
            yield block


def _no_batches(path: Path) -> BatchError:
    return BatchError(
        f"{path} has a header and no batches under it; write a row for each, or name another file"
    )
