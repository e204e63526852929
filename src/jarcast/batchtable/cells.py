"""One cell of a batch table to the value it stands for, whether from a CSV file or a DataFrame."""

import datetime as dt
import math
import re
from collections.abc import Mapping
from decimal import Decimal
from numbers import Real

from jarcast.domain.batch import number_text
from jarcast.domain.fields import FIELD_OF, KITCHEN, KITCHEN_NAMES, READERS, TEXTS, WEIGHTS
from jarcast.domain.jar_text import counts, read_jars, total
from jarcast.domain.jars import Jar, jar_key
from jarcast.errors import BatchError, MeasureError, cut_short
from jarcast.measures.numbers import number, plain

EARLIEST = dt.date(1900, 1, 1)  # an earlier year is a slip
_ISO = re.compile(
    r"(\d{4}-\d{2}-\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?(?:Z|[+-]\d{2}:?\d{2})?)?",
    re.ASCII,
)


def read_cell(name: str, cell: object, shelf: Mapping[str, Jar], today: dt.date | None) -> object:
    """The value of a cell that is not empty, as a Batch holds it.

    ``name`` is that of a column, or of a kitchen column; ``today`` is the last date allowed, None
    for no limit. Raises BatchError or MeasureError with what is wrong.
    """
    if isinstance(cell, bool | bytes):  # True counts as 1 elsewhere, and b'7' as its own letters
        raise BatchError(f"is a {type(cell).__name__}, where a number or text should be")
    if name in TEXTS:
        return _as_text(cell)
    if name == "date":
        return _date(cell, today)
    if name in ("jar", "jars"):
        return _jars(name, cell, shelf)
    if isinstance(cell, (Real, Decimal)):
        if name in KITCHEN and cell != 0:
            raise BatchError("a number without its unit; write it like '6 lb 4 oz'")
        return _float(cell)
    if name == "sealed":
        return _sealed(_must_be_text(cell), shelf)
    return _number(name, _must_be_text(cell))


def _sealed(text: str, shelf: Mapping[str, Jar]) -> float:
    """The jars that sealed: a number, or each sort's; '7 ok' is neither."""
    for one in read_jars(text, shelf):
        if one.number is not None and one.sort and one.sort not in shelf:
            raise BatchError(
                f"'{cut_short(one.sort)}' is no sort of jar; write the jars that sealed as a "
                "number, such as 7, or each count with its sort, '6 pint + 4 quart'"
            )
    return total(text, shelf)


def _jars(name: str, cell: object, shelf: Mapping[str, Jar]) -> tuple[str, ...] | tuple[float, ...]:
    """The sorts of jar, or the count of each."""
    if name == "jar":
        return tuple(jar_key(part.strip(), shelf) for part in _as_text(cell).split("+"))
    if isinstance(cell, (Real, Decimal)):
        return (_float(cell),)
    return counts(_must_be_text(cell), shelf)


def _number(name: str, text: str) -> float:
    if name in KITCHEN or (name in READERS and not plain(text)):
        return READERS[name](text)
    if name in KITCHEN_NAMES and not plain(text) and _is_measure(name, text):
        raise BatchError(
            f"has a unit; name the column '{FIELD_OF[name].typed}' for measures as a "
            f"kitchen writes them, or write plain {'grams' if name in WEIGHTS else 'ml'}"
        )
    return number(text)


def _must_be_text(cell: object) -> str:
    if not isinstance(cell, str):
        raise BatchError(f"is a {type(cell).__name__}, where a number or text should be")
    return cell.strip()


def _float(cell: Real | Decimal) -> float:
    try:
        return float(cell) + 0.0  # + 0.0 makes a minus zero a zero
    except OverflowError:  # an int of hundreds of digits
        return math.inf
    except (TypeError, ValueError) as error:  # numpy's hours, or a Decimal that signals
        raise BatchError(f"is a {type(cell).__name__} that is no number") from error


def _as_text(cell: object) -> str:
    """A cell that must be text; a whole number loses its point, so that 7.0 is batch '7'."""
    if isinstance(cell, str):
        return cell
    return number_text(_float(cell)) if isinstance(cell, (Real, Decimal)) else str(cell)


def _date(cell: object, today: dt.date | None) -> dt.date:
    if isinstance(cell, dt.datetime):
        date = cell.date()
    elif isinstance(cell, dt.date):
        date = cell
    else:
        date = _iso_date(_as_text(cell))
    if date < EARLIEST:
        raise BatchError(f"is before {EARLIEST.year}; is the year right?")
    if today is not None and date > today:
        raise BatchError(f"is in the future (today is {today}); is the year right?")
    return date


def _iso_date(text: str) -> dt.date:
    found = _ISO.fullmatch(text.strip()) if len(text) <= 60 else None
    if not found:
        raise BatchError(
            "is not a date like 2024-08-31 (year-month-day); written otherwise, day and month "
            "could be mixed up"
        )
    try:
        return dt.date.fromisoformat(found[1])
    except ValueError as error:
        raise BatchError("there is no such day; write it as year-month-day: 2024-08-31") from error


def _is_measure(column: str, text: str) -> bool:
    try:
        READERS[FIELD_OF[column].typed](text)
    except MeasureError:
        return False
    return True
