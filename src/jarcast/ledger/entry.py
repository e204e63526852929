"""What the ledger takes in: a batch, and what was typed for it."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from jarcast.domain.batch import Batch, number_text, plain_number
from jarcast.domain.fields import ALL_COLUMNS, NUMBERS
from jarcast.domain.jars import jar_list
from jarcast.domain.names import person_key
from jarcast.errors import cut_short

Cell = str | float | None


class Entry(Struct, frozen=True):
    """A batch and, by column, what was typed where that reads otherwise: '6 lb 4 oz'."""

    batch: Batch
    typed: Mapping[str, str] = {}


def cell_text(batch: Batch, column: str) -> str:
    """One column of a batch as the batch table writes it; '' where it was not written down.

    Numbers are exact: the shortest text that reads back as the same float.
    """
    return value_text(column, getattr(batch, column))


def value_text(column: str, value: Any) -> str:
    """One value of a batch as the batch table writes it; '' where it was not written down."""
    if column == "jar":
        return jar_list(value)
    if column == "jars":
        return " + ".join(map(number_text, value))
    if value is None:
        return ""
    if isinstance(value, dt.date):
        return value.isoformat()
    return value if isinstance(value, str) else number_text(value)


def differences(there: Batch, here: Batch) -> tuple[str, ...]:
    """The columns in which two batches differ, each with both values."""
    found = []
    for column in ALL_COLUMNS:
        old, new = cell_text(there, column), cell_text(here, column)
        if column == "person" and person_key(old) == person_key(new):
            continue  # written otherwise: it is the same person
        if old != new:
            was, now = _shown(column, old), _shown(column, new)
            if was == now:  # apart in a decimal that is not shown otherwise
                was, now = repr(old), repr(new)
            found.append(f"{column} {was} there, {now} here")
    return tuple(found)


def _shown(column: str, text: str) -> str:
    if not text:
        return "empty"
    if column in NUMBERS:
        text = plain_number(float(text))
    return f"'{cut_short(text)}'"
