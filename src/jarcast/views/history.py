"""Everything that was entered of one batch, as text and as JSON."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from jarcast.domain.events import Change, Event
from jarcast.domain.fields import FIELD_OF, NUMBERS
from jarcast.domain.stages import AS_BOUGHT, STAGE_OF
from jarcast.measures import Units, format_volume, format_weight, typeset
from jarcast.views.batches import column_words
from jarcast.views.words import columns, padded, shortened

_LONGEST = 60  # signs of one value, or of what was typed for it
_WORDS = {
    AS_BOUGHT: STAGE_OF[AS_BOUGHT].label,
    "jars": "jars",
    "jars_so_far": "jars so far",
    "produce_so_far_g": "produce packed so far",
    "brine_so_far_ml": "brine in the jars so far",
    "produce_left_g": "produce left",
    "pot_left_ml": "left in the pot",
}


class Said(Struct, frozen=True):
    """What a batch says in one column: the cell, and what was typed for it where that is known."""

    column: str
    text: str
    typed: str


def history_text(name: str, standing: str, events: Sequence[Event], units: Units) -> str:
    """Each thing that was done in the order it was done, with what it changed.

    ``standing`` is where the batch stands now: 'closed', 'withdrawn', 'open', 'dropped' or
    'undone', all of it taken back. Times are local ones.
    """
    lines = [f"{shortened(name, _LONGEST)}: {_STANDING[standing]}"]
    wide = max((columns(_word(c.column)) for e in events for c in e.changes), default=0)
    for event in events:
        lines += ["", _head(event, events)]
        lines += change_lines(event, units, wide)
    return "\n".join(lines)


def change_lines(event: Event, units: Units, wide: int = 0) -> list[str]:
    """What an event changed, a line a value; ``wide`` is how wide the names of values are."""
    wide = wide or max((columns(_word(change.column)) for change in event.changes), default=0)
    return [
        f"  {padded(_word(change.column), wide)}  {_said(event, change, units)}"
        for change in event.changes
    ]


def moment(at: dt.datetime) -> str:
    """A time as it is shown: the local one."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def _head(event: Event, events: Sequence[Event]) -> str:
    """'2025-08-31 18:04  undo  (of the amend of 2025-08-31 18:02)'."""
    said = f"{moment(event.at)}  {event.kind}"
    for one in events:
        if one.action == event.undoes:
            said += f"  (of the {one.kind} of {moment(one.at)})"
    return f"{said}  (taken back)" if event.undone else said


_STANDING = {
    "closed": "in use",
    "withdrawn": "withdrawn, does not count ('jarcast undo' brings it back)",
    "open": "open, not recorded yet",
    "dropped": "dropped before it was closed ('jarcast undo' opens it again)",
    "undone": "taken back, does not count ('jarcast undo' brings it back)",
}


def _word(column: str) -> str:
    return _WORDS.get(column) or column_words(column)


def _said(event: Event, change: Change, units: Units) -> str:
    """'5.40 kg -> 2.45 kg (typed '5.4 lb')'."""
    before, after = (_shown(change.column, text, units) for text in (change.before, change.after))
    if event.kind == "confirm":
        return f"{after} is right"
    said = f"{before} -> {after or 'taken away'}" if before else after
    typed = shortened(change.typed, _LONGEST)
    return f"{said} (typed '{typed}')" if typed and typeset(typed) != after else said


def _shown(column: str, text: str, units: Units) -> str:
    value = _value(column, text)
    if not isinstance(value, float):
        return shortened(text, _LONGEST)
    if column.endswith("_g"):
        return format_weight(value, units)
    if column.endswith("_ml"):
        return format_volume(value, units)
    unit = FIELD_OF[column].unit if column in FIELD_OF else ""
    return f"{text} {unit}" if unit else text


def _value(column: str, text: str) -> float | str | None:
    """A cell as JSON has it: a number where the column holds one, None where there is nothing."""
    if not text:
        return None
    if column in NUMBERS or column.endswith(("_g", "_ml")) or column == "jars_so_far":
        try:
            return float(text)
        except ValueError:  # typed in a way that is not understood here
            return text
    return text


def beside_lines(there: Sequence[Said], here: Sequence[Said], units: Units) -> list[str]:
    """Columns in which two batches of one name differ, each with both values, a line each.

    As they were typed, else in the kitchen's units; exactly where both would read alike.
    """
    return [
        f"{_word(one.column)}: {_both(one, other, units)}"
        for one, other in zip(there, here, strict=True)
    ]


def _both(there: Said, here: Said, units: Units) -> str:
    was, now = (
        shortened(one.typed, _LONGEST) or _shown(one.column, one.text, units) or "nothing"
        for one in (there, here)
    )
    if was == now:
        was, now = repr(there.text), repr(here.text)
    return f"{was} there, {now} here"


def history_document(name: str, standing: str, events: Sequence[Event]) -> dict[str, Any]:
    """The same for JSON; version 1 of 'jarcast history'. Times are UTC."""
    return {
        "format": "jarcast history",
        "version": 1,
        "batch": name,
        "standing": standing,
        "events": [
            {
                "at": event.at.isoformat(),
                "kind": event.kind,
                "undone": event.undone,
                "changes": [
                    {
                        "column": change.column,
                        "before": _value(change.column, change.before),
                        "after": _value(change.column, change.after),
                        "typed": change.typed or None,
                    }
                    for change in event.changes
                ],
            }
            for event in events
        ],
    }
