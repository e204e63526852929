"""The batch table as a pandas DataFrame."""

import datetime as dt
import os
import warnings
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jarcast.batchtable.csv_in import read_csv
from jarcast.batchtable.csv_out import cell_of, columns_of
from jarcast.batchtable.gathering import Gathering
from jarcast.batchtable.header import read_header
from jarcast.batchtable.meant import example_of, meant_by
from jarcast.batchtable.misspelt import measured_in, misspelt
from jarcast.batchtable.rows import RowChecker
from jarcast.domain.batch import Batch
from jarcast.domain.fields import KITCHEN, NUMBERS, VOLUMES, WEIGHTS
from jarcast.domain.jars import MEASURE_FIRST, SHELF, TELL_SHELF, Jar, check_shelf
from jarcast.errors import BatchError, IgnoredColumn, JarcastError, in_short

if TYPE_CHECKING:
    import pandas as pd


def read_batches(
    path: str | Path, shelf: Mapping[str, Jar] = SHELF, today: dt.date | None = None
) -> "pd.DataFrame":
    """Read a CSV file of batches as a DataFrame with the batch table's columns, in order.

    ``jars`` are numbers where every batch fills one sort of jar, and else texts, '5 + 4.5'. The
    names of columns that were left out stand in ``attrs["ignored_columns"]``. ``shelf`` holds the
    jars, those of one's own among them; ``today`` is the last date a batch may have, the present
    day unless given. Raises BatchError for a file that cannot be read, with every value that cannot
    be, and for what is no path, no shelf or no date.
    """
    if not isinstance(path, str | os.PathLike):
        raise BatchError(f"{shown(path)} is not the path of a file; give one such as 'batches.csv'")
    check_shelf(shelf)
    if isinstance(today, dt.datetime):
        today = today.date()
    if today is not None and not isinstance(today, dt.date):
        raise BatchError(f"today={shown(today)}: give a date, such as datetime.date(2024, 8, 31)")
    with _with_shelf_told():
        table = read_csv(path, shelf, today)
    frame = frame_from_batches(entry.batch for entry in table.entries)
    if table.ignored_columns:
        frame.attrs["ignored_columns"] = list(table.ignored_columns)
    return frame


def frame_from_batches(batches: Iterable[Batch]) -> "pd.DataFrame":
    """Batches as a DataFrame: dates as datetimes, numbers as floats with NaN where nothing was
    recorded, the rest as text; ``jars`` too, unless each batch fills one sort of jar. Optional
    columns stand at the end, where a batch has them; a weight that was counted is text there, and
    NaN in its column of grams.
    """
    import pandas as pd

    rows = list(batches)
    columns: dict[str, Any] = {}
    for column in columns_of(rows):
        if column == "date":
            columns[column] = pd.Series([row.date for row in rows], dtype="datetime64[us]")
        elif column == "jars" and all(len(row.jars) == 1 for row in rows):
            columns[column] = pd.Series([row.jars[0] for row in rows], dtype="float64")
        elif column in NUMBERS:
            numbers = [None if row.counted_as(column) else getattr(row, column) for row in rows]
            columns[column] = pd.Series(numbers, dtype="float64")
        else:
            columns[column] = pd.Series([cell_of(row, column) for row in rows], dtype=object)
    return pd.DataFrame(columns, columns=list(columns))


def as_frame(table: object, such_as: str) -> "pd.DataFrame":
    """What holds a table as a DataFrame: one already, what turns into one by its ``to_pandas``, or
    what pandas makes one of. Raises JarcastError, which says what was due: ``such_as``.
    """
    import pandas as pd

    if isinstance(table, pd.DataFrame):
        return table
    turned = getattr(table, "to_pandas", None)
    if callable(turned):
        table = turned()
        if isinstance(table, pd.DataFrame):
            return table
    elif table is None or isinstance(table, str | bytes | int | float):
        raise JarcastError(f"{shown(table)} is not a table; give {such_as}")
    try:
        return pd.DataFrame(table)  # type: ignore[call-overload,no-any-return]
    except Exception as error:  # whatever pandas says of what it cannot take
        raise JarcastError(f"{shown(table)} is not a table ({error}); give {such_as}") from error


def shown(value: object) -> str:
    """A wrong argument in a message: short, with its type."""
    return f"{in_short(value)} ({type(value).__name__})"


def batches_from_table(table: object, shelf: Mapping[str, Jar], stacklevel: int) -> list[Batch]:
    """The batches of whatever ``as_frame`` takes, or of the CSV file at a path.

    Warns with IgnoredColumn, at the caller ``stacklevel`` up, of columns that look like measures.
    """
    if isinstance(table, str | os.PathLike):
        frame = read_batches(table, shelf)  # type: ignore[arg-type]
    else:
        try:
            frame = as_frame(table, "a DataFrame, or the path of a CSV file")
        except JarcastError as error:
            raise BatchError(str(error)) from error
    read = batches_from_frame(frame, shelf)
    header = read_header([_label(column) for column in frame.columns], "the table")
    filled = {
        name for at, name in enumerate(header.names) if name and frame.iloc[:, at].notna().any()
    }
    for column in header.ignored:
        _warn_ignored(column, frozenset(), stacklevel + 1)
    for column in frame.attrs.get("ignored_columns", ()):  # of the file, before the table was made
        _warn_ignored(column, filled, stacklevel + 1)
    return read


def _warn_ignored(column: str, filled: Collection[object], stacklevel: int) -> None:
    """Warn of a column that is not read and looks like a measure, or like one that is read.

    Not where what it may be is ``filled`` by now.
    """
    near = misspelt(column)
    meant = near or meant_by(column)
    if {meant, KITCHEN.get(meant, meant)} & {*filled}:
        return
    if near and near not in KITCHEN:
        mend = f"; if it is '{near}', rename it"
    elif meant:
        mend = f"; if it is '{meant}', rename it, with cells such as '{example_of(meant)}'"
    elif unit := measured_in(column):
        names = ", ".join(WEIGHTS if unit == "grams" else VOLUMES)
        mend = f"; what is read in {unit} is {names}"
    else:
        return
    said = f"the column '{column}' is not read, so nothing is learned from it"
    warnings.warn(said + mend, IgnoredColumn, stacklevel=stacklevel + 1)


def batches_from_frame(frame: "pd.DataFrame", shelf: Mapping[str, Jar] = SHELF) -> list[Batch]:
    """The batches of a DataFrame with the batch table's columns (``learn`` starts here).

    Dates may be text or datetimes, ``jars`` a number or text, batch names numbers or text. None,
    NaN, NaT and '' mean 'not recorded'. Optional columns may be missing, kitchen columns may
    be there, and others are ignored. Dates may lie in the future: what is learned depends on the
    table alone, not on the day. Raises BatchError with every value that cannot be.
    """
    header = read_header([_label(column) for column in frame.columns], "the table")
    known = [position for position, name in enumerate(header.names) if name]
    names = [header.names[position] for position in known]
    columns = [_cells(frame.iloc[:, position]) for position in known]
    gathering = Gathering("the table")
    checker = RowChecker(shelf)
    found: list[Batch] = []
    for label, row in zip(frame.index, zip(*columns, strict=True), strict=True):
        cells = {name: cell for name, cell in zip(names, row, strict=True) if cell is not None}
        entry, problems = checker.check(cells)
        gathering.problems(f"row {_label(label)}", problems)
        if entry is not None and gathering.is_new(f"row {_label(label)}", entry):
            found.append(entry.batch)
    with _with_shelf_told():
        gathering.finish()
    return found


@contextmanager
def _with_shelf_told() -> Iterator[None]:
    """Where a jar is not known, how a program tells of it: the message names the command alone."""
    try:
        yield
    except BatchError as error:
        if MEASURE_FIRST not in str(error):
            raise
        raise BatchError(f"{error}\n{TELL_SHELF}", error.problems) from error


def _label(label: object) -> str:
    """What a column or a row is called."""
    return label if isinstance(label, str) else in_short(label)


def _cells(column: "pd.Series[Any]") -> list[object]:
    """The cells of a column, None where nothing is recorded."""
    try:
        missing = column.isna().tolist()
    except ArithmeticError as error:  # pandas compares, and such a Decimal may not be compared
        raise BatchError(
            f"the table, {_label(column.name)}: holds a signalling NaN, no number"
        ) from error
    cells = zip(column.tolist(), missing, strict=True)
    return [None if none else _stripped(cell) for cell, none in cells]


def _stripped(cell: object) -> object:
    return (cell.strip() or None) if isinstance(cell, str) else cell
