"""What was learned from a history of batches, frozen, and how to draw from it."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from msgspec import Struct

from jarcast.batch import Arrow, Batch
from jarcast.kinds import SHELF, Jar
from jarcast.learning.arrows import POT_LOSS, WEIGHT_ARROWS, Effect
from jarcast.learning.beliefs import Beliefs, People, starting_beliefs
from jarcast.learning.block import Block, Level, Noise, Row, RowVerdict
from jarcast.learning.brine import brine_rows, ready_told_by_brine, with_loss
from jarcast.learning.circumstances import Told, Ways, told, usual_ways
from jarcast.learning.design import Design
from jarcast.learning.fit import learn_block, settle
from jarcast.learning.jar_spread import jar_spread
from jarcast.learning.robust import TAIL_WIDENING
from jarcast.learning.rows import weight_rows
from jarcast.packing import SoFar

_LOSS_SETTLED = 0.25  # a pot loss that moves by no more, in logs, is not worth more rounds


class Learned(Struct, frozen=True):
    """Everything a forecast needs: beliefs, the learned blocks, and this person's usual ways.

    ``cells`` counts own batches by (produce, cut, pack); ``jar_to_jar`` is the variance of log
    density from jar to jar within a batch.
    """

    beliefs: Beliefs
    blocks: tuple[Block, ...]
    ways: Ways
    cells: Mapping[tuple[str, str, str], int]
    usual_pack: Mapping[tuple[str, str], str]
    usual_jar: str | None
    batches: int
    jar_to_jar: Noise

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
    packed: Mapping[str, Sequence[SoFar]] = MappingProxyType({}),
) -> Learned:
    """Learn from batches in any order; none at all gives the starting beliefs.

    ``packed`` holds, by the batch's name, how far its packing had come, note by note. Batches
    count in the order of their dates, and within a day as they come.
    """
    beliefs = starting_beliefs() if beliefs is None else beliefs
    people = beliefs.people
    ordered = sorted(batches, key=lambda batch: batch.date)
    ways = usual_ways(ordered)
    tellings = [told(batch, beliefs, shelf, ways) for batch in ordered]
    brine = _learn_brine(ordered, tellings, people)
    loss = loss_so_far(brine, people.loss_ml, people.loss_between_people)
    hints = ready_told_by_brine(ordered, tellings, people, loss)
    jar_to_jar = jar_spread(ordered, tellings, packed, people.jar_to_jar, shelf)
    rows = weight_rows(ordered, tellings, people, hints, jar_to_jar.variance)
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
        ways=ways,
        cells=dict(cells),
        usual_pack=_usual_packs(cells),
        usual_jar=_usual_jar(ordered),
        batches=len(ordered),
        jar_to_jar=jar_to_jar,
    )


def _learn_brine(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
) -> Block:
    """The brine arrow; its noise goes with the pot loss, which is learned along with it."""
    arrows, prior_noise = (Arrow.BRINE,), {Arrow.BRINE: 1.0 / TAIL_WIDENING}
    rows = brine_rows(batches, tellings, people)
    design = Design(rows, arrows, len(batches))
    shared_by = people.loss_ml

    def revise(level: Level) -> bool:
        nonlocal shared_by
        loss, _ = _loss(design.effects, level, people.loss_ml, people.loss_between_people)
        design.share_out(with_loss(rows, loss, people))
        moved, shared_by = abs(math.log(loss / shared_by)), loss
        return moved > _LOSS_SETTLED

    return settle(design, prior_noise, revise)


def loss_so_far(brine: Block, usual: float, between: float) -> tuple[float, float]:
    """Mean and sd in ml of this person's pot loss; never below a tenth of the usual."""
    return _loss(brine.effects, brine.levels[0], usual, between)


def _loss(
    effects: Mapping[Effect, int], level: Level, usual: float, between: float
) -> tuple[float, float]:
    index = effects.get(POT_LOSS)
    if index is None:
        return usual, usual * between
    mean = usual * (1.0 + between * float(level.mean[index]))
    sd = usual * between * math.sqrt(level.root[index] @ level.root[index])
    return max(mean, 0.1 * usual), sd


def tied_arrows(rows: Sequence[Row]) -> list[tuple[Arrow, ...]]:
    """Groups of arrows that some row ties together, in the order of the chain."""
    groups = [{arrow} for arrow in WEIGHT_ARROWS]
    for tied in dict.fromkeys(frozenset(row.shares) for row in rows):
        touched = [group for group in groups if group & tied]
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
