"""The demo: one forecast made three times, from no batch, from a few, and from all of them."""

from collections.abc import Sequence

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import habits_from

_PRODUCE, _CUT, _PACK, _JAR, _TRIMMED_G = "carrot", "sticks", "raw", "pint", 2700.0
_FEW = 8


class DemoStep(Struct, frozen=True):
    """The demo's forecast after this many batches."""

    batches: int
    forecast: Forecast


def run_demo(batches: Sequence[Batch]) -> tuple[DemoStep, ...]:
    """Forecast 2.7 kg of trimmed carrot sticks from more and more of the history."""
    ordered = sorted(batches, key=lambda batch: batch.date)
    steps = []
    for count in (0, min(_FEW, len(ordered)), len(ordered)):
        habits = habits_from(ordered[:count])
        forecast = habits.forecast(
            produce=_PRODUCE, cut=_CUT, pack=_PACK, jar=_JAR, trimmed_g=_TRIMMED_G, cure_hours=0
        )
        steps.append(DemoStep(count, forecast))
    return tuple(steps)
