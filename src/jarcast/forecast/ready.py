"""The weight as it goes into the jars, carried there from the latest known one."""

import numpy as np

from jarcast.domain.stages import Link
from jarcast.forecast.remaining import Ahead
from jarcast.forecast.values import Values
from jarcast.learning.arrays import Array


def weights_ahead(
    ahead: Ahead, values: Values, start: Array, rng: np.random.Generator
) -> list[tuple[Link, Array]]:
    """The weight in g after each link that still lies ahead, (draws,), in their order."""
    ready, found = start, []
    for link in ahead.links:
        value = values.ahead[link]
        if link is Link.TRIM:
            ready = ready / (1.0 + np.exp(-np.clip(value, -30.0, 30.0)))
        elif link is Link.CURE and ahead.cured < 1.0:
            cured = rng.permutation(ready.size) + rng.random() < ahead.cured * ready.size
            ready = ready * np.where(cured, np.exp(value), 1.0)
        else:
            ready = ready * np.exp(value)
        found.append((link, ready))
    return found


def ready_weight(ahead: Ahead, values: Values, start: Array, rng: np.random.Generator) -> Array:
    """Weight as it goes into the jars, through the links that still lie ahead."""
    weights = weights_ahead(ahead, values, start, rng)
    return weights[-1][1] if weights else start
