"""Rows that do not fit, with the likeliest reason; pointed out, never changed.

A row joins two written values; which of them slipped shows in the rows beside it: the value whose
other rows fit is sound.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from jarcast.batch import Batch
from jarcast.learning.block import RowVerdict

SUSPECT = 0.2  # a row this likely a slip is pointed out

# How a value gets many times too large, by kind of column: factor and the question to ask.
_WEIGHT_SLIPS = (
    (2.2046, "pounds typed as kilograms?"),
    (10.0, "decimal point?"),
    (16.0, "ounces typed as pounds?"),
    (28.35, "grams typed as ounces?"),
    (100.0, "decimal point?"),
    (1000.0, "grams typed as kilograms?"),
)
_VOLUME_SLIPS = (
    (2.0, "cups typed as pints, or pints as quarts?"),
    (4.0, "cups typed as quarts?"),
    (8.0, "pints typed as gallons?"),
    (10.0, "decimal point?"),
    (16.0, "cups typed as gallons?"),
    (1000.0, "millilitres typed as litres?"),
)
_JAR_SLIPS = ((2.0, "pints counted as quarts, or half-pints as pints?"), (10.0, "decimal point?"))
_MISTYPED = 1.35  # a factor this far from a known slip's is still taken for it


@dataclass(frozen=True, slots=True)
class Slip:
    """A value that does not fit: ``column`` of ``batch`` is ``factor`` times what was expected.

    ``others`` are columns that might be the wrong one instead; ``chance`` is how likely it is a
    slip at all; ``guess`` a question to ask of it, '' if none comes near.
    """

    batch: str
    column: str
    others: tuple[str, ...]
    factor: float
    chance: float
    guess: str


def find_slips(verdicts: Sequence[RowVerdict], batches: Sequence[Batch]) -> tuple[Slip, ...]:
    """The batches that hold a value that does not fit, one slip for each of them."""
    by_batch: dict[str, list[RowVerdict]] = defaultdict(list)
    for verdict in verdicts:
        by_batch[verdict.batch].append(verdict)
    found = []
    for batch in batches:
        rows = by_batch[batch.batch]
        suspects = [row for row in rows if row.slip_chance > SUSPECT]
        if suspects:
            found.append(_blame(batch, rows, suspects))
    return tuple(found)


def _blame(batch: Batch, rows: Sequence[RowVerdict], suspects: Sequence[RowVerdict]) -> Slip:
    worst = max(suspects, key=lambda row: abs(math.log(row.factor)))
    sound = {column for row in rows if row not in suspects for column in row.columns}
    shared = set.intersection(*(set(row.columns) for row in suspects))
    factors = _factors(batch, worst)
    candidates = [column for column in factors if column in shared and column not in sound]
    candidates = candidates or [column for column in factors if column not in sound]
    ranked = sorted(candidates or factors, key=lambda column: _distance(column, factors[column]))
    column = ranked[0]
    factor = factors[column]
    return Slip(
        batch.batch,
        column,
        tuple(ranked[1:]),
        factor,
        worst.slip_chance,
        guess(column, factor),
    )


def _factors(batch: Batch, row: RowVerdict) -> dict[str, float]:
    """How many times too large each column of a row is, if it is the wrong one."""
    made, left = batch.brine_made_ml, batch.brine_left_ml
    if row.columns[0].startswith("brine") and made is not None and left is not None:
        # A hint of the ready weight from the brine counts the other way round.
        share = row.factor if row.columns[1].startswith("brine") else 1.0 / row.factor
        used = max((made - left) / share, 1.0)  # what would have been expected
        factors = {"brine_made_ml": made / (used + left)}
        if left > 0 and made > used:
            factors["brine_left_ml"] = left / (made - used)
        return factors
    return {row.columns[0]: 1.0 / row.factor, row.columns[1]: row.factor}


def _slips_of(column: str) -> tuple[tuple[float, str], ...]:
    if column.startswith("brine"):
        return _VOLUME_SLIPS
    return _JAR_SLIPS if column == "jars" else _WEIGHT_SLIPS


def _distance(column: str, factor: float) -> float:
    """How far in logs a factor is from the nearest known slip of this kind of column."""
    size = abs(math.log(factor))
    return min(abs(size - math.log(known)) for known, _ in _slips_of(column))


def guess(column: str, factor: float) -> str:
    """The likeliest reason a column is this many times too large, as a question; '' if none."""
    if _distance(column, factor) > math.log(_MISTYPED):
        return ""
    size = abs(math.log(factor))
    _, text = min(_slips_of(column), key=lambda slip: abs(size - math.log(slip[0])))
    if factor >= 1.0 or text == "decimal point?":
        return text
    return _turned(text)


def _turned(question: str) -> str:
    """The same slip the other way: 'kilograms typed as pounds?'."""
    body = question.removesuffix("?")
    sides = []
    for part in body.split(", or "):
        verb = (
            " typed as "
            if " typed as " in part
            else " counted as "
            if " counted as " in part
            else " as "
        )
        left, right = part.split(verb)
        sides.append(f"{right}{verb}{left}")
    return ", or ".join(sides) + "?"
