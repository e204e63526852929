"""Cells of a workbook that are struck through: what their owner has taken back.

The reader of workbooks gives values alone, so the formats are read from the parts of the file:
.xlsx after ECMA-376 part 1 (18.3, 18.8), .ods after OpenDocument 1.2 (part 1, 9.1 and 16.2).
"""

import re
import zipfile
from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import IO, Any

from defusedxml.ElementTree import ParseError, iterparse

Cells = frozenset[tuple[int, int]]  # row from 1, column from 0
Element = Any  # as the parser gives it

# Of one part of a file, unpacked: no notebook comes near, and what swells goes no further.
_MOST_BYTES, _MOST_ELEMENTS = 50_000_000, 3_000_000
_MOST_COLUMNS = 1000
_ON = ("1", "true", "")


def struck_cells(path: Path) -> Mapping[str, Cells]:
    """The cells that are struck through, by sheet; {} for a file in which that cannot be told."""
    try:
        with zipfile.ZipFile(path) as book:
            names = set(book.namelist())
            if "xl/workbook.xml" in names:
                return _in_xlsx(book)
            return _in_ods(book) if "content.xml" in names else {}
    except (zipfile.BadZipFile, OSError, ParseError, ValueError, KeyError, RuntimeError):
        return {}  # the values were read all the same


def _part(book: zipfile.ZipFile, name: str) -> IO[bytes]:
    if book.getinfo(name).file_size > _MOST_BYTES:
        raise ValueError(f"{name} is too long")
    return book.open(name)


def _elements(book: zipfile.ZipFile, name: str) -> Iterator[tuple[str, Element]]:
    """The elements of a part as they end, each with its name without a namespace.

    No such part declares a document type: one that does is not read, as entities come with it.
    """
    with _part(book, name) as part:
        for number, (_, element) in enumerate(iterparse(part, forbid_dtd=True)):
            if number > _MOST_ELEMENTS:
                raise ValueError(f"{name} is too long")
            yield element.tag.rpartition("}")[2], element


def _cells(places: Iterator[tuple[int, int]]) -> Cells:
    return frozenset(islice(places, _MOST_ELEMENTS))


def _attribute(element: Element, name: str) -> str | None:
    return next((v for k, v in element.attrib.items() if k.rpartition("}")[2] == name), None)


def _in_xlsx(book: zipfile.ZipFile) -> Mapping[str, Cells]:
    styles = _struck_styles(book)
    if not styles:
        return {}
    parts = {
        element.attrib["Id"]: element.attrib["Target"]
        for tag, element in _elements(book, "xl/_rels/workbook.xml.rels")
        if tag == "Relationship"
    }
    found = {}
    for tag, element in _elements(book, "xl/workbook.xml"):
        if tag != "sheet":
            continue
        target = parts.get(_attribute(element, "id") or "", "")
        name = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
        if name in book.namelist():
            found[element.attrib["name"]] = _cells(_struck_in(book, name, styles))
    return found


def _struck_styles(book: zipfile.ZipFile) -> frozenset[str]:
    """The numbers of the cell formats whose font is struck through."""
    if "xl/styles.xml" not in book.namelist():
        return frozenset()
    fonts: set[str] = set()
    formats: list[str] = []
    for tag, element in _elements(book, "xl/styles.xml"):
        if tag == "fonts":
            struck = (font.find("{*}strike") for font in element)
            fonts = {
                str(at)
                for at, mark in enumerate(struck)
                if mark is not None and (_attribute(mark, "val") or "1") in _ON
            }
        elif tag == "cellXfs":
            formats = [_attribute(one, "fontId") or "" for one in element]
    return frozenset(str(at) for at, font in enumerate(formats) if font in fonts)


def _struck_in(
    book: zipfile.ZipFile, name: str, styles: frozenset[str]
) -> Iterator[tuple[int, int]]:
    for tag, element in _elements(book, name):
        if tag == "c" and element.attrib.get("s") in styles:
            place = re.fullmatch(r"([A-Z]{1,3})(\d{1,7})", element.attrib.get("r", ""))
            if place:
                yield int(place[2]), _column(place[1])
        elif tag == "row":
            element.clear()


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number - 1


def _in_ods(book: zipfile.ZipFile) -> Mapping[str, Cells]:
    styles: set[str] = set()
    found: dict[str, Cells] = {}
    for tag, element in _elements(book, "content.xml"):
        if tag == "style":
            lines = (_attribute(one, "text-line-through-style") for one in element)
            if any(line not in (None, "none") for line in lines):
                styles.add(_attribute(element, "name") or "")
        elif tag == "table":
            if styles:
                found[_attribute(element, "name") or ""] = _cells(_in_table(element, styles))
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
            times = int(_attribute(cell, "number-columns-repeated") or 1)
            if _attribute(cell, "style-name") in styles and times <= _MOST_COLUMNS:
                yield from ((line, column + at) for at in range(times))
            column += times
        line += int(_attribute(row, "number-rows-repeated") or 1)
