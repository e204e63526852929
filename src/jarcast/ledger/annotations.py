"""What the user says of batches that are recorded: odd values confirmed, batches withdrawn."""

import datetime as dt
from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.fields import ALL_COLUMNS, typed_name
from jarcast.errors import BatchError, cut_short
from jarcast.ledger.backups import legible
from jarcast.ledger.entry import Entry, cell_text
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger


class AnnotationKind(StrEnum):
    """What is said of a batch."""

    CONFIRM = "confirm"
    WITHDRAW = "withdraw"
    REINSTATE = "reinstate"


class Annotation(Struct, frozen=True):
    """One thing said of a batch, when (UTC) and by which action.

    Of a confirmation, ``column`` and the ``value`` that is stood by, as the batch table writes it.
    """

    batch: str
    kind: AnnotationKind
    at: dt.datetime
    action: int
    column: str = ""
    value: str = ""


def annotations(
    ledger: Ledger, name: str | None = None, *, undone_too: bool = False
) -> list[Annotation]:
    """What was said of one batch, or of all, oldest first; without what was taken back.

    That comes too where it is asked for. Raises LedgerError.
    """
    which = "" if undone_too else f"AND {STANDS} "
    rows = ledger.rows(
        "SELECT batch.name, 'confirm', action.at, action.id, m.\"column\", m.value, m.id "
        "FROM confirmation AS m JOIN batch ON batch.id = m.batch_id "
        "JOIN action ON action.id = m.action_id WHERE batch.name = coalesce(?1, batch.name) "
        f"{which}UNION ALL "
        "SELECT batch.name, CASE WHEN m.withdrawn THEN 'withdraw' ELSE 'reinstate' END, "
        "action.at, action.id, '', '', m.id "
        "FROM withdrawal AS m JOIN batch ON batch.id = m.batch_id "
        "JOIN action ON action.id = m.action_id WHERE batch.name = coalesce(?1, batch.name) "
        f"{which}ORDER BY 4, 7",
        name,
    )
    with legible(ledger.path, "what was said of a batch"):
        found = [
            Annotation(
                batch, AnnotationKind(kind), dt.datetime.fromisoformat(at), action, column, value
            )
            for batch, kind, at, action, column, value, _ in rows
        ]
        for one in found:
            if one.column and one.column not in ALL_COLUMNS:
                raise ValueError(f"a value of '{one.column[:60]}' is confirmed")
    return found


def stood_by(batch: Batch, said: Iterable[Annotation]) -> Batch:
    """The batch with the columns whose present values were confirmed."""
    columns = frozenset(
        one.column
        for one in said
        if one.kind is AnnotationKind.CONFIRM and cell_text(batch, one.column) == one.value
    )
    return batch if columns == batch.confirmed else replace(batch, confirmed=columns)


def confirm(ledger: Ledger, name: str, columns: Iterable[str]) -> tuple[str, ...]:
    """Stand by values of a batch as they are now; gives the columns that were not confirmed yet.

    A confirmation holds for the value, not for what it may be amended to. Raises BatchError for a
    batch that is not there or a column that holds nothing.
    """
    with ledger.writing("confirm") as action:
        return confirm_within(ledger, action, name, columns)


def confirm_within(
    ledger: Ledger, action: int, name: str, columns: Iterable[str]
) -> tuple[str, ...]:
    """The same as part of an action; inside ``writing`` only."""
    standing = check_standing(ledger, name)
    new = []
    for column in columns:
        if column not in ALL_COLUMNS or not cell_text(standing.batch, column):
            word = typed_name(column)
            raise BatchError(f"batch '{cut_short(name)}' holds no value of '{word}' to confirm")
        if column not in standing.batch.confirmed and column not in new:
            new.append(column)
            ledger.execute(
                'INSERT INTO confirmation (action_id, batch_id, "column", value) '
                "VALUES (?, (SELECT id FROM batch WHERE name = ?), ?, ?)",
                action, name, column, cell_text(standing.batch, column),
            )  # fmt: skip
    return tuple(new)


def withdraw(ledger: Ledger, name: str) -> bool:
    """Take a batch out: it counts for nothing, and can come back. False if it is out already.

    Raises BatchError when there is no such batch.
    """
    with ledger.writing("withdraw") as action:
        check_known(ledger, name)
        if ledger.find(name) is None:
            return False
        ledger.execute(
            "INSERT INTO withdrawal (action_id, batch_id, withdrawn) "
            "VALUES (?, (SELECT id FROM batch WHERE name = ?), 1)",
            action, name,
        )  # fmt: skip
        return True


def withdrawn(ledger: Ledger) -> list[str]:
    """Names of the batches that are withdrawn now."""
    rows = ledger.rows(
        "SELECT name FROM batch WHERE id NOT IN (SELECT batch_id FROM standing) "
        f"AND id IN (SELECT batch_id FROM reading WHERE {STANDS}) ORDER BY id"
    )
    return [name for (name,) in rows]


def check_known(ledger: Ledger, name: str) -> None:
    """Raise BatchError, with where to look, unless a batch of this name is recorded."""
    if ledger.knows(name):
        return
    last = ledger.rows(
        f"SELECT kind FROM step WHERE batch = ? AND {STANDS} ORDER BY id DESC LIMIT 1", name
    )
    if last and last[0][0] == "drop":
        raise BatchError(
            f"batch '{cut_short(name)}' was dropped before it was closed; 'jarcast undo' opens it "
            "again"
        )
    if last:
        raise BatchError(
            f"batch '{cut_short(name)}' is open and not recorded yet; 'jarcast close' records it, "
            "'jarcast drop' ends it"
        )
    ever = "SELECT 1 FROM batch WHERE name = ?1 UNION SELECT 1 FROM step WHERE batch = ?1"
    if ledger.rows(ever, name):
        raise BatchError(
            f"what was entered of batch '{cut_short(name)}' was taken back; 'jarcast undo' brings "
            "it back"
        )
    raise BatchError(f"there is no batch '{cut_short(name)}'; 'jarcast batches' lists their names")


def check_standing(ledger: Ledger, name: str) -> Entry:
    """The batch as it stands. Raises BatchError, with where to look, if there is none."""
    found = ledger.find(name)
    if found is None:
        check_known(ledger, name)
        raise BatchError(f"batch '{cut_short(name)}' is withdrawn; 'jarcast undo' takes it back in")
    return found
