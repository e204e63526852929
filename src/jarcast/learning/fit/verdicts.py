"""How each row fits the others, in words that a person can use: how many times too large it is."""

from collections.abc import Sequence

import numpy as np

from jarcast.learning.arrays import Array
from jarcast.learning.model.row import Row, Scale
from jarcast.learning.posterior import RowVerdict


def verdicts_of(
    rows: Sequence[Row], residual: Array, slips: Array, not_jarred: Array
) -> tuple[RowVerdict, ...]:
    """The verdicts on n rows.

    All (n,): ``residual`` from the forecast by the other rows, the chances of ``slips``, and those
    that a good part of the batch was ``not_jarred``.
    """
    columns = (_factors(rows, residual), slips, not_jarred)
    told = zip(*(values.tolist() for values in columns), strict=True)
    return tuple(
        RowVerdict(row.batch, row.columns, *each) for row, each in zip(rows, told, strict=True)
    )


def _factors(rows: Sequence[Row], residual: Array) -> Array:
    """How many times larger than expected each row's later amount is, (n,)."""
    found = np.exp(np.clip(residual, -50.0, 50.0))
    shares = np.array([row.scale is Scale.LOGIT for row in rows], dtype=bool)
    brine = np.array([row.scale is Scale.ML for row in rows], dtype=bool)
    amount = np.array([row.amount for row in rows])
    odds = amount[shares] / (1.0 - amount[shares]) / found[shares]
    found[shares] = amount[shares] * (1.0 + odds) / odds
    used = np.maximum(amount[brine], 1.0)
    found[brine] = used / np.maximum(used + residual[brine], 1e-3 * used)
    return found
