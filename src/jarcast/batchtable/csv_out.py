"""CSV files out: exact numbers, whole files or none."""

import csv
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TextIO

from jarcast.batchtable.guard import guard
from jarcast.domain.batch import Batch
from jarcast.domain.fields import COLUMNS, KITCHEN, KITCHEN_NAMES, OPTIONAL
from jarcast.files.whole import write_whole_text
from jarcast.ledger.entry import cell_text


def write_csv(batches: Iterable[Batch], target: str | Path | TextIO) -> None:
    """Write batches as the batch table, by RFC 4180; read_csv gives the same batches back.

    They are gone through twice, first for their columns; what can be gone through once is held.
    ``target`` is a file's name or an open text stream (one opened with ``newline=""``, as the csv
    module asks). A file appears whole or not at all, readable by its owner only. Raises
    JarcastError if it cannot be written; a file that was there is then as it was.
    """
    if isinstance(target, (str, Path)):
        write_whole_text(Path(target), lambda stream: _write(batches, stream), "batches.csv")
    else:
        _write(batches, target)


def _write(batches: Iterable[Batch], stream: TextIO) -> None:
    rows = [*batches] if isinstance(batches, Iterator) else batches
    columns = columns_of(rows)
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([guard(cell_of(batch, column)) for column in columns] for batch in rows)


def columns_of(batches: Iterable[Batch]) -> tuple[str, ...]:
    """The columns of a table of these batches: the optional ones only where a batch has them.

    So have weights that were counted a column without the unit at the end, which holds the count.
    """
    unseen, counted = [*OPTIONAL], set[str]()
    for batch in batches:
        unseen = [column for column in unseen if getattr(batch, column) in (None, "")]
        counted |= {KITCHEN_NAMES[doubt.column] for doubt in batch.doubt}
    written = (column for column in OPTIONAL if column not in unseen)
    return (*COLUMNS, *written, *(name for name in KITCHEN if name in counted))


def cell_of(batch: Batch, column: str) -> str:
    """A cell of the table: a weight that was counted stands as it was typed, and not in grams."""
    if column in KITCHEN:
        return batch.counted_as(KITCHEN[column])
    return "" if batch.counted_as(column) else cell_text(batch, column)
