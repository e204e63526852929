"""The sheets of a notebook's file, as texts in rows: .csv, .tsv, .xlsx, .ods."""

import csv
import datetime as dt
import re
from collections.abc import Iterable
from pathlib import Path

from msgspec import Struct

from jarcast.errors import BatchError
from jarcast.files.reading import read_file
from jarcast.notebook.formulas import with_formulas, without_results
from jarcast.notebook.struck import struck_cells
from jarcast.notebook.written import Decimals

WORKBOOKS = frozenset((".xlsx", ".xlsm", ".xls", ".ods"))
TABLES = frozenset((".csv", ".tsv"))
MOST_BYTES = 20_000_000


class Sheet(Struct, frozen=True):
    """The rows of one sheet; ``place`` names file and sheet, rows count from 1.

    ``name`` is that of the sheet, or of a file that is one; ``struck`` are cells that are struck
    through, by row from 1 and column from 0.
    """

    place: str
    rows: tuple[tuple[str, ...], ...]
    name: str = ""
    decimals: Decimals = Decimals()
    struck: frozenset[tuple[int, int]] = frozenset()


def read_sheets(path: Path) -> tuple[Sheet, ...]:
    """Every sheet of a file. Raises BatchError for a file that cannot be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BatchError(f"{path} is longer than {MOST_BYTES // 10**6} MB; split it")
        return _workbook(path) if path.suffix.lower() in WORKBOOKS else (_table(path),)
    except OSError as error:
        raise BatchError(f"{path} cannot be read: {error.strerror or error}") from error


def read_text(path: Path) -> str:
    """The text of a file. Raises BatchError where it is none in UTF-8, or too long."""
    try:
        return read_file(path, MOST_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BatchError(f"{path} is not UTF-8 text; save it as UTF-8") from error
    except OSError as error:
        raise BatchError(f"{path} cannot be read: {error.strerror or error}") from error


def _table(path: Path) -> Sheet:
    text = read_text(path)
    separator = max("\t;,", key=lambda sign: text.count(sign, 0, 5000))
    try:
        rows = _stripped(csv.reader(text.splitlines(keepends=True), delimiter=separator))
    except csv.Error as error:
        raise BatchError(f"{path}: {error}; save it as 'CSV UTF-8'") from error
    return Sheet(str(path), rows, path.stem, _decimals(rows, separator))


_COMMA = re.compile(r"[\d.]*\d,\d{1,2}(?: ?[^\W\d_]+\.?)?|\d{4,},\d+")
_POINT = re.compile(r"\d*\.(?:\d\d?|\d{4,})(?: ?[^\W\d_]+\.?)?|\d{4,}\.\d+")


def _decimals(rows: Iterable[Iterable[str]], separator: str) -> Decimals:
    """How numbers are written in these rows. A comma that parts the cells marks no decimals."""
    cells = [cell for row in rows for cell in row if cell[:1].isdigit()]
    return Decimals(
        comma=separator != "," and any(map(_COMMA.fullmatch, cells)),
        semicolons=separator == ";",
        point=any(map(_POINT.fullmatch, cells)),
    )


def _workbook(path: Path) -> tuple[Sheet, ...]:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_path(path)
        sheets = {
            name: _stripped(
                map(_shown, row)
                for row in book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            )
            for name in book.sheet_names
        }
    except CalamineError as error:
        raise BatchError(f"{path} cannot be read as a workbook: {error}") from error
    struck, formulas = struck_cells(path), without_results(path)
    sheets = {name: with_formulas(rows, formulas.get(name, {})) for name, rows in sheets.items()}
    return tuple(
        Sheet(
            f"{path}, sheet '{name}'", rows, name, _decimals(rows, ""),
            struck.get(name, frozenset()),
        )
        for name, rows in sheets.items()
    )  # fmt: skip


def _shown(cell: object) -> str:
    """A cell as it would be typed: 7.0 is 7, a moment is its day."""
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat()
    if isinstance(cell, float):
        text = f"{cell:.12g}"
        # It is a number already: its point marks no thousands.
        return f"{text}0" if re.fullmatch(r"\d+\.\d{3}", text) else text
    return str(cell)


def _stripped(rows: Iterable[Iterable[str]]) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(cell.strip() for cell in row) for row in rows)
