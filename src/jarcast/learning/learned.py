"""What was learned from a history of batches, frozen, and how to draw from it."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from jarcast.batch import Arrow, Batch
from jarcast.kinds import SHELF, Jar
from jarcast.learning.arrows import WEIGHT_ARROWS, Effect, Loadings
from jarcast.learning.beliefs import Beliefs, starting_beliefs
from jarcast.learning.block import Block, Level, Row, RowVerdict
from jarcast.learning.design import walked
from jarcast.learning.fit import learn_block
from jarcast.learning.regression import Array
from jarcast.learning.robust import TAIL_WIDENING, WIDENING
from jarcast.learning.rows import (
    Habit,
    Told,
    brine_rows,
    ready_told_by_brine,
    told,
    usual_ways,
    weight_rows,
)

_LOSS = Effect(Arrow.BRINE, "hand", "loss")


@dataclass(frozen=True, slots=True)
class Learned:
    """Everything a forecast needs: beliefs, the learned blocks, and this person's usual ways.

    ``cells`` counts own batches by (produce, cut, pack).
    """

    beliefs: Beliefs
    blocks: tuple[Block, ...]
    habit: Habit
    cells: Mapping[tuple[str, str, str], int]
    usual_pack: Mapping[tuple[str, str], str]
    usual_jar: str | None
    batches: int

    def block(self, arrow: Arrow) -> Block:
        """The block an arrow was learned in."""
        return next(block for block in self.blocks if arrow in block.arrows)

    def verdicts(self) -> tuple[RowVerdict, ...]:
        """How each row of the history fits the rest of it."""
        return tuple(verdict for block in self.blocks for verdict in block.verdicts)


def learn_batches(
    batches: Sequence[Batch],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
) -> Learned:
    """Learn from batches in any order; none at all gives the starting beliefs.

    Batches count in the order of their dates, and within a day as they come.
    """
    beliefs = starting_beliefs() if beliefs is None else beliefs
    people = beliefs.people
    ordered = sorted(batches, key=lambda batch: batch.date)
    habit = usual_ways(ordered)
    tellings = [told(batch, beliefs, shelf, habit) for batch in ordered]
    brine = _learn_brine(ordered, tellings, beliefs, shelf)
    loss = loss_so_far(brine, people.loss_ml, people.loss_between_people)
    hints = ready_told_by_brine(ordered, tellings, people, loss, shelf)
    rows = weight_rows(ordered, tellings, people, hints, shelf)
    noise = {
        arrow: getattr(people, arrow.value).noise ** 2 / TAIL_WIDENING for arrow in WEIGHT_ARROWS
    }
    blocks = [
        learn_block([row for row in rows if set(row.shares) & set(tied)], tied, noise, len(ordered))
        for tied in tied_arrows(rows)
    ]
    cells = Counter((t.situation.produce, t.situation.cut, t.situation.pack) for t in tellings)
    return Learned(
        beliefs=beliefs,
        blocks=(*blocks, brine),
        habit=habit,
        cells=dict(cells),
        usual_pack=_usual_packs(cells),
        usual_jar=_usual_jar(ordered),
        batches=len(ordered),
    )


def _learn_brine(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    beliefs: Beliefs,
    shelf: Mapping[str, Jar],
) -> Block:
    """The brine arrow, twice: its noise goes with the pot loss, which the first pass learns."""
    people, arrows = beliefs.people, (Arrow.BRINE,)
    loss = people.loss_ml
    for _ in range(2):
        rows = brine_rows(batches, tellings, people, loss, shelf)
        block = learn_block(rows, arrows, {Arrow.BRINE: 1.0 / TAIL_WIDENING}, len(batches))
        loss = loss_so_far(block, people.loss_ml, people.loss_between_people)[0]
    return block


def loss_so_far(brine: Block, usual: float, between: float) -> tuple[float, float]:
    """Mean and sd in ml of this person's pot loss; never below a tenth of the usual."""
    index = brine.effects.get(_LOSS)
    if index is None:
        return usual, usual * between
    level = brine.levels[0]
    mean = usual * (1.0 + between * float(level.mean[index]))
    sd = usual * between * float(np.linalg.norm(level.root[index]))
    return max(mean, 0.1 * usual), sd


def tied_arrows(rows: Sequence[Row]) -> list[tuple[Arrow, ...]]:
    """Groups of arrows that some row ties together, in the order of the chain."""
    groups = [{arrow} for arrow in WEIGHT_ARROWS]
    for row in rows:
        touched = [group for group in groups if group & set(row.shares)]
        if len(touched) > 1:
            groups = [group for group in groups if group not in touched]
            groups.append(set().union(*touched))
    return [tuple(a for a in WEIGHT_ARROWS if a in group) for group in groups]


def _usual_packs(cells: Mapping[tuple[str, str, str], int]) -> dict[tuple[str, str], str]:
    usual: dict[tuple[str, str], tuple[int, str]] = {}
    for (produce, cut, pack), count in cells.items():
        if pack:
            usual[produce, cut] = max(usual.get((produce, cut), (0, "")), (count, pack))
    return {key: pack for key, (_, pack) in usual.items()}


def _usual_jar(batches: Sequence[Batch]) -> str | None:
    jars = Counter(batch.jar[0] for batch in batches)
    return max(jars, key=lambda key: jars[key]) if jars else None


def draw_effects(
    block: Block,
    wanted: Sequence[Loadings],
    draws: int,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Joint draws of sums of effects, shape (draws, len(wanted)), and the level each came from.

    Effects never seen keep their prior. The walking speeds take turns in proportion to their
    weights.
    """
    which = _levels(block, draws, rng)
    normal = rng.standard_normal((draws, len(wanted)))
    out = np.empty((draws, len(wanted)))
    for number, level in enumerate(block.levels):
        chosen = which == number
        if chosen.any():
            mean, cov = _moments(block, level, wanted)
            out[chosen] = mean + normal[chosen] @ _square_root(cov).T
    return out, which


def _levels(block: Block, draws: int, rng: np.random.Generator) -> Array:
    if len(block.levels) == 1:
        return np.zeros(draws, dtype=int)
    ends = np.cumsum([level.weight for level in block.levels])
    even = (rng.permutation(draws) + 0.5) / draws
    return np.minimum(np.searchsorted(ends, even), len(ends) - 1)


def _moments(block: Block, level: Level, wanted: Sequence[Loadings]) -> tuple[Array, Array]:
    """Mean (r,) and covariance (r, r) of the wanted sums."""
    p = len(block.effects)
    seen = np.zeros((len(wanted), level.mean.size))
    fresh: dict[Effect, int] = {}
    for effects in wanted:
        for effect in effects:
            if effect not in block.effects:
                fresh.setdefault(effect, len(fresh))
    unseen = np.zeros((len(wanted), len(fresh)))
    for i, effects in enumerate(wanted):
        for effect, value in effects.items():
            if effect in block.effects:
                seen[i, block.effects[effect]] = value
            else:
                crop = effect.group == "crop"
                size = math.sqrt(level.spread.get(effect.arrow, 1.0)) if crop else 1.0
                unseen[i, fresh[effect]] = value * size
        for w, walker in enumerate(level.walkers if level.walked.size else ()):
            start = p + w * level.walked.size
            hand = effects.get(Effect(walker, "hand", ""), 0.0)
            seen[i, start : start + level.walked.size] = hand * level.walked
    reach = np.hstack([seen @ level.root, unseen])
    return seen @ level.mean, reach @ reach.T


def _square_root(cov: Array) -> Array:
    values, vectors = np.linalg.eigh(cov)
    root: Array = vectors * np.sqrt(np.maximum(values, 0.0))
    return root


def draw_noise(
    block: Block, arrow: Arrow, cell: str, which: Array, rng: np.random.Generator
) -> Array:
    """Draws of one batch's noise of an arrow, shape (draws,): long-tailed, of uncertain size.

    ``cell`` is the produce and cut, whose scatter may be its own.
    """
    draws = which.size
    normal, even = rng.standard_normal(draws), rng.random(draws)
    chi = np.empty(draws)
    spread = np.empty(draws)
    for number, level in enumerate(block.levels):
        chosen = which == number
        count = int(chosen.sum())
        noise = level.noise[arrow]
        chi[chosen] = rng.chisquare(noise.dof, count) / noise.dof
        kind = np.minimum(np.searchsorted(np.cumsum(level.tails), even[chosen]), 2)
        spread[chosen] = noise.variance * level.scatter.get(cell, 1.0) * WIDENING[kind]
    drawn: Array = normal * np.sqrt(spread / chi)
    return drawn


def hand_change(learned: Learned, arrow: Arrow, since: int) -> tuple[float, float]:
    """Mean and sd of how an arrow's hand moved on its scale since batch number ``since``.

    The walking speeds are mixed by their weights; a steady hand has not moved at all.
    """
    block = learned.block(arrow)
    before = walked(block.stretches, np.array([float(since)]))[0]
    size = getattr(learned.beliefs.people, arrow.value).hand
    means, squares = [0.0], [0.0]
    for level in block.levels:
        if arrow not in level.walkers or not level.walked.size:
            continue
        start = len(block.effects) + level.walkers.index(arrow) * level.walked.size
        speed = level.walked[-1] / math.sqrt(block.stretches[-1])
        moved = size * (level.walked - speed * before)
        part = slice(start, start + level.walked.size)
        mean = float(moved @ level.mean[part])
        reach = moved @ level.root[part]
        means.append(level.weight * mean)
        squares.append(level.weight * (mean**2 + float(reach @ reach)))
    mean = math.fsum(means)
    return mean, math.sqrt(max(math.fsum(squares) - mean**2, 0.0))
