"""One household reduced to what it tells of crops and hands: no row of it goes any further.

What its batches say, apart from any prior, is had from what the model learned of it: the posterior
of some sums of effects is normal, so was their prior, and the likelihood between the two is

    information = posterior precision - prior precision      (p, p)
    vector      = posterior precision @ posterior mean       (p,)

(Gelman et al., Bayesian Data Analysis, 3rd ed., section 13.8, divides priors out the same way.)
The sums are the household's hand, the value of each of its crops less the published centre, and
what goes with salt and jars, which is nobody else's business but must be accounted for.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from jarcast.batch import Arrow, Batch
from jarcast.kinds import SHELF, Jar
from jarcast.learning.arrows import WEIGHT_ARROWS, Effect, Loadings, Situation, loadings
from jarcast.learning.beliefs import Beliefs, People, starting_beliefs
from jarcast.learning.block import Block, Level
from jarcast.learning.fit import NOISE_DOF
from jarcast.learning.learned import Learned, learn_batches
from jarcast.learning.regression import Array
from jarcast.learning.robust import TAIL_WIDENING

HAND, CROP, OWN = "hand", "crop", "own"
LOSS = Effect(Arrow.BRINE, "hand", "loss")
DRAINED = Effect(Arrow.BRINE, "hand", "drained")


class Coordinate(NamedTuple):
    """One of the sums a household tells of.

    ``kind`` is 'hand', 'crop' or 'own' (what goes with salt and jars, in units of its prior sd);
    ``crop`` is produce, cut and pack, where the pack only parts densities and neither cut nor pack
    parts the tissue. A hand of the brine arrow is the pot loss over the usual one, less one.
    """

    arrow: Arrow
    kind: str
    crop: tuple[str, str, str] = ("", "", "")
    name: str = ""


class Part(Struct, frozen=True):
    """What a household tells of the p coordinates of one block, as a normal likelihood.

    ``information`` (p, p) and ``vector`` (p,), on the arrows' scales.
    """

    coordinates: tuple[Coordinate, ...]
    information: Array
    vector: Array


class NoiseSeen(NamedTuple):
    """Squared noise seen in batches, summed, and how many batches' worth that is."""

    squares: float
    batches: float


class Reduced(Struct, frozen=True):
    """A household without its rows.

    ``crops`` counts batches by (produce, cut, pack); ``noise`` is that of each arrow, in units of
    variance for an arrow with weights and of the expected variance for brine.
    """

    batches: int
    crops: Mapping[tuple[str, str, str], int]
    parts: tuple[Part, ...]
    noise: Mapping[Arrow, NoiseSeen]


def reduce_household(
    batches: Sequence[Batch],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
) -> Reduced:
    """Reduce one household's batches; ``beliefs`` are those it is told apart from."""
    beliefs = starting_beliefs() if beliefs is None else beliefs
    learned = learn_batches(batches, beliefs, shelf)
    parts = tuple(_part(learned, block) for block in learned.blocks if block.effects)
    return Reduced(learned.batches, dict(learned.cells), parts, _noise(learned))


def crop_loadings(
    beliefs: Beliefs, arrow: Arrow, crop: tuple[str, str, str], people: People
) -> Loadings:
    """Effects of a crop's own value of an arrow about the published centre, for a full cure.

    For brine it is the space one gram takes, over the published one.
    """
    belief = beliefs.crop(*crop)
    if arrow is Arrow.BRINE:
        return {Effect(Arrow.BRINE, "crop", crop[0]): belief.tissue.spread}
    found = loadings(arrow, Situation(belief, *crop), people)
    return {e: x for e, x in found.items() if e.group in ("published", "crop")}


def parted(arrow: Arrow, crop: tuple[str, str, str]) -> tuple[str, str, str]:
    """A crop by what parts the values of this arrow."""
    if arrow is Arrow.BRINE:
        return (crop[0], "", "")
    return crop if arrow is Arrow.PACK else (crop[0], crop[1], "")


def _part(learned: Learned, block: Block) -> Part:
    level = max(block.levels, key=lambda level: level.weight)
    sums = _sums(learned, block)
    A = np.zeros((len(sums), len(block.effects)))
    for i, found in enumerate(sums.values()):
        for effect, value in found.items():
            if effect in block.effects:
                A[i, block.effects[effect]] = value
    root = A @ level.root[: len(block.effects)]  # a walk's columns are integrated out
    precision = np.linalg.inv(root @ root.T)
    prior = np.linalg.inv((A * _prior(block, level)) @ A.T)
    information = precision - prior
    vector = precision @ (A @ level.mean[: len(block.effects)])
    return Part(tuple(sums), 0.5 * (information + information.T), vector)


def _prior(block: Block, level: Level) -> Array:
    """Prior variance that each effect was learned with, shape (effects,)."""
    return np.array(
        [level.spread[e.arrow] if e.group == "crop" else 1.0 for e in block.effects], dtype=float
    )


def _sums(learned: Learned, block: Block) -> dict[Coordinate, Loadings]:
    """The sums of effects that the rows of a block tell of."""
    people = learned.beliefs.people
    sums: dict[Coordinate, Loadings] = {}
    for effect in block.effects:
        if effect == LOSS:
            sums[Coordinate(effect.arrow, HAND)] = {effect: people.loss_between_people}
        elif effect.group == "covariate" or effect == DRAINED:
            sums[Coordinate(effect.arrow, OWN, name=effect.key)] = {effect: 1.0}
        elif effect.group == "hand":
            hand = getattr(people, effect.arrow.value).hand
            sums[Coordinate(effect.arrow, HAND)] = {effect: hand}
    for arrow in block.arrows:
        for crop in sorted(learned.cells):
            found = crop_loadings(learned.beliefs, arrow, crop, people)
            if found.keys() <= block.effects.keys():
                sums.setdefault(Coordinate(arrow, CROP, parted(arrow, crop)), found)
    return sums


def _noise(learned: Learned) -> dict[Arrow, NoiseSeen]:
    """The noise learned of each arrow without its prior, which was worth NOISE_DOF batches."""
    found = {}
    for block in learned.blocks:
        level = max(block.levels, key=lambda level: level.weight)
        for arrow, noise in level.noise.items():
            before = 1.0 / TAIL_WIDENING
            if arrow in WEIGHT_ARROWS:
                before *= getattr(learned.beliefs.people, arrow.value).noise ** 2
            squares = noise.variance * noise.dof - NOISE_DOF * before
            found[arrow] = NoiseSeen(max(squares, 0.0), noise.dof - NOISE_DOF)
    return found
