"""Batches as a table, and what does not fit in them."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from jarcast.batch import COLUMNS, Batch, Flag, number_text
from jarcast.kinds import cut_key, pack_key, produce_key
from jarcast.measures import Units, format_volume, format_weight
from jarcast.views.words import columns, crop_words, padded, shortened

_HEADINGS = (
    "date",
    "batch",
    "what",
    "as bought",
    "trimmed",
    "cured",
    "cooked",
    "jars",
    "brine used",
)


def batches_text(batches: Sequence[Batch], units: Units) -> str:
    """A plain table, one line a batch; '-' where nothing was written down."""
    rows = [_HEADINGS, *(_cells(batch, units) for batch in batches)]
    widths = [max(columns(row[i]) for row in rows) for i in range(len(_HEADINGS))]
    return "\n".join(
        "  ".join(padded(cell, width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    )


def _cells(batch: Batch, units: Units) -> tuple[str, ...]:
    def weight(grams: float | None) -> str:
        return "-" if grams is None else format_weight(grams, units)

    used = batch.brine_used_ml
    jars = " + ".join(
        f"{number_text(count)} {key}" for count, key in zip(batch.jars, batch.jar, strict=True)
    )
    produce = produce_key(batch.produce) or batch.produce
    crop = crop_words(produce, cut_key(batch.cut), pack_key(batch.pack))
    return (
        batch.date.isoformat(),
        shortened(batch.batch, 24),
        shortened(crop, 36),
        weight(batch.as_bought_g),
        weight(batch.trimmed_g),
        weight(batch.cured_g),
        weight(batch.cooked_g),
        shortened(jars, 40),
        "-" if used is None or used < 0 else format_volume(used, units),
    )


def batch_document(batch: Batch) -> dict[str, Any]:
    """One batch for JSON: the batch table's columns, null where nothing was written down."""
    document: dict[str, Any] = {}
    for column in COLUMNS:
        value = getattr(batch, column)
        if column == "date":
            value = batch.date.isoformat()
        elif column == "jar":
            value = batch.jar_text
        elif column == "jars":
            value = batch.jars_text
        document[column] = None if value == "" else value
    return document


def batches_document(batches: Iterable[Batch]) -> dict[str, Any]:
    """Batches for JSON; version 1 of 'jarcast batches'."""
    return {
        "format": "jarcast batches",
        "version": 1,
        "batches": [batch_document(batch) for batch in batches],
    }


def flags_text(flags: Iterable[tuple[str, Flag]]) -> str:
    """Contradictions, a line each; '' where there are none."""
    lines = [f"  {shortened(name, 40)}: {flag.message}" for name, flag in flags]
    if not lines:
        return ""
    head = (
        "These do not fit together; they were taken in, and teach nothing on what they touch "
        "until mended:"
    )
    return "\n".join([head, *lines])


def flags_document(flags: Iterable[tuple[str, Flag]]) -> list[Mapping[str, Any]]:
    """Contradictions for JSON."""
    return [
        {"batch": name, "columns": list(flag.columns), "message": flag.message}
        for name, flag in flags
    ]
