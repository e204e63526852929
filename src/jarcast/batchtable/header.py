"""The header of a batch table: which column is which, however it is spelt."""

import re
import unicodedata
from collections.abc import Sequence

from msgspec import Struct

from jarcast.domain.fields import ALL_COLUMNS, COLUMNS, KITCHEN, NEEDED
from jarcast.errors import BatchError, cut_short

MOST_COLUMNS = 1000


_LONGEST = 200  # signs of a heading that are read; compatibility forms can make eighteen of one


class Header(Struct, frozen=True):
    """The columns as they stand, and what the header calls those that are not read.

    ``names`` are the columns' names in ALL_COLUMNS or KITCHEN, '' for one that is not read.
    """

    names: tuple[str, ...]
    ignored: tuple[str, ...]


def column_name(cell: str) -> str:
    """The name a header cell comes to, however it is spelt: 'As bought (g)' -> 'as_bought_g'."""
    plain = unicodedata.normalize("NFKC", cell[:_LONGEST]).casefold()
    return re.sub(r"[\W_]+", "_", plain).strip("_")


def known_columns(cells: Sequence[str]) -> int:
    """How many of these cells name a column of the batch table."""
    names = (column_name(cell) for cell in cells[:MOST_COLUMNS])
    return sum(name in ALL_COLUMNS or name in KITCHEN for name in names)


def read_header(cells: Sequence[str], where: str) -> Header:
    """Find the columns. ``where`` names the table in messages.

    Raises BatchError when needed columns are missing, or when a column comes twice.
    """
    if len(cells) > MOST_COLUMNS:
        raise BatchError(
            f"{where}: {len(cells)} columns; a batch table has {len(COLUMNS)}, and at most "
            f"{MOST_COLUMNS} are read. Is this the right file?"
        )
    names: list[str] = []
    ignored: list[str] = []
    for position, cell in enumerate(cells):
        name = column_name(cell)
        if name not in ALL_COLUMNS and name not in KITCHEN:
            ignored.append(cell.strip() or f"column {position + 1} (without a name)")
            name = ""
        elif name in names:
            raise BatchError(f"{where}: the column '{name}' is there twice; keep one of them")
        names.append(name)
    own_sorts = {"jar"} if "jars" in names else set()  # counts may name them: '6 pint + 5 quart'
    if missing := [name for name in NEEDED if name not in {*names, *own_sorts}]:
        raise BatchError(_lacking(missing, [cell.strip() for cell in cells], where))
    return Header(tuple(names), tuple(ignored))


def _lacking(missing: list[str], cells: list[str], where: str) -> str:
    found = ", ".join(cell for cell in cells if cell)
    return (
        f"{where}: needed but missing: {', '.join(missing)}. The columns found are: "
        f"{cut_short(found, 300) or 'none'}. The header should be: {','.join(COLUMNS)}; only "
        f"{', '.join(NEEDED)} are needed"
    )
