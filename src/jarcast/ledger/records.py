"""What the ledger gives back, beside plain batches."""

import datetime as dt
from typing import NamedTuple

from msgspec import Struct

from jarcast.ledger.entry import Entry


class Request(NamedTuple):
    """What asks for something to be written: a key of its own, and a digest of what it asks."""

    key: str
    digest: str


class AddResult(Struct, frozen=True):
    """Names of the batches that were added, and of those already there with the same values."""

    added: tuple[str, ...]
    skipped: tuple[str, ...]


class Reading(Struct, frozen=True):
    """One version of a batch: what was entered, when (UTC), by what kind of action.

    ``action`` numbers what the user did, in order; rows of one import share it.
    """

    entry: Entry
    at: dt.datetime
    kind: str
    version: str
    action: int
