"""Side files that a killed process left: whether they belong to the ledger they lie beside.

SQLite applies whatever whole log or journal it finds beside a file, even one of another state of
it: where a copy was put in the place of a ledger that was not closed, that destroys the copy. So
what no process holds is looked through in a private copy first. A log belongs to a file if with it
the ledger is sound, and nothing is gone that the file holds without it: rows are only ever added.
A restoring alone takes rows away, and they are then in the ledger that it set aside.
"""

import os
import shutil
import sqlite3
import stat
import sys
import tempfile
import threading
import weakref
from contextlib import closing, suppress
from pathlib import Path

from jarcast.ledger.backups import SET_ASIDE, copies, way_back
from jarcast.ledger.schema import APPLICATION_ID, ONLY_READ, SCHEMA, connected, version_of
from jarcast.ledger.soundness import problem_of
from jarcast.ledger.torn_log import HEADER_BYTES, is_torn

SIDES = ("-wal", "-journal")
_TRIES = 20  # while another process is just beginning or ending
# https://sqlite.org/src/file/src/os.h: the bytes at which SQLite locks a file
_LOCKS_FROM, _LOCKS = 0x40000000, 512

# Closing a file ends all locks a process has on it, SQLite's too
# (https://sqlite.org/howtocorrupt.html, 2.2.1): one that is open here is not read past SQLite.
one_at_a_time = threading.RLock()
_open_here: "weakref.WeakKeyDictionary[Held, tuple[int, int]]" = weakref.WeakKeyDictionary()
_known = threading.Lock()  # of what is open here: other threads open and close meanwhile


class Held(sqlite3.Connection):
    """A connection that is known of here while it is open."""

    immutable = False

    def hold(self, path: Path, *, immutable: bool = False) -> None:
        """Note that it has this file open; ``immutable``: as one that nobody writes."""
        found = path.stat()
        with _known:
            _open_here[self] = (found.st_dev, found.st_ino)
        self.immutable = immutable

    def holds(self, path: Path) -> bool:
        """Whether it has the very file of this name open, and may write to it."""
        try:
            found = path.stat()
        except OSError:
            return False
        return not self.immutable and _open_here.get(self) == (found.st_dev, found.st_ino)

    def close(self) -> None:
        """Close it."""
        super().close()
        with _known:
            _open_here.pop(self, None)


def problem_beside(ledger: Path) -> str:
    """Why SQLite must not open a ledger with the side files it has; '' if it may.

    Nothing is changed. Raises OSError and sqlite3.Error.
    """
    real = Path(os.path.realpath(ledger))
    for side in (*SIDES, "-shm"):
        beside = real.with_name(real.name + side)
        with suppress(FileNotFoundError):  # one look: it may go before another
            if not stat.S_ISREG(beside.stat().st_mode):  # SQLite would wait for a pipe
                return (
                    f"{beside} is in the place of a side file of {ledger}, and no file; move it "
                    "away"
                )
    for _ in range(_TRIES):
        sides = _left(real)
        if not sides:
            return ""
        if not real.exists() or real.stat().st_size == 0:
            return _without_ledger(ledger, sides)
        if is_in_use(real):
            return ""  # whoever opened it has looked, and the log is its own
        with tempfile.TemporaryDirectory(prefix="jarcast-") as name:
            before = _states(real)
            alone, whole = _copied(real, sides, Path(name))
            if _states(real) == before and not _is_held_elsewhere(real):
                return _judged(ledger, alone, whole, sides[0].name)
    return ""  # it changes all the time: somebody is at work with it


def _left(real: Path) -> list[Path]:
    """Side files that hold something."""
    found = []
    for side, empty in zip(SIDES, (HEADER_BYTES, 0), strict=True):
        beside = real.with_name(real.name + side)
        try:
            if beside.stat().st_size > empty:
                found.append(beside)
        except OSError:
            continue
    return found


def _without_ledger(ledger: Path, sides: list[Path]) -> str:
    log = next((side for side in sides if side.name.endswith("-wal")), None)
    if log is None:  # the journal of a ledger whose making was cut off: it held nothing
        return ""
    return (
        f"{ledger} is gone or empty, and its log {log} is still there. Nothing was changed; put "
        f"the ledger back beside its log, or move {log.name} away"
    )


def is_in_use(ledger: Path) -> bool:
    """Whether a process has a ledger open, this one or another. Raises OSError."""
    real = Path(os.path.realpath(ledger))
    return _is_open_here(real) or _is_held_elsewhere(real)


def _is_open_here(real: Path) -> bool:
    found = real.stat()
    with _known:
        return (found.st_dev, found.st_ino) in set(_open_here.values())


def _is_held_elsewhere(real: Path) -> bool:
    """Whether another process has the database open: each holds a lock as long as it has."""
    try:
        import fcntl
    except ImportError:  # not on this system: the files not changing must do
        return False
    import struct

    form = "qqihh" if sys.platform == "darwin" else "hhqqi4x"
    kind = 3 if sys.platform == "darwin" else 0
    asked: list[int] = [0] * 5
    if sys.platform == "darwin":
        asked[0], asked[1], asked[3] = _LOCKS_FROM, _LOCKS, fcntl.F_WRLCK
    else:
        asked[0], asked[2], asked[3] = fcntl.F_WRLCK, _LOCKS_FROM, _LOCKS
    with real.open("rb") as file:
        try:
            told = fcntl.fcntl(file, fcntl.F_GETLK, struct.pack(form, *asked))
        except OSError:
            return False
    return bool(struct.unpack(form, told)[kind] != fcntl.F_UNLCK)


def _states(real: Path) -> list[tuple[int, int, int]]:
    found = []
    for path in (real, *(real.with_name(real.name + side) for side in SIDES)):
        try:
            state = path.stat()
            found.append((state.st_ino, state.st_size, state.st_mtime_ns))
        except FileNotFoundError:
            found.append((0, 0, 0))
    return found


def _copied(real: Path, sides: list[Path], folder: Path) -> tuple[Path, Path]:
    """The file alone, and the file with what lies beside it."""
    alone, whole = folder / "alone.sqlite3", folder / "whole.sqlite3"
    shutil.copyfile(real, alone)
    shutil.copyfile(alone, whole)
    for side in sides:
        with suppress(FileNotFoundError):  # folded in meanwhile: the file is then another, too
            shutil.copyfile(side, whole.with_name(whole.name + side.name.removeprefix(real.name)))
    return alone, whole


def _judged(ledger: Path, alone: Path, whole: Path, log: str) -> str:
    """What is wrong with a ledger and its log, by private copies; the way to mend it is said."""
    torn = is_torn(whole)
    own, newer, why = _looked_into(whole)
    owned, _, damage = _looked_into(alone)
    if newer or not (own or owned):  # a newer jarcast's, or another program's: not ours to judge
        return ""
    why = why or ("" if own else "it is not a ledger")
    if owned and damage and (table := _behind(alone, whole)):
        return _foreign(ledger, log, f"with it later rows of the table '{table}' would be gone")
    if owned and not damage:
        if why:
            return _foreign(ledger, log, f"with it the ledger would be damaged ({why})")
        if table := _lost(alone, whole, ledger):
            return _foreign(ledger, log, f"with it rows of the table '{table}' would be gone")
    if torn and not why:
        why = f"entries in its log {log} cannot be read"
    return f"{ledger} is damaged: {why}. It was left as it is; {way_back(ledger)}" if why else ""


def _behind(alone: Path, whole: Path) -> str:
    """A table whose last row is a later one in the damaged file than in the file with its log.

    A file may look damaged because its log was being folded in: then the log has the last rows. ''
    where that is so, and for tables that cannot be read.
    """
    found: list[dict[str, int]] = []
    for path in (alone, whole):
        last: dict[str, int] = {}
        query = ONLY_READ if path is alone else "mode=rw"
        with closing(connected(path, query, isolation_level=None)) as copy:
            for table in ("action", "batch", "reading"):
                with suppress(sqlite3.DatabaseError):
                    newest = copy.execute(f"SELECT max(id) FROM {table} NOT INDEXED").fetchone()
                    last[table] = int(newest[0] or 0)
        found.append(last)
    before, after = found
    return next((name for name in before if before[name] > after.get(name, 0)), "")


def _foreign(ledger: Path, log: str, why: str) -> str:
    return (
        f"{log} lies beside {ledger} and does not belong to it: {why}. It may belong to a ledger "
        "that was not closed before a copy took its place. Both were left as they are; if "
        f"{ledger.name} is the ledger you want, move {log} out of its folder; if not, "
        f"{way_back(ledger)}"
    )


def _looked_into(path: Path) -> tuple[bool, bool, str]:
    """Whether a private copy is a ledger, whether of a newer jarcast, and what is wrong with it."""
    own = False
    try:
        with closing(connected(path, "mode=rw", isolation_level=None)) as copy:
            owner = copy.execute("PRAGMA application_id").fetchone()[0]
            tables = copy.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
            own = owner == APPLICATION_ID or (owner == 0 and tables == 0)
            newer = own and version_of(copy) > SCHEMA
            return own, newer, problem_of(copy) if own and not newer else ""
    except sqlite3.DatabaseError as error:
        return own, False, " ".join(str(error).split())


def _lost(alone: Path, whole: Path, ledger: Path) -> str:
    """A table that holds less with the log than without, and than what was set aside holds too."""
    aside = [one.path for one in copies(ledger) if one.why == SET_ASIDE]  # newest first
    others = [whole, *aside[:1]]
    with closing(connected(alone, ONLY_READ, isolation_level=None)) as file:
        names = []
        for number, other in enumerate(others):
            only_read = f"{other.as_uri()}?{ONLY_READ}"
            file.execute(f"ATTACH ? AS other{number}", (only_read,))
            names.append(f"other{number}")
        tables = [
            name
            for (name,) in file.execute("SELECT name FROM main.sqlite_schema WHERE type = 'table'")
            if not name.startswith("sqlite_")
        ]
        for table in tables:
            kept = [clause for name in names if (clause := _kept(file, name, table))]
            where = " AND ".join(f"NOT EXISTS ({clause})" for clause in kept) or "1"
            query = f"SELECT 1 FROM main.{table} AS here WHERE {where} LIMIT 1"
            if file.execute(query).fetchone():
                return str(table)
    return ""


def _kept(file: sqlite3.Connection, other: str, table: str) -> str:
    """A query for the row that is ``here`` in another database; '' if it has no such table."""
    own, theirs = (
        [str(row[1]) for row in file.execute(f"PRAGMA {name}.table_info({table})")]
        for name in ("main", other)
    )
    if not theirs:
        return ""
    same = " AND ".join(
        f'there."{column}" IS here."{column}"' for column in own if column in theirs
    )
    return f"SELECT 1 FROM {other}.{table} AS there WHERE {same}"
