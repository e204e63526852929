"""Reduce one household to what it says of crops and people: no row of it goes any further.

What its batches say, apart from any prior, follows from what was learned of it. The posterior of
some sums of effects is normal, as was their prior, and the likelihood between the two is

    information = posterior precision - prior precision      (p, p)
    vector      = posterior precision @ posterior mean       (p,)

(Gelman et al., Bayesian Data Analysis, 3rd ed., section 13.8, divides priors out the same way.)
The sums are the person effect, the value of each of the household's crops less the published
centre, and its covariates, which say nothing of other households but must be accounted for.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.dishes import made_of
from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.fit.em import NOISE_DOF
from jarcast.learning.fit.sites import usual_variance
from jarcast.learning.learned import Learned, learn_batches
from jarcast.learning.model.beliefs import Beliefs, People, starting_beliefs
from jarcast.learning.model.effects import (
    DRAINED,
    POT_LOSS,
    Effect,
    Loadings,
    kitchen,
    loadings,
)
from jarcast.learning.model.links import WEIGHT_LINKS, Situation
from jarcast.learning.posterior import Block

PERSON, CROP, OWN = "person", "crop", "own"


class Coordinate(NamedTuple):
    """One of the sums that a household tells of.

    ``kind`` is 'person', 'crop' or 'own' (a covariate, in units of its prior sd). ``crop`` is
    produce, cut and pack; the pack matters for densities alone, and neither cut nor pack for the
    tissue. For brine the person is the pot loss over the usual one, less one.
    """

    link: Link
    kind: str
    crop: tuple[str, str, str] = ("", "", "")
    name: str = ""


class Part(Struct, frozen=True):
    """What a household says of the p coordinates of one block, as a normal likelihood.

    ``information`` (p, p) and ``vector`` (p,), on the links' scales.
    """

    coordinates: tuple[Coordinate, ...]
    information: Array
    vector: Array


class NoiseSeen(NamedTuple):
    """Sum of squared noise in a household's batches, and how many batches it is worth."""

    squares: float
    batches: float


class Reduced(Struct, frozen=True):
    """A household without its rows.

    ``crops`` counts batches by (produce, cut, pack). ``noise`` is that of each link: a variance on
    the scale of a weight link, and in units of the expected variance for brine.
    """

    batches: int
    crops: Mapping[tuple[str, str, str], int]
    parts: tuple[Part, ...]
    noise: Mapping[Link, NoiseSeen]


def reduce_household(
    batches: Sequence[Batch],
    beliefs: Beliefs | None = None,
) -> Reduced:
    """Reduce one household's batches; what it says is relative to ``beliefs``.

    What a dish is made of nobody knows: its batches say nothing of a crop, and are left out.
    """
    batches = [batch for batch in batches if made_of(batch.produce) is None]
    beliefs = starting_beliefs() if beliefs is None else beliefs
    learned = learn_batches(batches, beliefs)
    parts = tuple(_part(learned, block) for block in learned.blocks if block.effects)
    return Reduced(learned.batches, dict(learned.cells), parts, _noise(learned))


def crop_loadings(
    beliefs: Beliefs, link: Link, crop: tuple[str, str, str], people: People
) -> Loadings:
    """Effects that a crop's value on a link is the sum of, less its published centre.

    For cure that is the value after a full cure, for brine the space one gram takes in proportion
    to the published one.
    """
    belief = beliefs.crop(*crop)
    if link is Link.BRINE:
        return {Effect(Link.BRINE, "crop", crop[0]): belief.tissue.spread}
    found = loadings(link, Situation(belief, *crop), people)
    return {e: x for e, x in found.items() if e.group in ("published", "crop")}


def distinguished(link: Link, crop: tuple[str, str, str]) -> tuple[str, str, str]:
    """A crop by what tells its values on this link apart."""
    if link is Link.BRINE:
        return (crop[0], "", "")
    return crop if link is Link.PACK else (crop[0], crop[1], "")


def _part(learned: Learned, block: Block) -> Part:
    component = block.heaviest
    sums = _sums(learned, block)
    A = np.zeros((len(sums), len(block.effects)))
    for i, found in enumerate(sums.values()):
        for effect, value in found.items():
            if effect in block.effects:
                A[i, block.effects[effect]] = value
    root = A @ component.root[: len(block.effects)]  # without the walk: integrated out
    precision = np.linalg.inv(root @ root.T)
    variances = np.array([component.prior(effect) for effect in block.effects], dtype=float)
    prior = np.linalg.inv((A * variances) @ A.T)
    information = precision - prior
    vector = precision @ (A @ component.mean[: len(block.effects)])
    return Part(tuple(sums), 0.5 * (information + information.T), vector)


def _sums(learned: Learned, block: Block) -> dict[Coordinate, Loadings]:
    """The sums of effects that a block's rows tell of."""
    people = learned.beliefs.people
    sums: dict[Coordinate, Loadings] = {}
    for effect in block.effects:
        if effect == POT_LOSS:
            sums[Coordinate(effect.link, PERSON)] = {effect: people.loss_between_people}
        elif effect.group == "covariate" or effect == DRAINED:
            sums[Coordinate(effect.link, OWN, name=effect.key)] = {effect: 1.0}
        elif effect.group == "person":
            size = getattr(people, effect.link.value).between_people
            whole = {effect: size, **_mean_own(block, effect, size)}
            if (apart := getattr(people, effect.link.value).kitchens) > 0.0:
                whole[kitchen(effect.link)] = apart
            sums[Coordinate(effect.link, PERSON)] = whole
    for link in block.links:
        for crop in sorted(learned.cells):
            found = crop_loadings(learned.beliefs, link, crop, people)
            if found.keys() <= block.effects.keys():
                sums.setdefault(Coordinate(link, CROP, distinguished(link, crop)), found)
    return sums


def _mean_own(block: Block, person: Effect, size: float) -> Loadings:
    """What is each one's own, on average over the people of a kitchen; nothing for one of them."""
    own = [e for e in block.effects if (e.link, e.group) == (person.link, "own")]
    return {effect: size / len(own) for effect in own}


def _noise(learned: Learned) -> dict[Link, NoiseSeen]:
    """What was learned of each link's noise, less its prior, which was worth NOISE_DOF batches."""
    found = {}
    for block in learned.blocks:
        component = block.heaviest
        for link, noise in component.noise.items():
            people, weighed = learned.beliefs.people, link in WEIGHT_LINKS
            before = usual_variance(getattr(people, link.value).noise if weighed else 1.0)
            squares = noise.variance * noise.dof - NOISE_DOF * before
            found[link] = NoiseSeen(max(squares, 0.0), noise.dof - NOISE_DOF)
    return found
