"""Cells of a workbook that are struck through: what their owner has taken back.

The reader of workbooks gives values alone, so the formats are read from the parts of the file:
.xlsx after ECMA-376 part 1 (18.3, 18.8), .ods after OpenDocument 1.2 (part 1, 9.1 and 16.2).
"""

from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path

from jarcast.notebook.parts import (
    MOST_ELEMENTS,
    Book,
    Element,
    attribute,
    elements,
    parts_of_sheets,
    place_of,
    read_book,
)

Cells = frozenset[tuple[int, int]]  # row from 1, column from 0

_MOST_COLUMNS = 1000
_ON = ("1", "true", "")


def struck_cells(path: Path) -> Mapping[str, Cells]:
    """The cells that are struck through, by sheet; {} for a file in which that cannot be told."""
    return read_book(path, _by_sheet, {})


def _by_sheet(book: Book) -> Mapping[str, Cells]:
    names = set(book.namelist())
    if "xl/workbook.xml" in names:
        return _in_xlsx(book)
    return _in_ods(book) if "content.xml" in names else {}


def _cells(places: Iterator[tuple[int, int]]) -> Cells:
    return frozenset(islice(places, MOST_ELEMENTS))


def _in_xlsx(book: Book) -> Mapping[str, Cells]:
    styles = _struck_styles(book)
    if not styles:
        return {}
    return {
        name: _cells(_struck_in(book, part, styles)) for name, part in parts_of_sheets(book).items()
    }


def _struck_styles(book: Book) -> frozenset[str]:
    """The numbers of the cell formats whose font is struck through."""
    if "xl/styles.xml" not in book.namelist():
        return frozenset()
    fonts: set[str] = set()
    formats: list[str] = []
    for tag, element in elements(book, "xl/styles.xml"):
        if tag == "fonts":
            struck = (font.find("{*}strike") for font in element)
            fonts = {
                str(at)
                for at, mark in enumerate(struck)
                if mark is not None and (attribute(mark, "val") or "1") in _ON
            }
        elif tag == "cellXfs":
            formats = [attribute(one, "fontId") or "" for one in element]
    return frozenset(str(at) for at, font in enumerate(formats) if font in fonts)


def _struck_in(book: Book, name: str, styles: frozenset[str]) -> Iterator[tuple[int, int]]:
    for tag, element in elements(book, name):
        if tag == "c" and element.attrib.get("s") in styles and (place := place_of(element)):
            yield place
        elif tag == "row":
            element.clear()


def _in_ods(book: Book) -> Mapping[str, Cells]:
    styles: set[str] = set()
    found: dict[str, Cells] = {}
    for tag, element in elements(book, "content.xml"):
        if tag == "style":
            lines = (attribute(one, "text-line-through-style") for one in element)
            if any(line not in (None, "none") for line in lines):
                styles.add(attribute(element, "name") or "")
        elif tag == "table":
            if styles:
                found[attribute(element, "name") or ""] = _cells(_in_table(element, styles))
            element.clear()
    return found


def _in_table(table: Element, styles: set[str]) -> Iterator[tuple[int, int]]:
    """The struck cells of a table of an .ods; rows and cells may stand for several alike."""
    line = 1
    for row in table.iter():
        if row.tag.rpartition("}")[2] != "table-row":
            continue
        column = 0
        for cell in row:
            times = int(attribute(cell, "number-columns-repeated") or 1)
            if attribute(cell, "style-name") in styles and times <= _MOST_COLUMNS:
                yield from ((line, column + at) for at in range(times))
            column += times
        line += int(attribute(row, "number-rows-repeated") or 1)
