"""Draws of every link of one batch or of many; the person effects are common to all of them."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.domain.stages import Link
from jarcast.forecast.remaining import Ahead
from jarcast.learning.arrays import Array
from jarcast.learning.draws import (
    alike,
    draw_effects,
    draw_noise,
    draw_noise_sd,
    mirrored,
    pairs_of,
)
from jarcast.learning.learned import Learned
from jarcast.learning.model.beliefs import People
from jarcast.learning.model.circumstances import cell_name
from jarcast.learning.model.effects import (
    OF_THE_POT,
    Loadings,
    brine_loadings,
    loadings,
    loss_factor,
)
from jarcast.learning.model.links import Situation, centre
from jarcast.learning.posterior import Block

Places = NDArray[np.intp]  # of draws


class Values(Struct, frozen=True):
    """Draws of one batch's links, each array (draws,) but ``pack`` (draws, sorts of jar).

    ``ahead`` and ``pack`` stand on their links' scales, the batch's noise included, ``pack_sd``
    the sd of that of pack; ``pack_component`` is the mixture component of each draw (both empty
    for a batch that is not begun).
    ``own_ml`` is the room a gram of ready produce takes, ``lost_ml`` the pot loss before it is kept
    above 0; ``brine_sd`` (pairs,) the size of the batch's noise in brine, in units of its usual
    one, for each mirrored pair of draws. ``slope`` is the change of log density from one jar to the
    next (empty for a batch that is not begun); ``who`` the place of the draw's person among those
    it may be.
    """

    ahead: dict[Link, Array]
    pack: Array
    pack_sd: Array
    pack_component: Places
    own_ml: Array
    lost_ml: Array
    brine_sd: Array
    slope: Array
    who: Places

    @property
    def pack_variance(self) -> Array:
        """Variance of the batch's noise in pack, shape (draws,)."""
        return self.pack_sd**2

    def with_own(self, own_ml: Array) -> "Values":
        """The same with other draws of the room a gram takes."""
        return replace(self, own_ml=own_ml)

    def weights_picked(self, index: Places) -> "Values":
        """The weight links' draws in another order, or some of them several times."""
        slope = self.slope[index] if self.slope.size else self.slope
        return replace(
            self,
            ahead={link: value[index] for link, value in self.ahead.items()},
            pack=self.pack[index],
            pack_sd=self.pack_sd[index],
            pack_component=self.pack_component[index],
            who=self.who[index],
            slope=slope,
        )

    def where(self, chosen: NDArray[np.bool_], other: "Values") -> "Values":
        """These draws at the ``chosen`` places (draws,), those of another at all others."""
        return replace(
            self,
            ahead={k: np.where(chosen, v, other.ahead[k]) for k, v in self.ahead.items()},
            pack=np.where(chosen[:, None], self.pack, other.pack),
            pack_sd=np.where(chosen, self.pack_sd, other.pack_sd),
            pack_component=np.where(chosen, self.pack_component, other.pack_component),
            own_ml=np.where(chosen, self.own_ml, other.own_ml),
            slope=np.where(chosen, self.slope, other.slope),
            who=np.where(chosen, self.who, other.who),
        )


Needs = list[tuple[Link, Situation, Loadings]]


def wanted(ahead: Ahead, block: Block, people: People) -> list[Needs]:
    """What a batch needs of a block: its links ahead, then the pack link in each sort of jar.

    Once for each of ``ahead.people``; once where it is known who it is.
    """
    needs = [(link, ahead.situation) for link in ahead.links]
    needs += [(Link.PACK, at) for at in ahead.at_jars]
    needs = [(link, at) for link, at in needs if link in block.links]
    who: list[tuple[tuple[str, float], ...]] = [((name, 1.0),) for name, _ in ahead.people]
    return [
        [(link, at, loadings(link, replace(at, people=one), people)) for link, at in needs]
        for one in who or [ahead.situation.people]
    ]


def _who(ahead: Ahead, draws: int, rng: np.random.Generator) -> Places:
    """The place of each draw's person among ``ahead.people`` (draws,), alike in mirrored pairs."""
    if not ahead.people:
        return np.zeros(draws, dtype=int)
    chances = np.array([chance for _, chance in ahead.people])
    pairs = rng.choice(len(chances), pairs_of(draws), p=chances / chances.sum())
    return np.concatenate((pairs, pairs))[:draws]


def draw_values(
    learned: Learned, aheads: Sequence[Ahead], draws: int, rng: np.random.Generator
) -> list[Values]:
    """Draw the links of every batch together: in each draw person and crops are the same."""
    people = learned.beliefs.people
    links: list[dict[Link, Array]] = [{} for _ in aheads]
    persons = [_who(ahead, draws, rng) for ahead in aheads]
    none = np.zeros(0), np.zeros(0), np.zeros(0, dtype=int)
    packs: list[tuple[Array, Array, Places]] = [none for _ in aheads]
    another = False  # block was drawn before: their components are independent
    for block in learned.blocks:
        if Link.BRINE in block.links:
            continue
        needs = [wanted(ahead, block, people) for ahead in aheads]
        sums = [effects for each in needs for own in each for _, _, effects in own]
        if not sums:
            continue
        drawn, drawn_from = draw_effects(block, sums, draws, rng, shuffled=another)
        first, another = 0, True
        for number, (ahead, each) in enumerate(zip(aheads, needs, strict=True)):
            cell, jars, count = cell_name(ahead.situation), [], len(each[0])
            for column, (link, at, _) in enumerate(each[0], start=first):
                by_person = drawn[:, column : first + count * len(each) : count]
                value = centre(link, at) + _of_each(by_person, persons[number])
                if link is Link.PACK:
                    jars.append(value)
                else:
                    links[number][link] = value + draw_noise(block, link, cell, drawn_from, rng)
            if jars:
                sd = draw_noise_sd(block, Link.PACK, cell, drawn_from, rng)
                noise = mirrored(sd * rng.standard_normal(sd.size), draws)
                pack = np.empty((len(jars), draws))
                for row, value in zip(pack, jars, strict=True):
                    np.add(value, noise, out=row)
                packs[number] = pack.T, *none[1:]
                if ahead.request.so_far is not None:
                    packs[number] = pack.T, alike(sd, draws), drawn_from.of_each()
            first += count * len(each)
    brine = _draw_brine(learned, aheads, draws, rng)
    none_yet = np.zeros(0)
    return [
        Values(own, *pack, *rest, none_yet, who)
        for own, pack, rest, who in zip(links, packs, brine, persons, strict=True)
    ]


def _of_each(by_person: Array, who: Places) -> Array:
    """Of columns (draws, people) the one of each draw's person, (draws,)."""
    if by_person.shape[1] == 1:
        return by_person[:, 0]
    return np.asarray(by_person[np.arange(who.size), who])


def _draw_brine(
    learned: Learned, aheads: Sequence[Ahead], draws: int, rng: np.random.Generator
) -> list[tuple[Array, Array, Array]]:
    """Room a gram takes in each batch, its pot loss, and the noise's size."""
    people, block = learned.beliefs.people, learned.block(Link.BRINE)
    volumes = [ahead.situation.ready_g / ahead.situation.crop.density.centre for ahead in aheads]
    sums: list[Loadings] = []
    for ahead, volume in zip(aheads, volumes, strict=True):
        effects = brine_loadings(1.0, ahead.situation, people, volume)
        lost = {effect: value for effect, value in effects.items() if effect in OF_THE_POT}
        sums += [{e: v for e, v in effects.items() if e not in OF_THE_POT}, lost]
    drawn, drawn_from = draw_effects(block, sums, draws, rng)
    found = []
    for number, (ahead, volume) in enumerate(zip(aheads, volumes, strict=True)):
        sd = draw_noise_sd(block, Link.BRINE, cell_name(ahead.situation), drawn_from, rng)
        own = 1.0 / ahead.situation.crop.tissue.centre + drawn[:, 2 * number]
        found.append((own, people.loss_ml * loss_factor(volume) - drawn[:, 2 * number + 1], sd))
    return found
