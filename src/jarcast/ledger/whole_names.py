"""Which batch of a ledger is meant by a name that was typed."""

from collections.abc import Iterable

from jarcast.ledger.naming import fitting, only
from jarcast.ledger.steps import names_taken
from jarcast.ledger.store import Ledger


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
