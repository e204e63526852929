"""Copies of the ledger, kept in a folder beside it.

One is made before a ledger of an older schema is brought up to date, and one before the first
entry of a day; the last ten are kept. A copy is made by SQLite's online backup under a temporary
name, checked, and only then given its own: one that has its name is whole. What a restoring
replaced is kept in the same folder, and jarcast never takes that away.
"""

import datetime as dt
import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from jarcast.domain.copies import Copy
from jarcast.errors import LedgerError
from jarcast.files.reading import private_folder
from jarcast.files.whole import made_in, names_to_disk, to_disk
from jarcast.ledger.schema import APPLICATION_ID, ONLY_READ, SCHEMA, connected, version_of
from jarcast.ledger.soundness import problem_of

KEPT = 10  # copies; those set aside by a restoring are not counted and never taken away
DAILY, SET_ASIDE = "daily", "set-aside"
SUFFIX = ".sqlite3"
_NAME = rf"(\d{{4}}-\d\d-\d\d-\d{{6}})-(daily|set-aside|before-schema-\d+)(?:-(\d+))?{SUFFIX}"
_STAMP = "%Y-%m-%d-%H%M%S"
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def folder_of(ledger: Path) -> Path:
    """Where the copies of a ledger are: beside the file itself, wherever a link to it lies."""
    real = Path(os.path.realpath(ledger))
    return real.with_name(f"{real.name}.backups")


def copies(ledger: Path) -> list[Copy]:
    """The copies of a ledger, newest first, each looked into. Empty if there are none."""
    return [_read(path) for path in _named(ledger)]


def newest_sound(ledger: Path) -> Copy | None:
    """The newest copy that can be restored; what was set aside is not offered."""
    found = (_read(path) for path in _named(ledger) if _why(path) != SET_ASIDE)
    return next((copy for copy in found if copy.sound), None)


def way_back(ledger: Path) -> str:
    """What to do about a damaged ledger: half a sentence that names the newest sound copy."""
    with suppress(OSError, ValueError):
        if (copy := newest_sound(ledger)) is not None:
            return (
                f"'jarcast restore {copy.name}' brings back the newest sound copy "
                f"({copy.made:%Y-%m-%d %H:%M}, batches: {copy.batches})"
            )
    return (
        "go back to an earlier copy (no sound one is beside it), or save what can still be read: "
        "'jarcast restore --salvage NEW.sqlite3'"
    )


def damaged(ledger: Path, what: str) -> LedgerError:
    """The error for a damaged ledger, with the way back."""
    return LedgerError(f"{ledger} is damaged: {what}. It was left as it is; {way_back(ledger)}")


@contextmanager
def legible(ledger: Path, what: str) -> Iterator[None]:
    """Where cells are read: what they cannot hold is damage. Raises LedgerError."""
    try:
        yield
    except (ValueError, TypeError) as error:
        raise illegible(ledger, what, error) from error


def illegible(ledger: Path, what: str, error: Exception) -> LedgerError:
    """The error for a cell that cannot be read."""
    return damaged(ledger, f"{what} cannot be read ({error})")


def copy_of_the_day(connection: sqlite3.Connection, ledger: Path) -> None:
    """Make today's copy unless it is there, or the ledger was begun today.

    ``connection`` holds the ledger's write lock and has written nothing yet. A copy that cannot be
    made does not stop the entry, and a warning says so; a ledger found damaged does. Raises
    LedgerError.
    """
    begun = connection.execute("SELECT at FROM action ORDER BY id LIMIT 1").fetchone()
    if begun is None or str(begun[0])[:10] == dt.datetime.now(dt.UTC).date().isoformat():
        return
    today = dt.date.today().isoformat()
    try:
        found = [path.name for path in _named(ledger) if _why(path) != SET_ASIDE]
        if not any(name.startswith(today) for name in found):
            make_copy(ledger, DAILY)
    except (OSError, sqlite3.Error) as error:
        import logging  # its last resort shows the sentence alone, on standard error

        logging.getLogger("jarcast").warning(
            "today's copy of the ledger could not be made in %s (%s); the ledger itself is fine. "
            "Make room there, or make your own copies",
            folder_of(ledger),
            getattr(error, "strerror", None) or error,
        )


def copy_before_migration(connection: sqlite3.Connection, ledger: Path) -> None:
    """Keep a ledger of an older schema as it is, unless a copy of just that is there.

    Without such a copy it is not brought up to date. Raises LedgerError.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        if not 0 < version_of(connection) < SCHEMA or _kept_already(connection, ledger):
            return
        make_copy(ledger, f"before-schema-{SCHEMA}")
    except (OSError, sqlite3.Error) as error:
        why = getattr(error, "strerror", None) or error
        raise LedgerError(
            f"{ledger} was written by an older jarcast, and a copy is kept before it is brought up "
            f"to date, in {folder_of(ledger)}, which failed ({why}). The ledger is as it was; make "
            "room there, or get permission to write, and try again"
        ) from error
    finally:
        connection.execute("ROLLBACK")


def make_copy(ledger: Path, why: str, *, check: bool = True) -> Path:
    """Copy the ledger as it was last committed; gives the copy's path.

    To be called while the write lock is held, by another connection: so no two make one at once.
    Older copies beyond the last ten go. Raises LedgerError if the copy is not sound (and then
    keeps none), OSError and sqlite3.Error.
    """

    def fill(target: Path) -> None:
        _copy_pages(ledger, target)
        if check and (problem := _look_inside(target)[1]):
            raise damaged(ledger, problem)

    made = put(folder_of(ledger), why, fill)
    with suppress(OSError):
        for path in [p for p in _named(ledger) if _why(p) != SET_ASIDE][KEPT:]:
            path.unlink()
    return made


def put(folder: Path, why: str, fill: Callable[[Path], None]) -> Path:
    """A new file in the folder of copies, filled by ``fill``; there whole or not at all."""
    private_folder(folder)
    for left in folder.glob("*.part"):  # by a process that was killed
        left.unlink()
    with made_in(folder) as new:
        fill(new)
        to_disk(new)
        target = free_name(folder, why)
        new.replace(target)
    names_to_disk(folder)
    return target


def _copy_pages(ledger: Path, target: Path) -> None:
    with (
        closing(connected(ledger, "mode=rw")) as source,
        closing(sqlite3.connect(target)) as copy,
    ):
        copy.execute("PRAGMA journal_mode = MEMORY")  # no side file: a half copy is thrown away
        source.backup(copy, progress=not_busy)


def not_busy(status: int, *_pages: int) -> None:
    """Stop a backup that would otherwise wait for ever. Raises TimeoutError."""
    if status in _BUSY:
        raise TimeoutError("another process holds the file")


def _named(ledger: Path) -> list[Path]:
    """The files that are copies by their names, newest first."""
    try:
        found = [
            path
            for path in folder_of(ledger).iterdir()
            if re.fullmatch(_NAME, path.name) and path.is_file()  # no pipe
        ]
    except (FileNotFoundError, NotADirectoryError):
        return []
    return sorted(found, key=_order, reverse=True)


def _order(path: Path) -> tuple[int, str]:
    """By the order in which they were made: by their numbers, then by the clock.

    A number goes up whenever the clock has not gone on since the copy before (``free_name``).
    """
    found = re.fullmatch(_NAME, path.name)
    return (int(found[3] or 1), found[1]) if found else (0, "")


def _why(path: Path) -> str:
    found = re.fullmatch(_NAME, path.name)
    return found[2] if found else ""


def free_name(folder: Path, why: str) -> Path:
    """The name of a copy made now, by which it comes after all that are there.

    That holds also where the clock was set back, or had once been wrong.
    """
    stamp = f"{dt.datetime.now():{_STAMP}}"
    number, latest = max((_order(path) for path in folder.glob(f"*{SUFFIX}")), default=(1, ""))
    number = max(number, 1) + (stamp <= latest)
    return folder / f"{stamp}-{why}{f'-{number}' if number > 1 else ''}{SUFFIX}"


def _read(path: Path) -> Copy:
    found = re.fullmatch(_NAME, path.name)
    made = dt.datetime.min
    if found:
        with suppress(ValueError):  # a day or an hour that cannot be, by hand
            made = dt.datetime.strptime(found[1], _STAMP)
    return Copy(path, made, _why(path), *_look_inside(path))


def _look_inside(path: Path) -> tuple[int | None, str]:
    """How many batches stand in a copy, and what is wrong with it."""
    try:
        with closing(connected(path, ONLY_READ)) as copy:
            if copy.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
                return None, "it is not a ledger"
            if version_of(copy) > SCHEMA:
                return None, "a newer jarcast wrote it"
            if problem := problem_of(copy):
                return None, problem
            return int(copy.execute("SELECT count(*) FROM standing").fetchone()[0]), ""
    except (sqlite3.Error, OSError, UnicodeDecodeError) as error:
        return None, str(error)


def _kept_already(connection: sqlite3.Connection, ledger: Path) -> bool:
    """Whether the newest sound copy is of this very state: every entry adds an action."""
    copy = newest_sound(ledger)
    if copy is None:
        return False
    last = "SELECT coalesce(max(id), 0) FROM action"
    with closing(connected(copy.path, ONLY_READ)) as kept:
        return version_of(kept) == version_of(connection) and (
            kept.execute(last).fetchone() == connection.execute(last).fetchone()
        )
