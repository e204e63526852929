"""The batch table as a pandas DataFrame."""

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jarcast.batchtable.csv_in import read_csv
from jarcast.batchtable.csv_out import columns_of
from jarcast.batchtable.gathering import Gathering
from jarcast.batchtable.header import read_header
from jarcast.batchtable.rows import RowChecker
from jarcast.domain.batch import Batch
from jarcast.domain.fields import NUMBERS
from jarcast.domain.jars import SHELF, Jar
from jarcast.ledger.entry import cell_text

if TYPE_CHECKING:
    import pandas as pd


def read_batches(
    path: str | Path, shelf: Mapping[str, Jar] = SHELF, today: dt.date | None = None
) -> "pd.DataFrame":
    """Read a CSV file of batches as a DataFrame with the batch table's columns, in order.

    The names of columns that were left out stand in ``attrs["ignored_columns"]``. Raises
    BatchError as read_csv does.
    """
    table = read_csv(path, shelf, today)
    frame = frame_from_batches(entry.batch for entry in table.entries)
    if table.ignored_columns:
        frame.attrs["ignored_columns"] = list(table.ignored_columns)
    return frame


def frame_from_batches(batches: Iterable[Batch]) -> "pd.DataFrame":
    """Batches as a DataFrame: dates as datetimes, numbers as floats with NaN where nothing was
    written down, the rest (``jars`` included) as text. Optional columns stand at the end, where a
    batch has them.
    """
    import pandas as pd

    rows = list(batches)
    columns: dict[str, Any] = {}
    for column in columns_of(rows):
        if column == "date":
            columns[column] = pd.Series([row.date for row in rows], dtype="datetime64[us]")
        elif column in NUMBERS:
            columns[column] = pd.Series([getattr(row, column) for row in rows], dtype="float64")
        else:
            columns[column] = pd.Series([cell_text(row, column) for row in rows], dtype=object)
    return pd.DataFrame(columns, columns=list(columns))


def batches_from_frame(frame: "pd.DataFrame", shelf: Mapping[str, Jar] = SHELF) -> list[Batch]:
    """The batches of a DataFrame with the batch table's columns (``learn`` starts here).

    Dates may be text or datetimes, ``jars`` a number or text, batch names numbers or text. None,
    NaN, NaT and '' mean 'not written down'. Optional columns may be missing, kitchen columns may
    be there, and others are ignored. Dates may lie in the future: what is learned depends on the
    table alone, not on the day. Raises BatchError with every value that cannot be.
    """
    header = read_header([str(column) for column in frame.columns], "the table")
    known = [position for position, name in enumerate(header.names) if name]
    names = [header.names[position] for position in known]
    columns = [_cells(frame.iloc[:, position]) for position in known]
    gathering = Gathering("the table")
    checker = RowChecker(shelf)
    found: list[Batch] = []
    for label, row in zip(frame.index, zip(*columns, strict=True), strict=True):
        cells = {name: cell for name, cell in zip(names, row, strict=True) if cell is not None}
        entry, problems = checker.check(cells)
        gathering.problems(f"row {label}", problems)
        if entry is not None and gathering.is_new(f"row {label}", entry):
            found.append(entry.batch)
    gathering.finish()
    return found


def _cells(column: "pd.Series[Any]") -> list[object]:
    """The cells of a column, None where nothing is written down."""
    cells = zip(column.tolist(), column.isna().tolist(), strict=True)
    return [None if missing else _stripped(cell) for cell, missing in cells]


def _stripped(cell: object) -> object:
    return (cell.strip() or None) if isinstance(cell, str) else cell
