"""Which of many batches may hold a contradiction: a quick look before the exact one.

Each test here is wider than the one in ``batch.contradictions`` that it stands for (no allowance
for scales, no room beyond the jars' volume): what passes holds no contradiction, what does not is
looked at by that function. A test tries this on batches made at random.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, compress, count, repeat
from operator import add, gt, sub
from typing import Any

from jarcast.batch import MOST_LOST_ML, WEIGHTS
from jarcast.ledger.entry import Cell

_STAGES = [column for column in WEIGHTS if column != "salt_g"]  # in the order they are weighed
_COMPARED = (*_STAGES, "brine_made_ml", "brine_left_ml", "sealed")


def doubtful(
    cells: Mapping[str, Sequence[Cell]], volumes: Sequence[float], counts: Sequence[float]
) -> list[int]:
    """Places of the batches that may contradict themselves, in order.

    ``cells`` by column as in a Block; ``volumes`` are the fill volumes in ml, ``counts`` the
    numbers of jars.
    """
    numbers = {name: _numbers(cells[name]) for name in _COMPARED if name in cells}
    found: set[int] = set()

    def where(larger: Iterable[float], smaller: Iterable[float]) -> None:
        found.update(compress(count(), map(gt, larger, smaller)))

    weights = [numbers[column] for column in _STAGES if column in numbers]
    for before, after in combinations(weights, 2):
        where(after, before)
    for column in _STAGES[1:]:
        if column in numbers:
            where(numbers[column], volumes)
    if "brine_made_ml" in numbers and "brine_left_ml" in numbers:
        made, left = numbers["brine_made_ml"], numbers["brine_left_ml"]
        where(left, made)
        where(map(sub, made, left), map(add, volumes, repeat(MOST_LOST_ML)))
    if "sealed" in numbers:
        where(numbers["sealed"], map(math.ceil, counts))
    return sorted(found)


def _numbers(column: Sequence[Any]) -> Sequence[float]:
    """A column with NaN where nothing was written down: it is not larger than anything."""
    return [math.nan if cell is None else cell for cell in column] if None in column else column
