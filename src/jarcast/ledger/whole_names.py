"""Names of batches: which are taken, and which one is meant by a name that was typed."""

from collections.abc import Iterable

from jarcast.ledger.naming import fitting, only
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger


def names_taken(ledger: Ledger) -> set[str]:
    """Names that a new batch may not have: of batches recorded, open ones and dropped ones.

    A batch that was taken back with all that was entered of it leaves its name free.
    """
    rows = ledger.rows(
        f"SELECT name FROM batch WHERE id IN (SELECT batch_id FROM reading WHERE {STANDS}) "
        f"UNION SELECT batch FROM step WHERE {STANDS}"
    )
    return {str(name) for (name,) in rows}


def is_taken(ledger: Ledger, name: str) -> bool:
    """Whether a name is one of them; the others stay unread."""
    found = ledger.rows(
        f"SELECT 1 FROM batch JOIN reading ON batch_id = batch.id WHERE name = ?1 AND {STANDS} "
        f"UNION ALL SELECT 1 FROM step WHERE batch = ?1 AND {STANDS} LIMIT 1",
        name,
    )
    return bool(found)


def names_ever(ledger: Ledger) -> set[str]:
    """The same with the names of batches that were taken back."""
    rows = ledger.rows("SELECT name FROM batch UNION SELECT batch FROM step")
    return {str(name) for (name,) in rows}


def whole_name(ledger: Ledger, typed: str, among: Iterable[str] = ()) -> str:
    """The whole name of the batch that is meant.

    A name as it stands always wins; then come the batches ``among`` which it is looked for first,
    then all that ever were, open and dropped ones too. What answers to nothing is given back as it
    was typed. Raises BatchError where several answer to it.
    """
    taken = names_taken(ledger)
    if typed in taken:
        return typed
    for names in (among, taken):
        if fits := fitting(sorted(names), typed):
            return only(fits, typed)
    return typed


def standing_names(ledger: Ledger) -> list[str]:
    """Names of the batches that are recorded and not withdrawn."""
    rows = ledger.rows("SELECT name FROM batch WHERE id IN (SELECT batch_id FROM standing)")
    return [str(name) for (name,) in rows]
