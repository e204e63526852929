"""What was learned from a history of batches, frozen."""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.last_jar import LastJar
from jarcast.domain.packing import SoFar
from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.brine_link import BrineLink, loss_so_far
from jarcast.learning.fit.design import Design
from jarcast.learning.fit.em import fit_block
from jarcast.learning.fit.sites import usual_variance
from jarcast.learning.fit.within_batch import WithinBatch, jars_within
from jarcast.learning.latest import learned_from
from jarcast.learning.model.beliefs import Beliefs, People, starting_beliefs
from jarcast.learning.model.brine_rows import ready_from_brine
from jarcast.learning.model.circumstances import (
    Circumstances,
    UsualPractice,
    circumstances_of,
    usual_practice,
)
from jarcast.learning.model.endings import (
    Cases,
    Endings,
    Seen,
    cases_of,
    endings_of,
    ways_seen,
)
from jarcast.learning.model.links import WEIGHT_LINKS
from jarcast.learning.model.row import Row
from jarcast.learning.model.scales import Instruments, instruments_of
from jarcast.learning.model.weight_rows import weight_rows
from jarcast.learning.posterior import Block, RowVerdict

_BRINES_WORD = 3.5  # nats between two cases, at most; common practice, no source


class Learned(Struct, frozen=True):
    """Everything a forecast needs: beliefs, the learned blocks, and this person's usual practice.

    ``cells`` counts the batches learned from by (produce, cut, pack); ``usual_pack`` is by
    (produce, cut); ``within`` is how jars of one batch differ, ``endings`` what becomes of the last
    one, ``instruments`` what is read by; ``last_jar`` is what was said of it.
    """

    beliefs: Beliefs
    blocks: tuple[Block, ...]
    practice: UsualPractice
    cells: Mapping[tuple[str, str, str], int]
    usual_pack: Mapping[tuple[str, str], str]
    usual_jar: str | None
    batches: int
    within: WithinBatch
    endings: Endings
    instruments: Instruments
    last_jar: LastJar

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
    last_jar: LastJar = LastJar.LEARN,
) -> Learned:
    """Learn from batches in any order; none at all gives the starting beliefs.

    ``packed`` holds, by the batch's name, how far its packing had come, note by note. Batches are
    taken in the order of their dates, and those of one day as they come; of a crop that one person
    put up more than 400 times (``latest``) the older ones are left out. ``last_jar`` is what the
    person said of it.
    """
    beliefs = starting_beliefs() if beliefs is None else beliefs
    read = _read(learned_from(batches), beliefs, shelf, packed)
    counts = [case.counted for case in read.cases if not case.smaller]
    named = len(read.cases) - len(counts)

    def endings_by(seen: Seen | None) -> Endings:
        return endings_of(counts, read.practice.jar_step, last_jar, seen, named=named)

    blocks, endings = _learn(read, beliefs.people, endings_by)
    cells = Counter((c.situation.produce, c.situation.cut, c.situation.pack) for c in read.cases)
    return Learned(
        beliefs=beliefs,
        blocks=blocks,
        practice=read.practice,
        cells=dict(cells),
        usual_pack=_usual_packs(cells),
        usual_jar=_usual_jar(read.batches),
        batches=len(read.batches),
        within=read.within,
        endings=endings,
        instruments=read.instruments,
        last_jar=last_jar,
    )


class _Read(Struct, frozen=True):
    """Batches in order, with what they say beside their weights and how these were read.

    ``ended`` are the ways each may have ended, ``within`` how jars of one batch differ.
    """

    batches: Sequence[Batch]
    practice: UsualPractice
    cases: Sequence[Circumstances]
    instruments: Instruments
    within: WithinBatch
    ended: Cases


def _read(
    batches: Sequence[Batch],
    beliefs: Beliefs,
    shelf: Mapping[str, Jar],
    packed: Mapping[str, Sequence[SoFar]],
) -> _Read:
    practice = usual_practice(batches)
    cases = [circumstances_of(batch, beliefs, shelf, practice) for batch in batches]
    counted = [
        case.doubted | {one.column for one in batch.doubt}
        for batch, case in zip(batches, cases, strict=True)
    ]
    instruments = instruments_of(batches, packed, counted)
    within = jars_within(batches, cases, packed, beliefs.people.jar_to_jar, shelf, instruments)
    told_missing = [batch.not_jarred_g is not None for batch in batches]
    ended = cases_of(
        [case.jars for case in cases], practice.jar_step, told_missing,
        [case.counted for case in cases],
    )  # fmt: skip
    return _Read(batches, practice, cases, instruments, within, ended)


def _learn(
    read: _Read, people: People, endings_by: Callable[[Seen | None], Endings]
) -> tuple[tuple[Block, ...], Endings]:
    """The blocks, that of brine last, and the household's endings; see ``_fit_together``."""
    noise = {link: usual_variance(getattr(people, link.value).noise) for link in WEIGHT_LINKS}
    by_brine = BrineLink(read.batches, read.cases, people, read.ended, read.instruments)
    first = by_brine.learn(read.ended.log_chance(endings_by(None)), first_look=True)
    loss = loss_so_far(first, people.loss_ml, people.loss_between_people)
    from_brine = ready_from_brine(read.batches, read.cases, people, loss, read.instruments)

    def fit(cases: Sequence[Circumstances]) -> tuple[list[Block], Block, Endings]:
        rows = weight_rows(
            read.batches, cases, people, from_brine, read.within.noise.variance, read.ended,
            read.instruments,
        )  # fmt: skip
        designs = _designs(rows, len(read.batches))
        return _fit_together(by_brine, first, designs, noise, read.ended, endings_by)

    blocks, brine, endings = fit(read.cases)
    told = people_told(read.cases, blocks)
    if told:  # batches that do not say who made them: by what they look like, once
        blocks, brine, endings = fit(told)
    return (*blocks, brine), endings


def _designs(rows: Sequence[Row], batches: int) -> list[Design]:
    """A design for each group of links that some row ties together."""
    return [
        Design([row for row in rows if set(row.shares) & set(tied)], tied, batches)
        for tied in tied_links(rows)
    ]


def people_told(cases: Sequence[Circumstances], blocks: Sequence[Block]) -> list[Circumstances]:
    """Circumstances with the chances of who it was, where a batch does not say but its rows tell.

    Bayes' rule over the people of a kitchen; [] where no batch leaves that open.
    """
    found = list(cases)
    for time in sorted({time for block in blocks for time in block.people_told}):
        at = cases[time].situation
        told = [block.people_told.get(time, {}) for block in blocks]
        log = np.array([
            math.log(chance) + sum(one.get(name, 0.0) for one in told) for name, chance in at.people
        ])  # fmt: skip
        chances = np.exp(log - log.max())
        chances /= chances.sum()
        names = (name for name, _ in at.people)
        people = tuple(zip(names, chances.tolist(), strict=True))
        found[time] = replace(cases[time], situation=replace(at, people=people))
    return [] if all(new is old for new, old in zip(found, cases, strict=True)) else found


def _fit_together(
    by_brine: BrineLink,
    brine: Block,
    designs: Sequence[Design],
    noise: Mapping[Link, float],
    ended: Cases,
    endings_by: Callable[[Seen | None], Endings],
) -> tuple[list[Block], Block, Endings]:
    """Fit weights and brine while each tells the other how the batches ended.

    ``brine`` is the first look at it, which knows of no weights but the ready ones. ``endings_by``
    gives a household's endings, by what was seen of its batches. Gives the blocks of the weights,
    that of brine, and the endings.
    """
    packing = next(design for design in designs if Link.PACK in design.links)
    batches = len(ended.whole)
    chance = ended.log_chance(endings_by(None))
    of_brine = _of_brine(brine.told(batches))
    packing.set_chances(chance + of_brine)
    of_weights = fit_block(packing, noise, first_look=True).told(batches)
    chance = ended.log_chance(endings_by(ways_seen(ended, chance, of_brine + of_weights)))
    brine = by_brine.learn(chance + of_weights)
    of_brine = _of_brine(brine.told(batches))
    packing.set_chances(chance + of_brine)
    blocks = [fit_block(design, noise) for design in designs]
    of_weights = next(block for block in blocks if Link.PACK in block.links).told(batches)
    return blocks, brine, endings_by(ways_seen(ended, chance, of_brine + of_weights))


def _of_brine(told: Array) -> Array:
    """What brine tells of how batches went, (batches, CASES), with its word kept within bounds.

    Brine that does not go with the produce has other reasons too: what was left was thrown away, a
    second pot not recorded. However far off it is, it says no more than so much.
    """
    return np.maximum(told, -_BRINES_WORD)


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
    most = Counter(batch.jar[0] for batch in batches).most_common(1)
    return most[0][0] if most else None
