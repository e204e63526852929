"""One row of a batch table to one batch: the same checks for a CSV file and a DataFrame.

A row gives either an entry or every problem it has. Contradictions between the values of a row
are no problem here: they are taken in, and flagged.
"""

import datetime as dt
import math
import re
from collections import defaultdict
from collections.abc import Callable, Mapping
from decimal import Decimal
from numbers import Real
from typing import NamedTuple

from msgspec import Struct, field

from jarcast.batch import NEEDED, TEXTS, VOLUMES, WEIGHTS, Batch, number_text
from jarcast.crop_text import read_crop
from jarcast.errors import BatchError, MeasureError
from jarcast.interchange.header import KITCHEN
from jarcast.jar_text import counts, pieces, with_sorts
from jarcast.kinds import SHELF, Jar, jar_key
from jarcast.ledger.entry import Entry, value_text
from jarcast.measures import parse_hours, parse_inches, parse_salt, parse_volume, parse_weight
from jarcast.measures.numbers import could_be_thousands, count, number, plain, with_point

EARLIEST = dt.date(1900, 1, 1)  # before it the year is a slip
_ISO = re.compile(
    r"(\d{4}-\d{2}-\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?(?:Z|[+-]\d{2}:?\d{2})?)?",
    re.ASCII,
)
_MEASURES: Mapping[str, Callable[[str], float]] = {
    **{
        name: parse_weight if column in WEIGHTS else parse_volume
        for name, column in KITCHEN.items()
    },
    "salt": parse_salt,
    "cure_hours": parse_hours,
    "headspace_in": parse_inches,
}
_PLAIN_ONLY = frozenset((*WEIGHTS, *VOLUMES))
_NEEDED = frozenset(NEEDED)


MOST_REMEMBERED = 20_000  # cells of a column; whatever the table's length, memory stays flat


class Known(NamedTuple):
    """What a cell says: its value, and what was typed where that reads otherwise."""

    value: object
    typed: str | None


class Problem(NamedTuple):
    """What is wrong with one cell; ``cell`` is None where the row as a whole is meant."""

    column: str
    cell: object
    why: str


def shortened(cell: object, longest: int = 60) -> str:
    """A cell fit for a message: short, and without signs that would upset a terminal."""
    try:
        text = str(cell)
    except ValueError:  # an int of more digits than Python will write out
        text = type(cell).__name__
    text = text if len(text) <= longest else text[: longest - 3] + "..."
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in text)


class RowChecker(Struct):
    """Checks rows; the settings hold for a whole table.

    ``today`` is the last date allowed, None for no limit. ``decimal_comma`` is whether '2700,5'
    is a number here; ``commas`` and ``dotted`` tell afterwards whether one was met, and which
    problems there would be if points parted the thousands. Cells that were met before are not
    read again: a table writes the same few thousand over and over.
    """

    shelf: Mapping[str, Jar] = field(default_factory=lambda: SHELF)
    today: dt.date | None = None
    decimal_comma: bool = False
    commas: bool = False
    dotted: list[Problem] = field(default_factory=list)
    _met: dict[str, dict[str, Known]] = field(default_factory=lambda: defaultdict(dict))

    def check(self, cells: Mapping[str, object]) -> tuple[Entry | None, list[Problem]]:
        """An entry, or every problem of the row.

        ``cells`` holds what was written down, by column (or kitchen column); empty cells are left
        out.
        """
        values: dict[str, object] = {}
        typed: dict[str, str] = {}
        problems: list[Problem] = []
        self.dotted = []
        try:
            cells = _with_sorts(cells, self.shelf)
        except BatchError as error:
            problems.append(Problem("jars", cells["jars"], str(error)))
            said = {name: cell for name, cell in cells.items() if name != "jars"}
            cells = {"jar": "pint", **said}  # their sorts stand in what cannot be read
        for name, cell in cells.items():
            column = KITCHEN.get(name, name)
            if name != column and column in cells:
                why = f"{column} is filled as well; keep one of the two"
                problems.append(Problem(name, cell, why))
                continue
            try:
                values[column], text = self.known(name, cell)
                if text is not None:
                    typed[column] = text
            except (BatchError, MeasureError) as error:
                why = str(error)  # a measure's own message opens with the cell, shown here anyway
                why = why.removeprefix(f"'{cell}': ") if isinstance(cell, str) else why
                problems.append(Problem(name, cell, why))
        try:
            _tell_cut_apart(values)
        except BatchError as error:
            problems.append(Problem("produce", cells["produce"], str(error)))
        if not problems and values.keys() >= _NEEDED:
            try:
                return Entry(Batch(**values), typed), []  # type: ignore[arg-type]
            except BatchError:
                pass  # every problem of the row is looked for below
        return None, self._problems(values, cells, problems)

    def _problems(
        self, values: Mapping[str, object], cells: Mapping[str, object], problems: list[Problem]
    ) -> list[Problem]:
        """Every problem of a row that cannot be taken, those of single cells first."""
        read = {KITCHEN.get(problem.column, problem.column) for problem in problems}
        problems += [
            Problem(column, "", "is empty; every batch needs one")
            for column in NEEDED
            if column not in values and column not in read
        ]
        impossible = _impossible(values)
        named = {KITCHEN.get(name, name): name for name in cells}
        problems += [
            Problem(named[column], cells[named[column]], why)
            for column, why in impossible
            if column in values
        ]
        return problems

    def known(self, name: str, cell: object) -> Known:
        """What a cell of a column, or a kitchen column, says. Raises BatchError or MeasureError."""
        if not isinstance(cell, str) or name in TEXTS:
            return Known(self._read(name, cell), None)
        met = self._met[name]
        known = met.get(cell)
        if known is None:
            known = Known(self._read(name, cell), None)
            text = cell.strip()
            if not plain(text) and text != value_text(KITCHEN.get(name, name), known.value):
                known = Known(known.value, text)
            # With decimal commas reading a cell also tells of the table.
            if not self.decimal_comma and len(met) < MOST_REMEMBERED:
                met[cell] = known
        return known

    def _read(self, name: str, cell: object) -> object:
        """The value of one cell. Raises BatchError or MeasureError with what is wrong."""
        if name == "date":
            return _date(cell, self.today)
        if name in TEXTS:
            return cell if isinstance(cell, str) else _as_text(cell)
        if name == "jar":
            return tuple(jar_key(part.strip(), self.shelf) for part in _as_text(cell).split("+"))
        if isinstance(cell, (Real, Decimal)):
            if name in KITCHEN and cell != 0:
                raise BatchError("a number without its unit; write it such as '6 lb 4 oz'")
            return (_float(cell),) if name == "jars" else _float(cell)
        if not isinstance(cell, str):
            raise BatchError(f"is a {type(cell).__name__}, where a number or a text is due")
        text = self._pointed(name, cell.strip())
        if name == "jars":
            return counts(text, self.shelf)
        if name == "sealed":
            return count(text)
        if name in KITCHEN or (name in _MEASURES and not plain(text)):
            return _MEASURES[name](text)
        if name in _PLAIN_ONLY and not plain(text) and _is_measure(name, text):
            raise BatchError(
                f"has a unit; name the column '{_kitchen_name(name)}' for measures as a "
                f"kitchen writes them, or write plain {'grams' if name in WEIGHTS else 'ml'}"
            )
        return number(text)

    def _pointed(self, name: str, text: str) -> str:
        if not self.decimal_comma or name in KITCHEN:
            return text
        if could_be_thousands(text):
            why = (
                "the point could part decimals or thousands, as other numbers here have a decimal "
                "comma; write this one with a comma, or without the point"
            )
            self.dotted.append(Problem(name, text, why))
        parts = [with_point(part) for part in pieces(text, self.shelf)] if name == "jars" else []
        pointed = " + ".join(parts) if parts else with_point(text)
        self.commas = self.commas or ("," in text and "," not in pointed)
        return pointed


def _tell_cut_apart(values: dict[str, object]) -> None:
    """Produce and cut of a row that names both as its produce. Raises BatchError."""
    produce, cut = values.get("produce"), values.get("cut", "")
    if isinstance(produce, str) and isinstance(cut, str):
        read = read_crop(produce, cut)
        if read != (produce, cut):
            values["produce"], values["cut"] = read


def _with_sorts(cells: Mapping[str, object], shelf: Mapping[str, Jar]) -> Mapping[str, object]:
    """A row whose jars are counted with their sorts, as one that says both apart."""
    jars, jar = cells.get("jars"), cells.get("jar", "")
    if not isinstance(jars, str) or not isinstance(jar, str) or plain(jars):
        return cells
    named = with_sorts({"jars": jars, "jar": jar} if jar else {"jars": jars}, shelf)
    return {**cells, **named}


def _float(cell: Real | Decimal) -> float:
    try:
        return float(cell) + 0.0
    except OverflowError:  # an int of hundreds of digits
        return math.inf


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
        raise BatchError(
            f"is in the future (today is {today}); a batch is written down once filled"
        )
    return date


def _iso_date(text: str) -> dt.date:
    found = _ISO.fullmatch(text.strip()) if len(text) <= 60 else None
    if not found:
        raise BatchError(
            "is not a date as year-month-day, such as 2024-08-31; in other forms the order of day "
            "and month cannot be known"
        )
    try:
        return dt.date.fromisoformat(found[1])
    except ValueError as error:
        raise BatchError("there is no such day; write it as year-month-day: 2024-08-31") from error


def _kitchen_name(column: str) -> str:
    return column.rsplit("_", 1)[0]


def _is_measure(column: str, text: str) -> bool:
    try:
        _MEASURES[_kitchen_name(column)](text)
    except MeasureError:
        return False
    return True


def _impossible(values: Mapping[str, object]) -> list[tuple[str, str]]:
    """The columns of these values that cannot be, and why.

    What is missing is filled in for the trial, so that the rest is checked all the same.
    """
    jars = values.get("jars")
    jar = values.get("jar")
    sorts = len(jars) if isinstance(jars, tuple) else len(jar) if isinstance(jar, tuple) else 1
    trial = {
        "batch": "?",
        "date": EARLIEST,
        "produce": "?",
        "jar": ("?",) * sorts,
        "jars": (1.0,) * sorts,
        **values,
    }
    try:
        Batch(**trial)  # type: ignore[arg-type]  # each value was read for its column
    except BatchError as error:
        parts = (problem.partition(": ") for problem in error.problems)
        return [(column, why) for column, _, why in parts]
    return []
