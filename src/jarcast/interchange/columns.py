"""Many rows of a batch table at once, column by column.

The rules are those of single rows: a cell is read by RowChecker, and once, for a table writes the
same few thousand over and over. Only what is beyond doubt passes. Whatever a rule refuses raises
Odd or the rule's own error, and the file is then read again row by row, which says what is wrong.
"""

from collections.abc import Mapping, Sequence
from operator import itemgetter

from jarcast.batch import (
    NEEDED,
    TEXTS,
    Batch,
    contradictions,
    number_problem,
    text_problem,
)
from jarcast.crop_text import read_crop
from jarcast.interchange.csv_in import said
from jarcast.interchange.doubts import doubtful
from jarcast.interchange.gather import Flagged
from jarcast.interchange.guard import text_in
from jarcast.interchange.header import KITCHEN, Header
from jarcast.interchange.lines import LONGEST_CELL, Odd
from jarcast.interchange.rows import EARLIEST, MOST_REMEMBERED, RowChecker
from jarcast.ledger.blocks import NOTHING, Block
from jarcast.ledger.cells import packed
from jarcast.ledger.entry import Cell, stored

Records = Sequence[Sequence[str]]


class Column(dict[str, Cell]):
    """Cells of one column as they stand in a file -> what the ledger keeps of them.

    ``typed`` holds what was typed where that reads otherwise, by the same cells.
    """

    def __init__(self, name: str, checker: RowChecker) -> None:
        """Start with no cells met."""
        super().__init__()
        self.name = name
        self.column = KITCHEN.get(name, name)
        self.typed: dict[str, str] = {}
        self._checker = checker

    def __missing__(self, cell: str) -> Cell:
        """Read a cell that was not met before. Raises Odd, BatchError or MeasureError."""
        if len(cell) > LONGEST_CELL:
            raise Odd
        text = text_in(cell, self.name)
        if self.name in TEXTS:  # not remembered: long notes would fill the memory
            return self._text(text)
        self[cell] = kept = self._value(cell, text)
        return kept

    def _text(self, text: str) -> str:
        if self.name == "produce" and _says_cut(text):
            raise Odd
        if text_problem(text) or (self.name in NEEDED and not text.strip()):
            raise Odd
        return text

    def _value(self, cell: str, text: str) -> Cell:
        if not text:
            if self.name in NEEDED:
                raise Odd
            return NOTHING[self.column]
        value, typed = self._checker.known(self.name, text)
        kept = stored(self.column, value)
        if isinstance(kept, float) and number_problem(self.column, kept):
            raise Odd
        if typed is not None:
            self.typed[cell] = typed
        return kept

    def read(self, cells: Sequence[str]) -> Sequence[Cell]:
        """What the ledger keeps of these cells, side by side. Raises as for a single one."""
        if self.name in TEXTS:
            # No text has a problem if all of them in a row have none, and none is guarded.
            whole = "".join(cells)
            if "'" not in whole and text_problem(whole) is None:
                texts = list(map(str.strip, cells))
                if self.name == "produce" and any(map(_says_cut, set(texts))):
                    raise Odd
                if self.name in NEEDED and not all(texts):
                    raise Odd
                return texts
        if len(self) > MOST_REMEMBERED:  # whatever the table's length, memory stays flat
            self.clear()
            self.typed.clear()
        return list(map(self.__getitem__, cells))


def _says_cut(produce: str) -> bool:
    """Whether a produce names its cut too: the two are told apart row by row."""
    return read_crop(produce) != (produce, "")


class Room(dict[tuple[str, str, str], tuple[float, float]]):
    """Cells of jar, jars and headspace -> their fill volume in ml, and how many jars they are."""

    def __init__(self, checker: RowChecker) -> None:
        """Start with no cells met."""
        super().__init__()
        self._checker = checker

    def __missing__(self, cells: tuple[str, str, str]) -> tuple[float, float]:
        """Look at jars that were not met before. Raises BatchError where no batch can have them."""
        if len(self) > MOST_REMEMBERED:
            self.clear()
        named = zip(("jar", "jars", "headspace_in"), cells, strict=True)
        texts = {name: text for name, cell in named if (text := text_in(cell, name))}
        values = {name: self._checker.known(name, text).value for name, text in texts.items()}
        batch = Batch(batch="?", date=EARLIEST, produce="?", **values)  # type: ignore[arg-type]
        self[cells] = found = (batch.fill_volume_ml(self._checker.shelf), batch.total_jars)
        return found


class Columns:
    """The columns of one file. ``flags`` are the contradictions met so far."""

    def __init__(self, header: Header, checker: RowChecker) -> None:
        """Start with no rows."""
        self.flags: list[Flagged] = []
        self._flagged: set[str] = set()
        self._dotted = False
        self._header = header
        self._checker = checker
        self._columns = [(place, Column(name, checker)) for place, name in header.places]
        self._room = Room(checker)
        known = {place for place, _ in header.places}
        self._ignored = [place for place in range(header.width) if place not in known]
        self._places = {name: place for place, name in header.places}

    def block(self, records: Records) -> Block | None:
        """The batches of some records, None where all are blank. Raises Odd, or why not."""
        records = self._even(records)
        if not records:
            return None
        cells = tuple(zip(*records, strict=True))
        if any(max(map(len, cells[place])) > LONGEST_CELL for place in self._ignored):
            raise Odd
        kept: dict[str, Sequence[Cell]] = {}
        for place, column in self._columns:
            if any(cells[place]) or column.name in NEEDED:
                found = column.read(cells[place])
                kept[column.column] = _either(kept.get(column.column), found)
        self._check_points()
        if typed := self._typed(cells):
            kept["typed"] = typed
        block = Block(list(map(str, kept.pop("batch"))), kept)
        self._flag(block, records, cells)
        return block

    def _even(self, records: Records) -> Records:
        """The records that are not blank. Raises Odd for one that is longer or shorter."""
        width = self._header.width
        name = itemgetter(self._places["batch"])
        if set(map(len, records)) != {width} or not all(map(str.strip, map(name, records))):
            records = [cells for cells in records if any(map(str.strip, cells))]
            if any(len(cells) != width for cells in records):
                raise Odd
        return records

    def _check_points(self) -> None:
        """Raise Odd where points may have parted thousands, as commas part decimals elsewhere."""
        self._dotted = self._dotted or bool(self._checker.dotted)
        self._checker.dotted.clear()
        if self._dotted and self._checker.commas:
            raise Odd

    def _typed(self, cells: Records) -> list[str]:
        """What was typed in each row, as the ledger keeps it; empty if nothing was in any."""
        telling = [(place, column) for place, column in self._columns if column.typed]
        if not telling:
            return []
        names = [column.column for _, column in telling]
        rows = zip(*(map(column.typed.get, cells[place]) for place, column in telling), strict=True)
        return [packed(_filled(names, row)) if any(row) else "{}" for row in rows]

    def _flag(self, block: Block, records: Records, cells: Records) -> None:
        """Note what contradicts itself in a block."""
        headspace = self._places.get("headspace_in")
        jars = zip(
            cells[self._places["jar"]], cells[self._places["jars"]],
            [""] * len(records) if headspace is None else cells[headspace], strict=True,
        )  # fmt: skip
        volumes, counts = zip(*map(self._room.__getitem__, jars), strict=True)
        for place in doubtful(block.cells, volumes, counts):
            entry, _ = self._checker.check(said(records[place], self._header))
            if entry is None:
                raise Odd
            name = entry.batch.batch
            flags = contradictions(entry.batch, self._checker.shelf)
            if flags and name not in self._flagged:  # a row that is repeated is flagged once
                self._flagged.add(name)
                self.flags += ((name, flag) for flag in flags)


def _either(one: Sequence[Cell] | None, other: Sequence[Cell]) -> Sequence[Cell]:
    """A column for grams and one for kitchen measures as one. Raises Odd if both are filled."""
    if one is None:
        return other
    if any(a is not None and b is not None for a, b in zip(one, other, strict=True)):
        raise Odd
    return [b if a is None else a for a, b in zip(one, other, strict=True)]


def _filled(names: Sequence[str], texts: Sequence[str | None]) -> Mapping[str, str]:
    pairs = zip(names, texts, strict=True)
    return {name: text for name, text in pairs if text is not None}
