"""Values of one batch that contradict one another.

Such a batch is taken in with a flag: it teaches nothing on the links the flag touches until it is
mended.
"""

import math
from collections.abc import Callable, Mapping

from msgspec import Struct

from jarcast.domain.batch import Batch, number_text, too_many_sealed
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.slips import guess
from jarcast.domain.stages import (
    IN_THE_JARS,
    STAGES,
    Link,
    Stage,
    is_cooked,
    links_from,
    ready_stage,
    too_heavy,
    was_salted,
    weighed,
)

_MOST_OVER = 3.0  # g for each ml of the jars: more is no batch of which some was not jarred
# Tissue is at most about 1.1 g/ml (food-engineering handbooks, from memory), and 10 % is allowed
# for part jars.
MOST_G_PER_ML = 1.1 * 1.1
WAS_SOME_NOT_JARRED = "was some of it not jarred?"
_MOST_LOST_ML = 1000.0  # of brine, in the pot and on the stove: beyond it something is a slip


class Amount(Struct, frozen=True):
    """A weight in grams ('g'), or a volume in millilitres ('ml')."""

    value: float
    unit: str

    def __str__(self) -> str:
        """To the whole gram or millilitre: '2500 g'."""
        return f"{self.value:.0f} {self.unit}"


class Flag(Struct, frozen=True):
    """A contradiction inside one batch: what it is, what it touches, the likeliest slip.

    ``parts`` make up the message: words, and amounts that can be shown in the kitchen's units.
    """

    columns: tuple[str, ...]
    links: frozenset[Link]
    parts: tuple[str | Amount, ...]

    @property
    def message(self) -> str:
        """The contradiction in a sentence, in grams and millilitres."""
        return self.worded(str)

    def worded(self, show: Callable[[Amount], str]) -> str:
        """The contradiction in a sentence, each amount as ``show`` writes it."""
        return "".join(part if isinstance(part, str) else show(part) for part in self.parts)


def _factor(column: str, larger: float, due: float, *, either: bool = False) -> str:
    """A guess at the slip behind a value so many times what it can be, by its column.

    ``either`` tells whether the value it is compared with may be the wrong one as well.
    """
    ratio = larger / due
    question = guess(column, ratio)
    if not question:
        return ""
    if either and " typed as " in question:
        question = f"{question.removesuffix('?')}, or the other way?"
    return f" ({ratio:.{1 if ratio < 5 else 0}f} x: {question})"


def _heavier_stages(batch: Batch) -> list[Flag]:
    flags = []
    before: tuple[Stage, float] | None = None
    led: list[Link] = []  # links that led to that weight: it may be the wrong one of the two
    passed: list[Link] = []  # links since the last weight that was written down
    for stage in STAGES:
        weight = getattr(batch, stage.column)
        if stage.link is not None:
            passed.append(stage.link)
        if weight is None:
            continue
        sure = weight
        if batch.doubt and before is not None:
            sure = _surely(batch, weight, stage, before[0])
        if before is not None and too_heavy(sure, before[1]):
            earlier, due = before
            parts = (
                f"{stage.label} ", Amount(weight, "g"), f" is heavier than {earlier.label} ",
                Amount(due, "g"), _factor(stage.column, weight, due, either=True),
            )  # fmt: skip
            touched = {*led, *passed, *links_from(stage.column)}
            flags.append(Flag((earlier.column, stage.column), frozenset(touched), parts))
        before, led, passed = (stage, weight), passed, []
    return flags


def _surely(batch: Batch, grams: float, *stages: Stage) -> float:
    """A weight less twice the doubt of the stages it is judged by: contradictions are sure."""
    return grams * math.exp(-2.0 * math.hypot(*(batch.doubt_of(one.column) for one in stages)))


def _brine_flags(batch: Batch, volume: float) -> list[Flag]:
    made, left = batch.brine_made_ml, batch.brine_left_ml
    if made is None or left is None:
        return []
    columns, links = ("brine_made_ml", "brine_left_ml"), frozenset({Link.BRINE})
    if left > made:
        swapped = (
            "more brine left (", Amount(left, "ml"), ") than made (", Amount(made, "ml"),
            "): the two swapped?",
        )  # fmt: skip
        return [Flag(columns, links, swapped)]
    used = made - left
    if used <= 1.5 * volume + _MOST_LOST_ML:
        return []
    parts = (
        Amount(used, "ml"), f" of brine used for {batch.filled_text}, which hold ",
        Amount(volume, "ml"), " with the produce", _factor("brine_made_ml", used, 0.5 * volume),
    )  # fmt: skip
    return [Flag((*columns, "jars"), links, parts)]


def _overfull_flags(batch: Batch, volume: float) -> list[Flag]:
    """The weight that goes into the jars may not take more room than they have.

    What a hot pack weighed before cooking may well exceed it.
    """
    stage = ready_stage(salted=bool(was_salted(batch)), cooked=is_cooked(batch))
    column, weight = stage.column, getattr(batch, stage.column)
    sure = _surely(batch, weight or 0.0, stage) if batch.doubt else weight or 0.0
    ready = sure - (batch.not_jarred_g or 0.0)
    if ready <= MOST_G_PER_ML * volume:
        return []
    slip = _factor(column, ready, 0.6 * volume)
    if batch.not_jarred_g is None and ready <= _MOST_OVER * volume:
        slip += f"; {WAS_SOME_NOT_JARRED}"
    parts = (
        Amount(ready, "g"), f" cannot go into {batch.filled_text}, which hold ",
        Amount(volume, "ml"), slip,
    )  # fmt: skip
    return [Flag((column, "jars"), frozenset(IN_THE_JARS), parts)]


def _not_jarred_flags(batch: Batch) -> list[Flag]:
    """What was not jarred is part of the last weight, and not all of it."""
    stages, rest = weighed(batch), batch.not_jarred_g
    if not rest or not stages or rest < getattr(batch, stages[-1].column):
        return []
    column, label = stages[-1].column, stages[-1].label
    parts = (
        Amount(rest, "g"), " not jarred leaves nothing of ", Amount(getattr(batch, column), "g"),
        f" {label} for the jars",
    )  # fmt: skip
    return [Flag(("not_jarred_g", column), frozenset(IN_THE_JARS), parts)]


def contradictions(batch: Batch, shelf: Mapping[str, Jar] = SHELF) -> tuple[Flag, ...]:
    """Values of one batch that contradict one another, with the likeliest slip."""
    return contradictions_in(batch, batch.fill_volume_ml(shelf))


def contradictions_in(batch: Batch, volume: float) -> tuple[Flag, ...]:
    """The same of a batch whose jars' fill volume in ml is known."""
    flags = [
        *_heavier_stages(batch),
        *_brine_flags(batch, volume),
        *_overfull_flags(batch, volume),
        *(_not_jarred_flags(batch) if batch.not_jarred_g else []),
    ]
    if batch.sealed is not None and too_many_sealed(batch):
        message = f"{number_text(batch.sealed)} sealed of {batch.filled_text} filled"
        flags.append(Flag(("sealed", "jars"), frozenset(), (message,)))
    return tuple(flags)
