"""What pooling found, and which starting beliefs are in use, as text and as JSON."""

from itertools import islice
from pathlib import Path
from typing import Any

from jarcast.learning.model.beliefs import Beliefs
from jarcast.pooling.files import PooledFile
from jarcast.pooling.write import Change
from jarcast.views.words import counted, crop_words, padded, plain, wrapped

_SHOWN = 8  # changes in the text; JSON has all of them
_WORDS = {
    "trim_yield": "trim yield",
    "cure_keep": "cure keep",
    "cook_keep": "cook keep",
    "density": "density",
    "tissue": "tissue",
}


def pool_text(found: PooledFile) -> str:
    """What the file rests on, the centres that moved most, and how to use it."""
    lines = [
        wrapped(
            f"Starting beliefs of {counted(found.households, 'household', 'households')} and "
            f"{counted(found.batches, 'batch', 'batches')}, on top of the published yields, "
            f"written to {found.path}."
        ),
        "",
    ]
    moved = (change for change in found.changes if _shown(change.before) != _shown(change.after))
    rows = [_cells(change) for change in islice(moved, _SHOWN)]
    if rows:
        widths = [max(len(row[i]) for row in rows) for i in range(3)]
        lines += ["Moved most from the published yields:", ""]
        lines += ["  " + "  ".join([*map(padded, row[:3], widths), row[3]]) for row in rows]
    else:
        lines.append("No published yield moved by as much as is shown.")
    lines += ["", wrapped(f"To learn on them: jarcast beliefs use {found.path}")]
    return "\n".join(lines)


def _cells(change: Change) -> tuple[str, str, str, str]:
    return (
        plain(crop_words(*change.crop)),
        _WORDS[change.quantity],
        f"{_shown(change.before)} -> {_shown(change.after)}",
        counted(change.households, "household", "households"),
    )


def _shown(value: float) -> str:
    return f"{value:.3f}"


def pool_document(found: PooledFile) -> dict[str, Any]:
    """What pooling found for JSON; version 1 of 'jarcast pool'."""
    return {
        "format": "jarcast pool",
        "version": 1,
        "file": str(found.path),
        "households": found.households,
        "batches": found.batches,
        "changes": [
            {
                **dict(zip(("produce", "cut", "pack"), change.crop, strict=True)),
                "quantity": change.quantity,
                "published": change.before,
                "pooled": change.after,
                "households": change.households,
                "batches": change.batches,
            }
            for change in found.changes
        ],
    }


def beliefs_text(beliefs: Beliefs, path: Path | None, by: str) -> str:
    """Which starting beliefs are in use, and why."""
    where = "those that travel with jarcast" if path is None else str(path)
    return wrapped(f"Starting beliefs: {plain(beliefs.label)}, {where} ({by}).")


def beliefs_document(beliefs: Beliefs, path: Path | None, by: str) -> dict[str, Any]:
    """Which starting beliefs are in use for JSON; version 1 of 'jarcast beliefs'."""
    return {
        "format": "jarcast beliefs",
        "version": 1,
        "label": beliefs.label,
        "file": None if path is None else str(path),
        "chosen_by": by,
        "crops": len(beliefs.crops),
    }
