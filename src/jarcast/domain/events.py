"""What was done, to a batch or else: when, and which values it changed."""

import datetime as dt

from msgspec import Struct

PLAN = "plan: "  # goes before the name of a plan that is kept, in the key of its setting
UNDO = "undo"  # the kind of an action that takes back another


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


class Done(Struct, frozen=True):
    """An action: what kind, when (UTC), and the batches it says something of, in order.

    ``settings`` and ``jars`` are what it set, as key and value, and the jars it measured. Of an
    undo, ``undoes`` is the action it takes back, and the rest is that one's. ``with_it`` are
    actions that came of the same command: the forecast kept after a step.
    """

    action: int
    kind: str
    at: dt.datetime
    batches: tuple[str, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    jars: tuple[str, ...] = ()
    undoes: "Done | None" = None
    with_it: tuple[int, ...] = ()


class Event(Struct, frozen=True):
    """One thing that was done to a batch, when (UTC): 'import', 'amend', 'weigh', 'confirm'...

    Of an 'undo', ``undoes`` is the action it takes back. ``undone`` tells what is taken back now.
    """

    kind: str
    at: dt.datetime
    action: int
    changes: tuple[Change, ...]
    undoes: int | None = None
    undone: bool = False
