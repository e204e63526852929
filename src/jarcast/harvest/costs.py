"""What each crop of a harvest costs: what its batches use up of all that has a price."""

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from jarcast.domain.stages import AS_BOUGHT
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.needs import Heading, Need, Order, heading, needs_of


class CropCost(Struct, frozen=True):
    """What one crop uses up in money, in all and for each jar; ``unpriced`` has no price.

    The draws of all crops belong together place by place: they add up to the whole.
    """

    produce: str
    jars: Outcome
    used: Outcome
    by_jar: Outcome
    unpriced: tuple[Need, ...]


def costs_by_crop(
    forecasts: Sequence[Forecast],
    order: Order,
    prices: Mapping[Heading, float | None],
    beyond: Mapping[Heading, Outcome],
) -> tuple[CropCost, ...]:
    """The cost of each crop, in the order they come in the plan.

    ``prices`` are those of one piece, ml or g of a thing. ``beyond`` is what is needed over what is
    at hand, of all crops together: of that, each has its share.
    """
    crops: dict[str, list[Forecast]] = {}
    for one in forecasts:
        crops.setdefault(one.request.produce, []).append(one)
    needs = {produce: needs_of(own, order).needs for produce, own in crops.items()}
    totals: dict[Heading, Outcome] = {}
    for own in needs.values():
        for need in own:
            before = totals.get(heading(need))
            draws = need.amount.draws if before is None else before.draws + need.amount.draws
            totals[heading(need)] = Outcome(draws)
    found = []
    for produce, lines in crops.items():
        used = np.zeros(lines[0].jars.draws.size)
        unpriced = []
        for need in needs[produce]:
            if (price := prices[heading(need)]) is None:
                unpriced.append(need)
                continue
            total, left = totals[heading(need)].draws, beyond[heading(need)].draws
            used = used + price * need.amount.draws * left / np.maximum(total, 1e-12)
        jars = np.sum([one.jars_to_come.draws for one in lines], axis=0)
        by_jar = Outcome(used / np.maximum(jars, 1.0))
        found.append(CropCost(produce, Outcome(jars), Outcome(used), by_jar, tuple(unpriced)))
    return tuple(found)


def not_weighed_as_bought(forecasts: Sequence[Forecast]) -> tuple[str, ...]:
    """Crops with batches of which nobody knows what they weighed as bought: they have no price."""
    return tuple(
        dict.fromkeys(one.request.produce for one in forecasts if one.request.stage != AS_BOUGHT)
    )
