"""What the user says of batches that are written down: odd values confirmed, batches withdrawn."""

from collections.abc import Iterable

from jarcast.batch import COLUMNS
from jarcast.errors import BatchError
from jarcast.ledger.book import Ledger
from jarcast.ledger.entry import cell_text


def confirm(ledger: Ledger, name: str, columns: Iterable[str]) -> tuple[str, ...]:
    """Stand by values of a batch as they are now; gives the columns that were not confirmed yet.

    A confirmation holds for the value, not for what it may be amended to. Raises BatchError for a
    batch that is not there or a column that holds nothing.
    """
    with ledger.writing("confirm") as action:
        standing = ledger.find(name)
        if standing is None:
            raise BatchError(f"there is no batch '{name}'; 'jarcast batches' lists their names")
        new = []
        for column in columns:
            if column not in COLUMNS or not cell_text(standing.batch, column):
                raise BatchError(f"batch '{name}' holds no value of '{column}' to confirm")
            if column not in standing.batch.confirmed:
                new.append(column)
                ledger.execute(
                    'INSERT INTO confirmation (action_id, batch_id, "column", value) '
                    "VALUES (?, (SELECT id FROM batch WHERE name = ?), ?, ?)",
                    action, name, column, cell_text(standing.batch, column),
                )  # fmt: skip
        return tuple(new)


def withdraw(ledger: Ledger, name: str) -> bool:
    """Take a batch out: it counts for nothing, and can come back. False if it is out already.

    Raises BatchError when there never was such a batch.
    """
    return _mark(ledger, name, withdrawn=True)


def reinstate(ledger: Ledger, name: str) -> bool:
    """Take a withdrawn batch back in as it stood; False if it never was out. Raises BatchError."""
    return _mark(ledger, name, withdrawn=False)


def withdrawn(ledger: Ledger) -> list[str]:
    """Names of the batches that are withdrawn now."""
    rows = ledger.rows(
        "SELECT name FROM batch WHERE id NOT IN (SELECT batch_id FROM standing) ORDER BY id"
    )
    return [name for (name,) in rows]


def _mark(ledger: Ledger, name: str, *, withdrawn: bool) -> bool:
    kind = "withdraw" if withdrawn else "reinstate"
    with ledger.writing(kind) as action:
        if not ledger.knows(name):
            raise BatchError(f"there is no batch '{name}'; 'jarcast batches' lists their names")
        if (ledger.find(name) is None) == withdrawn:
            return False
        ledger.execute(
            "INSERT INTO withdrawal (action_id, batch_id, withdrawn) "
            "VALUES (?, (SELECT id FROM batch WHERE name = ?), ?)",
            action, name, int(withdrawn),
        )  # fmt: skip
        return True
