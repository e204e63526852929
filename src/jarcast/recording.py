"""One batch from what was typed for it, and into the ledger."""

import datetime as dt
from collections.abc import Collection, Mapping
from pathlib import Path

from jarcast.errors import BatchError
from jarcast.interchange.rows import RowChecker, shortened
from jarcast.kinds import SHELF, Jar, cut_key, produce_key
from jarcast.ledger import Entry, Ledger


def write_down(
    path: Path,
    typed: Mapping[str, str | None],
    today: dt.date,
    shelf: Mapping[str, Jar] = SHELF,
) -> tuple[Entry, bool]:
    """Write one batch in the ledger at ``path``; gives its entry, and whether it is new there.

    It is checked before the ledger is opened to write. A name that is made up is made up anew
    where another process has just taken it. Raises BatchError and LedgerError.
    """
    named = bool((typed.get("batch") or "").strip())
    while True:
        with Ledger.open(path) as ledger:
            taken = {batch.batch for batch in ledger.batches()}
        entry = make_entry(typed, today, taken, shelf)
        with Ledger.open(path, writing=True) as ledger:
            try:
                added = bool(ledger.add([entry], "record").added)
            except BatchError:
                if named:
                    raise
                continue
        if named or added:
            return entry, added


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
        lines = tuple(f"{_words(p.column)} '{shortened(p.cell)}': {p.why}" for p in problems)
        joined = "\n  ".join(lines)
        raise BatchError(f"nothing was written down: {joined}", lines)
    return entry


def _words(column: str) -> str:
    """A column as one says it: 'headspace_in' -> 'headspace', 'as_bought' -> 'as bought'."""
    return column.removesuffix("_in").replace("_", " ")


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
