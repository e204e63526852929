"""Labels down the side: a block of them a batch, or batches beside one another."""

import re
from collections.abc import Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.batchtable.meant import Column
from jarcast.domain.jars import SHELF, Jar
from jarcast.notebook.dated import parted
from jarcast.notebook.headings import is_unit, meanings
from jarcast.notebook.pairs import pair_in, two_in_one
from jarcast.notebook.said import read_row
from jarcast.notebook.sheets import Sheet
from jarcast.notebook.tables import Found, no_batch, note_columns

_IN_ONE = re.compile(r"([^:\d]{2,40}):\s*(.+)")
_FEWEST = 3  # labels of a block


class _Block(Struct):
    """Labels that follow one another, each with the cells beside it."""

    line: int
    labels: list[Column] = field(default_factory=list)
    values: list[list[str]] = field(default_factory=list)

    def is_batch(self) -> bool:
        names = {label.name for label in self.labels}
        return len(names) >= _FEWEST and "jars" in names and bool(names & {"produce", "date"})


def read_sides(
    sheet: Sheet, told: Mapping[str, Column], found: Found, shelf: Mapping[str, Jar] = SHELF
) -> bool:
    """Read the batches of a sheet with labels down its side; whether there are any."""
    blocks, others, title = _blocks(sheet, told, shelf)
    batches = [block for block in blocks if block.is_batch()]
    if not batches:
        return False
    for block in batches:
        _read(block, sheet, title, found, shelf)
    found.left += others
    for block in blocks:
        if not block.is_batch():
            words = f"{block.labels[0].heading}: {' '.join(block.values[0])}"
            found.left.append((f"{sheet.place}, row {block.line}", f"no batch: '{words[:60]}'"))
    return True


def _blocks(
    sheet: Sheet, told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> tuple[list[_Block], list[tuple[str, str]], str]:
    """The blocks of a sheet, its rows in none of them, and what stands above the first."""
    blocks: list[_Block] = []
    others: list[tuple[str, str]] = []
    title, fresh = "", True
    for line, cells in enumerate(sheet.rows, start=1):
        if not any(cells):
            fresh = True
            continue
        label, values = _parted(cells)
        column = meanings([label], told, shelf)[0]
        if not (column.name or pair_in(column)) or not any(values):
            words = " ".join(filter(None, cells))
            title = title if blocks else f"{title}; {words}"
            if blocks:
                why = f"as {column.why}" if column.why else "no label and value"
                others.append((f"{sheet.place}, row {line}", f"not read, {why}: '{words[:60]}'"))
            continue
        # The label that began a block begins the next.
        again = bool(blocks) and column.name == blocks[-1].labels[0].name
        if fresh or again:
            blocks.append(_Block(line))
            fresh = False
        blocks[-1].labels.append(column)
        blocks[-1].values.append(values)
    return blocks, others, title


def _parted(cells: Sequence[str]) -> tuple[str, list[str]]:
    """A label and what stands beside it; a date alone is its own."""
    first, *rest = cells
    if not any(rest):
        if found := _IN_ONE.fullmatch(first):
            return found[1].strip(), [found[2]]
        date, words = parted(first)
        if date and not words:
            return "date", [date]
    return first.rstrip(" :"), rest


def _read(block: _Block, sheet: Sheet, title: str, found: Found, shelf: Mapping[str, Jar]) -> None:
    """The batches of a block: one a column, or one where the second column holds units."""
    seconds = [values[1] for values in block.values if len(values) > 1 and values[1]]
    if seconds and all(map(is_unit, seconds)):
        block.values = [[" ".join(filter(None, values))] for values in block.values]
    width = max(map(len, block.values))
    across = [tuple(v[at] if at < len(v) else "" for v in block.values) for at in range(width)]
    rows = [row for row in across if any(row)]
    read = two_in_one(list(enumerate(rows, start=1)), tuple(block.labels))
    rows = [row for _, row in read.rows]
    columns = note_columns(read.columns, title, rows, found, sheet.place)
    for at, row in read.rows:
        where = f"{sheet.place}, row {block.line}" + (f", batch {at}" if len(rows) > 1 else "")
        if why := no_batch(row, columns):
            found.left.append((where, why))
        else:
            said = read_row(where, row, columns, sheet.decimals, shelf)
            told = (read.told[at],) if at in read.told else ()
            found.said.append(replace(said, doubts=(*said.doubts, *told)))
