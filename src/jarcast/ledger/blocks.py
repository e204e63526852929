"""Batches going into the ledger a block at a time, column by column.

All that is new goes in through here: one batch from the keyboard, or a file of many.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import repeat
from typing import TYPE_CHECKING

from msgspec import Struct

from jarcast.batch import COLUMNS, NUMBERS
from jarcast.ledger.cells import packed
from jarcast.ledger.entry import Cell, Entry, differences, stored

if TYPE_CHECKING:
    from jarcast.ledger.book import Ledger

STORED = (*COLUMNS[1:], "typed")  # of a reading: all but the name, which is the batch's own
MOST_ROWS = 1000  # in a block: enough for SQLite to be busy, few enough to stay in the cache
NOTHING: Mapping[str, Cell] = {
    column: None if column in NUMBERS else "{}" if column == "typed" else "" for column in STORED
}  # what the ledger keeps where nothing was written down
_LITERALS = {column: "NULL" if cell is None else f"'{cell}'" for column, cell in NOTHING.items()}


class Block(Struct, frozen=True):
    """Some batches: their names, and by column what the ledger keeps of each, side by side.

    A column that is left out was not written down in any of them.
    """

    names: Sequence[str]
    cells: Mapping[str, Sequence[Cell]]

    def rows(self) -> Iterator[tuple[Cell, ...]]:
        """The cells of each batch in the order of STORED."""
        return zip(
            *(
                self.cells.get(column) or repeat(NOTHING[column], len(self.names))
                for column in STORED
            ),
            strict=True,
        )

    def only(self, places: Sequence[int]) -> "Block":
        """The batches at these places alone."""
        return Block(
            [self.names[at] for at in places],
            {column: [cells[at] for at in places] for column, cells in self.cells.items()},
        )


def blocks_of(
    entries: Sequence[Entry], tell: Callable[[int, int], None] | None = None
) -> Iterator[Block]:
    """Entries as blocks, in order; ``tell`` is called with how many were asked for, and all."""
    for start in range(0, len(entries), MOST_ROWS):
        if tell is not None:
            tell(start, len(entries))
        yield _block_of(entries[start : start + MOST_ROWS])


def _block_of(entries: Sequence[Entry]) -> Block:
    cells: dict[str, Sequence[Cell]] = {
        column: [stored(column, getattr(entry.batch, column)) for entry in entries]
        for column in COLUMNS[1:]
    }
    cells["typed"] = [packed(entry.typed) if entry.typed else "{}" for entry in entries]
    return Block([entry.batch.batch for entry in entries], cells)


class Names:
    """How many batches, and the names of the first of them."""

    def __init__(self, most: int | None) -> None:
        """Keep so many names, or all for None."""
        self._most = most
        self.count = 0
        self.kept: list[str] = []

    def note(self, names: Sequence[str]) -> None:
        """Count these, and keep their names if there is room."""
        self.count += len(names)
        room = None if self._most is None else max(self._most - len(self.kept), 0)
        self.kept += names[:room]


class Adding:
    """New batches on their way in, within the bracket of one action.

    ``added`` and ``skipped`` (already there with the same values), and ``problems``: a line for
    each that is there with other values, or was withdrawn.
    """

    def __init__(self, ledger: "Ledger", action: int, most_named: int | None = None) -> None:
        """Start with nothing; ``most_named`` is how many names are kept of either."""
        self._ledger = ledger
        self._action = action
        self.added = Names(most_named)
        self.skipped = Names(most_named)
        self.problems: list[str] = []

    def take(self, block: Block) -> None:
        """Write down what is new of a block; compare the rest with what stands."""
        last = self._ledger.rows("SELECT coalesce(max(id), 0) FROM batch")[0][0]
        places = self._new_places(block.names)
        new = block if len(places) == len(block.names) else block.only(places)
        self._ledger.execute_many(
            "INSERT INTO batch (name) VALUES (?)", zip(new.names, strict=True)
        )
        # A new batch has the id after the last one: https://sqlite.org/autoinc.html
        self._write(new, range(last + 1, last + 1 + len(places)))
        if new is not block:
            known = set(range(len(block.names))).difference(places)
            self._compare(block.only(sorted(known)))

    def _write(self, block: Block, owners: Sequence[int]) -> None:
        write_readings(self._ledger, block, owners, self._action)
        self.added.note(block.names)

    def _new_places(self, names: Sequence[str]) -> list[int]:
        """Where in a block those batches stand that are not there yet, each the first time."""
        marks = ", ".join("?" * len(names))
        rows = self._ledger.rows(f"SELECT name FROM batch WHERE name IN ({marks})", *names)  # noqa: S608
        seen = {name for (name,) in rows}
        places = []
        for at, name in enumerate(names):
            if name not in seen:
                seen.add(name)
                places.append(at)
        return places

    def _compare(self, block: Block) -> None:
        """Skip what stands with the same values, and note a problem of all else."""
        standing = self._ledger.standing(block.names)
        same = []
        for name, row in zip(block.names, block.rows(), strict=True):
            there = standing.get(name)
            if there is None:
                self.problems.append(
                    f"batch '{name}': was withdrawn; 'jarcast reinstate' takes it back in"
                )
            elif there[:-1] == row[:-1]:  # what was typed for the values is no matter
                same.append(name)
            elif other := differences(
                self._ledger.entry_of(name, there).batch, self._ledger.entry_of(name, row).batch
            ):
                self.problems.append(f"batch '{name}': {'; '.join(other)}")
            else:
                same.append(name)
        self.skipped.note(same)


def write_readings(ledger: "Ledger", block: Block, owners: Sequence[int], action: int) -> None:
    """Write down one reading for each batch of a block, ``owners`` being the batches' ids.

    What was written down in none of them stands in the statement and is not handed over row by
    row: of 22 columns a table often fills half, and handing over is most of SQLite's work here.
    """
    given = [column for column in STORED if column in block.cells]
    lacking = [column for column in STORED if column not in block.cells]
    values = [*"?" * (len(given) + 2), *(_LITERALS[column] for column in lacking)]
    ledger.execute_many(
        f"INSERT INTO reading (batch_id, action_id, {', '.join((*given, *lacking))}) "  # noqa: S608 (own names)
        f"VALUES ({', '.join(values)})",
        zip(owners, repeat(action), *(block.cells[column] for column in given), strict=False),
    )
