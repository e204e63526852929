"""Files that appear whole or not at all, and never in the place of a ledger."""

import io
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, TextIO

from jarcast.errors import JarcastError

_SQLITE = b"SQLite format 3\0"  # how such a file begins: https://sqlite.org/fileformat2.html, 1.3


def write_whole(path: Path, fill: Callable[[BinaryIO], object], such_as: str = "") -> None:
    """Write the file that ``fill`` writes, readable by its owner only.

    ``such_as`` is a name to propose where ``path`` is a folder. Raises JarcastError if it cannot be
    written, or would overwrite a ledger or another database; a file that was there is then as it
    was.
    """
    try:
        if path.is_dir():
            proposed = f", such as {path / such_as}" if such_as else ""
            raise JarcastError(f"{path} is a folder; name a file in it{proposed}")
        if path.exists() and not path.is_file():  # a pipe or a terminal: nothing to replace
            with path.open("wb") as stream:
                fill(stream)
        else:
            refuse_database(path)
            _replace(Path(os.path.realpath(path)), fill)  # a link stays a link
    except OSError as error:
        reason = error.strerror or str(error)
        raise JarcastError(f"{path} cannot be written: {reason}; nothing was changed") from error
    except ValueError as error:
        if "\0" not in str(path):
            raise
        raise JarcastError(f"{str(path)!r} cannot be the name of a file") from error


def write_whole_text(path: Path, fill: Callable[[TextIO], object], such_as: str = "") -> None:
    """The same for text in UTF-8, its line ends as they are written."""

    def encoded(stream: BinaryIO) -> None:
        text = io.TextIOWrapper(stream, encoding="utf-8", newline="")
        fill(text)
        text.detach()  # flushed, and the stream left open

    write_whole(path, encoded, such_as)


def refuse_database(path: Path) -> None:
    """Raise JarcastError where a file would take the place of a ledger, anybody's."""
    if path.is_file():
        with path.open("rb") as file:
            if file.read(len(_SQLITE)) == _SQLITE:
                raise JarcastError(
                    f"{path} is a ledger or another database, and would be overwritten; name "
                    "another file"
                )


def _replace(path: Path, fill: Callable[[BinaryIO], object]) -> None:
    """Write beside the file, wait for the disk, and only then put it in the file's place."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:50]}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            fill(stream)
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
