"""Formulas of a workbook whose results are not in the file: '=8+3', as some programs write them.

The reader of workbooks gives results alone, and an empty cell for these. Plain arithmetic is worked
out; any other formula stands in its cell as it was written, so that it is told.
"""

import re
from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import islice
from pathlib import Path

from jarcast.notebook.parts import (
    MOST_ELEMENTS,
    Book,
    elements,
    opened,
    parts_of_sheets,
    place_of,
    read_book,
)

Row = tuple[str, ...]

_NUMBER = r"\d{1,9}(?:\.\d{1,6})?"
_PLAIN = re.compile(rf"{_NUMBER}(?: ?[+*/-] ?{_NUMBER}){{0,20}}")
_MOST_COLUMNS = 1000


def without_results(path: Path) -> Mapping[str, Mapping[tuple[int, int], str]]:
    """What such cells are read as, by sheet and place; {} for a file that holds none, or no .xlsx.

    Rows count from 1, columns from 0.
    """
    return read_book(path, _by_sheet, {})


def _by_sheet(book: Book) -> Mapping[str, Mapping[tuple[int, int], str]]:
    if "xl/workbook.xml" not in book.namelist():
        return {}
    return {
        name: dict(islice(_formulas(book, part), MOST_ELEMENTS))
        for name, part in parts_of_sheets(book).items()
        if _has_some(book, part)
    }


def with_formulas(rows: tuple[Row, ...], found: Mapping[tuple[int, int], str]) -> tuple[Row, ...]:
    """The rows of a sheet, with these in the cells that are empty."""
    if not found:
        return rows
    read = [list(row) for row in rows]
    for (line, at), text in found.items():
        if line > len(read) + _MOST_COLUMNS or at > _MOST_COLUMNS:
            continue
        read.extend([] for _ in range(line - len(read)))
        row = read[line - 1]
        row.extend("" for _ in range(at + 1 - len(row)))
        row[at] = row[at] or text
    width = max(map(len, read))
    return tuple((*row, *[""] * (width - len(row))) for row in read)


def _has_some(book: Book, part: str) -> bool:
    """Whether a sheet has any formula: most have none, and need not be read twice."""
    with opened(book, part) as text:
        return re.search(rb"<(?:\w+:)?f[ >/]", text.read()) is not None


def _formulas(book: Book, part: str) -> Iterator[tuple[tuple[int, int], str]]:
    for tag, element in elements(book, part):
        if tag == "c":
            formula, value = element.find("{*}f"), element.find("{*}v")
            has_result = value is not None and (value.text or element.attrib.get("t") == "str")
            if formula is not None and not has_result and (place := place_of(element)):
                yield place, _worked_out(formula.text or "")
        elif tag == "row":
            element.clear()


def _worked_out(formula: str) -> str:
    """The result of plain arithmetic, or the formula as it stands in a cell."""
    text = formula.strip().lstrip("=")
    if not _PLAIN.fullmatch(text):
        return f"={text}"[:60]
    try:
        result = sum((_term(term) for term in re.findall(r"[+-]?[^+-]+", text)), Fraction(0))
    except ZeroDivisionError:
        return f"={text}"[:60]
    return f"{float(result):.12g}"


def _term(text: str) -> Fraction:
    """A term of numbers multiplied and divided, from the left."""
    sign = -1 if text.lstrip().startswith("-") else 1
    first, *others = re.findall(rf"[*/]|{_NUMBER}", text)
    result = Fraction(first)
    for how, number in zip(others[::2], others[1::2], strict=True):
        result = result * Fraction(number) if how == "*" else result / Fraction(number)
    return sign * result
