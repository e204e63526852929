"""Copies of a ledger, and what was saved of a damaged one."""

import datetime as dt
from pathlib import Path

from msgspec import Struct


class Copy(Struct, frozen=True):
    """One copy: when it was made (local time), and why.

    ``batches`` is how many stand in it, None where that cannot be read; ``problem`` why it cannot
    be restored, '' for a sound one.
    """

    path: Path
    made: dt.datetime
    why: str
    batches: int | None
    problem: str

    @property
    def name(self) -> str:
        """What the user calls it by."""
        return self.path.name.removesuffix(".sqlite3")

    @property
    def sound(self) -> bool:
        """Whether it can be restored."""
        return not self.problem


class Salvaged(Struct, frozen=True):
    """The new ledger, how many batches stand in it, and a line for each thing that is missing."""

    path: Path
    batches: int
    missing: tuple[str, ...]
