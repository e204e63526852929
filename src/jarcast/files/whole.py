"""Files that appear whole or not at all, and never in the place of a ledger."""

import errno
import io
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, TextIO

from jarcast.errors import JarcastError

# How such a file, its log and its journal begin: https://sqlite.org/fileformat2.html, 1.3, 3, 4.1
_SQLITE = b"SQLite format 3\0"
_SIDES = (b"\x37\x7f\x06\x82", b"\x37\x7f\x06\x83", bytes.fromhex("d9d505f920a163d7"))
_READER_SECONDS = 2.0
_SIDE_NAMES = ("-wal", "-shm", "-journal")


def write_whole(path: Path, fill: Callable[[BinaryIO], object], such_as: str = "") -> None:
    """Write the file that ``fill`` writes, readable by its owner only.

    ``such_as`` is a name to propose where ``path`` is a folder. Raises JarcastError if it cannot be
    written, is read-only, or is a ledger or another database; a file that was there is then as it
    was.
    """
    try:
        if path.is_dir():
            proposed = f", such as {path / such_as}" if such_as else ""
            raise JarcastError(f"{path} is a folder; name a file in it{proposed}")
        if path.exists() and not path.is_file():  # a pipe or a terminal: nothing to replace
            with _open_pipe(path) as stream:
                fill(stream)
        else:
            refuse_database(path)
            _refuse_read_only(path)
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
    """Raise JarcastError where a file would take the place of a ledger, or lie there as its log."""
    start = _start(path)
    side = next((end for end in _SIDE_NAMES if path.name.endswith(end)), "")
    if start.startswith((_SQLITE, *_SIDES)):
        raise JarcastError(
            f"{path} is a ledger or another database, or the log of one, and would be overwritten; "
            "name another file"
        )
    if side and _start(path.with_name(path.name.removesuffix(side) or ".")) == _SQLITE:
        raise JarcastError(
            f"{path} is the name a side file of {path.name.removesuffix(side)} has, and would be "
            "mistaken for it; name another file"
        )


def _refuse_read_only(path: Path) -> None:
    """Raise JarcastError for a file that nobody may write, or not this user: it is to stay."""
    if path.exists() and not (path.stat().st_mode & 0o222 and os.access(path, os.W_OK)):
        raise JarcastError(
            f"{path} is there and read-only; nothing was changed. Make it writable, or name "
            "another file"
        )


def _start(path: Path) -> bytes:
    """The first bytes of a file; none where there is no file."""
    if not path.is_file():
        return b""
    with path.open("rb") as file:
        return file.read(len(_SQLITE))


def _open_pipe(path: Path) -> BinaryIO:
    """A pipe or a terminal, to write to; who would read it has a moment to begin, and no more."""
    if not hasattr(os, "O_NONBLOCK"):
        return path.open("wb")
    until = time.monotonic() + _READER_SECONDS
    while True:
        try:
            handle = os.open(path, os.O_WRONLY | os.O_NONBLOCK | os.O_CLOEXEC)
            break
        except OSError as error:
            if error.errno != errno.ENXIO:
                raise
            if time.monotonic() > until:
                raise OSError(None, "nothing is reading from that pipe") from error
            time.sleep(0.02)
    os.set_blocking(handle, True)
    return os.fdopen(handle, "wb")


def _replace(path: Path, fill: Callable[[BinaryIO], object]) -> None:
    """Write beside the file, wait for the disk, and only then put it in the file's place."""
    with made_in(path.parent, f".{path.name[:50]}.") as new:
        with new.open("wb") as stream:
            fill(stream)
            stream.flush()
            os.fsync(stream.fileno())
        new.replace(path)
    names_to_disk(path.parent)


@contextmanager
def made_in(folder: Path, prefix: str = "") -> Iterator[Path]:
    """A new file, its owner's alone, which is gone again unless it is given another name."""
    import tempfile

    handle, name = tempfile.mkstemp(dir=folder, prefix=prefix, suffix=".part")
    os.close(handle)
    try:
        yield Path(name)
    finally:
        with suppress(OSError):
            Path(name).unlink()


def to_disk(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def names_to_disk(folder: Path) -> None:
    """The same of the names in a folder, where the system lets one be opened."""
    with suppress(OSError):
        to_disk(folder)
