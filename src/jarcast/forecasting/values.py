"""Draws of every arrow of one batch or of many, the person's hand common to all of them."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.batch import Arrow
from jarcast.forecasting.ahead import Ahead
from jarcast.learning.arrows import Loadings, Situation, brine_loadings, centre, loadings
from jarcast.learning.beliefs import People
from jarcast.learning.block import Block
from jarcast.learning.circumstances import cell_name
from jarcast.learning.draws import alike, draw_effects, draw_noise, draw_noise_sd, mirrored
from jarcast.learning.learned import Learned
from jarcast.learning.regression import Array

Places = NDArray[np.intp]  # of draws


class Values(Struct, frozen=True):
    """Draws of one batch's arrows, each array (draws,) but ``pack`` (draws, sorts of jar).

    ``ahead`` and ``pack`` stand on their arrows' scales, the batch's noise included, ``pack_sd``
    the sd of that of pack; ``pack_level`` is the walking speed each draw came from (both empty for
    a batch that is not begun).
    ``own_ml`` is the room a gram of ready produce takes, ``lost_ml`` the pot loss before it is kept
    above 0; ``brine_sd`` (pairs,) the size of the batch's noise in brine, in units of its usual
    one, for each mirrored pair of draws.
    """

    ahead: dict[Arrow, Array]
    pack: Array
    pack_sd: Array
    pack_level: Places
    own_ml: Array
    lost_ml: Array
    brine_sd: Array

    @property
    def pack_variance(self) -> Array:
        """Variance of the batch's noise in pack, shape (draws,)."""
        return self.pack_sd**2

    def with_own(self, own_ml: Array) -> "Values":
        """The same with other draws of the room a gram takes."""
        return replace(self, own_ml=own_ml)

    def weights_picked(self, index: Places) -> "Values":
        """The weight arrows' draws in another order, or some of them several times."""
        return replace(
            self,
            ahead={arrow: value[index] for arrow, value in self.ahead.items()},
            pack=self.pack[index],
            pack_sd=self.pack_sd[index],
            pack_level=self.pack_level[index],
        )


def wanted(ahead: Ahead, block: Block, people: People) -> list[tuple[Arrow, Situation, Loadings]]:
    """What a batch needs of a block: its arrows ahead, then the pack arrow in each sort of jar."""
    needs = [(arrow, ahead.situation) for arrow in ahead.arrows]
    needs += [(Arrow.PACK, at) for at in ahead.at_jars]
    return [(a, at, loadings(a, at, people)) for a, at in needs if a in block.arrows]


def draw_values(
    learned: Learned, aheads: Sequence[Ahead], draws: int, rng: np.random.Generator
) -> list[Values]:
    """Draw the arrows of every batch together, draw by draw from the same hand and crops."""
    people = learned.beliefs.people
    arrows: list[dict[Arrow, Array]] = [{} for _ in aheads]
    none = np.zeros(0), np.zeros(0), np.zeros(0, dtype=int)
    packs: list[tuple[Array, Array, Places]] = [none for _ in aheads]
    another = False  # block was drawn before: their speeds are independent
    for block in learned.blocks:
        if Arrow.BRINE in block.arrows:
            continue
        needs = [wanted(ahead, block, people) for ahead in aheads]
        sums = [effects for own in needs for _, _, effects in own]
        if not sums:
            continue
        drawn, speeds = draw_effects(block, sums, draws, rng, shuffled=another)
        another = True
        columns = iter(range(len(sums)))
        for number, (ahead, own) in enumerate(zip(aheads, needs, strict=True)):
            cell, jars = cell_name(ahead.situation), []
            for arrow, at, _ in own:
                value = centre(arrow, at) + drawn[:, next(columns)]
                if arrow is Arrow.PACK:
                    jars.append(value)
                else:
                    arrows[number][arrow] = value + draw_noise(block, arrow, cell, speeds, rng)
            if jars:
                sd = draw_noise_sd(block, Arrow.PACK, cell, speeds, rng)
                noise = mirrored(sd * rng.standard_normal(sd.size), draws)
                pack = np.empty((len(jars), draws))
                for row, value in zip(pack, jars, strict=True):
                    np.add(value, noise, out=row)
                packs[number] = pack.T, *none[1:]
                if ahead.request.so_far is not None:
                    packs[number] = pack.T, alike(sd, draws), speeds.of_each()
    brine = _draw_brine(learned, aheads, draws, rng)
    return [Values(own, *pack, *rest) for own, pack, rest in zip(arrows, packs, brine, strict=True)]


def _draw_brine(
    learned: Learned, aheads: Sequence[Ahead], draws: int, rng: np.random.Generator
) -> list[tuple[Array, Array, Array]]:
    """Room a gram takes in each batch, the pot loss common to all of them, the noise's size."""
    people, block = learned.beliefs.people, learned.block(Arrow.BRINE)
    sums, loss = [], {}
    for ahead in aheads:
        effects = brine_loadings(1.0, ahead.situation, people)
        sums.append({e: v for e, v in effects.items() if e.key != "loss"})
        loss = {e: v for e, v in effects.items() if e.key == "loss"}
    drawn, speeds = draw_effects(block, [*sums, loss], draws, rng)
    lost = people.loss_ml - drawn[:, -1]
    found = []
    for number, ahead in enumerate(aheads):
        sd = draw_noise_sd(block, Arrow.BRINE, cell_name(ahead.situation), speeds, rng)
        own = 1.0 / ahead.situation.crop.tissue.centre + drawn[:, number]
        found.append((own, lost, sd))
    return found
