"""One row of a batch table to one batch, by the same checks for a CSV file and a DataFrame.

A row gives either an entry or every problem it has. Values that contradict one another are not a
problem here: such a batch is taken in, and flagged.
"""

import datetime as dt
from collections.abc import Mapping
from typing import NamedTuple

from msgspec import Struct, field

from jarcast.batchtable.cells import EARLIEST, read_cell
from jarcast.domain.batch import Batch, Doubt
from jarcast.domain.crop_text import read_crop
from jarcast.domain.fields import ALL_COLUMNS, KITCHEN, NEEDED, NUMBERS, TEXTS
from jarcast.domain.jar_text import pieces, with_sorts
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.said_weight import or_counted, read_counted_weight
from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError, MeasureError, cut_short
from jarcast.ledger.entry import Entry, value_text
from jarcast.measures.numbers import could_be_thousands, plain, with_point

_NEEDED = frozenset(NEEDED)
_COUNTED = frozenset(stage.typed for stage in STAGES)  # weights that may be counted in containers
_WITH_POINTS = frozenset(("jars", *NUMBERS))  # columns where a decimal comma may stand for a point
MOST_REMEMBERED = 4000  # cells of a column: memory does not grow with the table


class Known(NamedTuple):
    """What a cell says: its value, and what was typed where that reads otherwise."""

    value: object
    typed: str | None


class _Column(NamedTuple):
    """The column that a column, or a kitchen column, fills, and its cells met so far.

    ``met`` is None for a column of texts, which stand for themselves.
    """

    fills: str
    met: dict[str, Known] | None


class Problem(NamedTuple):
    """What is wrong with one cell; ``cell`` is None where the row as a whole is meant."""

    column: str
    cell: object
    why: str


def shortened(cell: object, longest: int = 60) -> str:
    """A cell fit for a message: short, and without characters that would upset a terminal."""
    try:
        text = str(cell)
    except ValueError:  # an int of more digits than Python will write out
        text = type(cell).__name__
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in cut_short(text, longest))


class RowChecker(Struct):
    """Checks rows; the settings hold for a whole table.

    ``today`` is the last date allowed, None for no limit. ``decimal_comma`` is whether '2700,5' is
    a number here. ``commas`` tells whether one has been met in any row so far; ``dotted`` are the
    problems the last row has if the points in this table part thousands. Cells are remembered,
    since a table writes the same few hundred over and over.
    """

    shelf: Mapping[str, Jar] = field(default_factory=lambda: SHELF)
    today: dt.date | None = None
    decimal_comma: bool = False
    commas: bool = False
    dotted: list[Problem] = field(default_factory=list)
    _columns: dict[str, _Column] = field(
        default_factory=lambda: {
            name: _Column(KITCHEN.get(name, name), None if name in TEXTS else {})
            for name in (*ALL_COLUMNS, *KITCHEN)
        }
    )

    def check(self, cells: Mapping[str, object]) -> tuple[Entry | None, list[Problem]]:
        """An entry, or every problem of the row.

        ``cells`` holds what was recorded, by column (or kitchen column); empty cells are left
        out.
        """
        values: dict[str, object] = {}
        typed: dict[str, str] = {}
        problems: list[Problem] = []
        doubt: list[Doubt] = []
        self.dotted = []
        cells = _with_sorts(cells, self.shelf, problems)
        for name, cell in cells.items():
            if name not in self._columns:  # of an open batch whose row was changed by hand
                problems.append(Problem(name, cell, "is not a column of a batch"))
                continue
            column, met = self._columns[name]
            if name != column and column in cells:
                why = f"{column} is filled as well; keep one of the two"
                problems.append(Problem(name, cell, why))
                continue
            if met is None and isinstance(cell, str):
                values[column] = cell
                continue
            known = met.get(cell) if met is not None and isinstance(cell, str) else None
            if known is None:
                try:
                    known = self._known(name, cell, cells, doubt)
                except (BatchError, MeasureError) as error:
                    problems.append(Problem(name, cell, _why(error, cell)))
                    continue
            values[column], text = known
            if text is not None:
                typed[column] = text
        _tell_cut_apart(values, cells, problems)
        if not problems and values.keys() >= _NEEDED:
            try:
                batch = Batch(**values, doubt=frozenset(doubt))  # type: ignore[arg-type]
                return Entry(batch, typed), []
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

    def _known(
        self, name: str, cell: object, cells: Mapping[str, object], doubt: list[Doubt]
    ) -> Known:
        """What a cell says; of containers or cups counted, their ``doubt`` too.

        Raises BatchError or MeasureError.
        """
        try:
            return self._read(name, cell)
        except MeasureError as error:
            if name not in _COUNTED or not isinstance(cell, str):
                raise
            crop = read_crop(*(str(cells.get(column, "")) for column in ("produce", "cut")))
            said = read_counted_weight(cell, name, *crop, self.shelf)
            if said is None:
                raise MeasureError(or_counted(error, name)) from error
            grams, log_sd = said.middle_and_doubt
            doubt.append(Doubt(KITCHEN[name], log_sd, said.kept_as(cell.strip())))
            return Known(grams, doubt[-1].typed)

    def _read(self, name: str, cell: object) -> Known:
        """What a cell says that is not remembered. Raises BatchError or MeasureError."""
        column, met = self._columns[name]
        if met is None or not isinstance(cell, str):
            return Known(read_cell(name, cell, self.shelf, self.today), None)
        text = cell.strip()
        doubts = len(self.dotted)
        pointed = self._pointed(name, text) if self.decimal_comma else text
        value = read_cell(name, pointed, self.shelf, self.today)
        as_read = plain(text) or text == value_text(column, value)
        known = Known(value, None if as_read else text)
        # A doubtful point is noted in every row it stands in, so such a cell is read anew.
        if len(self.dotted) == doubts and len(met) < MOST_REMEMBERED:
            met[cell] = known
        return known

    def _pointed(self, name: str, text: str) -> str:
        """A number with its decimal comma made a point; notes what that tells of the table."""
        if name not in _WITH_POINTS:
            return text
        if could_be_thousands(text):
            why = (
                "the point could mark decimals or thousands, as other numbers here use a decimal "
                "comma; write this one with a comma, or without the point"
            )
            self.dotted.append(Problem(name, text, why))
        parts = pieces(text, self.shelf) if name == "jars" else [text]
        pointed = " + ".join(map(with_point, parts))
        self.commas = self.commas or ("," in text and "," not in pointed)
        return pointed


def _why(error: Exception, cell: object) -> str:
    """What an error says of a cell; a measure's opens with the cell, which is shown anyway."""
    return str(error).removeprefix(f"'{cell}': ") if isinstance(cell, str) else str(error)


def _tell_cut_apart(
    values: dict[str, object], cells: Mapping[str, object], problems: list[Problem]
) -> None:
    """Part produce and cut in a row that names both as its produce."""
    produce, cut = values.get("produce"), values.get("cut", "")
    if not isinstance(produce, str) or not isinstance(cut, str):
        return
    try:
        read = read_crop(produce, cut)
    except BatchError as error:
        problems.append(Problem("produce", cells["produce"], str(error)))
        return
    if read != (produce, cut):
        values["produce"], values["cut"] = read


def _with_sorts(
    cells: Mapping[str, object], shelf: Mapping[str, Jar], problems: list[Problem]
) -> Mapping[str, object]:
    """A row whose jars are counted with their sorts, as one that says both apart."""
    jars, jar = cells.get("jars"), cells.get("jar", "")
    if not isinstance(jars, str) or not isinstance(jar, str) or plain(jars):
        return cells
    try:
        return {**cells, **with_sorts({"jars": jars, "jar": jar} if jar else {"jars": jars}, shelf)}
    except BatchError as error:
        problems.append(Problem("jars", jars, str(error)))
        said = {name: cell for name, cell in cells.items() if name != "jars"}
        return {"jar": "pint", **said}  # their sorts stand in what cannot be read


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
