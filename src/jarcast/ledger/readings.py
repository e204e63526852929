"""Readings: the rows in which the ledger keeps each version of a batch."""

import datetime as dt
import sqlite3
from collections.abc import Iterable, Sequence
from operator import attrgetter
from pathlib import Path
from typing import Any

from jarcast.domain.batch import Batch, Doubt
from jarcast.domain.fields import ALL_COLUMNS
from jarcast.ledger.backups import illegible
from jarcast.ledger.cells import texts, to_json
from jarcast.ledger.entry import Cell, Entry, value_text

STORED = (*ALL_COLUMNS[1:], "typed")  # of a reading: all but the name, which is the batch's own
SELECT = "SELECT batch.name, " + ", ".join(f"r.{column}" for column in STORED)
_INSERT = (
    f"INSERT INTO reading (batch_id, action_id, {', '.join(STORED)}) "
    f"VALUES ({', '.join('?' * (len(STORED) + 2))})"
)

_values_of = attrgetter(*STORED[:-1])
_DOUBT = " +-"  # 'trimmed_g +-' among what was typed: how far that weight may be off, a sd in logs
# The columns that are kept as text but are something else in a Batch.
_WRITTEN = [(STORED.index(column), column) for column in ("date", "jar", "jars")]


def row_of(entry: Entry) -> tuple[Cell, ...]:
    """What the ledger keeps of an entry, in the order of STORED."""
    typed = {
        **entry.typed,
        **{f"{one.column}{_DOUBT}": repr(one.log_sd) for one in entry.batch.doubt},
    }
    row = [*_values_of(entry.batch), to_json(typed) if typed else "{}"]
    for at, column in _WRITTEN:
        row[at] = value_text(column, row[at])
    return tuple(row)


def entry_of(path: Path, name: str, row: Sequence[Any]) -> Entry:
    """The entry that ``row_of`` made a row of. Raises LedgerError if no batch can be so.

    ``path`` names the ledger in messages.
    """
    cells = dict(zip(ALL_COLUMNS, (name, *row), strict=False))
    try:  # every batch of a ledger comes by here, so no bracket is entered for each
        cells["date"] = dt.date.fromisoformat(cells["date"])
        cells["jar"] = tuple(cells["jar"].split(" + "))
        cells["jars"] = tuple(map(float, cells["jars"].split(" + ")))
        typed = texts(row[-1])
        if _DOUBT in row[-1]:
            cells["doubt"] = _doubts(typed)
        return Entry(Batch(**cells), typed)
    except (ValueError, TypeError) as error:
        raise illegible(path, f"batch '{name}'", error) from error


def _doubts(typed: dict[str, str]) -> frozenset[Doubt]:
    """The doubts that are kept among the texts, and are taken out of them."""
    marked = [name for name in typed if name.endswith(_DOUBT)]
    sds = {name.removesuffix(_DOUBT): float(typed.pop(name)) for name in marked}
    return frozenset(Doubt(name, sd, typed.get(name, "")) for name, sd in sds.items())


def standing(connection: sqlite3.Connection, names: Sequence[str]) -> dict[str, tuple[Any, ...]]:
    """The rows of these batches, as far as they stand, by name; in the order of STORED."""
    marks = ", ".join("?" * len(names))
    found = connection.execute(
        f"{SELECT} FROM standing AS r JOIN batch ON batch.id = r.batch_id "
        f"WHERE batch.name IN ({marks})",
        names,
    )
    return {row[0]: row[1:] for row in found}


def write_readings(
    connection: sqlite3.Connection,
    rows: Iterable[tuple[Cell, ...]],
    owners: Iterable[int],
    action: int,
) -> None:
    """Write one reading for each row; ``owners`` are the ids of their batches, side by side."""
    connection.executemany(
        _INSERT, ((owner, action, *row) for owner, row in zip(owners, rows, strict=True))
    )
