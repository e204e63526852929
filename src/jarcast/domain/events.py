"""What was done to a batch: when, and which values it changed."""

import datetime as dt

from msgspec import Struct


class Change(Struct, frozen=True):
    """One value of a batch before and after, as the batch table writes it; '' is none.

    ``column`` is one of the batch table, or of a note of the packing: jars_so_far,
    produce_so_far_g, brine_so_far_ml, produce_left_g, pot_left_ml. ``typed`` is what was typed,
    where that reads otherwise. A value that was confirmed is the same before and after.
    """

    column: str
    before: str
    after: str
    typed: str = ""


class Event(Struct, frozen=True):
    """One thing that was done to a batch, when (UTC): 'import', 'amend', 'weigh', 'confirm'..."""

    kind: str
    at: dt.datetime
    action: int
    changes: tuple[Change, ...]
