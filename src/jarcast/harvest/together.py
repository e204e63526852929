"""Many batches at once: totals drawn jointly.

The person is the same in all lines of a harvest, and so is a crop used twice; what happens in one
batch is not. Adding up the lines draw by draw keeps both: adding up each line's own range
would overstate the variance, taking the lines as unrelated would understate it.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome


class Harvest(Struct, frozen=True):
    """Several batches forecast together.

    ``lines`` are their forecasts, whose draws belong together place by place; ``jars`` and
    ``brine_ml`` the totals over all of them.
    """

    lines: tuple[Forecast, ...]
    jars: Outcome
    brine_ml: Outcome


def plan_harvest(
    habits: Habits, lines: Sequence[Mapping[str, Any]], draws: int = 4096, seed: int = 0
) -> Harvest:
    """Forecast the batches of a harvest together.

    A line is a mapping of the keywords of ``Habits.forecast``; a weight may be a pair (low, high),
    a range that holds it 8 times in 10. The same lines and seed give the same draws. Raises
    ForecastError for no lines at all or for one that cannot be answered, BatchError and RecipeError
    for a jar that is not there or not the recipe's, each with the number of the line.
    """
    if not lines:
        raise ForecastError("a harvest needs at least one line: a produce and a weight")
    forecasts = habits.forecast_together(lines, draws=draws, seed=seed)
    return Harvest(
        lines=forecasts,
        jars=Outcome(np.sum([one.jars.draws for one in forecasts], axis=0)),
        brine_ml=Outcome(np.sum([one.brine_ml.draws for one in forecasts], axis=0)),
    )
