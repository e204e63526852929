"""A forecast as it was made: for which batch, what it knew, what it said.

It is what the track record is scored from, and is kept as JSON. An outcome is kept as 101
quantiles, which read back as the same median and ranges.
"""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from msgspec import Struct, ValidationError, convert

from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.learning.arrays import Array

VERSION = 1  # of the two JSON documents
LEVELS = tuple(number / 100 for number in range(101))  # the least draw, 99 between, the most


class Turn(Struct, frozen=True):
    """One sort of jar: how many before the next sort (inf for the last), ml to the headspace."""

    jar: str
    count: float
    fill_ml: float


class StoredForecast(Struct, frozen=True, eq=False):
    """One forecast as it stood; ``own_batches`` is how many it rested on.

    ``brine_ml`` is None for what makes its own brine.
    """

    batch: str
    produce: str
    cut: str
    pack: str
    turns: tuple[Turn, ...]
    stage: str
    grams: float
    cure_hours: float | None
    salt_g: float | None
    own_batches: int
    jars: Outcome
    brine_ml: Outcome | None


_KINDS: Mapping[str, Any] = {
    **dict.fromkeys(("produce", "cut", "pack", "stage"), str),
    "grams": float, "cure_hours": float | None, "salt_g": float | None, "own_batches": int,
}  # fmt: skip


def stored_from(batch: str, forecast: Forecast) -> StoredForecast:
    """What a forecast knew and said, for the batch of this name."""
    request, rests = forecast.request, forecast.rests_on
    return StoredForecast(
        batch=batch,
        produce=request.produce,
        cut=request.cut,
        pack=request.pack,
        turns=tuple(Turn(turn.jar.key, turn.count, turn.fill_ml) for turn in request.turns),
        stage=request.stage,
        grams=request.grams,
        cure_hours=request.cure_hours,
        salt_g=request.salt_g,
        own_batches=rests.this + rests.same_produce + rests.others,
        jars=_condensed(forecast.jars),
        brine_ml=_condensed(forecast.brine_ml) if forecast.has_brine else None,
    )


def _condensed(outcome: Outcome) -> Outcome:
    return Outcome(at_levels(outcome))


def at_levels(outcome: Outcome) -> Array:
    """Quantiles of an outcome at all LEVELS, in its unit, each as ``Outcome.quantile`` has it."""
    draws = np.sort(outcome.draws)
    at = np.array(LEVELS) * (draws.size - 1)
    low = at.astype(int)
    high = np.minimum(low + 1, draws.size - 1)
    return np.asarray(draws[low] + (at - low) * (draws[high] - draws[low]))


def known_document(stored: StoredForecast) -> dict[str, Any]:
    """What it knew, as JSON; a last sort of jar has no count."""
    turns = [
        {"jar": t.jar, "count": t.count if math.isfinite(t.count) else None, "fill_ml": t.fill_ml}
        for t in stored.turns
    ]
    plain = ("produce", "cut", "pack", "stage", "grams", "cure_hours", "salt_g", "own_batches")
    return {"version": VERSION, **{name: getattr(stored, name) for name in plain}, "turns": turns}


def answer_document(stored: StoredForecast) -> dict[str, Any]:
    """What it said, as JSON: 101 quantiles of each outcome, at chances 0, 0.01, ... 1."""
    brine = None if stored.brine_ml is None else stored.brine_ml.draws.tolist()
    return {"version": VERSION, "jars": stored.jars.draws.tolist(), "brine_ml": brine}


def stored_from_documents(
    batch: str, known: Mapping[str, Any], answer: Mapping[str, Any]
) -> StoredForecast:
    """The forecast again, exactly. Raises ForecastError for documents that are not of one."""
    if known.get("version") != VERSION or answer.get("version") != VERSION:
        raise ForecastError(
            f"the forecast kept for batch '{batch}' was written by a newer jarcast; "
            "install that to look back on it"
        )
    try:
        turns = tuple(
            Turn(
                convert(t["jar"], str),
                math.inf if t["count"] is None else convert(t["count"], float),
                convert(t["fill_ml"], float),
            )
            for t in known["turns"]
        )
        rest = {
            name: convert(value, _KINDS[name])
            for name, value in known.items()
            if name not in ("version", "turns")
        }
        brine = answer["brine_ml"]
        return StoredForecast(
            batch=batch,
            turns=turns,
            jars=_outcome(answer["jars"]),
            brine_ml=None if brine is None else _outcome(brine),
            **rest,
        )
    except (KeyError, TypeError, ValueError, ValidationError) as error:
        raise ForecastError(
            f"the forecast kept for batch '{batch}' cannot be read ({error!r})"
        ) from error


def _outcome(quantiles: list[float]) -> Outcome:
    draws = np.array(quantiles, dtype=float)
    if draws.shape != (len(LEVELS),) or not np.isfinite(draws).all():
        raise ValueError(f"{len(LEVELS)} finite quantiles are due")
    return Outcome(draws)
