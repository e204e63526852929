"""Rows that do not fit, with the likeliest reason; pointed out, never changed.

A row joins two written values; which of them slipped shows in the rows beside it: the value whose
other rows fit is sound.
"""

import math
from collections import defaultdict
from collections.abc import Sequence

from msgspec import Struct

from jarcast.batch import Batch
from jarcast.learning.block import RowVerdict

SUSPECT = 0.15  # a row this likely a slip is pointed out

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


class Slip(Struct, frozen=True):
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
    """Those of the batches that hold a value that does not fit, one slip for each of them.

    A row is sound where the user stands by one of the values that could be behind it.
    """
    by_batch: dict[str, list[RowVerdict]] = defaultdict(list)
    for verdict in verdicts:
        by_batch[verdict.batch].append(verdict)
    found = []
    for batch in batches:
        rows = by_batch[batch.batch]
        suspects = [
            row
            for row in rows
            if row.slip_chance > SUSPECT and batch.confirmed.isdisjoint(_factors(batch, row))
        ]
        if suspects:
            found.append(_blame(batch, rows, suspects))
    return tuple(found)


def _blame(batch: Batch, rows: Sequence[RowVerdict], suspects: Sequence[RowVerdict]) -> Slip:
    """The column all suspicious rows share and no sound row vouches for."""
    factors: dict[str, float] = {}
    for row in sorted(suspects, key=lambda row: -row.slip_chance):
        for column, factor in _factors(batch, row).items():
            factors.setdefault(column, factor)
    sound = {c for row in rows if row not in suspects for c in row.columns[:2]}
    shared = set.intersection(*(_blamed(row) for row in suspects))
    candidates = [c for c in factors if c in shared and c not in sound]
    candidates = candidates or [c for c in factors if c in shared] or list(factors)
    column, *others = sorted(candidates, key=lambda c: _distance(c, factors[c]))
    factor = factors[column]
    chance = max(row.slip_chance for row in suspects)
    return Slip(batch.batch, column, tuple(others), factor, chance, guess(column, factor))


def _blamed(row: RowVerdict) -> set[str]:
    """Columns that could be behind a row that does not fit."""
    hint = {"brine_made_ml", "brine_left_ml"} if row.columns[0] == "brine" else set()
    return {*row.columns, *hint} - {"brine"}


def _factors(batch: Batch, row: RowVerdict) -> dict[str, float]:
    """How many times too large each column of a row is, if it is the wrong one."""
    if row.columns[0] not in ("brine", "brine_made_ml"):
        return {row.columns[0]: 1.0 / row.factor, row.columns[1]: row.factor}
    made, left = batch.brine_made_ml or 0.0, batch.brine_left_ml or 0.0
    hint = row.columns[0] == "brine"
    # Weights told by brine grow as the brine used shrinks: there the factor stands upside down.
    share = 1.0 / row.factor if hint else row.factor
    used = max((made - left) / share, 1.0)  # what would have been expected
    factors = {"brine_made_ml": max(made, 1.0) / (used + left)}
    if left > 0 and made > used:
        factors["brine_left_ml"] = left / (made - used)
    if hint:
        factors["jars"] = row.factor
    return factors


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
