"""What is said when SQLite or the system will not do as it is asked."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from jarcast.errors import LedgerError
from jarcast.ledger.backups import damaged, way_back

_SAYINGS = {
    sqlite3.SQLITE_BUSY: "another jarcast is writing to {path}; try again in a moment",
    sqlite3.SQLITE_LOCKED: "another jarcast is writing to {path}; try again in a moment",
    sqlite3.SQLITE_READONLY: (
        "{path} cannot be written: the file or its folder is read-only. The ledger is as it was; "
        "get permission to write there, or name another ledger"
    ),
    sqlite3.SQLITE_FULL: (
        "there is no room left on the disk for {path}. The ledger is as it was; make room and "
        "try again"
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "{path} cannot be opened: its folder may be missing or out of reach, or the disk may be "
        "full. Check the folder, or name another ledger"
    ),
    sqlite3.SQLITE_NOTADB: (
        "{path} is not a ledger: it is not an SQLite file. It was left as it is; name another "
        "ledger, or if it was one, {way_back}"
    ),
    sqlite3.SQLITE_ERROR: "{path} cannot be used as a ledger: {error}; if it was one, {way_back}",
    sqlite3.SQLITE_CORRUPT: ("{path} is damaged ({error}). It was left as it is; {way_back}"),
    sqlite3.SQLITE_IOERR: (
        "the disk would not read or write {path} ({error}); it may be full or failing. The "
        "ledger is as it was"
    ),
}


def only_readable(path: Path) -> bool:
    """Whether a ledger is there and can be read, and it or its folder cannot be written."""
    return os.access(path, os.R_OK) and not (
        os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    )


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn whatever SQLite or the system says about the file into one LedgerError."""
    try:
        yield
    except UnicodeDecodeError as error:  # of a name in the schema, as SQLite's error quotes it
        raise damaged(path, "a name in it is not text") from error
    except sqlite3.Error as error:
        if str(error).startswith("Could not decode to UTF-8"):  # Python's own, without a code
            raise damaged(path, "a text in it is not text") from error
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the primary of an extended code
        if code == sqlite3.SQLITE_CANTOPEN and only_readable(
            path
        ):  # its log cannot be made beside it
            code = sqlite3.SQLITE_READONLY
        saying = _SAYINGS.get(code, "{path} cannot be used as a ledger: {error}")
        back = way_back(path) if "{way_back}" in saying else ""
        raise LedgerError(saying.format(path=path, error=error, way_back=back)) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise LedgerError(f"{path} cannot be used as a ledger: {reason}") from error
    except UnicodeEncodeError as error:  # typed in another encoding, which no name in a ledger is
        shown = str(error.object)[:60].encode("ascii", "backslashreplace").decode()
        raise LedgerError(
            f"'{shown}' holds bytes that are not UTF-8 text; type it again in a UTF-8 terminal"
        ) from error
