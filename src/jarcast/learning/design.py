"""The matrices of one block, and the stretches a walking hand is made of."""

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import TypeVar

import numpy as np

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect
from jarcast.learning.block import Row
from jarcast.learning.regression import Array
from jarcast.learning.robust import NO_SLIP, SLIP_CHANCE
from jarcast.learning.thinned import Thinned

_Key = TypeVar("_Key", Arrow, Effect)

SPREADING = frozenset({Arrow.TRIM, Arrow.CURE, Arrow.COOK, Arrow.PACK})  # tissue is what it is
WALKING = frozenset({Arrow.TRIM, Arrow.CURE, Arrow.PACK})


def segments(length: int) -> list[int]:
    """Lengths of the stretches the walk is made of, oldest first: single batches at the end.

    Doubling lengths keep the count near log(length), whatever the length.
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


def walked(stretches: Sequence[int], time: Array) -> Array:
    """How much of each stretch is walked by each time, shape (times, stretches).

    In units of the sd of a step: a whole stretch of k batches is sqrt(k). The walk starts at the
    first batch, time 0.
    """
    lengths = np.array(stretches, dtype=float)
    starts = np.cumsum(lengths) - lengths
    part = np.minimum(np.maximum((time[:, None] - starts) / lengths, 0.0), 1.0)
    steps: Array = part * np.sqrt(lengths)
    return steps


def _laid_out(rows: Sequence[Mapping[_Key, float]], columns: Mapping[_Key, int]) -> Array:
    """Rows of values by their keys as a matrix with a column for each key."""
    found = np.zeros((len(rows), len(columns)))
    places = [columns[key] for key in chain.from_iterable(rows)]
    which = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
    found[which, places] = list(chain.from_iterable(row.values() for row in rows))
    return found


class Design:
    """Matrices of a block's n rows: effects X (n, p), targets, variances, and the walks."""

    def __init__(self, rows: Sequence[Row], arrows: tuple[Arrow, ...], now: int) -> None:
        """Lay out the rows; ``now`` is the number of batches so far."""
        self.rows, self.arrows = rows, arrows
        loads = [row.loadings for row in rows]
        self.effects = {e: i for i, e in enumerate(dict.fromkeys(chain.from_iterable(loads)))}
        self.X = _laid_out(loads, self.effects)
        self.share_out(rows)
        self.y = np.array([row.target for row in rows])
        self.reading = np.array([row.reading for row in rows])
        self.slip = np.array([row.slip for row in rows])
        slipped = np.array([NO_SLIP if row.sure else SLIP_CHANCE for row in rows])
        self.log_slipped = np.log(np.stack((1.0 - slipped, slipped)))
        self.ceilings = [i for i, row in enumerate(rows) if row.ceiling]
        cells = {cell: i for i, cell in enumerate(dict.fromkeys(row.cell for row in rows))}
        self.cells = list(cells)
        self.cell = np.array([cells[row.cell] for row in rows], dtype=int)
        self.cell_rows = np.bincount(self.cell, minlength=len(cells))
        crops: dict[Arrow, list[int]] = {arrow: [] for arrow in arrows}
        for effect, i in self.effects.items():
            if effect.group == "crop":
                crops[effect.arrow].append(i)
        self.crop = {arrow: np.array(found, dtype=int) for arrow, found in crops.items()}
        self.spreading = tuple(arrow for arrow in arrows if arrow in SPREADING)
        self.thinned = Thinned(self.X, [self.crop[arrow] for arrow in self.spreading])
        self._walk(rows, arrows, now)

    def share_out(self, rows: Sequence[Row]) -> None:
        """Take how strongly each arrow's noise enters, squared, from these rows of the same."""
        columns = {arrow: i for i, arrow in enumerate(self.arrows)}
        self.shares2 = _laid_out([row.shares for row in rows], columns) ** 2
        self.arrow_rows = (self.shares2 > 0.0).sum(axis=0)

    def _walk(self, rows: Sequence[Row], arrows: tuple[Arrow, ...], now: int) -> None:
        """Columns of the walking hands at unit speed: one for each stretch and walking arrow."""
        self.stretches = tuple(segments(now))
        steps = walked(self.stretches, np.array([row.time for row in rows], dtype=float))
        self.walkers = tuple(arrow for arrow in arrows if arrow in WALKING)
        hands = [self.effects.get(Effect(arrow, "hand", "")) for arrow in self.walkers]
        self.walks = np.hstack(
            [np.zeros((len(rows), 0))]
            + [np.zeros_like(steps) if i is None else self.X[:, [i]] * steps for i in hands]
        )
        self.walk_now = np.sqrt(np.array(self.stretches, dtype=float))
