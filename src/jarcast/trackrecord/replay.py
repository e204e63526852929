"""Replaying a history one step ahead, never looking forward.

Each batch is forecast from each weight that was recorded for it, by what was known when it was
entered: the batches of earlier dates, each in the version that stood then; in a long record but for
the latest few, so that batches that follow one another can share what is learned. Whatever is
entered later, a batch, a correction or a withdrawal, changes no forecast here; a batch that is
withdrawn is itself forecast no more. The starting beliefs and the way of learning are the present
ones.
"""

import datetime as dt
import math
import warnings
from collections import Counter
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from itertools import groupby
from operator import attrgetter
from typing import Any

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.jar_text import turns_text
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.said_weight import in_between
from jarcast.domain.stages import STAGE_COLUMNS, is_cooked
from jarcast.errors import JarcastError
from jarcast.forecast.arguments import check_whole, is_whole
from jarcast.forecast.habits import Habits, habits_from
from jarcast.learning.latest import crop_key
from jarcast.learning.model.beliefs import Beliefs
from jarcast.trackrecord.average import Average, Earlier, OwnRatios
from jarcast.trackrecord.stored import StoredForecast, stored_from

# Of each forecast: half as many as it has otherwise. Only 101 quantiles of them are scored.
DRAWS = 2048
LONG = 60  # batches from which on several cores are quicker, their start included
_CHUNK = 8  # batches handed to a core at a time
# Of a record of so many batches some may wait before it is learned again: one in so many of all,
# and of each crop. What that does to scores: docs/explanation/scale.md.
MANY = 200
_OF_ALL, _OF_A_CROP = 20, 10

Tell = Callable[[int, int], None]  # called with batches done, and all


class Entered(Struct, frozen=True):
    """One version of a batch; ``action`` numbers what the user did, in order.

    Rows of one import share their action. The first version of a name is its entry, later ones
    are corrections. A batch that is ``withdrawn`` by an action is as if it had never been from
    there on, until a later version takes it back in.
    """

    batch: Batch
    action: int
    withdrawn: bool = False


class Replayed(Struct, frozen=True):
    """One forecast of a batch as it would have been made, and what the average would have said."""

    stored: StoredForecast
    average: Average | None


def as_one_import(batches: Iterable[Batch]) -> list[Entered]:
    """Batches as if they had been entered all at once."""
    return [Entered(batch, 0) for batch in batches]


def first_versions(record: Iterable[Entered]) -> list[Entered]:
    """The entry of each batch that stands, by date, then in order of entry."""
    firsts: dict[str, Entered] = {}
    last: dict[str, Entered] = {}
    for version in record:
        firsts.setdefault(version.batch.batch, version)
        last[version.batch.batch] = version
    standing = (first for name, first in firsts.items() if not last[name].withdrawn)
    return sorted(standing, key=lambda first: first.batch.date)


def standing(record: Iterable[Entered], until: float = math.inf) -> dict[str, Batch]:
    """Each batch by name in the version that stood after the action ``until``."""
    last = {v.batch.batch: v for v in record if v.action <= until}
    return {name: version.batch for name, version in last.items() if not version.withdrawn}


def known_before(record: Sequence[Entered], first: Entered) -> list[Batch]:
    """The batches before this one, as they stood when it was entered.

    Before is an earlier date, or the same date and entered by an earlier action: within a day one
    import does not tell which batch came first.
    """
    entered: dict[str, int] = {}
    for version in record:
        entered.setdefault(version.batch.batch, version.action)
    return [
        batch
        for name, batch in standing(record, first.action).items()
        if name != first.batch.batch
        and (batch.date, entered[name]) < (first.batch.date, first.action)
    ]


def replay_in_turn(
    record: Sequence[Entered],
    firsts: Iterable[Entered],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
) -> Iterator[list[Replayed]]:
    """Forecasts of these batches one after the other, for each one from each weight it wrote down.

    A weight that no forecast can be made from gives none. Batches that are learned from the very
    same ones, as those of one day in one import, are forecast from habits that are learned once.
    """
    own, history, seen = OwnRatios(shelf), list[Batch](), list[Batch]()
    earlier = Earlier((), own)
    habits: Habits | None = None
    for _, together in groupby(firsts, key=_moment):
        alike = list(together)
        before = known_before(record, alike[0])
        if before != seen:
            earlier, seen = Earlier(before, own), before
        taken = learned_by_then(before)
        if habits is None or taken != history:
            habits, history = habits_from(taken, beliefs, shelf), taken
        for first in alike:
            stored = (forecast_again(habits, first.batch, stage) for stage in STAGE_COLUMNS)
            yield [Replayed(one, earlier.running_average(one)) for one in stored if one]


def learned_by_then(before: Sequence[Batch]) -> list[Batch]:
    """Of the batches before a moment, by date, those that are learned from.

    All of them; of a long history all but the latest few, up to the last of the sizes at which it
    is learned again, each a twentieth larger than the one before. None is left waiting whose crop
    is so seldom that one batch more of it tells much.
    """
    by_date = sorted(before, key=attrgetter("date"))
    if len(before) <= MANY:
        return by_date
    size = MANY
    while (following := size + size // _OF_ALL) <= len(before):
        size = following
    learned, waiting = (Counter(map(crop_key, part)) for part in (by_date[:size], by_date[size:]))
    seldom = any(learned[crop] < _OF_A_CROP * count for crop, count in waiting.items())
    return by_date if seldom else by_date[:size]


def _moment(first: Entered) -> tuple[dt.date, int]:
    """The day of a batch and the action that entered it; of one moment the same went before."""
    return first.batch.date, first.action


def forecast_again(habits: Habits, batch: Batch, stage: str) -> StoredForecast | None:
    """A batch like this from its weight at a stage; None where no forecast can be made from it."""
    grams = getattr(batch, stage)
    if grams is None:
        return None
    known: dict[str, Any] = {stage: in_between(grams, batch.doubt_of(stage))}
    pack = batch.pack or ("hot" if is_cooked(batch) else "")
    try:
        forecast = habits.forecast(
            produce=batch.produce,
            cut=batch.cut,
            pack=pack or habits.usual_pack(batch.produce, batch.cut),
            jar=_jars_in_turn(batch),
            cure_hours=batch.cure_hours,
            salt_g=batch.salt_g,
            headspace_in=batch.headspace_in,
            person=batch.person,
            draws=DRAWS,
            **known,
        )
    except JarcastError:
        return None
    return stored_from(batch.batch, forecast)


def _jars_in_turn(batch: Batch) -> str:
    """The batch's jars as a forecast asks for them: how many there were of all sorts but the last.

    The sort with the part-full jar was the last.
    """
    pairs = [(n, key) for key, n in zip(batch.jar, batch.jars, strict=True) if n > 0]
    pairs.sort(key=lambda pair: pair[0] != round(pair[0]))
    return turns_text([(float(math.ceil(count)), key) for count, key in pairs])


def replay(
    record: Sequence[Entered],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
    *,
    latest: int | None = None,
    jobs: int | None = None,
    tell: Tell | None = None,
) -> list[Replayed]:
    """Replay a record, versions in the order they were entered: all of it, or ``latest`` batches.

    The forecasts come by the date of their batch, then in order of entry. A long record is spread
    over ``jobs`` cores (all unless given); the forecasts are the same. Raises ForecastError for a
    ``latest`` or ``jobs`` that is no whole number from 1 up.
    """
    check_parts(latest, jobs)
    firsts = first_versions(record)[-latest if latest else None :]
    found: list[Replayed] = []
    # Closed here and now: an interrupted replay stops its workers before anything else is said.
    with closing(_replay_parts(tuple(record), firsts, beliefs, shelf, jobs)) as parts:
        for done, part in parts:
            found.extend(part)
            if tell is not None:
                tell(done, len(firsts))
    return found


def check_parts(latest: object, jobs: object) -> None:
    """Refuse what is no number of batches, or of cores; None is all. Raises ForecastError."""
    if latest is not None:
        check_whole("latest", latest, "batches", "; None is all")
    if jobs is not None and not (is_whole(jobs) and jobs == -1):  # joblib's word for all
        check_whole("jobs", jobs, "cores", "; None is all")


def _replay_parts(
    record: tuple[Entered, ...],
    firsts: list[Entered],
    beliefs: Beliefs | None,
    shelf: Mapping[str, Jar],
    jobs: int | None,
) -> Generator[tuple[int, list[Replayed]], None, None]:
    """Forecasts batch by batch or chunk by chunk, each with how many batches are done."""
    if jobs == 1 or len(firsts) <= LONG:
        yield from enumerate(replay_in_turn(record, firsts, beliefs, shelf), start=1)
        return
    from joblib import Parallel, delayed

    chunks = _chunks(firsts)
    work = (delayed(_replay_chunk)(record, chunk, beliefs, shelf) for chunk in chunks)
    parts = Parallel(n_jobs=jobs or -1, return_as="generator")(work)
    done = 0
    try:
        for chunk, part in zip(chunks, parts, strict=True):
            done += len(chunk)
            yield done, part
    finally:
        with (
            warnings.catch_warnings()
        ):  # what an interrupted replay left undone is not worth a message
            warnings.simplefilter("ignore", UserWarning)
            parts.close()


def _chunks(firsts: Sequence[Entered]) -> list[list[Entered]]:
    """Batches that go to a core together; those of one day and action are not parted."""
    chunks: list[list[Entered]] = []
    for _, day in groupby(firsts, key=_moment):
        if not chunks or len(chunks[-1]) >= _CHUNK:
            chunks.append([])
        chunks[-1] += day
    return chunks


def _replay_chunk(
    record: tuple[Entered, ...],
    firsts: list[Entered],
    beliefs: Beliefs | None,
    shelf: Mapping[str, Jar],
) -> list[Replayed]:
    return [one for found in replay_in_turn(record, firsts, beliefs, shelf) for one in found]
