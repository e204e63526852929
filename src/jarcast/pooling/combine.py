"""Combine many reduced households into starting beliefs for newcomers."""

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from jarcast.domain.stages import Link
from jarcast.errors import BeliefsError
from jarcast.learning.fit.em import NOISE_DOF
from jarcast.learning.fit.sites import TAIL_WIDENING, usual_variance
from jarcast.learning.model.beliefs import Beliefs, LinkSpread, People
from jarcast.learning.model.effects import POT_LOSS, Effect
from jarcast.learning.model.links import WEIGHT_LINKS
from jarcast.pooling.population import PopulationFit, fit_population
from jarcast.pooling.reduce import Part, Reduced

LEAST_HOUSEHOLDS = 2  # with one alone, person and crop cannot be told apart


class Pooled(Struct, frozen=True):
    """What many households say together.

    ``people`` says anew how far people and batches differ. ``households`` and ``batches`` count
    what it rests on, ``crops`` the same for each (produce, cut, pack).
    """

    fits: tuple[PopulationFit, ...]
    people: People
    households: int
    batches: int
    crops: Mapping[tuple[str, str, str], tuple[int, int]]

    def of(self, link: Link) -> PopulationFit:
        """The fit of the crops on a link."""
        return next(one for one in self.fits if link in one.off)

    def value(self, found: Mapping[Effect, float], link: Link) -> tuple[float, float]:
        """Mean of a sum of effects, and its sd in a kitchen outside the pool."""
        return self.of(link).value(found, link)


def combine(households: Sequence[Reduced], beliefs: Beliefs) -> Pooled:
    """Combine households that were reduced with these beliefs.

    Raises BeliefsError where fewer than two of them have anything to say.
    """
    saying = [household for household in households if household.parts]
    if len(saying) < LEAST_HOUSEHOLDS:
        few = "only 1" if saying else "none"
        raise BeliefsError(
            f"{few} of the households given tells anything; pooling needs at least "
            f"{LEAST_HOUSEHOLDS} whose batches have a weight as well as jars"
        )
    parts = [part for household in saying for part in household.parts]
    fits = tuple(fit_population(*group, beliefs) for group in _tied(parts))
    return Pooled(
        fits=fits,
        people=_people(saying, fits, beliefs.people),
        households=len(saying),
        batches=sum(household.batches for household in saying),
        crops=_counted(saying),
    )


def _tied(parts: Sequence[Part]) -> list[tuple[list[Part], tuple[Link, ...]]]:
    """The parts of each group of links, where no household ties a group to another."""
    groups = [{link} for link in Link]
    for part in parts:
        touched = [group for group in groups if group & {c.link for c in part.coordinates}]
        groups = [group for group in groups if group not in touched]
        groups.append(set().union(*touched))
    groups.sort(key=min)
    return [
        ([p for p in parts if {c.link for c in p.coordinates} <= group], tuple(sorted(group)))
        for group in groups
    ]


def _counted(households: Sequence[Reduced]) -> dict[tuple[str, str, str], tuple[int, int]]:
    """Numbers of households and batches for each crop."""
    crops: dict[tuple[str, str, str], tuple[int, int]] = {}
    for household in households:
        for crop, count in household.crops.items():
            kitchens, batches = crops.get(crop, (0, 0))
            crops[crop] = (kitchens + 1, batches + count)
    return dict(sorted(crops.items()))


def _people(households: Sequence[Reduced], fits: Sequence[PopulationFit], before: People) -> People:
    """Spreads between people and batches, and the pot loss; jar to jar stays as it was."""

    def noise(link: Link, believed: float) -> float:
        """Sd over all kinds of noise, where ``believed`` is the usual variance."""
        seen = [h.noise[link] for h in households if link in h.noise]
        squares = NOISE_DOF * believed + sum(one.squares for one in seen)
        known = NOISE_DOF + sum(one.batches for one in seen)
        return float(np.sqrt(squares / known * TAIL_WIDENING))

    between = {link: size**0.5 for fit in fits for link, size in fit.between_people.items()}
    spreads = {
        link.value: LinkSpread(
            between[link], noise(link, usual_variance(getattr(before, link.value).noise))
        )
        for link in WEIGHT_LINKS
    }
    brine = next(fit for fit in fits if Link.BRINE in fit.off)
    mean, _ = brine.value({POT_LOSS: before.loss_between_people}, Link.BRINE)
    times = max(1.0 + mean, 0.1)  # as much is lost as was believed
    return People(
        **spreads,
        jar_to_jar=before.jar_to_jar,
        loss_ml=before.loss_ml * times,
        loss_between_people=between[Link.BRINE] / times,
        loss_between_batches=before.loss_between_batches * noise(Link.BRINE, usual_variance(1.0)),
    )
