"""CSV files in: all of a file's batches, or every problem it has."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from jarcast.batch import contradictions
from jarcast.errors import BatchError
from jarcast.interchange.gather import Flagged, Gathering
from jarcast.interchange.guard import text_in
from jarcast.interchange.header import Header, read_header
from jarcast.interchange.lines import CsvFile, open_csv
from jarcast.interchange.rows import Problem, RowChecker
from jarcast.kinds import SHELF, Jar
from jarcast.ledger.entry import Entry

_OFTEN = 500  # lines between two tellings of how far it is


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
    path: str | Path,
    shelf: Mapping[str, Jar] = SHELF,
    today: dt.date | None = None,
    tell: Callable[[int, int], None] | None = None,
) -> Table:
    """Read a CSV file of batches.

    ``today`` is the last date a batch may have, the present day unless given; ``tell`` is called
    now and then with how much of the file is read, and all, in kB. Raises BatchError
    if the file cannot be read or any row cannot be taken; ``problems`` then holds one line for
    each of them, with file, line, column, value, rule and mend.
    """
    path = Path(path)
    gathering = Gathering(str(path))
    with open_csv(path) as file:
        header = read_header(file.header, str(path))
        checker = RowChecker(shelf, today or dt.date.today(), file.separator == ";")
        _gather(file, header, checker, gathering, tell)
    gathering.finish()
    flags = tuple(
        (entry.batch.batch, flag)
        for entry in gathering.entries
        for flag in contradictions(entry.batch, shelf)
    )
    return Table(tuple(gathering.entries), tuple(gathering.repeated), header.ignored, flags)


def _gather(
    file: CsvFile,
    header: Header,
    checker: RowChecker,
    gathering: Gathering,
    tell: Callable[[int, int], None] | None,
) -> None:
    dotted: list[tuple[str, Problem]] = []
    try:
        for record in file:
            place = f"line {record.line}"
            if tell is not None and record.line % _OFTEN == 0:
                tell(*file.progress())
            if len(record.cells) != header.width:
                gathering.problem(place, _uneven(len(record.cells), header.width))
                continue
            entry, problems = checker.check(said(record.cells, header))
            gathering.problems(place, problems)
            dotted += ((place, problem) for problem in checker.dotted)
            if entry is not None:
                gathering.take(place, entry)
    except BatchError as error:  # the file breaks off here: what follows cannot be told apart
        gathering.broken(str(error))
    if checker.commas:
        for place, problem in dotted:
            gathering.problem(place, problem)


def said(cells: Sequence[str], header: Header) -> dict[str, object]:
    """What a record says, by column; cells that say nothing are left out."""
    texts = ((name, text_in(cells[position], name)) for position, name in header.places)
    return {name: text for name, text in texts if text}


def _uneven(found: int, due: int) -> Problem:
    mend = (
        "put quotes around a cell with a separator in it"
        if found > due
        else ("write a separator for each empty cell")
    )
    return Problem("", None, f"{found} cells where the header has {due}; {mend}")
