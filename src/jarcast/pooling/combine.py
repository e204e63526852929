"""Many reduced households combined: centres, spreads, hands, noise and pot loss for newcomers."""

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from jarcast.batch import Arrow
from jarcast.errors import BeliefsError
from jarcast.learning.arrows import WEIGHT_ARROWS, Effect
from jarcast.learning.beliefs import Beliefs, Hand, People
from jarcast.learning.fit import NOISE_DOF
from jarcast.learning.robust import TAIL_WIDENING
from jarcast.pooling.population import Settled, settle
from jarcast.pooling.reduce import LOSS, Part, Reduced

LEAST_HOUSEHOLDS = 2  # of one alone nothing can be told apart


class Pooled(Struct, frozen=True):
    """What many households tell together.

    ``people`` are the hands anew; ``households`` and ``batches`` count what it rests on, ``crops``
    the same for each (produce, cut, pack).
    """

    settled: tuple[Settled, ...]
    people: People
    households: int
    batches: int
    crops: Mapping[tuple[str, str, str], tuple[int, int]]

    def of(self, arrow: Arrow) -> Settled:
        """What was settled of the crops on an arrow."""
        return next(one for one in self.settled if arrow in one.off)

    def value(self, found: Mapping[Effect, float], arrow: Arrow) -> tuple[float, float]:
        """Mean of a sum of effects, and its sd in a kitchen not met yet."""
        return self.of(arrow).value(found, arrow)


def combine(households: Sequence[Reduced], beliefs: Beliefs) -> Pooled:
    """Combine households that were reduced with these beliefs. Raises BeliefsError for fewer than
    two with anything to tell.
    """
    told = [household for household in households if household.parts]
    if len(told) < LEAST_HOUSEHOLDS:
        few = "only 1" if told else "none"
        raise BeliefsError(
            f"{few} of the households given tells anything; pooling needs at least "
            f"{LEAST_HOUSEHOLDS} whose batches have a weight beside the jars"
        )
    parts = [part for household in told for part in household.parts]
    settled = tuple(settle(*group, beliefs) for group in _tied(parts))
    return Pooled(
        settled=settled,
        people=_people(told, settled, beliefs.people),
        households=len(told),
        batches=sum(household.batches for household in told),
        crops=_counted(told),
    )


def _tied(parts: Sequence[Part]) -> list[tuple[list[Part], tuple[Arrow, ...]]]:
    """Parts by groups of arrows that no household ties to any other."""
    groups = [{arrow} for arrow in Arrow]
    for part in parts:
        touched = [group for group in groups if group & {c.arrow for c in part.coordinates}]
        groups = [group for group in groups if group not in touched]
        groups.append(set().union(*touched))
    groups.sort(key=min)
    return [
        ([p for p in parts if {c.arrow for c in p.coordinates} <= group], tuple(sorted(group)))
        for group in groups
    ]


def _counted(households: Sequence[Reduced]) -> dict[tuple[str, str, str], tuple[int, int]]:
    """Households and batches of each crop."""
    crops: dict[tuple[str, str, str], tuple[int, int]] = {}
    for household in households:
        for crop, count in household.crops.items():
            kitchens, batches = crops.get(crop, (0, 0))
            crops[crop] = (kitchens + 1, batches + count)
    return dict(sorted(crops.items()))


def _people(households: Sequence[Reduced], settled: Sequence[Settled], before: People) -> People:
    """Hands, noise and pot loss anew; from jar to jar stays as it was."""

    def noise(arrow: Arrow, believed: float) -> float:
        seen = [h.noise[arrow] for h in households if arrow in h.noise]
        usual = NOISE_DOF * believed + sum(one.squares for one in seen)
        known = NOISE_DOF + sum(one.batches for one in seen)
        return float(np.sqrt(usual / known * TAIL_WIDENING))

    hand = {arrow: float(np.sqrt(size)) for one in settled for arrow, size in one.hand.items()}
    hands = {
        arrow.value: Hand(
            hand[arrow], noise(arrow, getattr(before, arrow.value).noise ** 2 / TAIL_WIDENING)
        )
        for arrow in WEIGHT_ARROWS
    }
    brine = next(one for one in settled if Arrow.BRINE in one.off)
    mean, _ = brine.value({LOSS: before.loss_between_people}, Arrow.BRINE)
    usual = max(1.0 + mean, 0.1)
    return People(
        **hands,
        jar_to_jar=before.jar_to_jar,
        loss_ml=before.loss_ml * usual,
        loss_between_people=hand[Arrow.BRINE] / usual,
        loss_between_batches=before.loss_between_batches * noise(Arrow.BRINE, 1.0 / TAIL_WIDENING),
    )
