"""Loads of the canner: what each batch puts in, and which batches share one.

A load holds full jars of one size and one process: batches that follow one another share one where
their cards have the very same process for them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.forecast.outcome import Outcome

if TYPE_CHECKING:
    from jarcast.learning.arrays import Array

WHOLE = 1e-9  # a jar this close to full counts as full


class Process(Struct, frozen=True):
    """Minutes in the canner by the card, and its method; None where the card has none.

    ``why`` says what is to be known instead; ``canned`` is whether the jars go in at all.
    """

    minutes: float | None
    method: str = ""
    why: str = ""
    canned: bool = True


class Run(Struct, frozen=True):
    """What one batch puts in the canner, in one size of jar.

    ``full`` counts full jars. ``loads`` are those the batch would make by itself, None where the
    canner's room for the size is not known, or the jars do not go in. ``started`` counts the loads
    that are full, or the last, once it is packed, with jars waiting from batches before it.
    ``line`` is the place of the batch among the forecasts, from 0; ``shares`` tells whether its
    last load waits for the next batch.
    """

    line: int
    size: str
    full: Outcome
    room: int | None
    loads: Outcome | None
    process: Process
    pack: str = ""
    started: Outcome | None = None
    shares: bool = False


class Load(Struct, frozen=True):
    """One load as it most likely comes out.

    ``after_hours`` is when it can go in at the earliest, None where one's own pace is not known.
    ``parts`` are the jars of each batch in it, by its line; ``line`` is the first of them.
    """

    number: int
    line: int
    size: str
    jars: int
    process: Process
    after_hours: float | None
    parts: tuple[tuple[int, int], ...] = ()


def shared_loads(runs: Sequence[Run], days: Sequence[object] = ()) -> tuple[Run, ...]:
    """The runs with the loads that each starts, and whether its last load waits for the next.

    Two batches share a load where one follows the other, on the same days, and the cards have the
    very same process for both, in the same size and pack.
    """
    found: list[Run] = []
    before: dict[str, Array] = {}  # jars that wait for the next batch, by size
    following = {(run.line, run.size): run for run in runs}
    for run in runs:
        if run.loads is None or run.room is None:
            found.append(run)
            continue
        after = following.get((run.line + 1, run.size))
        shares = after is not None and _share(run, after, days)
        jars = before.pop(run.size, 0.0) + run.full.draws
        started = np.floor(jars / run.room) if shares else np.ceil(jars / run.room)
        if shares:
            before[run.size] = jars - started * run.room
        found.append(replace(run, started=Outcome(started), shares=shares))
    return tuple(found)


def _share(one: Run, other: Run, days: Sequence[object]) -> bool:
    """Whether jars of both may stand in one load: never by a process that is not known."""
    known = one.process.minutes is not None and other.loads is not None
    same = (one.process, one.pack) == (other.process, other.pack)
    return known and same and (not days or days[one.line] == days[other.line])


def schedule(runs: Sequence[Run], starts: Mapping[tuple[int, str, int], float]) -> tuple[Load, ...]:
    """The loads as they come out most likely, in the order of the batches."""
    loads: list[Load] = []
    waiting: dict[str, list[tuple[int, int]]] = {}  # jars that wait for the next batch, by size
    for run in runs:
        if run.loads is None or run.room is None:
            continue
        parts = waiting.pop(run.size, [])
        left, number = math.floor(run.full.median + WHOLE), 0
        while left > 0 or parts:
            room = run.room - sum(jars for _, jars in parts)
            if taken := min(left, room):
                parts, left = [*parts, (run.line, taken)], left - taken
            if taken < room and run.shares:
                waiting[run.size] = parts
                break
            after = starts.get((run.line, run.size, number))
            jars = sum(count for _, count in parts)
            line = parts[0][0]
            load = Load(len(loads) + 1, line, run.size, jars, run.process, after, tuple(parts))
            loads.append(load)
            parts, number = [], number + 1
    return tuple(loads)
