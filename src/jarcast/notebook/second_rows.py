"""Rows that go on with the batch above: its second sort of jar, on a row of its own.

Where such a row may as well be a total, it is none of the batch's.
"""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress

from msgspec import Struct
from msgspec.structs import replace

from jarcast.batchtable.meant import Column
from jarcast.domain.batch import number_text
from jarcast.domain.jar_text import on_shelf, read_jars
from jarcast.domain.jars import Jar, jar_key, so_many
from jarcast.errors import BatchError
from jarcast.measures.numbers import count
from jarcast.notebook.headings import is_measure
from jarcast.notebook.said import Said
from jarcast.notebook.written import BARE

Row = tuple[str, ...]
Counts = list[tuple[float, str]]

_NAMING = ("date", "produce", "batch")
_SECOND = re.compile(
    r"\b(?:2nd|second|3rd|third|next|another|more|also|plus)\b(?! (?:year|week|time|day))", re.I
)
_LOAD = re.compile(
    r"(?:(?:2nd|second|3rd|third|next|another) (?:canner |canning )?(?:load|run|canner|pot)s?"
    r"|load (?:2|3|two|three))\W*", re.I,
)  # fmt: skip


class Filled(Struct):
    """What the batches of a table say so far: the ``last`` row of one, and sums.

    Each sum is of how many numbers and what they come to, by column and by sort of jar.
    """

    last: Row = ()
    columns: dict[int, tuple[int, float]] = {}
    sorts: dict[str, tuple[int, float]] = {}

    def add(self, cells: Row, columns: Sequence[Column], jars: Counts) -> None:
        """Count one more row, with its jars."""
        self.last = cells
        for at, number in _numbers(cells, columns):
            many, total = self.columns.get(at, (0, 0.0))
            self.columns[at] = many + 1, total + number
        for number, sort in jars:
            many, total = self.sorts.get(sort, (0, 0.0))
            self.sorts[sort] = many + 1, total + number


def _numbers(cells: Row, columns: Sequence[Column]) -> Iterator[tuple[int, float]]:
    """The numbers of a row under jars and measures, each with its column."""
    for at, (cell, column) in enumerate(zip(cells, columns, strict=False)):
        if (column.name == "jars" or is_measure(column.name)) and BARE.fullmatch(cell):
            with suppress(BatchError):
                yield at, count(cell)


def _is_sum(number: float, sums: tuple[int, float]) -> bool:
    """Whether a number is the sum of two or more others."""
    return sums[0] > 1 and math.isclose(sums[1], number)


def names_no_batch(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether a row has neither a crop nor a day, or says 'second load' in their place."""
    named = [c for c, column in zip(cells, columns, strict=False) if c and column.name in _NAMING]
    return all(map(_LOAD.fullmatch, named))


def goes_on(cells: Row, columns: Sequence[Column], filled: Filled) -> bool:
    """Whether a row names a sort of jar that goes with the batch right above it.

    Its sort stands in it, or its column is empty above and nothing else is measured; what is the
    sum of a column is a total.
    """
    if not filled.last or not names_no_batch(cells, columns):
        return False
    if any(_is_sum(n, filled.columns.get(at, (0, 0.0))) for at, n in _numbers(cells, columns)):
        return False
    named = [(column, cell) for column, cell in zip(columns, cells, strict=False) if cell]
    if not any(column.name == "jars" for column, _ in named):
        return False
    if any(
        column.name == "jar" or (column.name == "jars" and re.search(r"[^\W\d_]{2}", cell))
        for column, cell in named
    ):
        return True
    if _says_second(cells, columns):
        return True
    measured = any(is_measure(column.name) for column, _ in named)
    return not measured and all(
        bool(column.unit) and not "".join(filled.last[at : at + 1])
        for at, (column, cell) in enumerate(zip(columns, cells, strict=False))
        if cell and column.name == "jars"
    )


def _says_second(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether words of a row say that it goes on: 'second canner load'."""
    words = (
        cell
        for cell, column in zip(cells, columns, strict=False)
        if column.name in ("note", "", *_NAMING)
    )
    return any(map(_SECOND.search, words))


def together(batch: Said, second: Said, filled: Filled, shelf: Mapping[str, Jar]) -> Said | None:
    """A batch with the jars of its second row.

    None where these cannot be told, or are the sum of what was filled in all. Words that call it a
    second load stand for the sort of jar, too.
    """
    first = counted(batch.cells, shelf)
    says = bool(_SECOND.search(" ".join(second.cells.values())))
    more = counted(second.cells, shelf, first[0][1] if says and len(first) == 1 else "")
    if not first or not more or batch.wrong or second.wrong or (first == more and not says):
        return None
    if any(_is_sum(number, filled.sorts.get(sort, (0, 0.0))) for number, sort in more):
        return None
    jars = " + ".join(so_many(number_text(number), sort) for number, sort in (*first, *more))
    row = second.place.rpartition(", ")[2]
    cells = {name: text for name, text in batch.cells.items() if name != "jar"} | {"jars": jars}
    told = [*batch.doubts, *second.doubts, f"with the jars of {row}: {jars}"]
    for name, text in second.cells.items():
        label = name.replace("_", " ")
        if name in ("jar", "jars") or _LOAD.fullmatch(text) or cells.get(name) == text:
            continue
        if name in _JOINED and name in cells:
            cells[name] += f"{_JOINED[name]}{text}"
        elif name in cells:
            told.append(f"{label} '{text}' of {row} is not read; the row above has {cells[name]}")
        else:
            cells[name] = text
    return replace(batch, cells=cells, doubts=tuple(told))


_JOINED = {"note": "; ", "sealed": " + "}


def counted(cells: Mapping[str, str], shelf: Mapping[str, Jar], usual: str = "") -> Counts:
    """The jars of a row, each with its sort; [] where they cannot be told.

    ``usual`` is the sort where neither the count nor the column beside it names one.
    """
    jars, jar = cells.get("jars", ""), cells.get("jar", "")
    with suppress(BatchError):
        found = read_jars(jars, shelf)
        named = all(one.sort for one in found)
        sort = "" if named else jar_key(jar, shelf) if jar else usual
        return on_shelf([one._replace(sort=one.sort or sort) for one in found], shelf)
    return []
