"""An answer written for a terminal, as paragraphs and tables that a narrow screen can lay out."""

import re
from collections.abc import Sequence

from msgspec import Struct

from jarcast.views.words import WIDTH

_GAP = re.compile(r" {2,}")
_LABELLED = re.compile(r"  ([A-Z][A-Z ]*[A-Z]) {2,}(\S.*)")
_ENTRY = re.compile(r" +[a-z][a-z ,]*: ")  # '  process: ...': an entry of a card, never joined
_HEADINGS_SET_IN = 8  # signs before the headings of a table whose first column has none


class Block(Struct, frozen=True):
    """A paragraph under a ``label``, or none; or a table, its headings first among the ``rows``."""

    text: str = ""
    label: str = ""
    rows: Sequence[Sequence[str]] = ()


def blocks(text: str) -> list[Block]:
    """The paragraphs and tables of an answer, in order."""
    found: list[Block] = []
    lines = text.split("\n")
    place = 0
    while place < len(lines):
        if rows := _table(lines[place:]):
            found.append(Block(rows=rows))
            place += len(rows)
            continue
        taken = 1
        while place + taken < len(lines) and _goes_on(
            *lines[place + taken - 1 : place + taken + 1]
        ):
            taken += 1
        if lines[place].strip():
            found.append(_paragraph(lines[place : place + taken]))
        place += taken
    return found


def in_lines(text: str) -> str:
    """The same as plain text, a line for each paragraph."""
    said = (one.text or "\n".join(map("  ".join, one.rows)) for one in blocks(text))
    return "\n".join(said)


def newest_first(found: Sequence[Block]) -> list[Block]:
    """The same with each table's rows turned round, below its headings."""
    return [
        Block(one.text, one.label, (one.rows[0], *reversed(one.rows[1:]))) if one.rows else one
        for one in found
    ]


def _paragraph(lines: Sequence[str]) -> Block:
    first, label = lines[0], ""
    if read := _LABELLED.fullmatch(first):
        label, first = read[1], read[2]
    words = " ".join(line.strip() for line in (first, *lines[1:]))
    return Block(words, label)


def _goes_on(line: str, after: str) -> bool:
    """Whether a line goes on in the next: its first word would not have had room."""
    if not line.strip() or not after.strip() or after.startswith(("! ", "- ")):
        return False
    if _LABELLED.fullmatch(after) or _ENTRY.match(after) or _indent(after) < _indent(line):
        return False
    return len(line) <= WIDTH < len(line) + 1 + len(after.split()[0])


def _table(lines: Sequence[str]) -> list[list[str]]:
    """The rows of the table that these lines begin with; [] where they begin with none."""
    rows: list[list[str]] = []
    for line in lines:
        cells = _GAP.split(line.strip())
        if not line.strip() or _LABELLED.fullmatch(line) or len(cells) < 2:
            break
        if cells[0].endswith(":"):  # 'to mend it:    jarcast amend ...'
            break
        if not rows and _indent(line) > _HEADINGS_SET_IN:
            cells = ["", *cells]
        if rows and len(cells) != len(rows[0]):
            break
        rows.append(cells)
    return rows if len(rows) > 1 else []


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())
