"""What pooling gains: households left out and started from the others, and one's own next batch.

A pool is scored on households that had no part in it, as cross-validation does (Stone 1974, Journal
of the Royal Statistical Society B 36): each is forecast over its first batches from the published
yields, and from beliefs pooled from the others.
"""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import fmean, stdev

import numpy as np
from msgspec import Struct

from jarcast.batchtable import read_csv
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.stages import STAGE_COLUMNS
from jarcast.forecast.habits import habits_from
from jarcast.learning.model.beliefs import Beliefs
from jarcast.pooling.combine import LEAST_HOUSEHOLDS
from jarcast.pooling.files import Tell, pooled_beliefs
from jarcast.pooling.reduce import Reduced, reduce_household
from jarcast.trackrecord.replay import as_one_import, forecast_again, replay
from jarcast.trackrecord.scoring import mark
from jarcast.trackrecord.stored import StoredForecast

LEVEL = 0.95  # of the bands
FIRST = 3  # batches of a household that are forecast: a newcomer's first
LEAST = 3  # households: two to pool, and one to leave out
_OUTCOMES = ("jars", "brine_ml")
_GROUPS = 10  # left out one after the other, at most
_SCORED = 40  # households that are forecast, at most
Scores = dict[tuple[str, str, str], float]  # by batch, stage and outcome


class Gain(Struct, frozen=True):
    """How a score (CRPS; less is better) changes on households left out, as a ratio.

    ``ratio`` is the typical household's (the geometric mean) with the pool over without it, ``low``
    to ``high`` where it lies 19 times in 20 by Student's t over the ``households``.
    """

    outcome: str
    households: int
    ratio: float
    low: float
    high: float

    @property
    def told(self) -> bool:
        """Whether a gain can be told from chance."""
        return self.high < 1.0


class OwnNext(Struct, frozen=True):
    """A kitchen's own last batch put up once more, forecast before and after pooling."""

    before: StoredForecast
    after: StoredForecast


def gains(
    paths: Sequence[Path], households: Sequence[Reduced], tell: Tell | None = None
) -> tuple[Gain, ...]:
    """What a household gains that is left out, in jars and in brine.

    ``households`` are those of the files ``paths``, in order; of many, some are tried. None are
    given with fewer than three that say anything. ``tell`` hears how many groups are done.
    """
    saying = [(path, one) for path, one in zip(paths, households, strict=True) if one.parts]
    if len(saying) < LEAST:
        return ()
    groups = min(len(saying), _GROUPS)
    each = max(_SCORED // groups, 1)
    changed: list[dict[str, float]] = []
    for number in range(groups):
        others = [one for i, (_, one) in enumerate(saying) if i % groups != number]
        beliefs = pooled_beliefs(others)
        changed += [_changed(path, beliefs) for path, _ in saying[number::groups][:each]]
        if tell is not None:
            tell(number + 1, groups)
    return _gains(changed)


def _gains(changed: Sequence[Mapping[str, float]]) -> tuple[Gain, ...]:
    logs = [(outcome, [one[outcome] for one in changed if outcome in one]) for outcome in _OUTCOMES]
    return tuple(_gain(outcome, found) for outcome, found in logs if len(found) >= LEAST)


def _changed(path: Path, beliefs: Beliefs) -> dict[str, float]:
    """Log ratio of one household's scores with these beliefs to those without, by outcome."""
    batches = sorted((entry.batch for entry in read_csv(path).entries), key=lambda one: one.date)
    before, after = _scores(batches[:FIRST], None), _scores(batches[:FIRST], beliefs)
    found = {}
    for outcome in _OUTCOMES:
        both = [key for key in before if key[2] == outcome and key in after]
        was, now = (sum(scores[key] for key in both) for scores in (before, after))
        if was > 0.0 and now > 0.0:
            found[outcome] = math.log(now / was)
    return found


def _scores(batches: Sequence[Batch], beliefs: Beliefs | None) -> Scores:
    """CRPS of each forecast one step ahead, in units of what came."""
    by_name = {batch.batch: batch for batch in batches}
    found: Scores = {}
    for one in replay(as_one_import(batches), beliefs, jobs=1):
        stored, batch = one.stored, by_name[one.stored.batch]
        key = stored.batch, stored.stage
        found[(*key, "jars")] = mark(stored.jars, batch.total_jars, None).crps / batch.total_jars
        used = batch.brine_used_ml
        if stored.brine_ml is not None and used and batch.brine_left_ml:
            found[(*key, "brine_ml")] = mark(stored.brine_ml, used, None).crps / used
    return found


def _gain(outcome: str, logs: Sequence[float]) -> Gain:
    from scipy import stats

    mean, count = fmean(logs), len(logs)
    off = stdev(logs) / math.sqrt(count) * float(stats.t.ppf(0.5 + LEVEL / 2, count - 1))
    return Gain(outcome, count, math.exp(mean), math.exp(mean - off), math.exp(mean + off))


def _says_the_same(one: Reduced, other: Reduced) -> bool:
    """Whether two households are one: no two have the very same readings."""
    if (one.batches, one.crops) != (other.batches, other.crops):
        return False
    both = zip(one.parts, other.parts, strict=False)
    return all(
        here.coordinates == there.coordinates and np.allclose(here.vector, there.vector, rtol=1e-6)
        for here, there in both
    )


def own_next(
    batches: Sequence[Batch],
    households: Sequence[Reduced],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
) -> OwnNext | None:
    """The last of a kitchen's batches once more, before and after; None where it has no weight.

    Before is with the ``beliefs`` in use. The kitchen's own export, where it is among the
    households, is left out: its batches count already.
    """
    if not batches:
        return None
    last = max(batches, key=lambda batch: batch.date)
    weighed = [stage for stage in STAGE_COLUMNS if getattr(last, stage) is not None]
    habits = habits_from(batches, beliefs, shelf)
    own = reduce_household(batches)
    others = [one for one in households if one.parts and not _says_the_same(one, own)]
    if not weighed or len(others) < LEAST_HOUSEHOLDS:
        return None
    before = forecast_again(habits, last, weighed[-1])
    pooled = habits_from(batches, pooled_beliefs(others), shelf)
    after = forecast_again(pooled, last, weighed[-1])
    return None if before is None or after is None else OwnNext(before, after)
