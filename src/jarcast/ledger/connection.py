"""Opening the ledger's file: what is looked at first, and what is refused.

Looking never writes: a ledger that is not there is an empty one in memory, an older one is
brought up to date in memory, and no file is made. SQLite is nevertheless asked for a writable
connection where it can be had, with writing switched off: a read-only connection leaves the two
side files of its write-ahead log behind, a writable one takes them away when it closes.

Every opening looks through the whole ledger first, unless this process has and nothing changed
since: that takes a few hundredths of the time that reading it takes.
"""

import os
import sqlite3
import time
from contextlib import suppress
from pathlib import Path

from jarcast.errors import LedgerError
from jarcast.files.reading import private_folder
from jarcast.ledger.backups import (
    copy_before_migration,
    damaged,
    folder_of,
    newest_sound,
)
from jarcast.ledger.plain_words import in_plain_words
from jarcast.ledger.schema import (
    APPLICATION_ID,
    ONLY_READ,
    SCHEMA,
    connected,
    has_its_tables,
    migrate,
    version_of,
)
from jarcast.ledger.side_files import Held, one_at_a_time, problem_beside
from jarcast.ledger.soundness import problem_of
from jarcast.ledger.upgrading import check_upgrade

# What SQLite says where it cannot make its side files: no right to, or no room.
_NO_SIDE_FILES = (
    sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR,
)  # fmt: skip
OLDEST_SQLITE = (3, 37, 0)  # the first with STRICT tables: https://sqlite.org/stricttables.html


def default_path() -> Path:
    """Where the ledger is unless another place is named: the user's data folder."""
    import platformdirs

    return platformdirs.user_data_path("jarcast") / "ledger.sqlite3"


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
            f"{path} is gone or empty, but there are copies of it: 'jarcast restore {copy.name}' "
            f"brings back the newest sound one. To begin a new ledger, move {folder_of(path)} away"
        )
    if problem := problem_beside(path):
        raise LedgerError(problem)


def _connect(path: Path, query: str, wait_seconds: float) -> Held:
    with one_at_a_time:
        if problem := problem_beside(path):
            raise LedgerError(problem)
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?{query}", uri=True, timeout=wait_seconds,
            isolation_level=None, factory=Held,
        )  # fmt: skip
        try:
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
            connection.hold(path, immutable="immutable" in query)
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
    damaged_header = owner != APPLICATION_ID and has_its_tables(connection)
    connection.execute("COMMIT")
    empty = tables == 0 and owner == 0 and version == 0
    if damaged_header:
        raise damaged(path, "its header no longer says it is a ledger")
    if owner != APPLICATION_ID and not empty:
        raise LedgerError(
            f"{path} is another program's SQLite file, not a ledger. It was left as it is; name "
            "another ledger"
        )
    if version > SCHEMA:
        raise LedgerError(
            f"{path} has schema {version} and this jarcast knows schemas up to {SCHEMA}: a newer "
            "jarcast wrote it. It was left as it is; install the newer jarcast to use it"
        )


_SETTLED_NS = 50_000_000  # a file that changed later than this ago may change again unseen
_whole: dict[tuple[int, int], tuple[int, ...]] = {}  # by device and file: its state when looked at


def _check_whole(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a ledger that is damaged, or was changed by other hands."""
    file = path.stat()
    # A program may set the time of the last change, and only the system that of the last touch.
    state = (file.st_size, file.st_mtime_ns, file.st_ctime_ns, *_log_state(path))
    if _whole.get((file.st_dev, file.st_ino)) == state:
        return
    if problem := problem_of(connection):
        raise damaged(path, problem)
    if max(state[1:]) < time.time_ns() - _SETTLED_NS:
        _whole[file.st_dev, file.st_ino] = state


def _log_state(path: Path) -> tuple[int, int, int]:
    """Size and times of change of the log beside a ledger; 0 each for none, or an empty one."""
    real = Path(os.path.realpath(path))
    try:
        found = real.with_name(real.name + "-wal").stat()
    except FileNotFoundError:
        return 0, 0, 0
    return (found.st_size, found.st_mtime_ns, found.st_ctime_ns) if found.st_size else (0, 0, 0)


def _checked(connection: sqlite3.Connection, path: Path) -> sqlite3.Connection:
    try:
        _check_owner(connection, path)
        _check_whole(connection, path)
    except BaseException:
        _close_untouched(connection, path)
        raise
    return connection


def _close_untouched(connection: sqlite3.Connection, path: Path) -> None:
    """Close, and leave the log as it is: the last to close folds it in, if it may write."""
    if _log_state(path)[0] == 0:
        connection.close()
        return
    last = connected(path, "mode=ro")
    with suppress(sqlite3.Error):
        last.execute("PRAGMA schema_version").fetchone()
    connection.close()
    last.close()


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
        if error.sqlite_errorcode & 0xFF not in _NO_SIDE_FILES:
            raise
        if not os.access(path, os.R_OK):
            raise LedgerError(
                f"{path} is not yours to read; ask its owner, or name another ledger"
            ) from error
    # A folder that cannot be written, or a full disk: no side files, so the file is read as it
    # stands. With a log left lying there its newest entries would be missed, and that is not to go
    # unsaid.
    log = path.with_name(path.name + "-wal")
    if log.exists() and log.stat().st_size > 0:
        raise LedgerError(
            f"{path} was not closed properly, and its folder cannot be written to or its disk is "
            f"full; make room, or copy {path.name} and {log.name} to a folder of your own and open "
            "the copy"
        )
    return _connect(path, ONLY_READ, wait_seconds)


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
    private_folder(path.parent)
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
        return _ready_to_write(connection, path, wait_seconds)


def _ready_to_write(
    connection: sqlite3.Connection, path: Path, wait_seconds: float
) -> sqlite3.Connection:
    """The connection, its ledger brought up to date, set to lose nothing that it commits."""
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        if 0 < version_of(connection) < SCHEMA:
            check_upgrade(connection, path)
            copy_before_migration(connection, path)
        migrate(connection)
        _log_ahead(connection, wait_seconds)
    except BaseException:
        connection.close()
        raise
    return connection


def let_write(
    connection: sqlite3.Connection, path: Path, wait_seconds: float
) -> sqlite3.Connection:
    """A connection that can write, in place of one that was opened to look; that one where it can.

    It cannot on a ledger in memory, on a file that is only read, and where another file has taken
    the ledger's place meanwhile. What is looked at on opening is looked at again.
    """
    with in_plain_words(path):
        if not (isinstance(connection, Held) and connection.holds(path)):
            other = open_to_write(path, wait_seconds)
            connection.close()
            return other
        connection.execute("PRAGMA query_only = OFF")
        return _ready_to_write(_checked(connection, path), path, wait_seconds)


def check_sqlite() -> None:
    """Raise LedgerError if the SQLite that Python came with is too old."""
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise LedgerError(
            f"Python's SQLite is {sqlite3.sqlite_version}; the ledger needs "
            f"{'.'.join(map(str, OLDEST_SQLITE))} or newer: use a newer Python"
        )
