"""Where the tables of a sheet stand: their headings, over one row or two, and their neighbours."""

import re
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from jarcast.batchtable.meant import Column
from jarcast.domain.fields import KITCHEN
from jarcast.domain.jars import SHELF, Jar
from jarcast.notebook.days import is_day, numbered
from jarcast.notebook.headings import (
    is_heading,
    is_measure,
    is_unit,
    meanings,
    says_crop,
    with_missing,
)
from jarcast.notebook.sheets import Sheet

Row = tuple[str, ...]

_NUMBER = re.compile(r"[\d.,/ \u00bc-\u00be\u2150-\u215e-]+")
# What stands over columns that are no measures of the batch: 'Sold' over 'pints'.
_ELSE = re.compile(
    r"\b(?:sold|sales|gave|given|lost|broken|eaten|plan\w*|expected|wanted|wasted?|left|recipe"
    r"|failed|fridge|stock|cellar|pantry|stall)\b", re.I,
)  # fmt: skip


class Table(Struct, frozen=True):
    """One table: the line of its headings, what they mean, and its rows with their lines.

    ``above`` is what stands over it, the nearest last; ``again`` tells that these headings stood
    there before.
    """

    line: int
    columns: tuple[Column, ...]
    rows: tuple[tuple[int, Row], ...]
    above: tuple[str, ...] = ()
    again: bool = False


class Beside(Struct, frozen=True):
    """Columns beside a table of batches that are none: their line, and their headings."""

    line: int
    headings: str


class _Head(Struct, frozen=True):
    """A row of headings, or two: where it begins, how many rows it takes, and its cells."""

    at: int
    height: int
    cells: Row


def tables_on(
    sheet: Sheet, told: Mapping[str, Column], shelf: Mapping[str, Jar] = SHELF
) -> Iterator[Table | Beside]:
    """The tables of a sheet in order; rows that stand above the first of them are its titles."""
    rows = sheet.rows
    heads = list(_heads(rows, told, shelf))
    seen: set[Row] = set()
    start = 0  # of the titles of the table to come
    for head, following in zip(heads, [*heads[1:], None], strict=True):
        end = len(rows) if following is None else _titles_from(rows, head, following.at)
        first = head.at + head.height
        body = [(at + 1, rows[at]) for at in range(first, end) if any(rows[at])]
        above = [rows[at] for at in range(start, head.at)]
        yield from _side_by_side(head, body, above, head.cells in seen, told, shelf)
        seen.add(head.cells)
        start = end


def has_headings(sheet: Sheet, told: Mapping[str, Column], shelf: Mapping[str, Jar]) -> bool:
    """Whether one of its rows is a row of headings."""
    return any(True for _ in _heads(sheet.rows, told, shelf))


def likely_headings(
    sheet: Sheet, told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> tuple[int, tuple[Column, ...]]:
    """The row that looks most like headings, by what is understood of it; 0 for none."""
    best, line, columns = 1.0, 0, tuple[Column, ...]()
    for at, cells in enumerate(sheet.rows[:200]):
        words = [
            cell for cell in cells if cell and not _NUMBER.fullmatch(cell) and not is_day(cell)
        ]
        if len(words) < 3 or len(words) < sum(map(bool, cells)):
            continue
        meant = meanings(cells, told, shelf)
        score = len({column.name for column in meant if column.name}) + len(words) / 1000
        if score > best or not line:
            best, line, columns = score, at + 1, meant
    return line, columns


def may_be_headings(sheet: Sheet) -> bool:
    """Whether rows of a few cells and a number each stand under a row of words."""
    line, _ = likely_headings(sheet, {}, SHELF)
    below = [list(filter(None, row)) for row in sheet.rows[line : line + 20]] if line else []
    kept = [row for row in below if len(row) >= 3 and any(map(_NUMBER.fullmatch, row))]
    return 2 * len(kept) > sum(map(bool, below))


def _heads(
    rows: Sequence[Row], told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> Iterator[_Head]:
    at = 0
    while at < len(rows):
        cells = rows[at]
        head = None
        if any(cells) and not any(_NUMBER.fullmatch(cell) for cell in cells if cell):
            lower = rows[at + 1] if at + 1 < len(rows) else ()
            joined = _joined(cells, lower, told, shelf)
            if joined and is_heading(joined, meanings(joined, told, shelf)):
                head = _with_units(_Head(at, 2, joined), rows, told, shelf)
            elif _is_head(cells, rows[at + 1 : at + 31], told, shelf):
                head = _Head(at, 1, cells)
        if head is not None:
            yield head
        at += 1 if head is None else head.height


def _with_units(
    head: _Head, rows: Sequence[Row], told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> _Head:
    """Headings over two rows, with the units of a third where there is one."""
    below = rows[head.at + 2] if head.at + 2 < len(rows) else ()
    if not all(is_unit(cell) for cell in below if cell):
        return head
    joined = _joined(head.cells, below, told, shelf)
    return replace(head, height=3, cells=joined) if joined else head


def _is_head(
    cells: Row, below: Sequence[Row], told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> bool:
    """Whether a row is one of headings, by its own words or by the crops and days under them."""
    meant = meanings(cells, told, shelf)
    if is_heading(cells, meant):
        return True
    if not any(column.name == "jars" for column in meant):
        return False
    columns, _ = with_missing(meant, below)
    names = {column.name for column in columns}
    return is_heading(cells, columns) and {"produce", "date"} <= names


def _joined(
    upper: Row, lower: Row, told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> Row | None:
    """Headings over two rows as one; None where these rows are none.

    Above stand groups, 'Weight' over 'bought' and 'trimmed'; or below stand units.
    """
    below = [cell for cell in lower if cell]
    if len(below) < 2 or sum(map(bool, upper)) < 2 or lower == upper:
        return None
    words = (*below, *filter(None, upper))
    if any(map(_NUMBER.fullmatch, words)) or any(map(is_day, words)):
        return None
    width = max(len(upper), len(lower))
    tops, bottoms = ((*row, *[""] * (width - len(row))) for row in (upper, lower))
    if all(map(is_unit, below)):
        fit = all(top or not bottom for top, bottom in zip(tops, bottoms, strict=True))
        stated = [column.unit for column in meanings(tops, told, shelf)]
        units = (
            f"{t} ({b})" if t and b and not unit else t
            for t, b, unit in zip(tops, bottoms, stated, strict=True)
        )
        return tuple(units) if fit else None
    groups = _groups(tops, bottoms, told, shelf)
    if not any(groups):
        return None
    cells = zip(tops, bottoms, groups, strict=True)
    joined = tuple(_one(*cell, told, shelf) for cell in cells)
    known = sum(bool(column.name) for column in meanings(lower, told, shelf))
    known += sum(bool(group and bottom) for group, bottom in zip(groups, bottoms, strict=True))
    return joined if known >= len(below) else None  # else it is a row of words under headings


def _groups(
    tops: Row, bottoms: Row, told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> list[str]:
    """The group that each column belongs to, '' for none: it holds up to the next word above.

    Where one of them is known, every word above a measure is taken for a group: 'For Oda' too.
    """
    above, below = (meanings(row, told, shelf) for row in (tops, bottoms))
    plain = [
        bool(top) and (_measures(column) or bool(_ELSE.search(top)))
        for top, column in zip(tops, above, strict=True)
    ]
    known = any(one and bottom for one, bottom in zip(plain, bottoms, strict=True))
    groups: list[str] = []
    group = ""
    for at, (top, bottom) in enumerate(zip(tops, bottoms, strict=True)):
        if top:  # above a day or a crop it is a title
            group = top if bottom and known and (plain[at] or _measures(below[at])) else ""
        groups.append(group if bottom else "")
    return groups


def _measures(column: Column) -> bool:
    return is_measure(column.name) or column.name == "jars"


def _one(
    top: str, bottom: str, group: str, told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> str:
    """One heading out of two cells and their group."""
    if not bottom or (top and not group):
        both = f"{top} {bottom}".strip()
        alone, joined = meanings((bottom, both), told, shelf)
        return both if joined.name or not alone.name else bottom
    if not group:
        return bottom
    alone, joined = meanings((bottom, f"{group} {bottom}"), told, shelf)
    words = alone.name and alone.name not in KITCHEN and alone.name not in ("jars", "sealed")
    return bottom if words and not joined.name else f"{group} {bottom}"


def _titles_from(rows: Sequence[Row], head: _Head, next_at: int) -> int:
    """Where the titles of the next table begin: rows of one cell of words right above it."""
    at = next_at
    while at - 1 >= head.at + head.height:
        filled = [cell for cell in rows[at - 1] if cell]
        if len(filled) > 1 or any(map(numbered, filled)):
            break  # with a number in it, it is no title alone, and is told of
        at -= 1
    return at


def _side_by_side(
    head: _Head,
    body: Sequence[tuple[int, Row]],
    above: Sequence[Row],
    again: bool,
    told: Mapping[str, Column],
    shelf: Mapping[str, Jar],
) -> Iterator[Table | Beside]:
    """The tables under one row of headings: an empty column parts two that say the same things."""
    line = head.at + head.height
    parts = _parts(head.cells, [cells for _, cells in body], told, shelf)
    for columns, batches in parts:
        cells = _only(head.cells, columns)
        if not batches:
            yield Beside(line, ", ".join(filter(None, cells)))
            continue
        every = len(parts) == 1
        titles = [row if every else _only(row, range(columns[0], columns[-1] + 1)) for row in above]
        yield Table(
            line,
            meanings(cells, told, shelf),
            tuple((at, kept) for at, row in body if any(kept := _only(row, columns))),
            tuple("; ".join(filter(None, row)) for row in titles if any(row)),
            again,
        )


def _only(cells: Row, columns: Sequence[int]) -> Row:
    """A row with the cells of these columns alone, in their places."""
    kept = frozenset(columns)
    return tuple(cell if at in kept else "" for at, cell in enumerate(cells))


def _parts(
    heading: Row, body: Sequence[Row], told: Mapping[str, Column], shelf: Mapping[str, Jar]
) -> list[tuple[list[int], bool]]:
    """The columns of each table under a row of headings, and whether it holds batches."""
    everything = list(range(max(map(len, (heading, *body)))))
    runs = _runs(everything, heading, body, meanings(heading, told, shelf))
    read = [_named(run, heading, body, told, shelf) for run in runs]
    main = next((at for at, names in enumerate(read) if _whole(names)), None)
    if main is None or len(runs) < 2:
        return [(everything, True)]
    first = [at for run in runs[: main + 1] for at in run]
    others: list[tuple[list[int], bool]] = []
    for run, names in zip(runs[main + 1 :], read[main + 1 :], strict=True):
        if {"produce", "date"} & names & read[main]:
            others.append((run, _whole(names) and {"produce", "date"} <= names))
        elif others:
            others[-1][0].extend(run)
        else:
            first += run
    return [(first, True), *others]


def _runs(
    everything: Sequence[int], heading: Row, body: Sequence[Row], meant: Sequence[Column]
) -> list[list[int]]:
    """Columns that stand together: an empty one parts them, and so does a crop that comes again."""
    runs: list[list[int]] = []
    names = ["produce" if says_crop(column.heading) else column.name for column in meant]
    names += [""] * (len(everything) - len(names))  # a row may have more cells than headings
    for at in everything:
        if not any(at < len(row) and row[at] for row in (heading, *body)):
            continue
        here = [names[one] for one in runs[-1]] if runs else []
        again = names[at] in ("produce", "date") and names[at] in here and "jars" in here
        if runs and runs[-1][-1] == at - 1 and not (again and "jars" in names[at:]):
            runs[-1].append(at)
        else:
            runs.append([at])
    return runs


def _whole(names: frozenset[str]) -> bool:
    return len(names) >= 3 and "jars" in names


def _named(
    run: Sequence[int],
    heading: Row,
    body: Sequence[Row],
    told: Mapping[str, Column],
    shelf: Mapping[str, Jar],
) -> frozenset[str]:
    """What is named under some of the headings."""
    rows = [_only(row, run) for row in body]
    columns = with_missing(meanings(_only(heading, run), told, shelf), rows)[0]
    return frozenset(column.name for column in columns if column.name)
