"""What pooling found, and which starting beliefs are in use, as text and as JSON."""

from collections.abc import Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from msgspec.structs import asdict

from jarcast.learning.model.beliefs import Beliefs
from jarcast.pooling.files import PooledFile
from jarcast.pooling.write import Change
from jarcast.trackrecord.pool_gain import FIRST, LEAST, LEVEL, Gain, OwnNext
from jarcast.trackrecord.stored import StoredForecast
from jarcast.views.forecast import outcome_document
from jarcast.views.words import counted, crop_words, lined_up, plain, wrapped

_SHOWN = 8  # changes in the text; JSON has all of them
_LEVEL = 0.8  # of the ranges of a forecast
_OUTCOMES = {"jars": "Jars", "brine_ml": "Brine"}
_WORDS = {
    "trim_yield": "trim yield",
    "cure_keep": "cure keep",
    "cook_keep": "cook keep",
    "density": "density",
    "tissue": "tissue",
}


def pool_text(found: PooledFile, gained: Sequence[Gain], own: OwnNext | None) -> str:
    """What the file rests on, the centres that moved most, what it gains, and how to use it."""
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
        lines += ["Moved most from the published yields:", ""]
        lines += [f"  {line}" for line in lined_up(rows)]
    else:
        lines.append("No published yield moved enough to show.")
    lines += ["", *map(wrapped, gain_lines(gained))]
    if own is not None:
        lines += ["", wrapped(_own_line(own))]
    lines += ["", wrapped(f"To learn on them: jarcast beliefs use {found.path}")]
    return "\n".join(lines)


def gain_lines(gained: Sequence[Gain]) -> list[str]:
    """What a newcomer gains by households left out, and plainly where that is nothing."""
    if not gained:
        return [
            f"Whether it gains anything cannot be tested with fewer than {LEAST} households. So "
            "few seldom gain anything."
        ]
    lines = [
        f"Tested by leaving {gained[0].households} households out and starting each from the "
        f"others instead of the published yields: how far forecasts of its first {FIRST} batches "
        "are off (CRPS), 19 times in 20 between the two in brackets."
    ]
    lines += [f"{_OUTCOMES[gain.outcome]}: {_gained(gain)}." for gain in gained]
    if not any(gain.told for gain in gained):
        lines.append(
            "Few households, or ones as unlike each other as the published yields, gain nothing: "
            "those yields may serve a newcomer as well."
        )
    return lines


def _gained(gain: Gain) -> str:
    band = f"({_change(gain.high)} to {_change(gain.low)})"
    if gain.told:
        return f"{_change(gain.ratio)} {band}"
    if gain.low > 1.0:
        return f"{_change(gain.ratio)} {band}: the published yields serve them better"
    return f"no gain that stands out from chance {band}"


def _change(ratio: float) -> str:
    percent = round(100 * (1.0 - ratio))
    return f"{abs(percent)} % {'better' if percent >= 0 else 'worse'}"


def _own_line(own: OwnNext) -> str:
    stored = own.before
    crop = plain(crop_words(stored.produce, stored.cut, stored.pack))
    before, after = (
        f"{low:.1f} to {high:.1f}"
        for low, high in (one.jars.interval(_LEVEL) for one in (own.before, own.after))
    )
    return (
        f"Your own last batch once more ({crop}): {before} jars, 8 times in 10, as you learn now, "
        f"{after} on these."
    )


def _cells(change: Change) -> tuple[str, str, str, str]:
    return (
        plain(crop_words(*change.crop)),
        _WORDS[change.quantity],
        f"{_shown(change.before)} -> {_shown(change.after)}",
        counted(change.households, "household", "households"),
    )


def _shown(value: float) -> str:
    return f"{value:.3f}"


def pool_document(found: PooledFile, gained: Sequence[Gain], own: OwnNext | None) -> dict[str, Any]:
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
        "gains": [{**asdict(gain), "level": LEVEL, "told": gain.told} for gain in gained],
        "own_next": None
        if own is None
        else {
            **{
                name: getattr(own.before, name)
                for name in ("produce", "cut", "pack", "stage", "grams")
            },
            "before": _ranges(own.before),
            "after": _ranges(own.after),
        },
    }


def _ranges(stored: StoredForecast) -> dict[str, Any]:
    """Jars and brine in ml, each with its range; brine is None for what makes its own."""
    return {
        name: None if outcome is None else outcome_document(outcome, _LEVEL)
        for name, outcome in (("jars", stored.jars), ("brine_ml", stored.brine_ml))
    }


def beliefs_text(beliefs: Beliefs, path: Path | None, by: str) -> str:
    """Which starting beliefs are in use, and why."""
    where = "those that come with jarcast" if path is None else str(path)
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
