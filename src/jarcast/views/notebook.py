"""What would come of a notebook, as text."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from jarcast.views.batches import batch_document
from jarcast.views.words import counted, shortened

if TYPE_CHECKING:
    from jarcast.notebook.rehearsal import Rehearsal, Told

_ROWS = 3  # read through with the columns


def rehearsal_document(rehearsal: "Rehearsal") -> dict[str, Any]:
    """The same for JSON: version 1 of 'jarcast import rehearsal'."""
    return {
        "format": "jarcast import rehearsal",
        "version": 1,
        "batches": [
            {"place": place, **batch_document(entry.batch)} for place, entry in rehearsal.entries
        ],
        "doubts": told_documents(rehearsal.doubts),
        "left_out": told_documents((*left_out(rehearsal), *rehearsal.left)),
        "columns": [
            [{"heading": c.heading, "column": c.name, "unit": c.unit} for c in columns if c.heading]
            for columns in dict.fromkeys(rehearsal.columns)
        ],
        "ignored_columns": list(rehearsal.ignored),
        "to_be_told": [one.text for one in rehearsal.asked],
    }


def told_documents(told: "Told") -> list[dict[str, str]]:
    """Places, each with what is told of it."""
    return [{"place": place, "why": why} for place, why in told]


def left_out(rehearsal: "Rehearsal") -> "Told":
    """Rows that cannot be batches, and measures of lines that have no place."""
    return (*rehearsal.refused, *rehearsal.unplaced)


def left_out_text(rehearsal: "Rehearsal") -> str:
    """The same as text; '' for none."""
    return "\n".join(_part("Left out:", left_out(rehearsal)))


_HEADINGS = 40  # told one by one


def rehearsal_text(rehearsal: "Rehearsal") -> str:
    """Headings and what they mean, three batches, and all that is doubtful or left out."""
    lines = []
    for columns in dict.fromkeys(rehearsal.columns):
        lines.append("Headings, and what each is read as:")
        told = [column for column in columns if column.heading]
        for column in told[:_HEADINGS]:
            meant = " in ".join(filter(None, (column.name, column.unit))) or "not read"
            lines.append(f"  {shortened(column.heading, 40)}: {meant}")
        if len(told) > _HEADINGS:
            lines.append(f"  ... and {len(told) - _HEADINGS} more headings")
    lines.append(f"{counted(len(rehearsal.entries), 'batch', 'batches')} would be imported:")
    for place, entry in rehearsal.entries[:_ROWS]:
        batch = entry.batch
        what = ", ".join(filter(None, (batch.produce, batch.cut)))
        weights = f", {entry.typed['trimmed_g']} trimmed" if "trimmed_g" in entry.typed else ""
        lines.append(f"  {place}: {batch.date}, {what}{weights}, {batch.filled_text}")
    if (more := len(rehearsal.entries) - _ROWS) > 0:
        lines.append(f"  ... and {more} more")
    lines += _part("Not sure about:", rehearsal.doubts)
    lines += _part("Cannot be read, and would be left out:", rehearsal.refused)
    lines += _part("No batches, left out:", rehearsal.left)
    if rehearsal.ignored:
        names = ", ".join(shortened(name, 40) for name in rehearsal.ignored)
        lines.append(f"Columns not read: {names} (--map says what they are)")
    lines += [f"Needed first: {question.text}" for question in rehearsal.asked]
    return "\n".join(lines)


def _part(head: str, rows: Iterable[tuple[str, str]]) -> list[str]:
    found = [f"  {place}: {shortened(why, 200)}" for place, why in rows]
    return [head, *found] if found else []
