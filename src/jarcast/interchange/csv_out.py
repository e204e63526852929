"""CSV files out: exact numbers, whole files or none."""

import csv
import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import TextIO

from jarcast.batch import COLUMNS, Batch
from jarcast.errors import JarcastError
from jarcast.interchange.guard import guard
from jarcast.ledger.entry import cell_text


def write_csv(batches: Iterable[Batch], target: str | Path | TextIO) -> None:
    """Write batches as the batch table, by RFC 4180; read_csv gives the same batches back.

    ``target`` is a file's name or an open text stream (one opened with ``newline=""``, as the csv
    module asks). A file appears whole or not at all, readable by its owner only. Raises
    JarcastError if it cannot be written; a file that was there is then as it was.
    """
    if not isinstance(target, (str, Path)):
        _write(batches, target)
        return
    path = Path(target)
    try:
        if path.is_dir():
            raise JarcastError(f"{path} is a folder; name a file in it, such as {path}/batches.csv")
        if path.exists() and not path.is_file():  # a pipe or a terminal: nothing to replace
            with path.open("w", encoding="utf-8", newline="") as stream:
                _write(batches, stream)
        else:
            refuse_database(path)
            _replace(batches, Path(os.path.realpath(path)))
    except JarcastError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise JarcastError(f"{path} cannot be written: {reason}; nothing was changed") from error
    except ValueError as error:  # a NUL in the name
        raise JarcastError(f"{str(path)!r} cannot be the name of a file") from error


def refuse_database(path: Path) -> None:
    """Raise JarcastError where a CSV file would take the place of a ledger, whosever it is.

    A SQLite file begins with these bytes: https://sqlite.org/fileformat2.html, 1.3.
    """
    if path.is_file():
        with path.open("rb") as file:
            if file.read(16) == b"SQLite format 3\0":
                raise JarcastError(
                    f"{path} is a ledger or another database, and a CSV file would overwrite it; "
                    "name another file"
                )


def _write(batches: Iterable[Batch], stream: TextIO) -> None:
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows([guard(cell_text(batch, column)) for column in COLUMNS] for batch in batches)


def _replace(batches: Iterable[Batch], path: Path) -> None:
    """Write beside the file, wait for the disk, and only then put it in the file's place."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:50]}.", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
            _write(batches, stream)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise
    with suppress(OSError):  # not every system lets a folder be opened
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
