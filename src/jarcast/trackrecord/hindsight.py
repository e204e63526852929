"""The track record: forecasts against what happened, beside a running average of own ratios."""

import datetime as dt
import statistics
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.stages import STAGE_COLUMNS, Link, before_salt, was_salted
from jarcast.learning.model.beliefs import Beliefs
from jarcast.trackrecord.average import Average, Earlier, OwnRatios, jars_of
from jarcast.trackrecord.replay import Entered, Replayed, Tell, first_versions, replay, standing
from jarcast.trackrecord.scoring import RANGES, SHORT_CHANCE, Frequency, Mark, mark
from jarcast.trackrecord.stored import StoredForecast

ENOUGH = 100  # batches that a look back takes of a long record, unless it is to take all
LATEST = "latest"  # the group of forecasts from the last weight before the jars, one a batch
_SAME_WEIGHT = 0.02  # a forecast from a weight within 2 in 100 of the batch's was for that batch


class Why(StrEnum):
    """Why a forecast is not scored."""

    OTHER_CROP = "a different produce, cut or pack was put up"
    OTHER_WEIGHT = "a different weight was put up, or the weight was corrected since"
    OTHER_CURE = "it was forecast as salted and was not, or the other way around"
    CONTRADICTS = "the batch's own numbers contradict each other"


class Kept(Struct, frozen=True):
    """A forecast kept on request; ``action`` stands in the order of the entries'."""

    stored: StoredForecast
    action: int


class Scored(Struct, frozen=True):
    """One forecast and how it came out; ``brine`` is None where it is not known.

    ``date`` is that of its batch, None where that has none.
    """

    stored: StoredForecast
    jars: Mark
    brine: Mark | None
    date: dt.date | None = None


class SetAside(Struct, frozen=True):
    """One forecast that cannot be scored fairly."""

    stored: StoredForecast
    why: Why


class Beside(Struct, frozen=True):
    """Typical misses on the batches that the running average could answer."""

    batches: int
    average_miss: float
    own_miss: float


class Tally(Struct, frozen=True):
    """One outcome over many forecasts, in its own unit.

    Misses are medians without sign, ``crps`` is a mean; ``scored`` outcomes are known exactly.
    ``ran_out`` more are known only as 'at least', ``passed`` of them already beyond the 8-in-10
    range; only ``short`` counts those too, since an order that they passed was surely short.
    """

    scored: int
    held: tuple[Frequency, ...]
    short: Frequency
    miss: float | None
    crps: float | None
    beside: Beside | None
    ran_out: int
    passed: int


class Group(Struct, frozen=True):
    """Forecasts from one stage, or the latest of each batch; at most one a batch."""

    stage: str
    jars: Tally
    brine_ml: Tally


class TrackRecord(Struct, frozen=True):
    """Forecasts scored, and in groups: the latest first, then stage by stage.

    ``waiting`` names the batches that are not in the ledger yet.
    """

    scored: tuple[Scored, ...]
    set_aside: tuple[SetAside, ...]
    waiting: tuple[str, ...]
    groups: tuple[Group, ...]


class Hindsight(Struct, frozen=True):
    """Both records: forecasts that were kept, and the history replayed.

    ``looked_at`` of the ``batches`` that stand were replayed: the latest.
    """

    batches: int
    looked_at: int
    kept: TrackRecord
    replayed: TrackRecord


def look_back(
    record: Sequence[Entered],
    kept: Sequence[Kept] = (),
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
    *,
    latest: int | None = None,
    jobs: int | None = None,
    tell: Tell | None = None,
) -> Hindsight:
    """Replay a record and score it, and the forecasts that were kept.

    ``record`` holds every version of every batch in the order they were entered. A long one is
    spread over ``jobs`` cores; ``latest`` is how many batches are replayed, all unless given, each
    from all that went before; ``tell`` hears how many are done. Raises ForecastError for a
    ``latest`` below 1.
    """
    now = standing(record)
    made = replay(record, beliefs, shelf, latest=latest, jobs=jobs, tell=tell)
    return Hindsight(
        batches=len(now),
        looked_at=len(now) if latest is None else min(latest, len(now)),
        kept=score_kept(record, kept, shelf),
        replayed=_track_record(made, now, shelf),
    )


def score_kept(
    record: Sequence[Entered], kept: Sequence[Kept], shelf: Mapping[str, Jar] = SHELF
) -> TrackRecord:
    """Score kept forecasts whose batch was entered after them; the last kept of each stage counts.

    The running average is that of the batches entered before the forecast was kept.
    """
    entered = {first.batch.batch: first.action for first in first_versions(record)}
    last: dict[tuple[str, str], Kept] = {}
    for one in kept:
        if one.action < entered.get(one.stored.batch, one.action + 1):
            last[one.stored.batch, one.stored.stage] = one
    made, own = [], OwnRatios(shelf)
    for one in last.values():
        before = Earlier(standing(record, one.action).values(), own)
        made.append(Replayed(one.stored, before.running_average(one.stored)))
    return _track_record(made, standing(record), shelf)


def _track_record(
    made: Iterable[Replayed], now: Mapping[str, Batch], shelf: Mapping[str, Jar]
) -> TrackRecord:
    scored: list[Scored] = []
    aside: list[SetAside] = []
    waiting: dict[str, None] = {}
    for one in made:
        batch = now.get(one.stored.batch)
        if batch is None:
            waiting[one.stored.batch] = None
            continue
        found = score(one.stored, one.average, batch, shelf)
        if isinstance(found, Scored):
            scored.append(found)
        else:
            aside.append(SetAside(one.stored, found))
    return TrackRecord(tuple(scored), tuple(aside), tuple(waiting), groups_of(scored))


def score(
    stored: StoredForecast, average: Average | None, batch: Batch, shelf: Mapping[str, Jar]
) -> Scored | Why:
    """Score one forecast against its batch as it stands, or tell why that would not be fair."""
    why = _asked_otherwise(stored, batch)
    if why is not None:
        return why
    flags = contradictions(batch, shelf)
    # A contradiction that touches the brine link alone leaves weights and jars trusted.
    doubted = {c for flag in flags if flag.links - {Link.BRINE} for c in flag.columns}
    if doubted & {stored.stage, "jars"}:
        return Why.CONTRADICTS
    jars = mark(stored.jars, _jars_filled(stored, batch, shelf), average.jars if average else None)
    used = batch.brine_used_ml
    doubtful = any(Link.BRINE in flag.links for flag in flags)
    if used is None or stored.brine_ml is None or doubtful:
        return Scored(stored, jars, None, batch.date)
    said = average.brine_ml if average else None
    ran_out = batch.brine_left_ml == 0
    return Scored(stored, jars, mark(stored.brine_ml, used, said, at_least=ran_out), batch.date)


def _asked_otherwise(stored: StoredForecast, batch: Batch) -> Why | None:
    """How a forecast was given something else than was put up; None if it was not."""
    if produce_key(batch.produce) != stored.produce:
        return Why.OTHER_CROP
    pairs = ((stored.cut, cut_key(batch.cut)), (stored.pack, pack_key(batch.pack)))
    if any(asked and done and asked != done for asked, done in pairs):
        return Why.OTHER_CROP
    grams = getattr(batch, stored.stage)
    if grams is not None and abs(grams - stored.grams) > _SAME_WEIGHT * grams:
        return Why.OTHER_WEIGHT
    cured = was_salted(batch)
    if before_salt(stored.stage) and cured is not None:
        asked_raw = stored.cure_hours == 0 or (stored.salt_g == 0 and not stored.cure_hours)
        asked_cured = bool(stored.cure_hours or stored.salt_g)
        if (asked_raw and cured) or (asked_cured and not cured):
            return Why.OTHER_CURE
    return None


def _jars_filled(stored: StoredForecast, batch: Batch, shelf: Mapping[str, Jar]) -> float:
    """Jars filled, counted in the jars that were asked about."""
    if set(batch.jar) <= {turn.jar for turn in stored.turns}:
        return batch.total_jars
    return jars_of(batch.fill_volume_ml(shelf), stored.turns)


def groups_of(scored: Sequence[Scored]) -> tuple[Group, ...]:
    """The forecasts of each batch from its last weight, then those of each stage."""
    latest: dict[str, Scored] = {}
    for one in sorted(scored, key=lambda one: STAGE_COLUMNS.index(one.stored.stage)):
        latest[one.stored.batch] = one
    stages = [
        (stage, [one for one in scored if one.stored.stage == stage]) for stage in STAGE_COLUMNS
    ]
    return tuple(
        Group(
            stage=stage,
            jars=_tally([one.jars for one in ones]),
            brine_ml=_tally([one.brine for one in ones if one.brine is not None]),
        )
        for stage, ones in [(LATEST, list(latest.values())), *stages]
        if ones
    )


def _tally(marks: Sequence[Mark]) -> Tally:
    known = [one for one in marks if not one.at_least]
    ran_out = [one for one in marks if one.at_least]
    held = tuple(
        Frequency(level, sum(one.held[i] for one in known), len(known))
        for i, level in enumerate(RANGES)
    )
    beyond = [one for one in ran_out if one.short]
    short = sum(one.short for one in known) + len(beyond)
    return Tally(
        scored=len(known),
        held=held,
        short=Frequency(SHORT_CHANCE, short, len(known) + len(beyond)),
        miss=_typical([one.miss for one in known]),
        crps=statistics.fmean(one.crps for one in marks) if marks else None,
        beside=_beside(known),
        ran_out=len(ran_out),
        passed=sum(not one.held[RANGES.index(0.8)] for one in ran_out),
    )


def _typical(misses: Sequence[float]) -> float | None:
    return statistics.median(abs(miss) for miss in misses) if misses else None


def _beside(marks: Sequence[Mark]) -> Beside | None:
    both = [(one.average - one.was, one.miss) for one in marks if one.average is not None]
    if not both:
        return None
    return Beside(
        batches=len(both),
        average_miss=statistics.median(abs(miss) for miss, _ in both),
        own_miss=statistics.median(abs(miss) for _, miss in both),
    )
