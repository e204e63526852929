"""Files that are read: so much of them and no more, and no pipe is waited for without end."""

import io
import os
import select
import stat
import time
from pathlib import Path

WAIT_SECONDS = 10.0  # for more from a pipe
_BEGIN_SECONDS = 2.0  # for whoever writes to it, to begin


class Patient(io.RawIOBase):
    """A pipe or a device, read as it comes. Raises OSError once nothing came for ten seconds."""

    def __init__(self, handle: int) -> None:
        """Take over an open file by its number."""
        super().__init__()
        self._handle = handle
        self._begun = False
        self._until = time.monotonic() + _BEGIN_SECONDS

    def readable(self) -> bool:
        """It can be read."""
        return True

    def fileno(self) -> int:
        """Its number."""
        return self._handle

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Read what is there, as soon as anything is. Raises OSError."""
        try:
            count = os.readv(self._handle, [buffer])
            while not count and not self._begun and time.monotonic() < self._until:
                time.sleep(0.02)
                count = os.readv(self._handle, [buffer])
        except BlockingIOError:
            if not select.select([self._handle], [], [], WAIT_SECONDS)[0]:
                why = f"nothing came from it for {WAIT_SECONDS:.0f} seconds"
                raise TimeoutError(None, why) from None
            count = os.readv(self._handle, [buffer])
        self._begun = True
        return count

    def close(self) -> None:
        """Close it."""
        if not self.closed:
            super().close()
            os.close(self._handle)


def open_to_read(path: Path) -> io.BufferedReader:
    """A file to be read, or a pipe, without waiting for whoever would write to it.

    Raises OSError and, for an impossible name, ValueError.
    """
    if not hasattr(os, "O_NONBLOCK"):  # not on this system: no named pipes among its files
        return path.open("rb")
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        kind = os.fstat(handle).st_mode
        if stat.S_ISREG(kind):
            return open(handle, "rb")  # noqa: PTH123 (a number has no path)
        if stat.S_ISDIR(kind):
            raise IsADirectoryError(None, "it is a folder")
        return io.BufferedReader(Patient(handle))
    except BaseException:
        os.close(handle)
        raise


def read_file(path: Path, most: int) -> bytes:
    """All of an ordinary file of at most this many bytes.

    Raises OSError for any other kind of file and for a longer one, ValueError for an impossible
    name.
    """
    with open_to_read(path) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(None, "it is a pipe or a device, not a file")
        content = file.read(most + 1)
    if len(content) > most:
        raise OSError(None, f"it is longer than {most // 1000:,} kB")
    return content


def why_unread(path: Path, error: OSError | ValueError, file: str) -> str:
    """What to say of a file that could not be opened or read; ``file`` is what it should be."""
    if isinstance(error, IsADirectoryError):
        return f"{path} is a folder; name {file} in it"
    if isinstance(error, FileNotFoundError):
        return f"there is no file {path}; check its name and folder"
    if isinstance(error, OSError):
        return f"{path} cannot be read: {error.strerror or error}"
    return f"{str(path)!r} cannot be the name of a file"


def private_folder(path: Path) -> None:
    """Make a folder, and those it lies in, its owner's alone; what is there stays as it is.

    ``mkdir`` gives its mode to the last one only. Raises OSError.
    """
    missing = [one for one in path.parents if not one.exists()]
    for folder in (*reversed(missing), path):
        folder.mkdir(mode=0o700, exist_ok=True)
