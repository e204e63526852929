"""Going back to a copy of the ledger, with nothing overwritten on the way.

The present ledger is kept aside first. Where it is sound, the copy is written over it through
SQLite in one transaction, so that another process sees either and waits its turn; where it is
damaged and no process has it open, the copy takes its place by a rename.
"""

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from msgspec import Struct

from jarcast.domain.copies import Copy
from jarcast.errors import LedgerError, cut_short
from jarcast.files.whole import made_in, names_to_disk, to_disk
from jarcast.files.written import STANDS_IN
from jarcast.ledger.backups import (
    SET_ASIDE,
    SUFFIX,
    copies,
    folder_of,
    free_name,
    make_copy,
    not_busy,
    put,
)
from jarcast.ledger.plain_words import in_plain_words
from jarcast.ledger.schema import APPLICATION_ID, ONLY_READ, connected, has_its_tables
from jarcast.ledger.side_files import is_in_use, problem_beside
from jarcast.ledger.soundness import problem_of

WAIT_SECONDS = 2.0
_DAMAGED = (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_ERROR)
_SIDE_FILES = ("-wal", "-shm", "-journal")


class Restored(Struct, frozen=True):
    """The copy that was brought back, and where what stood there is kept; None for nothing."""

    copy: Copy
    set_aside: Path | None


def restore(ledger: Path, name: str, wait_seconds: float = WAIT_SECONDS) -> Restored:
    """Bring back a copy by its name. Raises LedgerError; the ledger is then as it was."""
    copy = _find(ledger, name)
    with in_plain_words(ledger):
        if ledger.is_dir():
            raise LedgerError(f"{ledger} is a folder; name the ledger's file")
        if _is_sound_or_in_use(ledger):
            kept: Path | None = _write_over(ledger, copy, wait_seconds)
        else:
            kept = _put_in_place(ledger, copy)
    STANDS_IN.append((ledger, 0))
    return Restored(copy, kept)


def _find(ledger: Path, name: str) -> Copy:
    wanted = name.strip().removesuffix(SUFFIX)
    for copy in listed(ledger):
        if copy.name == wanted:
            if not copy.sound:
                raise LedgerError(
                    f"the copy {copy.name} cannot be restored: {copy.problem}. The ledger is as "
                    "it was; 'jarcast restore' lists which copies are sound"
                )
            return copy
    raise LedgerError(
        f"there is no copy {cut_short(name)!r} in {folder_of(ledger)}; 'jarcast restore' lists them"
    )


def listed(ledger: Path) -> list[Copy]:
    """The copies of a ledger, newest first. Raises LedgerError."""
    with in_plain_words(ledger):
        try:
            return copies(ledger)
        except ValueError as error:  # a NUL in the name
            raise LedgerError(f"{str(ledger)!r} cannot be the name of a file") from error


def _is_sound_or_in_use(ledger: Path) -> bool:
    """Whether the present file is to be written over through SQLite.

    A damaged one is kept as it is, byte for byte, which SQLite may not give; but where a process
    has it open, that one is not to go on writing into a file without a name. Raises LedgerError
    for another program's file.
    """
    if not ledger.exists() or ledger.stat().st_size == 0 or problem_beside(ledger):
        return False
    in_use = is_in_use(ledger)
    try:
        with closing(_to_write(ledger, WAIT_SECONDS)) as present:
            tables = present.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
            own = present.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
            known = own or not tables or has_its_tables(present)
            sound = own and not problem_of(present)
            if sound and not in_use:
                present.execute("BEGIN IMMEDIATE")
                present.execute(f"PRAGMA application_id = {APPLICATION_ID}")  # can it be written?
                present.execute("ROLLBACK")
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        of_header = code == sqlite3.SQLITE_READONLY and os.access(ledger, os.W_OK)
        if code not in _DAMAGED and not of_header:
            raise
        return False
    if not known:
        raise LedgerError(
            f"{ledger} is another program's SQLite file, not a ledger. It was left as it is; name "
            "another ledger"
        )
    return sound or in_use


def _to_write(path: Path, wait_seconds: float) -> sqlite3.Connection:
    return connected(path, "mode=rw", timeout=wait_seconds, isolation_level=None)


def _write_over(ledger: Path, copy: Copy, wait_seconds: float) -> Path:
    """Write the copy over the ledger in one transaction; gives where the present one is kept."""
    kept: list[Path] = []

    def keep_first(status: int, remaining: int, total: int) -> None:
        """After the first page: from then on the write lock is held, and nothing is committed."""
        not_busy(status, remaining, total)
        if not kept:
            kept.append(make_copy(ledger, SET_ASIDE, check=False))

    with (
        closing(connected(copy.path, ONLY_READ)) as source,
        closing(_to_write(ledger, wait_seconds)) as present,
    ):
        present.execute("PRAGMA journal_mode = WAL")  # so that it can be read while it is held
        present.execute("PRAGMA synchronous = FULL")
        try:
            source.backup(present, pages=1, progress=keep_first, sleep=0)
        except TimeoutError as error:
            raise LedgerError(
                f"another jarcast is writing to {ledger}; nothing was restored; try again in a "
                "moment"
            ) from error
    return kept[0]


def _put_in_place(ledger: Path, copy: Copy) -> Path | None:
    """Put the copy where no database is; gives where what lay there is kept."""
    folder, kept = folder_of(ledger), None
    real = Path(os.path.realpath(ledger))
    if real.exists() and real.stat().st_size > 0:
        kept = put(folder, SET_ASIDE, lambda target: _copied(real, target))
    for side in _SIDE_FILES:  # they belong to the old file, and would be read into the new one
        beside = real.with_name(real.name + side)
        if beside.exists():
            if side != "-shm":  # holds nothing of its own
                base = kept or free_name(folder, SET_ASIDE)
                _copied(beside, base.with_name(base.name + side))
            beside.unlink()
    with made_in(folder) as new:
        _copied(copy.path, new)
        new.replace(real)
    names_to_disk(real.parent)
    return kept


def _copied(source: Path, target: Path) -> None:
    """Copy a file's bytes, readable by its owner only, and wait for the disk."""
    shutil.copyfile(source, target)
    target.chmod(0o600)
    to_disk(target)
