"""What an undo takes back, as text and as JSON."""

from typing import Any

from jarcast.domain.events import PLAN, UNDO, Done, Event
from jarcast.measures import Units
from jarcast.views.history import change_lines, moment
from jarcast.views.words import batches_named, shortened, wrapped

_LONGEST = 60  # signs of a name, or of a value

# What comes of taking back each kind of action on a batch, and of taking that back.
_COMES = {
    "import": ("no longer counts, and its name is free", "counts again"),
    "record": ("no longer counts, and its name is free", "counts again"),
    "begin": ("is no longer open, and its name is free", "is open again"),
    "close": ("is open again, as it was before it was closed", "is closed again"),
    "drop": ("is open again, as it was before it was dropped", "is dropped again"),
    "withdraw": ("counts again, as it stood", "is withdrawn again"),
    "reinstate": ("is withdrawn again", "counts again, as it stood"),
    "reopen": ("is dropped again", "is open again"),
    "amend": ("is as it was before that", "is amended again"),
    "confirm": ("is as it was before that", "is confirmed again"),
    "forecast": ("no longer has that forecast kept", "has that forecast kept again"),
}
_KEPT = (
    "Nothing was deleted: 'jarcast undo' again takes this back, and 'jarcast undo --further' "
    "takes back what came before."
)
_STEP = ("is as it was before that step", "has that step again")


def undo_text(done: Done, event: Event | None, units: Units) -> str:
    """What would be taken back, before it is: the action, when it was done, what it changed."""
    lines = [wrapped(f"To take back: {_what(done)}.")]
    if event is not None:
        lines += change_lines(event, units)
    return "\n".join(lines)


def undone_text(done: Done) -> str:
    """What was taken back, and what stands now."""
    lines = [wrapped(f"Taken back: {_what(done)}.")]
    root, turns = _root(done)
    if done.batches:
        comes = _COMES.get(root.kind, _STEP)[turns % 2]
        each = "Each of them" if len(done.batches) > 1 else batches_named(done.batches, _LONGEST)
        lines.append(wrapped(f"{each} {comes}."))
    lines.append(wrapped(_KEPT))
    return "\n".join(lines)


def _root(done: Done) -> tuple[Done, int]:
    """What is taken back in the end, and how many undos lie above it."""
    turns = 0
    while done.undoes is not None:
        done, turns = done.undoes, turns + 1
    return done, turns


def _what(done: Done) -> str:
    """'the amend of 'carrots 3' (2025-08-31 18:02)'."""
    if done.undoes is not None:
        return f"the {UNDO} of {moment(done.at)}, of {_what(done.undoes)}"
    said = [batches_named(done.batches, _LONGEST)] if done.batches else []
    said += [_setting(key, value) for key, value in done.settings]
    said += [f"jar '{name}'" for name in done.jars]
    of = f" of {', '.join(said)}" if said else ""
    return f"the {done.kind}{of} ({moment(done.at)})"


def _setting(key: str, value: str) -> str:
    """'units metric'; of a plan that is kept, its name."""
    plan = key.removeprefix(PLAN)
    return f"{key} {shortened(value, _LONGEST)}" if plan == key else f"plan '{plan}'"


def undo_document(done: Done) -> dict[str, Any]:
    """What was taken back, for JSON; version 1 of 'jarcast undo'. Times are UTC."""
    return {"format": "jarcast undo", "version": 1, **_document(done)}


def _document(done: Done) -> dict[str, Any]:
    return {
        "kind": done.kind,
        "at": done.at.isoformat(),
        "batches": list(done.batches),
        "settings": dict(done.settings),
        "jars": list(done.jars),
        "undoes": None if done.undoes is None else _document(done.undoes),
    }
