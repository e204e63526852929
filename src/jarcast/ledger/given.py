"""What the ledger gives back, beside plain batches."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jarcast.ledger.entry import Entry


@dataclass(frozen=True, slots=True)
class AddResult:
    """Names of the batches that were added, and of those already there with the same values."""

    added: tuple[str, ...]
    skipped: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """One version of a batch: what was entered, when (UTC), by what kind of action.

    ``action`` numbers what the user did, in order; rows of one import share it.
    """

    entry: Entry
    at: dt.datetime
    kind: str
    version: str
    action: int


@dataclass(frozen=True, slots=True)
class KeptForecast:
    """A forecast kept for a batch: what was known, what was answered, when (UTC), by which jarcast.

    ``action`` stands in the same order as those of the readings.
    """

    batch: str
    known: Mapping[str, Any]
    answer: Mapping[str, Any]
    at: dt.datetime
    version: str
    action: int
