"""The batches of a sheet: each row as what it says by column, and the rows left out, with why."""

import re
from collections.abc import Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.batchtable.meant import Column
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import cut_short
from jarcast.notebook.brackets import before_brackets
from jarcast.notebook.crops import is_ditto
from jarcast.notebook.days import is_day, year_in
from jarcast.notebook.headings import (
    UNIT,
    beside_others,
    cells_under,
    is_measure,
    with_missing,
    with_net,
    with_units_beside,
)
from jarcast.notebook.layout import Beside, Row, Table, tables_on
from jarcast.notebook.longer import fitted
from jarcast.notebook.months import with_months
from jarcast.notebook.pairs import two_in_one
from jarcast.notebook.said import Said, read_row
from jarcast.notebook.second_rows import Filled, counted, goes_on, together
from jarcast.notebook.sheets import Sheet
from jarcast.notebook.titles import crop_above, no_log, with_units
from jarcast.notebook.written import BARE, none

_TOTAL = re.compile(r"\b(?:sub-?)?(?:totals?|tot|ttl|sums?|averages?|avg|mean)\b", re.I)
_ALL = re.compile(
    r"(?:the )?(?:whole |all )?(?:season|summer|year)"
    r"|.*\ball (?:crops|summer|season|year|batches|of it)|so far|to date|in all|altogether", re.I,
)  # fmt: skip
_VOID = re.compile(
    r"\W*(?:void(?:ed)?|cancell?ed|crossed out|(?:do|does) ?n.?o?t count|not counted"
    r"|entered twice|duplicate(?: entry| row)?\W*$)(?!\w)", re.I,
)  # fmt: skip
# Amounts that are plainly of something else, and need no word on how to read them.
_NOT_OF_IT = re.compile(
    r"[$\u20ac\u00a3%\u00b0]|\b(?:price|cost|paid|dollars?|temp\w*|degrees?|psi|min(?:ute)?s?"
    r"|time)\b",
    re.I,
)  # fmt: skip
NEITHER = "it has neither a crop nor a date"
_MEASURED = re.compile(r"[~<>]?\s*(?:[\d.,/ +-]|[\u00bc-\u00be\u2150-\u215e])+\s*[^\W\d_]{0,8}\.?")


class Found(Struct):
    """What a file holds: the batches, the rows ``left`` out, each with why, and its columns.

    ``refused`` are rows that are batches and cannot be read, each with why;
    ``unplaced`` are measures of lines that have no place, each with why; ``noted`` what is told of
    a table as a whole. ``ignored`` are headings of columns that hold something and are not read;
    ``unitless`` those of measures that state no unit, ``alone`` the rows in which a number is
    alone though most cells of its column have a unit, by heading.
    """

    said: list[Said] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    unplaced: list[tuple[str, str]] = field(default_factory=list)
    noted: list[tuple[str, str]] = field(default_factory=list)
    columns: list[tuple[Column, ...]] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    unitless: list[str] = field(default_factory=list)
    alone: dict[str, list[str]] = field(default_factory=dict)


def read_table(
    sheet: Sheet, told: Mapping[str, Column], found: Found, shelf: Mapping[str, Jar] = SHELF
) -> None:
    """Read the batches of a sheet into ``found``. A row of headings holds until the next one."""
    title: list[str] = []
    above: Said | None = None
    for table in tables_on(sheet, told, shelf):
        place = f"{sheet.place}, row {table.line}"
        if isinstance(table, Beside):
            words = cut_short(table.headings, 120)
            found.left.append((place, f"a table beside the batches, and no log of them: '{words}'"))
            continue
        if table.again:
            found.left.append((place, "the headings again"))
        title += table.above
        if name := no_log(table.above):
            why = f"'{name}' names no log of batches; give it another name if it is one"
            found.left.append((place, why))
            continue
        above = _read(sheet, table, title, above if table.again else None, found, shelf)


def _read(
    sheet: Sheet,
    table: Table,
    title: list[str],
    above: Said | None,
    found: Found,
    shelf: Mapping[str, Jar],
) -> Said | None:
    """Read the batches of one table; gives the last of them."""
    fit = fitted(table.rows, table.columns)
    two = two_in_one(fit.rows, fit.columns, sheet.struck)
    file = re.split(r"[/\\]", sheet.place)[-1]
    read = with_months(two.rows, two.columns, (file, sheet.name, *title))
    rows = [cells for line, cells in read.rows if line not in fit.wrong]
    columns = note_columns(read.columns, "; ".join(title), rows, found, sheet.place)
    _note_alone(columns, read.rows, found, sheet.place)
    named = any(column.name == "produce" for column in columns)
    crop = "" if named else crop_above((sheet.name, *table.above))
    if crop:
        found.noted.append(
            (sheet.place, f"no column tells the crop; taken as '{crop}', from above")
        )
    at = _Reading(sheet, columns, found, shelf, title, named, crop, above)
    for line, whole in read.rows:
        told = tuple(one[line] for one in (fit.told, two.told, read.told) if line in one)
        at.row(line, whole, told, fit.wrong.get(line, ""))
    return at.above


class _Reading(Struct):
    """One table while its rows are read.

    ``named`` tells whether a column tells the crop, ``crop`` is that of a title, ``above`` the
    batch above; ``filled`` is what the batches say so far, ``last`` the line of the last one.
    """

    sheet: Sheet
    columns: tuple[Column, ...]
    found: Found
    shelf: Mapping[str, Jar]
    title: list[str]
    named: bool
    crop: str
    above: Said | None
    filled: Filled = field(default_factory=Filled)
    last: int = -1

    def row(self, line: int, whole: Row, told: tuple[str, ...], wrong: str) -> None:
        """Read one row; ``told`` is what is told of it, ``wrong`` why it cannot be read."""
        place = f"{self.sheet.place}, row {line}"
        cells, struck = _without_struck(self.sheet, line, whole)
        words = " ".join(filter(None, whole))
        if not self.named and len(list(filter(None, whole))) == 1 and crop_above((words,)):
            self.crop = crop_above((words,))
            return
        why = struck if not any(cells) else no_batch(cells, self.columns)
        if (not why or NEITHER in why) and not wrong and self._goes_on(line, cells, place):
            return
        if why:
            self.title.append(words)  # a row that names the year, perhaps
            self.found.left.append((place, why))
        elif wrong:
            self.found.refused.append((place, wrong))
        else:
            self._batch(line, cells, place, (struck, *told) if struck else told)

    def _batch(self, line: int, cells: Row, place: str, told: tuple[str, ...]) -> None:
        said = read_row(place, cells, self.columns, self.sheet.decimals, self.shelf)
        said = replace(said, doubts=(*said.doubts, *told))
        if self.crop:
            said = replace(said, cells={"produce": self.crop, **said.cells})
        self.above = _below(self.found, said, self.above, year_in(" ".join(self.title)))
        self.filled.add(cells, self.columns, counted(said.cells, self.shelf))
        self.last = line

    def _goes_on(self, line: int, cells: Row, place: str) -> bool:
        """Whether a row goes on with the batch above it; then it is taken into that."""
        if line != self.last + 1 or not goes_on(cells, self.columns, self.filled):
            return False
        said = read_row(place, cells, self.columns, self.sheet.decimals, self.shelf)
        both = together(self.found.said[-1], said, self.filled, self.shelf)
        if both is None:
            return False
        self.found.said[-1] = both
        self.filled.add(cells, self.columns, counted(said.cells, self.shelf))
        self.last = line
        return True


def _without_struck(sheet: Sheet, line: int, cells: Row) -> tuple[Row, str]:
    """A row without the cells that are struck through, and what is told of those."""
    struck = [at for at, cell in enumerate(cells) if cell and (line, at) in sheet.struck]
    if not struck:
        return cells, ""
    words = ", ".join(cells[at] for at in struck)[:60]
    if 2 * len(struck) > sum(map(bool, cells)):
        return (), f"struck through: '{words}'"
    kept = tuple("" if at in struck else cell for at, cell in enumerate(cells))
    return kept, f"struck through, and not read: '{words}'"


def _below(found: Found, said: Said, above: Said | None, year: str) -> Said:
    """Note a row. Ditto marks are what stands above, and so is the day where none is written."""
    cells, doubts = dict(said.cells), said.doubts
    over = {} if above is None else above.cells
    for column, text in said.cells.items():
        if is_ditto(text) and column in over:
            cells[column] = over[column]
    if not cells.get("date") and "date" in over:
        cells["date"] = over["date"]
        doubts = (*doubts, f"no date; taken as the one above, {over['date']}")
    found.said.append(Said(said.place, cells, doubts, year, said.wrong))
    return found.said[-1]


def note_columns(
    meant: Sequence[Column], title: str, rows: Sequence[Sequence[str]], found: Found, place: str
) -> tuple[Column, ...]:
    """The columns with their units, noted in ``found`` with what is not read of ``rows``."""
    columns, told = with_missing(meant, rows)
    columns = beside_others(with_units_beside(columns, rows), rows)
    columns, taken = with_units(columns, title)
    found.noted += ((place, why) for why in (*told, *with_net(columns)))
    found.columns.append(columns)
    rows = [row for row in rows if any(row) and not no_batch(row, columns)]
    width = max([len(columns), *map(len, rows)])
    for at in range(width):
        column = columns[at] if at < len(columns) else Column("")
        cells = cells_under(rows, at)
        heading = column.heading or f"column {at + 1}, without a heading"
        if not column.name and cells and heading not in found.ignored:
            found.ignored.append(heading)
            _note_unread(column, cells, found, place)
        beside = at + 1 < len(columns) and columns[at + 1].name == UNIT
        if not is_measure(column.name) or beside or not any(map(_is_bare, cells)):
            continue
        if not column.unit and heading not in found.unitless:
            found.unitless.append(heading)
        if unit := taken.get(heading):
            why = f"'{heading}' states no unit; a number alone there is taken as {unit}"
            found.noted.append((place, why))
    return columns


def _is_bare(cell: str) -> bool:
    """Whether a cell is a number that needs a unit: none of it needs none."""
    return bool(BARE.fullmatch(before_brackets(cell))) and not none(cell)


def _note_alone(
    columns: Sequence[Column], rows: Sequence[tuple[int, Row]], found: Found, place: str
) -> None:
    """Note where numbers stand alone among cells with units: these may be slips."""
    for at, column in enumerate(columns):
        cells = {line: row[at] for line, row in rows if at < len(row) and row[at]}
        alone = [f"{place}, row {line}" for line, cell in cells.items() if _is_bare(cell)]
        if column.heading in found.unitless and 2 * len(alone) < len(cells):
            found.alone.setdefault(column.heading, []).extend(alone)


def _note_unread(column: Column, cells: Sequence[str], found: Found, place: str) -> None:
    """Tell of a column that looks like a measure of the batch, holds amounts and is not read."""
    amounts = sum(map(_is_amount, cells))
    if not column.why or column.told or 2 * amounts < len(cells):
        return
    if not _NOT_OF_IT.search(column.heading):
        how = f'--map "{column.heading}=COLUMN:UNIT" says what it is'
        why = f"the amounts under '{column.heading}' are not read, as {column.why}; {how}"
        found.noted.append((place, why))


def _is_amount(cell: str) -> bool:
    said = _MEASURED.fullmatch(cell) and re.search(r"\d", cell)
    return bool(said) and not is_day(cell)


def no_batch(cells: Sequence[str], columns: Sequence[Column]) -> str:
    """Why a row is no batch: a total, or a row without a crop or a jar; '' where it is one."""
    first = next(filter(None, cells))
    by_name = {c.name: cell for c, cell in zip(columns, cells, strict=False) if cell}
    for text in (first, by_name.get("produce", ""), by_name.get("batch", "")):
        if _TOTAL.search(text) or _ALL.fullmatch(text):
            return f"a total: '{text}'"
    if void := next((cell for cell in cells if cell and _VOID.match(cell)), ""):
        return f"marked '{void[:60]}'"
    if re.search(r"\b(?:void|cancell?ed)\b", by_name.get("date", ""), re.I):
        return f"marked '{by_name['date'][:60]}'"
    if not by_name.keys() & {"produce", "jars"}:
        return f"neither a crop nor jars: '{first}'"
    if "date" not in by_name and "produce" not in by_name:
        words = cut_short(" ".join(filter(None, cells)), 60)
        return f"{NEITHER}, so it is taken as a total: '{words}'"
    return ""
