"""What would come of a notebook, as text."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from jarcast.domain.batch import Batch, number_text
from jarcast.domain.fields import FIELD_OF, NUMBERS
from jarcast.domain.stages import STAGE_COLUMNS, STAGES
from jarcast.views.batches import batch_document
from jarcast.views.words import counted, crop_words, shortened

if TYPE_CHECKING:
    from jarcast.notebook.rehearsal import Rehearsal, Told

_MOST = 300  # batches told one by one
_HEADINGS = 40  # told one by one
_SHORT = {stage.column: stage.label for stage in STAGES} | {"sealed": "sealed"}
_BEFORE = (*STAGE_COLUMNS[:2], "salt_g", "cure_hours", *STAGE_COLUMNS[2:])  # the jars are filled
_ALIKE = 4  # doubts that say the same of so many batches are told at once


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


def rehearsal_text(rehearsal: "Rehearsal") -> str:
    """Headings and what they mean, the batches, and all that is doubtful or left out."""
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
    lines += _batches(rehearsal)
    lines += _part("Not sure about:", _together(rehearsal.doubts))
    lines += _part("Cannot be read, and would be left out:", rehearsal.refused)
    lines += _part("No batches, left out:", rehearsal.left)
    if rehearsal.ignored:
        names = ", ".join(shortened(name, 40) for name in rehearsal.ignored)
        lines.append(f"Columns not read: {names} (--map says what they are)")
    lines += [f"Needed first: {question.text}" for question in rehearsal.asked]
    return "\n".join(lines)


def _batches(rehearsal: "Rehearsal") -> Iterator[str]:
    """A line for each batch with all that it says, under the file or sheet it stands in."""
    above = ""
    for place, entry in rehearsal.entries[:_MOST]:
        where, sign, row = place.rpartition(", ")
        if sign and where != above:
            above = where
            yield f"  {where}"
        yield f"    {row}: {_said(entry.batch, entry.typed)}"
    if (more := len(rehearsal.entries) - _MOST) > 0:
        yield f"  ... and {more} more (--dry-run --json tells each)"


def _said(batch: Batch, typed: Mapping[str, str]) -> str:
    """One batch: its day and crop, its jars, and every measure as it was typed."""
    said = {
        column: f"{_SHORT.get(column, FIELD_OF[column].label)} {_typed(batch, typed, column)}"
        for column in NUMBERS
        if getattr(batch, column) is not None
    }
    before = [said.pop(column) for column in _BEFORE if column in said]
    crop = crop_words(batch.produce, batch.cut, batch.pack)
    by = (f"by {shortened(batch.person, 20)}",) if batch.person else ()
    parts = (crop, *before, shortened(batch.filled_text, 40), *said.values(), *by)
    return f"{batch.date}, {'; '.join(parts)}"


def _typed(batch: Batch, typed: Mapping[str, str], column: str) -> str:
    if (text := typed.get(column)) is None:
        value = getattr(batch, column)
        text = f"{number_text(value)} {FIELD_OF[column].unit}".strip() if value else "none"
    return shortened(text, 40)


_ANY_NUMBER = re.compile(r"^[^']*(?= taken as )|\d[\d.,/ -]*")


def _together(told: "Told") -> "Told":
    """What is told of single batches first; then, once each, what is told of many alike."""
    alike: dict[str, list[tuple[str, str]]] = {}
    for place, why in told:
        alike.setdefault(_ANY_NUMBER.sub("#", why), []).append((place, why))
    many = [group for group in alike.values() if len(group) >= _ALIKE]
    among = {id(one) for group in many for one in group}
    single = [one for group in alike.values() for one in group if id(one) not in among]
    order = {place: at for at, (place, _) in enumerate(told)}
    single.sort(key=lambda one: order[one[0]])
    return (*single, *((group[0][0], _of_many(group)) for group in many))


def _of_many(group: "Sequence[tuple[str, str]]") -> str:
    others = ", ".join(place.rpartition(", ")[2] for place, _ in group[1:])
    return f"{shortened(group[0][1], 120)}; likewise {shortened(others, 400)}"


def _part(head: str, rows: Iterable[tuple[str, str]]) -> list[str]:
    found = [f"  {place}: {shortened(why, 600)}" for place, why in rows]
    return [head, *found] if found else []
