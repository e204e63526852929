"""What one would use instead: the running average of one's own ratios.

Jars filled for each kilogram of that stage, for that produce and cut, and brine for each jar. Jars
count by what they hold, so that quarts and pints make one average.
"""

import math
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.jars import Jar
from jarcast.domain.names import cut_key, produce_key
from jarcast.trackrecord.stored import StoredForecast, Turn


class Average(Struct, frozen=True):
    """What the average says: jars and brine in ml.

    ``brine_ml`` is None where no earlier batch of the crop has brine made and left.
    """

    jars: float
    brine_ml: float | None


class Ratios(Struct, frozen=True):
    """What batches come to: ml of jar filled for each gram of a stage, and brine used for each ml
    filled; None where that is not known.
    """

    fill: float | None
    share: float | None


def crop_key(batch: Batch) -> tuple[str, str]:
    """Produce and cut, by which batches are averaged."""
    return produce_key(batch.produce), cut_key(batch.cut)


def ratios(batch: Batch, stage: str, shelf: Mapping[str, Jar]) -> Ratios:
    """The ratios of a batch; none are known where its numbers contradict one another."""
    if any(flag.links for flag in contradictions(batch, shelf)):
        return Ratios(None, None)
    volume, used, grams = batch.fill_volume_ml(shelf), batch.brine_used_ml, getattr(batch, stage)
    return Ratios(
        None if grams is None else volume / grams, None if used is None else used / volume
    )


class OwnRatios:
    """The ratios of batches, each worked out once: a long record asks for them over and over."""

    def __init__(self, shelf: Mapping[str, Jar]) -> None:
        """Ratios with the jars of this shelf."""
        self._shelf = shelf
        # By the very batch, which is held here so that its identity stays its own.
        self._known: dict[tuple[int, str], tuple[Batch, Ratios]] = {}

    def of(self, batch: Batch, stage: str) -> Ratios:
        """As ``ratios``."""
        key = id(batch), stage
        if key not in self._known:
            self._known[key] = batch, ratios(batch, stage, self._shelf)
        return self._known[key][1]


class Earlier:
    """The batches before a forecast, averaged: each crop once for each stage."""

    def __init__(self, history: Iterable[Batch], own: OwnRatios) -> None:
        """``own`` are the ratios of these batches."""
        self._own = own
        self._crops: dict[tuple[str, str], list[Batch]] = {}
        for batch in history:
            self._crops.setdefault(crop_key(batch), []).append(batch)
        self._means: dict[tuple[str, str, str], Ratios] = {}

    def running_average(self, stored: StoredForecast) -> Average | None:
        """The average of these batches, asked what a forecast was asked; None without any.

        A batch whose numbers contradict one another is left out, as it is when habits are learned.
        """
        mean = self._mean(stored.produce, stored.cut, stored.stage)
        if mean.fill is None:
            return None
        volume = mean.fill * stored.grams
        brine = None if mean.share is None else mean.share * volume
        return Average(jars_of(volume, stored.turns), brine)

    def _mean(self, produce: str, cut: str, stage: str) -> Ratios:
        key = produce, cut, stage
        if key not in self._means:
            own = [self._own.of(batch, stage) for batch in self._crops.get((produce, cut), ())]
            self._means[key] = Ratios(
                _mean([one.fill for one in own]), _mean([one.share for one in own])
            )
        return self._means[key]


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return math.fsum(known) / len(known) if known else None


def jars_of(volume_ml: float, turns: Sequence[Turn]) -> float:
    """How many jars a volume fills, sort after sort."""
    jars = 0.0
    for turn in turns:
        filled = min(volume_ml / turn.fill_ml, turn.count)
        jars += filled
        volume_ml -= filled * turn.fill_ml
    return jars
