"""Opening the ledger's file: what is checked first, and what is said when it cannot be.

Looking never writes: a ledger that is not there is an empty one in memory, an older one is
brought up to date in memory, and no file is made. SQLite is nevertheless asked for a writable
connection where it can be had, with writing switched off: a read-only connection leaves the two
side files of its write-ahead log behind, a writable one takes them away when it closes.
"""

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from jarcast.errors import LedgerError
from jarcast.ledger.backups import copy_before_migration, folder_of, newest_sound, way_back
from jarcast.ledger.schema import APPLICATION_ID, SCHEMA, migrate, version_of

OLDEST_SQLITE = (3, 37, 0)  # the first with STRICT tables: https://sqlite.org/stricttables.html


def default_path() -> Path:
    """Where the ledger is unless another place is named: the user's data folder."""
    import platformdirs

    return platformdirs.user_data_path("jarcast") / "ledger.sqlite3"


_SAYINGS = {
    sqlite3.SQLITE_BUSY: "another jarcast is writing to {path}; try again in a moment",
    sqlite3.SQLITE_LOCKED: "another jarcast is writing to {path}; try again in a moment",
    sqlite3.SQLITE_READONLY: (
        "{path} cannot be written: the file or its folder is read-only. The ledger is as it was; "
        "ask for the right to write there, or name another ledger"
    ),
    sqlite3.SQLITE_FULL: (
        "there is no room left on the disk for {path}. The ledger is as it was; make room and "
        "try again"
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "{path} cannot be opened: its folder may be missing or out of reach, or the disk full. "
        "Check the folder, or name another ledger"
    ),
    sqlite3.SQLITE_NOTADB: (
        "{path} is not a ledger: it is no SQLite file. It was left as it is; name another ledger, "
        "or if it was one, {way_back}"
    ),
    sqlite3.SQLITE_CORRUPT: ("{path} is damaged ({error}). It was left as it is; {way_back}"),
    sqlite3.SQLITE_IOERR: (
        "the disk would not read or write {path} ({error}); it may be full or failing. The "
        "ledger is as it was"
    ),
}


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn whatever SQLite or the system says about the file into one LedgerError."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the primary of an extended code
        saying = _SAYINGS.get(code, "{path} cannot be used as a ledger: {error}")
        back = way_back(path) if "{way_back}" in saying else ""
        raise LedgerError(saying.format(path=path, error=error, way_back=back)) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise LedgerError(f"{path} cannot be used as a ledger: {reason}") from error
    except UnicodeEncodeError as error:  # typed in another encoding: no name in a ledger is so
        shown = str(error.object)[:60].encode("ascii", "backslashreplace").decode()
        raise LedgerError(
            f"'{shown}' holds bytes that are no UTF-8 text, as every text in a ledger is; type it "
            "anew in a UTF-8 terminal"
        ) from error


def _present(path: Path) -> bool:
    """Whether the file is there. Raises LedgerError for a folder, a device, an impossible name."""
    try:
        path.stat()
    except FileNotFoundError:
        return False
    except ValueError as error:  # a NUL in the name
        raise LedgerError(f"{str(path)!r} cannot be the name of a file") from error
    if path.is_dir():
        raise LedgerError(f"{path} is a folder; name the ledger's file, such as {path}/my.sqlite3")
    if not path.is_file():
        raise LedgerError(f"{path} is not a file that can hold a ledger; name another")
    return True


def _check_not_lost(path: Path) -> None:
    """Refuse to begin anew where a ledger was. Raises LedgerError."""
    if (copy := newest_sound(path)) is not None:
        raise LedgerError(
            f"{path} is gone or empty, and copies of it are there: 'jarcast restore {copy.name}' "
            f"brings back the newest sound one. To begin a new ledger, move {folder_of(path)} away"
        )


def _connect(path: Path, query: str, wait_seconds: float) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{query}", uri=True, timeout=wait_seconds, isolation_level=None
    )
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def _check_owner(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse another program's file, and a ledger from a newer jarcast."""
    connection.execute("BEGIN")  # one view of it: another may be making the ledger just now
    tables = int(connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0])
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    version = version_of(connection)
    connection.execute("COMMIT")
    empty = tables == 0 and owner == 0 and version == 0
    if owner != APPLICATION_ID and not empty:
        raise LedgerError(
            f"{path} is a SQLite file of another program, not a ledger. It was left as it is; "
            "name another ledger"
        )
    if version > SCHEMA:
        raise LedgerError(
            f"{path} has schema {version} and this jarcast knows schemas up to {SCHEMA}: a newer "
            "jarcast wrote it. It was left as it is; install the newer jarcast to use it"
        )


def _checked(connection: sqlite3.Connection, path: Path) -> sqlite3.Connection:
    try:
        _check_owner(connection, path)
    except BaseException:
        connection.close()
        raise
    return connection


def _in_memory(source: sqlite3.Connection | None) -> sqlite3.Connection:
    """A ledger of the present schema in memory, copied from an older one or empty."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    if source is not None:
        source.backup(memory)
        source.close()
    migrate(memory)
    return memory


def _connect_to_look(path: Path, wait_seconds: float) -> sqlite3.Connection:
    try:
        return _connect(path, "mode=rw", wait_seconds)
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
            raise
        if not os.access(path, os.R_OK):
            raise LedgerError(
                f"{path} may not be read by you; ask its owner, or name another ledger"
            ) from error
    # A folder that cannot be written: no side files, so the file is read as it stands. With a
    # log left lying there its newest entries would be missed, and that is not to go unsaid.
    log = path.with_name(path.name + "-wal")
    if log.exists() and log.stat().st_size > 0:
        raise LedgerError(
            f"{path} was not closed properly and its folder cannot be written; copy {path.name} "
            f"and {log.name} to a folder of your own and open the copy"
        )
    return _connect(path, "mode=ro&immutable=1", wait_seconds)


def open_to_look(path: Path, wait_seconds: float) -> sqlite3.Connection:
    """A connection that can only read; on an empty ledger in memory if there is no file."""
    with in_plain_words(path):
        if not _present(path) or path.stat().st_size == 0:
            _check_not_lost(path)
        if not _present(path):
            connection = _in_memory(None)
        else:
            connection = _checked(_connect_to_look(path, wait_seconds), path)
            if version_of(connection) < SCHEMA:
                connection = _in_memory(connection)
        connection.execute("PRAGMA query_only = ON")
        return connection


def _make_file(path: Path) -> None:
    """An empty file its owner alone may read; SQLite gives its side files the same rights."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def _log_ahead(connection: sqlite3.Connection, wait_seconds: float) -> None:
    """Write-ahead logging; SQLite does not wait by itself where others open a new file just now."""
    give_up = time.monotonic() + wait_seconds
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > give_up:
                raise
            time.sleep(0.01)
        else:
            return


def open_to_write(path: Path, wait_seconds: float) -> sqlite3.Connection:
    """A connection that can write; makes the file and its folder, and brings old ones up to date.

    Every commit waits for the disk (synchronous = FULL): what was acknowledged is there after a
    power cut.
    """
    with in_plain_words(path):
        if not _present(path) or path.stat().st_size == 0:
            _check_not_lost(path)
        if not _present(path):
            _make_file(path)
        connection = _checked(_connect(path, "mode=rw", wait_seconds), path)
        try:
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA synchronous = FULL")
            if 0 < version_of(connection) < SCHEMA:
                copy_before_migration(connection, path)
            migrate(connection)
            _log_ahead(connection, wait_seconds)
        except BaseException:
            connection.close()
            raise
        return connection


def check_sqlite() -> None:
    """Raise LedgerError if the SQLite that Python came with is too old."""
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise LedgerError(
            f"Python's SQLite is {sqlite3.sqlite_version}; the ledger needs "
            f"{'.'.join(map(str, OLDEST_SQLITE))} or newer: use a newer Python"
        )
