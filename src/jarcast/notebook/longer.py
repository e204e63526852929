"""Rows with more cells than there are headings: a comma in a note that nobody put in quotes."""

import re
from collections.abc import Sequence

from msgspec import Struct, field

from jarcast.batchtable.meant import Column
from jarcast.notebook.headings import is_measure
from jarcast.notebook.written import BARE, none, unsaid

Row = tuple[str, ...]

_COUNTED = ("jars", "sealed", "cure_hours", "headspace_in")
_WORDS = ("produce", "cut", "pack", "jar", "person", "recipe", "note")
_LETTER = re.compile(r"[^\W\d_]")
_COUNT = re.compile(r"[\d\u00bc-\u00be\u2150-\u215e]|\b(?:half|an?|all|yes|dozen)\b", re.I)
_TAIL = re.compile(r"\d{3}(?: ?[^\W\d_]+\.?)?")


class Fitted(Struct):
    """Columns and rows that fit them, and by line what is ``told`` of a row, and why it is wrong.

    A wrong row stays as it is.
    """

    columns: tuple[Column, ...]
    rows: list[tuple[int, Row]]
    told: dict[int, str] = field(default_factory=dict)
    wrong: dict[int, str] = field(default_factory=dict)


def fitted(rows: Sequence[tuple[int, Row]], columns: tuple[Column, ...]) -> Fitted:
    """Rows that go on behind the last heading, with that in their note.

    It is more of the note where the last heading is one, or words where the table has none. In any
    other row a comma may have pushed the cells out of their columns. Where most rows are longer
    there is a column without a heading, and nothing is out of place.
    """
    names = [column.name for column in columns]
    behind = names[-1:] == ["note"]
    longer = sum(any(row[len(columns) :]) for _, row in rows)
    if not behind and 2 * longer > len(rows) and not any(_in_two(row, columns) for _, row in rows):
        return Fitted(columns, list(rows))
    width = len(columns) - behind
    read = Fitted(columns, [])
    for line, row in rows:
        rest = ", ".join(filter(None, row[len(columns) :]))
        if len(row) > len(columns) and (rest or behind):
            fits = all(map(_fits, row, columns)) and not _in_two(row, columns)
            if not fits or (rest and not behind and ("note" in names or not _LETTER.search(rest))):
                read.wrong[line] = _why(row, columns)
            elif rest:
                read.told[line] = f"'{rest}' stands behind the last heading; it is read as a note"
                row = (*row[:width], ", ".join(filter(None, row[width:])))
        read.rows.append((line, row))
    if read.told and not behind:
        read.columns = (*columns, Column("", "note"))
    return read


def _fits(cell: str, column: Column) -> bool:
    """Whether a cell may stand under its heading: no words under weights, no number under names."""
    if not cell or unsaid(cell) or none(cell):
        return True
    if column.name in _WORDS:
        return not BARE.fullmatch(cell)
    counted = is_measure(column.name) or column.name in _COUNTED or column.name == "date"
    return not counted or bool(_COUNT.search(cell))


def _in_two(row: Row, columns: Sequence[Column]) -> bool:
    """Whether a number of thousands stands in two cells of a row that is too long: '1,250'."""
    cells = zip(row, row[1:], columns, strict=False)
    parted = (
        is_measure(column.name) and re.fullmatch(r"[1-9]\d{0,2}", cell) and _TAIL.fullmatch(after)
        for cell, after, column in cells
    )  # fmt: skip
    return len(row) > len(columns) and any(parted)


def _why(row: Row, columns: Sequence[Column]) -> str:
    filled = max(at for at, cell in enumerate(row, start=1) if cell)
    return (
        f"{max(filled, len(columns) + 1)} cells stand under {len(columns)} headings; put a cell "
        "that has a comma in it in quotes"
    )
