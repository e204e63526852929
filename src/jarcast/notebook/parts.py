"""The parts of a workbook's file, for what its values do not tell: formats and formulas.

.xlsx after ECMA-376 part 1 (18.2, 18.3), .ods after OpenDocument 1.2.
"""

import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any, TypeVar

from defusedxml.ElementTree import ParseError, iterparse

Book = zipfile.ZipFile
Element = Any  # as the parser gives it
_Found = TypeVar("_Found")

# Of one part of a file, unpacked: no notebook comes near, and what swells goes no further.
_MOST_BYTES, MOST_ELEMENTS = 50_000_000, 3_000_000


def read_book(path: Path, read: Callable[[Book], _Found], otherwise: _Found) -> _Found:
    """What is read of a workbook's file; ``otherwise`` of one that cannot be: its values were."""
    try:
        with Book(path) as book:
            return read(book)
    except (zipfile.BadZipFile, OSError, ParseError, ValueError, KeyError, RuntimeError):
        return otherwise


def opened(book: Book, name: str) -> IO[bytes]:
    """A part of a file. Raises ValueError for one that is too long."""
    if book.getinfo(name).file_size > _MOST_BYTES:
        raise ValueError(f"{name} is too long")
    return book.open(name)


def elements(book: Book, name: str) -> Iterator[tuple[str, Element]]:
    """The elements of a part as they end, each with its name without a namespace.

    No such part declares a document type: one that does is not read, as entities come with it.
    """
    with opened(book, name) as part:
        for number, (_, element) in enumerate(iterparse(part, forbid_dtd=True)):
            if number > MOST_ELEMENTS:
                raise ValueError(f"{name} is too long")
            yield element.tag.rpartition("}")[2], element


def attribute(element: Element, name: str) -> str | None:
    """An attribute, whatever its namespace."""
    return next((v for k, v in element.attrib.items() if k.rpartition("}")[2] == name), None)


def parts_of_sheets(book: Book) -> dict[str, str]:
    """The part of each sheet of an .xlsx, by the name of the sheet."""
    parts = {
        element.attrib["Id"]: element.attrib["Target"]
        for tag, element in elements(book, "xl/_rels/workbook.xml.rels")
        if tag == "Relationship"
    }
    found = {}
    for tag, element in elements(book, "xl/workbook.xml"):
        if tag != "sheet":
            continue
        target = parts.get(attribute(element, "id") or "", "")
        name = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
        if name in book.namelist():
            found[element.attrib["name"]] = name
    return found


def place_of(cell: Element) -> tuple[int, int] | None:
    """Where a cell of an .xlsx stands: its row from 1, its column from 0."""
    found = re.fullmatch(r"([A-Z]{1,3})(\d{1,7})", cell.attrib.get("r", ""))
    if found is None:
        return None
    column = 0
    for letter in found[1]:
        column = 26 * column + ord(letter) - 64
    return int(found[2]), column - 1
