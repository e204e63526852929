"""Whether brine does for the first load of the canner while its jars are filled."""

import numpy as np

from jarcast.forecast.answer import Forecast
from jarcast.forecast.pots import AS_ORDERED

# Of the chance of running short, what a first load may take: a little more than its pot is ordered
# by (``pots``), as draws differ from one answer to the next.
_STILL_DOES = 0.65


def waits_for_reading(forecast: Forecast, load: float, short_chance: float = 0.05) -> bool:
    """Whether the brine there does for the first load, and nothing was read of its jars yet.

    Then the next pot is still to be ordered: bowl and pot tell how much, and no jar that was merely
    counted changes what was heated for them. What is to come is shared out among the jars to come.
    """
    so_far, there = forecast.so_far, forecast.brine_there_ml
    if so_far is None or there is None or not 0.0 < so_far.jars < load:
        return False
    if not forecast.poured_over or forecast.jars.median <= load:  # one pot for all of it
        return False
    if any(one.jars and one.tells for one in so_far.readings):
        return False
    part = (load - so_far.jars) / np.maximum(forecast.jars_to_come.draws, 1e-9)
    need = np.minimum(part, 1.0) * forecast.brine_to_come_ml.draws
    short = need > (1.0 + AS_ORDERED) * there.draws
    return bool(np.mean(short) <= _STILL_DOES * short_chance)
