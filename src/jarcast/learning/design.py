"""The matrices of one block, and the stretches a walking hand is made of."""

from collections.abc import Sequence

import numpy as np

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect
from jarcast.learning.block import Row
from jarcast.learning.regression import Array
from jarcast.learning.robust import NO_SLIP, SLIP_CHANCE
from jarcast.learning.thinned import Thinned

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
    part = np.clip((time[:, None] - starts) / lengths, 0.0, 1.0)
    steps: Array = part * np.sqrt(lengths)
    return steps


class Design:
    """Matrices of a block's n rows: effects X (n, p), targets, variances, and the walks."""

    def __init__(self, rows: Sequence[Row], arrows: tuple[Arrow, ...], now: int) -> None:
        """Lay out the rows; ``now`` is the number of batches so far."""
        self.rows, self.arrows = rows, arrows
        named = [effect for row in rows for effect in row.loadings]
        self.effects = {effect: i for i, effect in enumerate(dict.fromkeys(named))}
        n = len(rows)
        self.X = np.zeros((n, len(self.effects)))
        which = np.repeat(np.arange(n), [len(row.loadings) for row in rows])
        self.X[which, [self.effects[effect] for effect in named]] = [
            value for row in rows for value in row.loadings.values()
        ]
        self.share_out(rows)
        self.y = np.array([row.target for row in rows])
        self.reading = np.array([row.reading for row in rows])
        self.slip = np.array([row.slip for row in rows])
        self.slipped = np.array([NO_SLIP if row.sure else SLIP_CHANCE for row in rows])
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
        shares = [[row.shares.get(arrow, 0.0) for arrow in self.arrows] for row in rows]
        self.shares2 = np.array(shares).reshape(len(rows), len(self.arrows)) ** 2
        self.arrow_rows = np.count_nonzero(self.shares2, axis=0)

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
