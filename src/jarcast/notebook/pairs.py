"""Two measures in one column: 'Brine (made/left)' over '8 c/1 c'."""

import re
from collections.abc import Collection, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.batchtable.meant import Column, meaning
from jarcast.domain.fields import Kind
from jarcast.notebook.headings import cells_under, is_measure
from jarcast.notebook.titles import kind_of
from jarcast.notebook.written import AMOUNT, BARE, none, unsaid

Row = tuple[str, ...]

_BOTH = re.compile(
    r"(?P<head>.*?)(?P<one>[^\W\d_]+)\s*(?:[/&,]|\band\b|[-\u2013]>)\s*(?P<other>[^\W\d_]+)(?P<tail>.*)"
)
_PARTS = re.compile(r"\s*(?:/|,|;|&|\band\b|[-\u2013]>)\s*", re.I)
_MEASURE = re.compile(
    rf"(?:about |abt\.? |~ ?)?(?P<number>{AMOUNT})(?: ?[^\W\d_]+\.?(?: ?{AMOUNT} ?oz)?)?", re.I
)
_TOPS = re.compile(r"(\d+)/(\d+)")


class Parted(Struct):
    """Columns and rows in which each measure has a column of its own.

    ``told`` is, by line, what is told of cells in which two measures cannot be told apart.
    """

    columns: tuple[Column, ...]
    rows: list[tuple[int, Row]]
    told: dict[int, str] = field(default_factory=dict)


def two_in_one(
    rows: Sequence[tuple[int, Row]],
    columns: tuple[Column, ...],
    struck: Collection[tuple[int, int]] = (),
) -> Parted:
    """Columns of two measures made two, the second at the end of each row.

    A cell that cannot be parted is left out and told; ``struck`` cells are left as they are.
    """
    read = Parted(columns, list(rows))
    cells = [row for _, row in rows]
    for at, column in enumerate(columns):
        if (pair := pair_in(column)) and (
            column.told or kind_of(pair[0]) is Kind.VOLUME or _hold_two(cells_under(cells, at))
        ):
            width = len(read.columns)
            read.columns = (*read.columns[:at], pair[0], *read.columns[at + 1 :], pair[1])
            read.rows = [
                (line, _with_parts(row, at, width, (line, at) in struck, line, read))
                for line, row in read.rows
            ]
    return read


def _hold_two(cells: Sequence[str]) -> bool:
    """Whether most cells hold two: 'cured/cooked' over single weights is one or the other."""
    two = sum(bool((parts := _two(cell)) and parts[1]) for cell in cells)
    return 2 * two > len(cells)


def pair_in(column: Column) -> tuple[Column, Column] | None:
    """The two measures that a heading names with a sign between them; None for any other.

    Of one that was told both stand in its name: 'brine_made/brine_left'.
    """
    names = [name for name in column.name.split("/") if is_measure(name)]
    found = _both(column.heading)
    if column.told and len(names) == 2:
        one, other = (replace(column, name=name) for name in names)
        return one, other
    if column.name or column.told or found is None:
        return None
    one, other = (meaning(f"{found['head']}{found[word]}{found['tail']}") for word in _WORDS)
    if not (is_measure(one.name) and is_measure(other.name)) or one.name == other.name:
        return None
    if kind_of(one) is not kind_of(other):
        return None
    return Column(column.heading, one.name, one.unit), Column(
        column.heading, other.name, other.unit
    )


_WORDS = ("one", "other")
_LONGEST = 80  # characters of a heading that may name two


def _both(heading: str) -> re.Match[str] | None:
    return _BOTH.fullmatch(heading) if len(heading) <= _LONGEST else None


def _with_parts(row: Row, at: int, width: int, struck: bool, line: int, read: Parted) -> Row:
    cell = row[at] if at < len(row) else ""
    heading = read.columns[at].heading
    found = _both(heading)
    parts: tuple[str, str] | None = (cell, "")
    if cell and not struck:
        parts = _two(_without(cell, [found[word] for word in _WORDS] if found else []))
    if parts is None:
        parts = ("", "")
        read.told[line] = f"'{cell}' under '{heading}' cannot be told apart; it is left out"
    whole = (*row, *[""] * (width - len(row)))
    return (*whole[:at], parts[0], *whole[at + 1 : width], parts[1], *whole[width:])


def _without(cell: str, words: Sequence[str]) -> str:
    """A cell without the words of its heading: '8 made, 1 left' is '8, 1'."""
    for word in words:
        cell = re.sub(rf"\s*\b{word}\b", "", cell, flags=re.I)
    return cell.strip()


def _two(cell: str) -> tuple[str, str] | None:
    """The two measures of a cell, the second '' where there is one; None where that is open.

    The larger comes first, as made comes before left: '1/2' is a half, and of which nobody says.
    """
    found = [
        (cell[: sign.start()].strip(), cell[sign.end() :].strip()) for sign in _PARTS.finditer(cell)
    ]
    fit = [both for both in found if _reads(both[0]) and (_reads(both[1]) or _is_none(both[1]))]
    if len(fit) == 1 and not _part_of_one(cell):
        one, other = fit[0]
        unit = re.search(r"[^\W\d_]+\.?$", other) if _reads(other) else None
        return (f"{one} {unit[0]}" if unit and BARE.fullmatch(one) else one), other  # '8/1 c'
    return (cell, "") if not fit and _reads(cell) and not _part_of_one(cell) else None


def _reads(text: str) -> bool:
    """Whether a text is one measure; '8/1' is none."""
    tops = [(int(found[1]), int(found[2])) for found in _TOPS.finditer(text)]
    return bool(_MEASURE.fullmatch(text)) and all(top < bottom for top, bottom in tops)


def _is_none(text: str) -> bool:
    return none(text) or unsaid(text)


def _part_of_one(cell: str) -> bool:
    """Whether a cell may be a part of one: '1/2', or '1/2 c'."""
    found = re.match(r"(\d+)/(\d+)", cell)
    return bool(found and int(found[1]) < int(found[2]) and _MEASURE.fullmatch(cell))
