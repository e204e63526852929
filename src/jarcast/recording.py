"""One batch from what was typed for it."""

import datetime as dt
from collections.abc import Collection, Mapping

from jarcast.errors import BatchError
from jarcast.interchange.rows import RowChecker, shortened
from jarcast.kinds import SHELF, Jar, cut_key, produce_key
from jarcast.ledger import Entry


def make_entry(
    typed: Mapping[str, str | None],
    today: dt.date,
    taken: Collection[str],
    shelf: Mapping[str, Jar] = SHELF,
) -> Entry:
    """An entry from typed texts by column, ``None`` for what was not said.

    The date is today unless typed, and a name that is not among ``taken`` is made up. Raises
    BatchError with every problem at once.
    """
    cells = {column: text for column, text in typed.items() if text is not None and text.strip()}
    cells.setdefault("date", today.isoformat())
    if "batch" not in cells:
        cells["batch"] = _new_name(cells, taken)
    entry, problems = RowChecker(shelf, today).check(cells)
    if entry is None:
        lines = tuple(
            f"{p.column.replace('_', ' ')} '{shortened(p.cell)}': {p.why}" for p in problems
        )
        joined = "\n  ".join(lines)
        raise BatchError(f"nothing was written down: {joined}", lines)
    return entry


def _new_name(cells: Mapping[str, str], taken: Collection[str]) -> str:
    """A name that tells the batch: 2025-08-31 carrot sticks, with a number where it is taken."""
    words = [cells["date"].strip(), produce_key(cells.get("produce", ""))]
    words.append(cut_key(cells.get("cut", "")))
    name = " ".join(word for word in words if word)[:80]
    number, found = 1, name
    while found in taken:
        number += 1
        found = f"{name} {number}"
    return found
