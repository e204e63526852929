"""What the ledger takes in and gives back: a batch, what was typed for it, each of its versions."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch, number_text, plain_number
from jarcast.domain.fields import ALL_COLUMNS, NUMBERS, typed_name
from jarcast.domain.jars import jar_list
from jarcast.domain.names import person_key
from jarcast.errors import cut_short
from jarcast.measures import Units, format_volume, format_weight

Cell = str | float | None


class Entry(Struct, frozen=True):
    """A batch and, by column, what was typed where that reads otherwise: '6 lb 4 oz'."""

    batch: Batch
    typed: Mapping[str, str] = {}


class Request(NamedTuple):
    """What asks for something to be written: a key of its own, and a digest of what it asks."""

    key: str
    digest: str


class AddResult(Struct, frozen=True):
    """Names of the batches that were added, and of those already there with the same values."""

    added: tuple[str, ...]
    skipped: tuple[str, ...]


class Reading(Struct, frozen=True):
    """One version of a batch: what was entered, when (UTC), by what kind of action.

    ``action`` numbers what the user did, in order; rows of one import share it.
    """

    entry: Entry
    at: dt.datetime
    kind: str
    version: str
    action: int


def cell_text(batch: Batch, column: str) -> str:
    """One column of a batch as the batch table writes it; '' where it was not recorded.

    Numbers are exact: the shortest text that reads back as the same float.
    """
    return value_text(column, getattr(batch, column))


def value_text(column: str, value: Any) -> str:
    """One value of a batch as the batch table writes it; '' where it was not recorded."""
    if column == "jar":
        return jar_list(value)
    if column == "jars":
        return " + ".join(map(number_text, value))
    if value is None:
        return ""
    if isinstance(value, dt.date):
        return value.isoformat()
    return value if isinstance(value, str) else number_text(value)


def said_otherwise(there: Batch, here: Batch) -> tuple[str, ...]:
    """The columns in which both say something, and not the same."""
    return tuple(c for c in _apart(there, here) if cell_text(there, c) and cell_text(here, c))


def said_anew(there: Batch, here: Batch) -> tuple[str, ...]:
    """The columns that are empty there, and say something here."""
    return tuple(c for c in _apart(there, here) if not cell_text(there, c))


def with_values(there: Entry, here: Entry, columns: Iterable[str]) -> Entry:
    """An entry with these columns as another has them. Raises BatchError if no batch can be so."""
    columns = tuple(columns)
    typed = {**there.typed}
    for column in columns:
        typed.pop(column, None)
        if text := here.typed.get(column):
            typed[column] = text
    values = {column: getattr(here.batch, column) for column in columns}
    doubt = {one for one in there.batch.doubt if one.column not in values}
    doubt |= {one for one in here.batch.doubt if one.column in values}
    return Entry(replace(there.batch, **values, doubt=frozenset(doubt)), typed)


def differences(there: Batch, here: Batch) -> tuple[str, ...]:
    """The columns in which two batches differ, each with both values."""
    return side_by_side(Entry(there), Entry(here), _apart(there, here))


def side_by_side(
    there: Entry, here: Entry, columns: Iterable[str], units: Units | None = None
) -> tuple[str, ...]:
    """These columns of two entries, each with both values, as they were typed where they were.

    With ``units`` what was not typed is shown in a kitchen's, under the name that is typed.
    """
    found = []
    for column in columns:
        old, new = (cell_text(one.batch, column) for one in (there, here))
        was, now = (
            f"'{cut_short(typed)}'"
            if (typed := _as_typed(one, column))
            else _shown(column, text, units)
            for one, text in ((there, old), (here, new))
        )
        if was == now:  # apart in a decimal that is not shown otherwise
            was, now = repr(old), repr(new)
        name = column if units is None else typed_name(column)
        found.append(f"{name} {was} there, {now} here")
    return tuple(found)


def _as_typed(one: Entry, column: str) -> str:
    return one.typed.get(column) or one.batch.counted_as(column)


def _apart(there: Batch, here: Batch) -> Iterator[str]:
    for column in ALL_COLUMNS:
        old, new = cell_text(there, column), cell_text(here, column)
        same_person = column == "person" and person_key(old) == person_key(new)  # however written
        doubted = there.doubt_of(column) != here.doubt_of(column)
        if doubted or (old != new and not same_person):
            yield column


def _shown(column: str, text: str, units: Units | None) -> str:
    if not text:
        return "empty"
    if units is not None and column.endswith(("_g", "_ml")):
        show = format_weight if column.endswith("_g") else format_volume
        return show(float(text), units)
    if column in NUMBERS:
        text = plain_number(float(text))
    return f"'{cut_short(text)}'"
