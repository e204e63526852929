"""What was learned from a history of batches, frozen."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.packing import SoFar
from jarcast.domain.stages import Link
from jarcast.learning.fit.design import Design
from jarcast.learning.fit.em import fit_block, learn_block
from jarcast.learning.fit.jar_spread import jar_spread
from jarcast.learning.fit.outliers import usual_variance
from jarcast.learning.model.beliefs import Beliefs, People, starting_beliefs
from jarcast.learning.model.brine_rows import brine_rows, ready_from_brine, with_loss
from jarcast.learning.model.circumstances import (
    Circumstances,
    UsualPractice,
    circumstances_of,
    usual_practice,
)
from jarcast.learning.model.effects import POT_LOSS, Effect
from jarcast.learning.model.links import WEIGHT_LINKS
from jarcast.learning.model.row import Row
from jarcast.learning.model.weight_rows import weight_rows
from jarcast.learning.posterior import Block, Component, Noise, RowVerdict

_LOSS_CONVERGED = 0.25  # a pot loss that moves by no more, in logs, is not worth another fit


class Learned(Struct, frozen=True):
    """Everything a forecast needs: beliefs, the learned blocks, and this person's usual practice.

    ``cells`` counts own batches by (produce, cut, pack); ``usual_pack`` is by (produce, cut);
    ``jar_to_jar`` is the variance of log density from jar to jar within a batch.
    """

    beliefs: Beliefs
    blocks: tuple[Block, ...]
    practice: UsualPractice
    cells: Mapping[tuple[str, str, str], int]
    usual_pack: Mapping[tuple[str, str], str]
    usual_jar: str | None
    batches: int
    jar_to_jar: Noise

    def block(self, link: Link) -> Block:
        """The block in which a link was learned."""
        return next(block for block in self.blocks if link in block.links)

    def verdicts(self) -> tuple[RowVerdict, ...]:
        """How each row of the history fits the others."""
        return tuple(verdict for block in self.blocks for verdict in block.verdicts)


def learn_batches(
    batches: Sequence[Batch],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
    packed: Mapping[str, Sequence[SoFar]] = MappingProxyType({}),
) -> Learned:
    """Learn from batches in any order; none at all gives the starting beliefs.

    ``packed`` holds, by the batch's name, how far its packing had come, note by note. Batches are
    taken in the order of their dates, and those of one day as they come.
    """
    beliefs = starting_beliefs() if beliefs is None else beliefs
    people = beliefs.people
    ordered = sorted(batches, key=lambda batch: batch.date)
    practice = usual_practice(ordered)
    cases = [circumstances_of(batch, beliefs, shelf, practice) for batch in ordered]
    brine = _learn_brine(ordered, cases, people)
    loss = loss_so_far(brine, people.loss_ml, people.loss_between_people)
    from_brine = ready_from_brine(ordered, cases, people, loss)
    jar_to_jar = jar_spread(ordered, cases, packed, people.jar_to_jar, shelf)
    rows = weight_rows(ordered, cases, people, from_brine, jar_to_jar.variance)
    noise = {link: usual_variance(getattr(people, link.value).noise) for link in WEIGHT_LINKS}
    blocks = [
        learn_block([row for row in rows if set(row.shares) & set(tied)], tied, noise, len(ordered))
        for tied in tied_links(rows)
    ]
    cells = Counter((c.situation.produce, c.situation.cut, c.situation.pack) for c in cases)
    return Learned(
        beliefs=beliefs,
        blocks=(*blocks, brine),
        practice=practice,
        cells=dict(cells),
        usual_pack=_usual_packs(cells),
        usual_jar=_usual_jar(ordered),
        batches=len(ordered),
        jar_to_jar=jar_to_jar,
    )


def _learn_brine(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
) -> Block:
    """Learn the brine link; its noise depends on the pot loss, which is learned along with it."""
    links, prior_noise = (Link.BRINE,), {Link.BRINE: usual_variance(1.0)}
    rows = brine_rows(batches, cases, people)
    design = Design(rows, links, len(batches))
    assumed = people.loss_ml

    def revise(component: Component) -> bool:
        nonlocal assumed
        loss, _ = _loss(design.effects, component, people.loss_ml, people.loss_between_people)
        design.set_shares(with_loss(rows, loss, people))
        moved, assumed = abs(math.log(loss / assumed)), loss
        return moved > _LOSS_CONVERGED

    return fit_block(design, prior_noise, revise)


def loss_so_far(brine: Block, usual: float, between: float) -> tuple[float, float]:
    """Mean and sd in ml of this person's pot loss, the mean at least a tenth of the usual."""
    return _loss(brine.effects, brine.components[0], usual, between)


def _loss(
    effects: Mapping[Effect, int], component: Component, usual: float, between: float
) -> tuple[float, float]:
    index = effects.get(POT_LOSS)
    if index is None:
        return usual, usual * between
    mean = usual * (1.0 + between * float(component.mean[index]))
    sd = usual * between * math.sqrt(component.root[index] @ component.root[index])
    return max(mean, 0.1 * usual), sd


def tied_links(rows: Sequence[Row]) -> list[tuple[Link, ...]]:
    """Groups of links that some row ties together, in the order of the chain."""
    groups = [{link} for link in WEIGHT_LINKS]
    for tied in dict.fromkeys(frozenset(row.shares) for row in rows):
        touched = [group for group in groups if group & tied]
        if len(touched) > 1:
            groups = [group for group in groups if group not in touched]
            groups.append(set().union(*touched))
    return [tuple(a for a in WEIGHT_LINKS if a in group) for group in groups]


def _usual_packs(cells: Mapping[tuple[str, str, str], int]) -> dict[tuple[str, str], str]:
    usual: dict[tuple[str, str], tuple[int, str]] = {}
    for (produce, cut, pack), count in cells.items():
        if pack:
            usual[produce, cut] = max(usual.get((produce, cut), (0, "")), (count, pack))
    return {key: pack for key, (_, pack) in usual.items()}


def _usual_jar(batches: Sequence[Batch]) -> str | None:
    jars = Counter(batch.jar[0] for batch in batches)
    return max(jars, key=lambda key: jars[key]) if jars else None
