"""The batches of a sheet: each row as what it says by column, and the rows left out, with why."""

import re
from collections.abc import Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.batchtable.meant import Column, meaning, unit_in
from jarcast.domain.fields import FIELD_OF, KITCHEN, Kind
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.measures.numbers import number
from jarcast.notebook.days import year_in
from jarcast.notebook.headings import (
    UNIT,
    is_heading,
    mapped,
    with_missing,
    with_units_beside,
)
from jarcast.notebook.sheets import Sheet

_TOTAL = re.compile(r"\b(?:sub-?)?(?:totals?|sums?|averages?|avg|mean)\b", re.I)
_BARE = re.compile(r"[\d.,/ \u00bc-\u00be\u2150-\u215e]*[\d\u00bc-\u00be\u2150-\u215e]")
_HASH = re.compile(r"(?<=[\d\u00bc-\u00be\u2150-\u215e])\s?#(?:'?s)?")
# Units that go on with a larger one: pounds and ounces of one weight in two columns.
_GOES_ON = re.compile(
    r"(?:\b(?:lbs?|pounds?)$.*\b(?:oz|ounces?)$|\bgal(?:lon)?s?$.*\b(?:qts?|quarts?|c|cups?)$"
    r"|\b(?:qts?|quarts?)$.*\b(?:c|cups?|pts?|pints?)$)", re.I | re.S | re.M,
)  # fmt: skip
_DITTO = re.compile(r"[\"\u3003\u201d]|''|ditto|do\.?", re.I)
_ONE_LETTER = re.compile(r"(?<!\bin )(?<!\()\b[a-z]\b", re.I)  # 'Batch C' in a title is no cup
_REMARK = re.compile(r"(.*\d.*?)\s*\(([^()]*)\)")
_OVERNIGHT = re.compile(r"over ?night", re.I)


class Said(Struct, frozen=True):
    """What one batch's place says, by column (or kitchen column), before it is checked.

    ``year`` is that of a date without one, '' where nothing above tells it.
    """

    place: str
    cells: dict[str, str]
    doubts: tuple[str, ...] = ()
    year: str = ""


class Found(Struct):
    """What a file holds: the batches, the rows ``left`` out, each with why, and its columns.

    ``unplaced`` are measures of lines that have no place, each with why. ``ignored`` are headings
    of columns that hold something and are not read; ``unitless`` those of measures that state no
    unit.
    """

    said: list[Said] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    unplaced: list[tuple[str, str]] = field(default_factory=list)
    columns: list[tuple[Column, ...]] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    unitless: list[str] = field(default_factory=list)


def read_table(
    sheet: Sheet, told: Mapping[str, Column], found: Found, shelf: Mapping[str, Jar] = SHELF
) -> None:
    """Read the batches of a sheet into ``found``. A row of headings holds until the next one."""
    columns: tuple[Column, ...] = ()
    title = ""
    above: Said | None = None
    seen: set[tuple[str, ...]] = set()
    for line, cells in enumerate(sheet.rows, start=1):
        place = f"{sheet.place}, row {line}"
        if not any(cells):
            continue
        meant = meanings(cells, told, shelf)
        if is_heading(cells, meant):
            if cells in seen:
                found.left.append((place, "the headings again"))
            seen.add(cells)
            columns = note_columns(meant, title, sheet.rows[line:], found)
        elif not columns:
            title = f"{title} {' '.join(cells)}"
        elif why := _no_batch(cells, columns):
            title = f"{title} {' '.join(cells)}"  # a row that names the year, perhaps
            found.left.append((place, why))
        else:
            above = _below(found, read_row(place, cells, columns), above, year_in(title))


def _below(found: Found, said: Said, above: Said | None, year: str) -> Said:
    """Note a row. Ditto marks are what stands above, and so is the day where none is written."""
    cells, doubts = dict(said.cells), said.doubts
    over = {} if above is None else above.cells
    for column, text in said.cells.items():
        if _DITTO.fullmatch(text) and column in over:
            cells[column] = over[column]
    if not cells.get("date") and "date" in over:
        cells["date"] = over["date"]
        doubts = (*doubts, f"no date; taken as the one above, {over['date']}")
    found.said.append(Said(said.place, cells, doubts, year))
    return found.said[-1]


def has_headings(sheet: Sheet, told: Mapping[str, Column], shelf: Mapping[str, Jar]) -> bool:
    """Whether one of its rows is a row of headings."""
    return any(is_heading(row, meanings(row, told, shelf)) for row in sheet.rows)


def meanings(
    cells: Sequence[str], told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> tuple[Column, ...]:
    """What cells mean as headings."""
    return mapped([meaning(cell, shelf) if cell else Column("") for cell in cells], told)


def note_columns(
    meant: Sequence[Column], title: str, rows: Sequence[Sequence[str]], found: Found
) -> tuple[Column, ...]:
    """The columns with their units, noted in ``found`` with what is not read of ``rows``."""
    columns = _with_units(with_units_beside(with_missing(meant, rows), rows), title)
    found.columns.append(columns)
    rows = [row for row in rows if any(row) and not _no_batch(row, columns)]
    width = max([len(columns), *map(len, rows)])
    for at in range(width):
        column = columns[at] if at < len(columns) else Column("")
        cells = [row[at] for row in rows if at < len(row) and row[at]]
        heading = column.heading or f"column {at + 1}, without a heading"
        if not column.name and cells and heading not in found.ignored:
            found.ignored.append(heading)
        beside = at + 1 < len(columns) and columns[at + 1].name == UNIT
        needs = column.name in KITCHEN and not column.unit and not beside
        if needs and any(map(_BARE.fullmatch, cells)) and heading not in found.unitless:
            found.unitless.append(heading)
    return columns


def _with_units(columns: Sequence[Column], title: str) -> tuple[Column, ...]:
    """The columns, those without a unit in that of the title, or of all others of their kind."""
    read = []
    for column in columns:
        kind = _kind(column)
        if column.unit or column.name not in KITCHEN or kind is None or column.name == "salt":
            read.append(column)
            continue
        others = {c.unit for c in columns if _kind(c) is kind and c.unit and c.name != "salt"}
        unit = unit_in(_ONE_LETTER.sub("", title), column.name) or (
            others.pop() if len(others) == 1 else ""
        )
        read.append(replace(column, unit=unit))
    return tuple(read)


def _kind(column: Column) -> Kind | None:
    name = KITCHEN.get(column.name, "")
    return FIELD_OF[name].kind if name else None


def _no_batch(cells: Sequence[str], columns: Sequence[Column]) -> str:
    """Why a row is no batch: a total, or a row without a crop or a jar; '' where it is one."""
    first = next(filter(None, cells))
    if _TOTAL.search(first):
        return f"a total: '{first}'"
    names = {c.name for c, cell in zip(columns, cells, strict=False) if cell}
    if not names & {"produce", "jars"}:
        return f"neither a crop nor jars: '{first}'"
    if "produce" not in names and "date" not in names:
        return "a total: neither a crop nor a date"
    return ""


def read_row(place: str, cells: Sequence[str], columns: Sequence[Column]) -> Said:
    """What a row says: counts of several sorts as one, notes joined, numbers with their unit."""
    said: dict[str, str] = {}
    doubts: list[str] = []
    for cell, column in zip(_with_units_glued(cells, columns), columns, strict=False):
        if not cell or not column.name or column.name == UNIT or cell in ("-", "--", "?"):
            continue
        cell, beside = _without_remark(cell, column)
        if beside:
            said["note"] = "; ".join(filter(None, (said.get("note"), beside)))
        text = cell
        if column.name == "jars" and column.unit:
            if _nothing(cell):
                continue
            text = f"{cell} {column.unit}" if _BARE.fullmatch(cell) else cell
        elif column.name in KITCHEN or column.name in ("cure_hours", "headspace_in"):
            text = _measure(cell, column, doubts)
        before = said.get(column.name)
        if before is None:
            said[column.name] = text
        elif column.name in _JOINED:
            said[column.name] = f"{before}{_JOINED[column.name]}{text}"
        elif _GOES_ON.search(f"{before}\n{text}"):
            said[column.name] = f"{before} {text}"
        else:
            doubts.append(f"{column.name} is there twice, {before} and {text}; the first is read")
    return Said(place, said, tuple(doubts))


_JOINED = {"jars": " + ", "note": "; "}


def _without_remark(cell: str, column: Column) -> tuple[str, str]:
    """A measure without what is remarked in brackets after it, and the remark."""
    found = _REMARK.fullmatch(cell)
    if found and (column.name in KITCHEN or column.name in ("jars", "sealed", "cure_hours")):
        return found[1], found[2].strip()
    return cell, ""


def _with_units_glued(cells: Sequence[str], columns: Sequence[Column]) -> list[str]:
    """The cells, a number and the unit in the column beside it as one."""
    glued = list(cells)
    for at, column in enumerate(columns[: len(cells)]):
        if column.name == UNIT and glued[at] and _BARE.fullmatch(glued[at - 1]):
            glued[at - 1] += f" {glued[at]}"
    return glued


def _nothing(cell: str) -> bool:
    try:
        return number(cell) == 0
    except BatchError:
        return False


def _measure(cell: str, column: Column, doubts: list[str]) -> str:
    if column.name == "cure_hours" and _OVERNIGHT.search(cell):
        doubts.append("overnight is read as 12 h")
        return "12 h"
    text = _HASH.sub(" lb", cell)
    return f"{text} {column.unit}" if column.unit and _BARE.fullmatch(text) else text
