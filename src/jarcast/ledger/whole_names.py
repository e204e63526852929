"""Names of batches: which are taken, which one is meant by a name typed, how several are told.

Case and spaces are forgiven, and a part of a name will do.
"""

from collections.abc import Iterable, Sequence

from jarcast.errors import BatchError, cut_short
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger

_MOST_LISTED = 12  # names in one message


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


def fitting(names: Sequence[str], typed: str) -> list[str]:
    """Names that a typed one may mean: the very one, else by case and spaces, else by a part."""
    plain = {name: _plain(name) for name in names}
    wanted = _plain(typed)
    ways = (
        lambda name: name == typed.strip(),
        lambda name: plain[name] == wanted,
        lambda name: plain[name].startswith(wanted),
        lambda name: wanted in plain[name],
    )
    for way in ways if wanted else ():
        if fits := [name for name in names if way(name)]:
            return fits
    return []


def only(fits: Sequence[str], typed: str) -> str:
    """The one name that fits. Raises BatchError with all of them where there are several."""
    if len(fits) == 1:
        return fits[0]
    raise BatchError(f"'{cut_short(typed)}' could be any of: {in_one_line(fits)}; say which one")


def in_one_line(names: Sequence[str]) -> str:
    """Names in one line, no more of them than can be read."""
    more = f" and {len(names) - _MOST_LISTED} more" if len(names) > _MOST_LISTED else ""
    return ", ".join(f"'{cut_short(name)}'" for name in names[:_MOST_LISTED]) + more


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
