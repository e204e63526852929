"""What a link's value moves with: effects, and their loadings for a batch.

Every effect has a standard normal prior, and its loading carries the size. Effects are the person,
in a kitchen of several what all of them share and what is each one's own; the crop (common to all
published centres, to the produce, to the cut, and to the two together, so that a new cut of a known
crop starts close); and the link's covariates.
"""

import math
from collections.abc import Callable
from functools import cache, lru_cache

from msgspec import Struct

from jarcast.domain.stages import Link
from jarcast.learning.model.beliefs import QUANTITIES, LinkSpread, People
from jarcast.learning.model.links import PINT_ML, USUAL_READY_G, Situation

# How a crop's distance from its published centre is split: common to all of them (published yields
# as a whole run high or low for one kitchen), to the produce, to the cut, and particular to the two
# together. Common practice, no source; checked by simulation.
_COMMON, _PRODUCE, _CUT, _CELL = (math.sqrt(part) for part in (0.4, 0.3, 0.1, 0.2))
# Links on which people of one kitchen differ; the share of the variance between people that is each
# one's own, the rest being common to a kitchen's: a few, weighed by how well they foretell the
# batches, where there are several people. Common practice, no source.
PERSONAL = (Link.TRIM, Link.PACK)
OWN_SHARES = (0.2, 0.5, 0.8)
_OWN = 0.5  # of somebody new to a kitchen of one, which tells nothing of it
USUAL_SALT_SHARE = 0.03
DRAINING = 0.01  # sd between people of the ready weight's own volume: how well it is drained


class Effect(Struct, frozen=True, gc=False, cache_hash=True):
    """Name of one coefficient."""

    link: Link
    group: str  # 'person', 'own', 'kitchen', 'published', 'crop' or 'covariate'
    key: str


Loadings = dict[Effect, float]

DRAINED = Effect(Link.BRINE, "person", "drained")
POT_LOSS = Effect(Link.BRINE, "person", "loss")
POT_GROWTH = Effect(Link.BRINE, "covariate", "pot growth")
# A pot loses more over a larger batch: it stands on the stove for longer, and is ladled from more
# often. As the size of the batch to this power, give or take. Common practice, no source: between
# a loss that is always the same (0) and one that goes by the jar (1).
OF_THE_POT = frozenset({POT_LOSS, POT_GROWTH})
GROWTH, GROWTH_SD = 0.35, 0.3
USUAL_VOLUME_ML = 4000.0  # fill volume of a batch of the usual size


class Covariate(Struct, frozen=True):
    """Something a link's value moves with besides person and crop.

    ``value`` reads it off a batch's situation: 0 for what is usual, None where it is not known.
    ``sd`` is the prior sd of the change, on the link's scale, for a value of 1.
    """

    link: Link
    name: str
    sd: float
    value: Callable[[Situation], float | None]

    @property
    def effect(self) -> Effect:
        """Its coefficient."""
        return Effect(self.link, "covariate", self.name)


def _log_between(value: float, least: float, most: float) -> float:
    return math.log(min(max(value, least), most))


# Common practice, no source, all of them. DEVELOPERS.md tells how to add one.
COVARIATES = (
    Covariate(
        Link.CURE, "salt", 0.04,
        lambda at: _log_between(at.salt_share / USUAL_SALT_SHARE, 0.1, 10.0) if at.salt_share
        else None,
    ),
    Covariate(Link.PACK, "jar size", 0.04, lambda at: math.log(at.fill_ml / PINT_ML)),
    Covariate(
        Link.PACK, "batch size", 0.06,
        lambda at: _log_between(at.ready_g / USUAL_READY_G, 0.02, 50.0),
    ),
    Covariate(Link.PACK, "wide mouth", 0.03, lambda at: at.wide),
)  # fmt: skip


def loadings(link: Link, at: Situation, people: People) -> Loadings:
    """Loadings of the effects that a weight link's value is the sum of, on its scale."""
    differ: LinkSpread = getattr(people, link)
    spread: float = getattr(at.crop, QUANTITIES[link]).spread
    found = {
        **_of_people(link, differ.between_people, at.people, at.stranger),
        **_of_crop(link, spread, at.produce, at.cut, at.pack),
    }
    for effect, sd, value_of in _covariates(link):
        if (value := value_of(at)) is not None:
            found[effect] = sd * value
    if differ.kitchens:
        found[kitchen(link)] = differ.kitchens
    if link is Link.CURE:
        found = {effect: value * at.cure for effect, value in found.items()}
    return found


@cache
def _covariates(
    link: Link,
) -> tuple[tuple[Effect, float, Callable[[Situation], float | None]], ...]:
    """The coefficient, the prior sd and the reading of each of a link's covariates."""
    return tuple((one.effect, one.sd, one.value) for one in COVARIATES if one.link is link)


@lru_cache(maxsize=1024)  # a long ledger asks for a few of them over and over
def _of_crop(link: Link, spread: float, produce: str, cut: str, pack: str) -> Loadings:
    """Loadings of a crop's effects: of published centres, its produce, its cut, and both together.

    Raw and hot packs of one cut share the produce's and the cut's effect, not the cell's.
    """
    cell = f"{produce}/{cut}" + (f"/{pack}" if link is Link.PACK else "")
    return {
        Effect(link, "published", ""): spread * _COMMON,
        Effect(link, "crop", produce): spread * _PRODUCE,
        Effect(link, "crop", f"*/{cut}"): spread * _CUT,
        Effect(link, "crop", cell + "/"): spread * _CELL,
    }


@cache
def common_to_all(link: Link) -> Effect:
    """The effect that the people of a kitchen share on a link; of a kitchen of one, its person."""
    return Effect(link, "person", "")


@cache
def kitchen(link: Link) -> Effect:
    """How far all of a kitchen's crops lie from the published ones, whoever packs them."""
    return Effect(link, "kitchen", "")


def own(link: Link, name: str) -> Effect:
    """What is somebody's own on a link, beside what the kitchen's people share."""
    return Effect(link, "own", name)


@lru_cache(maxsize=256)
def _of_people(
    link: Link, size: float, people: tuple[tuple[str, float], ...], stranger: str
) -> Loadings:
    """Loadings of who trimmed and packed.

    Common and own effect have the size of one person's; how its variance is shared between them is
    in their priors. To somebody new a kitchen of one says what the two of them share.
    """
    shared = common_to_all(link)
    if link not in PERSONAL:
        return {shared: size}
    if stranger:
        alike = 1.0 - _OWN
        return {shared: size * alike, own(link, stranger): size * math.sqrt(1.0 - alike**2)}
    return {shared: size, **{own(link, name): size * chance for name, chance in people}}


def loss_factor(volume_ml: float) -> float:
    """What a batch of this fill volume loses in the pot, over one of the usual size."""
    return float(min(max(volume_ml / USUAL_VOLUME_ML, 0.05), 20.0) ** GROWTH)


def brine_loadings(
    ready_g: float, at: Situation, people: People, volume_ml: float = USUAL_VOLUME_ML
) -> Loadings:
    """Loadings of the effects on fill volume less brine used, in ml, for this ready weight.

    ``volume_ml`` is the fill volume of the batch, by which the pot loss grows.
    """
    own_volume = ready_g / at.crop.tissue.centre
    lost = people.loss_ml * loss_factor(volume_ml)
    found = {
        DRAINED: own_volume * DRAINING,
        Effect(Link.BRINE, "crop", at.produce): own_volume * at.crop.tissue.spread,
        POT_LOSS: -lost * people.loss_between_people,
    }
    larger = _log_between(volume_ml / USUAL_VOLUME_ML, 0.05, 20.0)
    return {**found, POT_GROWTH: -lost * GROWTH_SD * larger} if larger else found
