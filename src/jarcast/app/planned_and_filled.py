"""Which batch counts for which line of the plans that are kept: each for one, and for one only.

A batch that bears the name of a line counts there. Any other goes by crop, cut, recipe and days: to
a line that says its days before one that does not, to one of its very recipe and cut before one
that says neither, to an empty line before one that has a batch, and in the end to the line that
lacks the most jars. Between plans, the one whose batches count from the later day comes first.
"""

import datetime as dt
import heapq
from collections.abc import Callable, Iterable, Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.app.kept_plans import KeptPlan
from jarcast.app.plan_progress import Progress, State, lines_so_far
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import cut_key, produce_key
from jarcast.harvest.plan.line import WEIGHTS, PlanLine
from jarcast.ledger.steps import OpenBatch

CardKey = Callable[[str], str]  # the key of the card that a batch's recipe names, or the text
Counted = dict[tuple[str, int], list[Batch]]  # by plan and place of the line, from 0

ENOUGH = 0.75  # so much of a line's weight put up, and the line is done
_A_SEASON = dt.timedelta(days=92)  # batches older than a plan by more are not told of


class _Alike(Struct):
    """Lines of one plan that ask the same of a batch; ``places`` in the order they are filled."""

    plan: KeptPlan
    name: str
    line: PlanLine
    order: int
    places: list[tuple[float, int]] = field(default_factory=list)

    def takes(self, batch: Batch, recipe: str) -> bool:
        """Whether a batch may count here."""
        line, days = self.line, self.line.days or (self.plan.since, dt.date.max)
        if not days[0] <= batch.date <= days[1]:
            return False
        if line.recipe is not None and line.recipe.key != recipe:
            return False
        cut = cut_key(line.cut or (line.recipe.cut if line.recipe is not None else ""))
        return not cut or not batch.cut or cut == cut_key(batch.cut)

    def rank(self, batch: Batch) -> tuple[bool, bool, bool, bool, int, int]:
        """The least goes first."""
        line = self.line
        return (
            line.days is None,
            bool(batch.recipe) and line.recipe is None,
            bool(batch.cut) and not line.cut,
            self.places[0][0] > -_EMPTY,
            -self.plan.since.toordinal(),
            self.order,
        )

    def take(self, planned: Sequence[tuple[float, float, float]], jars: float) -> int:
        """The place that takes so many jars: an empty one, else that which lacks the most."""
        lacks, at = self.places[0]
        left = planned[at][0] if lacks <= -_EMPTY else -lacks
        heapq.heapreplace(self.places, (-(left - jars), at))
        return at


_EMPTY = 1e9  # what an empty line lacks, so that it comes first


def counted(
    plans: Mapping[str, KeptPlan], batches: Iterable[Batch], card_key: CardKey
) -> tuple[Counted, list[Batch]]:
    """The batches of each line, and those that count for none; ``batches`` come by date."""
    named: dict[str, tuple[str, int]] = {}
    for name, kept in sorted(plans.items(), key=lambda item: item[1].since, reverse=True):
        for at, line in enumerate(kept.plan.lines):
            if line.name:
                named.setdefault(line.name, (name, at))
    found: Counted = {}
    rest: list[Batch] = []
    for batch in batches:
        if batch.batch in named:
            found[named[batch.batch]] = [batch]
        else:
            rest.append(batch)
    by_produce = _alike(plans, found)
    none: list[Batch] = []
    for batch in rest:
        own = by_produce.get(produce_key(batch.produce), ())
        recipe = card_key(batch.recipe) if own and batch.recipe else ""
        may = [one for one in own if one.places and one.takes(batch, recipe)]
        if not may:
            none.append(batch)
            continue
        best = min(may, key=lambda one: one.rank(batch))
        at = best.take(best.plan.planned, batch.total_jars)
        found.setdefault((best.name, at), []).append(batch)
    return found, none


def _alike(plans: Mapping[str, KeptPlan], named: Counted) -> dict[str, list[_Alike]]:
    """Lines by their produce, those that ask the same together; one done by name takes no more."""
    found: dict[str, dict[tuple[object, ...], _Alike]] = {}
    for name, kept in plans.items():
        for at, line in enumerate(kept.plan.lines):
            if (name, at) in named:
                continue
            same = (name, line.cut, line.recipe.key if line.recipe else "", line.days)
            own = found.setdefault(produce_key(line.put_up), {})
            one = own.setdefault(same, _Alike(kept, name, line, len(own)))
            one.places.append((-_EMPTY, at))  # in their order, so that it is a heap as it stands
    return {produce: list(own.values()) for produce, own in found.items()}


def of_this_plan(kept: KeptPlan, none: Iterable[Batch]) -> tuple[Batch, ...]:
    """Batches of a plan's crops that count for no line, as far back as a season before it."""
    crops = {
        produce_key(line.produce or (line.recipe.produce if line.recipe is not None else ""))
        for line in kept.plan.lines
    }
    return tuple(
        one
        for one in none
        if one.date >= kept.since - _A_SEASON and produce_key(one.produce) in crops
    )


def kept_progress(
    name: str,
    kept: KeptPlan,
    found: Counted,
    begun: Iterable[OpenBatch],
    shelf: Mapping[str, Jar] = SHELF,
) -> tuple[Progress, ...]:
    """Every line with the batches that count for it; what is left of its weight is still to do."""
    lines = lines_so_far(kept.plan.lines, {}, {one.name: one for one in begun}, shelf)
    return tuple(_filled(one, found.get((name, at), ())) for at, one in enumerate(lines))


def _filled(one: Progress, batches: Sequence[Batch]) -> Progress:
    if not batches:
        return one
    own = replace(one, batches=tuple(batches))
    if one.state is State.OPEN:
        return own
    by_name = [batch.batch for batch in batches] == [one.line.name]
    rest = None if by_name else _rest(one.line, batches)
    if rest is None:
        return replace(own, state=State.DONE)
    return replace(own, line=rest, state=State.PARTLY)


def _rest(line: PlanLine, batches: Sequence[Batch]) -> PlanLine | None:
    """The line with the weight that is left, None where most of it is done or nobody knows."""
    stage = next(f"{one}_g" for one in reversed(WEIGHTS) if getattr(line, f"{one}_g") is not None)
    planned = getattr(line, stage)
    low, high = planned if isinstance(planned, tuple) else (planned, planned)
    used = [getattr(batch, stage) for batch in batches]
    if any(grams is None for grams in used) or sum(used) >= ENOUGH * low:
        return None
    done = sum(used)
    left = low - done if low == high else (low - done, high - done)
    salt = None if line.salt_g is None else line.salt_g * (low - done) / low
    others = {f"{one}_g": None for one in WEIGHTS if f"{one}_g" != stage}
    return replace(line, **{**others, stage: left, "salt_g": salt})
