"""Rows that go on with the batch above: its second sort of jar, on a row of its own.

Where such a row may as well be a total, it is none of the batch's.
"""

import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress

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

_NAMING = ("date", "produce", "batch")
_SECOND = re.compile(
    r"\b(?:2nd|second|3rd|third|next|another|more|also|plus)\b(?! (?:year|week|time|day))", re.I
)
_LOAD = re.compile(
    r"(?:(?:2nd|second|3rd|third|next|another) (?:canner |canning )?(?:load|run|canner|pot)s?"
    r"|load (?:2|3|two|three))\W*", re.I,
)  # fmt: skip


def names_no_batch(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether a row has neither a crop nor a day, or says 'second load' in their place."""
    named = [c for c, column in zip(cells, columns, strict=False) if c and column.name in _NAMING]
    return all(map(_LOAD.fullmatch, named))


def goes_on(cells: Row, columns: Sequence[Column], above: Sequence[Row]) -> bool:
    """Whether a row under these names a sort of jar that goes with the batch right above it.

    Its sort stands in it, or its column is empty above and nothing else is measured; what is the
    sum of a column is a total.
    """
    if not above or not names_no_batch(cells, columns) or _sums(cells, columns, above):
        return False
    named = [(column, cell) for column, cell in zip(columns, cells, strict=False) if cell]
    if not any(column.name == "jars" for column, _ in named):
        return False
    if any(
        column.name == "jar" or (column.name == "jars" and re.search(r"[^\W\d_]{2}", cell))
        for column, cell in named
    ):
        return True
    words = (cell for column, cell in named if column.name in ("note", "", *_NAMING))
    if any(map(_SECOND.search, words)):
        return True
    measured = any(is_measure(column.name) for column, _ in named)
    return not measured and all(
        bool(column.unit) and not _at(above[-1], at)
        for at, (column, cell) in enumerate(zip(columns, cells, strict=False))
        if cell and column.name == "jars"
    )


def _sums(cells: Row, columns: Sequence[Column], above: Sequence[Row]) -> bool:
    """Whether a number of a row is the sum of two or more above it."""
    for at, column in enumerate(columns[: len(cells)]):
        if not (column.name == "jars" or is_measure(column.name)) or not BARE.fullmatch(cells[at]):
            continue
        with suppress(BatchError):
            numbers = [count(cell) for row in above if (cell := _at(row, at))]
            if len(numbers) > 1 and math.isclose(math.fsum(numbers), count(cells[at])):
                return True
    return False


def _at(row: Row, at: int) -> str:
    return row[at] if at < len(row) else ""


def together(batches: Sequence[Said], second: Said, shelf: Mapping[str, Jar]) -> Said | None:
    """The last of these batches with the jars of its second row.

    None where these cannot be told, or are the sum of what was filled in all.
    """
    batch = batches[-1]
    every = [_counted(one.cells, shelf) for one in batches]
    both = [every[-1], _counted(second.cells, shelf)]
    if not all(both) or batch.wrong or second.wrong or _are_all(both[1], every):
        return None
    jars = " + ".join(
        so_many(number_text(number), sort) for counts in both for number, sort in counts
    )
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


def _are_all(
    counts: Sequence[tuple[float, str]], every: Sequence[Sequence[tuple[float, str]]]
) -> bool:
    """Whether one of these counts is the sum of two or more batches in that sort of jar."""
    for number, sort in counts:
        filled = [n for one in every for n, other in one if other == sort]
        if len(filled) > 1 and math.isclose(math.fsum(filled), number):
            return True
    return False


_JOINED = {"note": "; ", "sealed": " + "}


def _counted(cells: Mapping[str, str], shelf: Mapping[str, Jar]) -> list[tuple[float, str]]:
    """The jars of a row, each with its sort; [] where they cannot be told."""
    jars, jar = cells.get("jars", ""), cells.get("jar", "")
    with suppress(BatchError):
        found = read_jars(jars, shelf)
        sort = jar_key(jar, shelf) if jar and not all(one.sort for one in found) else ""
        return on_shelf([one._replace(sort=one.sort or sort) for one in found], shelf)
    return []
