"""The matrices of one block, with the segments of the random walk as columns."""

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import TypeVar

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.fit.reduced_basis import ReducedBasis
from jarcast.learning.fit.sites import NO_SLIP, SLIP_CHANCE, Rows
from jarcast.learning.model.effects import PERSONAL, Effect, common_to_all
from jarcast.learning.model.endings import KIND, SOME_MISSING
from jarcast.learning.model.row import Row

_Key = TypeVar("_Key", Link, Effect)

# Links whose crop spread is learned; the density of tissue is not the cook's to change.
SPREADING = frozenset({Link.TRIM, Link.CURE, Link.COOK, Link.PACK})
WALKING = frozenset({Link.TRIM, Link.CURE, Link.PACK})  # whose person effect may be a random walk


def segment_lengths(length: int) -> list[int]:
    """Lengths of the walk's segments, oldest first, with single batches at the end.

    Doubling lengths keep their number near log(length).
    """
    lengths: list[int] = []
    size, left = 1, length
    while left > 0:
        for _ in range(8 if size == 1 else 4):
            step = min(size, left)
            if step:
                lengths.append(step)
            left -= step
        size *= 2
    return lengths[::-1]


def walk_loads(segments: Sequence[int], time: Array) -> Array:
    """How much of each segment lies before each time, shape (times, segments).

    In units of the sd of one step: a whole segment of k batches is sqrt(k). The walk starts at the
    first batch, time 0.
    """
    lengths = np.array(segments, dtype=float)
    starts = np.cumsum(lengths) - lengths
    part = np.clip((time[:, None] - starts) / lengths, 0.0, 1.0)
    steps: Array = part * np.sqrt(lengths)
    return steps


def _matrix(rows: Sequence[Mapping[_Key, float]], columns: Mapping[_Key, int]) -> Array:
    """Rows of values by key as a matrix with one column a key."""
    found = np.zeros((len(rows), len(columns)))
    places = [columns[key] for key in chain.from_iterable(rows)]
    which = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
    found[which, places] = list(chain.from_iterable(row.values() for row in rows))
    return found


class Design:
    """Matrices of a block's n rows: effects X (n, p), targets, variances, and the walk."""

    def __init__(self, rows: Sequence[Row], links: tuple[Link, ...], now: int) -> None:
        """Lay out the rows; ``now`` is the number of batches so far.

        Of the rows' cases only the first counts until ``set_chances`` tells how likely they are.
        """
        self.rows, self.links = rows, links
        loads = [row.loadings for row in rows]
        self.effects = {e: i for i, e in enumerate(dict.fromkeys(chain.from_iterable(loads)))}
        self.X = _matrix(loads, self.effects)
        columns = {link: i for i, link in enumerate(links)}
        self.set_shares(_matrix([row.shares for row in rows], columns))
        self.times = np.array([row.time for row in rows], dtype=int)
        self.with_cases = np.array([i for i, row in enumerate(rows) if row.cases], dtype=int)
        self.log_fit = np.array([row.cases.log_fit for row in rows if row.cases])
        self.rows_seen = _seen(rows, self.with_cases)
        self.y, self.reading = self.rows_seen.y, self.rows_seen.reading[:, 0]
        # Whether the targets move with each iteration.
        self.moving = bool(self.rows_seen.ceiling.any() or self.rows_seen.shift.shape[1] > 1)
        cells = {cell: i for i, cell in enumerate(dict.fromkeys(row.cell for row in rows))}
        self.cells = list(cells)
        self.cell = np.array([cells[row.cell] for row in rows], dtype=int)
        self.cell_rows = np.bincount(self.cell, minlength=len(cells))
        crops: dict[Link, list[int]] = {link: [] for link in links}
        for effect, i in self.effects.items():
            if effect.group == "crop":
                crops[effect.link].append(i)
        self.crop = {link: np.array(found, dtype=int) for link, found in crops.items()}
        self.spreading = tuple(link for link in links if link in SPREADING)
        self.people = self._people()
        groups = [self.crop[link] for link in self.spreading]
        self.basis = ReducedBasis(self.X, [*groups, *self.people])
        self._add_walk(rows, links, now)

    def by_each(self, row: int) -> dict[str, Array]:
        """A row's columns (p,) were it made by each who may have; empty where one alone may."""
        own = [(e, i) for e, i in self.effects.items() if e.group == "own" and self.X[row, i]]
        names = {effect.key for effect, _ in own}
        if len(names) < 2:
            return {}
        whole = {link: sum(self.X[row, i] for e, i in own if e.link is link) for link in self.links}
        found = {}
        for name in names:
            loads = self.X[row].copy()
            for effect, i in own:
                loads[i] = whole[effect.link] if effect.key == name else 0.0
            found[name] = loads
        return found

    def set_chances(self, log_chance: Array) -> None:
        """Take the log chances of the cases of each batch, (batches, CASES)."""
        if not self.with_cases.size:
            return
        log_case = self.rows_seen.log_case.copy()
        log_case[self.with_cases] = log_chance[self.times[self.with_cases]] + self.log_fit
        self.rows_seen = replace(self.rows_seen, log_case=log_case)

    def set_shares(self, shares: Array) -> None:
        """Take how strongly each link's noise enters each row, (n, links)."""
        self.shares2 = shares**2
        self.link_rows = (self.shares2 > 0.0).sum(axis=0)

    def _people(self) -> list[NDArray[np.intp]]:
        """Columns of what the people of a kitchen share, and of what is each one's own.

        None where there is one person: all of what lies between people is that one's.
        """
        found: dict[str, list[int]] = {"person": [], "own": []}
        for effect, i in self.effects.items():
            if effect.link in PERSONAL and effect.group in found:
                found[effect.group].append(i)
        return [np.array(part, dtype=int) for part in found.values()] if found["own"] else []

    def _add_walk(self, rows: Sequence[Row], links: tuple[Link, ...], now: int) -> None:
        """Columns of the random walk at unit step size: one for each segment and walking link."""
        self.segments = tuple(segment_lengths(now))
        steps = walk_loads(self.segments, self.times.astype(float))
        self.walking = tuple(link for link in links if link in WALKING)
        people = [self.effects.get(common_to_all(link)) for link in self.walking]
        self.walk = np.hstack(
            [np.zeros((len(rows), 0))]
            + [np.zeros_like(steps) if i is None else self.X[:, [i]] * steps for i in people]
        )
        self.walk_now = np.sqrt(np.array(self.segments, dtype=float))


def _seen(rows: Sequence[Row], with_cases: NDArray[np.intp]) -> Rows:
    """The rows' targets in each of their cases; a row without cases has its one."""
    cases = [row.cases for row in rows if row.cases]
    shape = len(rows), cases[0].shift.size if cases else 1
    shift, extra, log_case = np.zeros(shape), np.zeros(shape), np.full(shape, -np.inf)
    log_case[:, 0] = 0.0
    if cases:
        shift[with_cases] = [one.shift for one in cases]
        extra[with_cases] = [one.extra for one in cases]
    slipped = np.array([NO_SLIP if row.sure else SLIP_CHANCE for row in rows])
    return Rows(
        y=np.array([row.target for row in rows]),
        shift=shift,
        reading=np.array([row.reading for row in rows])[:, None] + extra,
        log_case=log_case,
        slip=np.array([row.slip for row in rows]),
        log_slipped=np.log(np.stack((1.0 - slipped, slipped))),
        ceiling=np.array([row.ceiling for row in rows], dtype=bool),
        seldom=KIND == SOME_MISSING if cases else np.zeros(1, dtype=bool),
    )
