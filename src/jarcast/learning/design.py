"""The matrices of one block, and the stretches a walking hand is made of."""

from collections.abc import Sequence

import numpy as np

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect
from jarcast.learning.block import Row
from jarcast.learning.regression import Array

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
        self.effects = {
            e: i for i, e in enumerate(dict.fromkeys(e for r in rows for e in r.loadings))
        }
        n = len(rows)
        self.X = np.zeros((n, len(self.effects)))
        self.shares = np.zeros((n, len(arrows)))
        hands = np.zeros((n, len(arrows)))
        for i, row in enumerate(rows):
            for effect, value in row.loadings.items():
                self.X[i, self.effects[effect]] = value
            for a, arrow in enumerate(arrows):
                self.shares[i, a] = row.shares.get(arrow, 0.0)
                hands[i, a] = row.loadings.get(Effect(arrow, "hand", ""), 0.0)
        self.y = np.array([row.target for row in rows])
        self.reading = np.array([row.reading for row in rows])
        self.slip = np.array([row.slip for row in rows])
        self.sure = np.array([row.sure for row in rows], dtype=bool)
        self.ceiling = np.array([row.ceiling for row in rows], dtype=bool)
        self.cells = list(dict.fromkeys(row.cell for row in rows))
        self.cell = np.array([self.cells.index(row.cell) for row in rows], dtype=int)
        self.crop = {
            arrow: np.array(
                [i for e, i in self.effects.items() if e.arrow is arrow and e.group == "crop"],
                dtype=int,
            )
            for arrow in arrows
        }
        self._walk(rows, hands, arrows, now)

    def _walk(self, rows: Sequence[Row], hands: Array, arrows: tuple[Arrow, ...], now: int) -> None:
        """Columns of the walking hands at unit speed: one for each stretch and walking arrow."""
        self.stretches = tuple(segments(now))
        steps = walked(self.stretches, np.array([row.time for row in rows], dtype=float))
        walking = [a for a, arrow in enumerate(arrows) if arrow in WALKING]
        self.walks = np.hstack(
            [np.zeros((len(rows), 0)), *(hands[:, [a]] * steps for a in walking)]
        )
        self.walk_now = np.sqrt(np.array(self.stretches, dtype=float))
        self.walkers = tuple(arrows[a] for a in walking)
