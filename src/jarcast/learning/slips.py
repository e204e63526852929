"""Find values that do not fit, with the likeliest reason; they are pointed out, never changed.

A row joins two written values. Which of them is wrong shows in the rows beside it: a value whose
other rows fit is sound.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import WAS_SOME_NOT_JARRED
from jarcast.domain.slips import distance, guess
from jarcast.learning.posterior import RowVerdict

SUSPECT = 0.15  # a row this likely a slip is pointed out
# Beside fewer others that tell of the same, what is odd may be how this kitchen does it: a first
# batch that is a little out of the way is not pointed out.
FEW, SUSPECT_OF_FEW = 3, 0.2
# Too heavy for its jars: more likely than not some was not jarred, or its weight is a slip. Below
# that it may well have been packed tight, and nothing is wrong with it.
HEAVY = 0.5
FEWER = 0.85  # and its jars are no more than this part of what was expected


class Slip(Struct, frozen=True):
    """A value that does not fit: ``column`` of ``batch`` is ``factor`` times what was expected.

    ``others`` are columns that might be wrong instead; ``chance`` is the chance that anything is;
    ``guess`` is a question to ask about it, '' where no known slip comes near. ``alone`` tells
    whether no other batch tells of the same: it is then odd beside what is published alone.
    ``not_jarred`` tells whether it is likelier that some of the batch was not jarred than that
    anything is wrong.
    """

    batch: str
    column: str
    others: tuple[str, ...]
    factor: float
    chance: float
    guess: str
    alone: bool = False
    not_jarred: bool = False


def find_slips(verdicts: Sequence[RowVerdict], batches: Sequence[Batch]) -> tuple[Slip, ...]:
    """One slip for each of the batches that hold a value that does not fit.

    A row is sound where the user has confirmed one of the values that could be behind it.
    """
    by_batch: dict[str, list[RowVerdict]] = defaultdict(list)
    for verdict in verdicts:
        by_batch[verdict.batch].append(verdict)
    tellers = {(verdict.columns[0], verdict.batch) for verdict in verdicts}
    telling = Counter(column for column, _ in tellers)  # how many batches tell of a column
    found = []
    for batch in batches:
        rows = by_batch[batch.batch]
        suspects = [
            row
            for row in rows
            if _is_odd(row, SUSPECT if telling[row.columns[0]] > FEW else SUSPECT_OF_FEW)
            and batch.confirmed.isdisjoint(_factors(batch, row))
        ]
        if suspects:
            alone = all(telling[row.columns[0]] == 1 for row in suspects)
            found.append(replace(_blame(batch, rows, suspects), alone=alone))
    return tuple(found)


def _is_odd(row: RowVerdict, suspect: float) -> bool:
    """Whether a row is pointed out.

    Brine alone does not make a batch too heavy: more of it may have boiled off or been poured away.
    """
    return row.slip_chance > suspect or _chance(row) > HEAVY


def _missing(row: RowVerdict) -> float:
    """Chance that some of its batch was not jarred, of a row that shows too few jars; else 0."""
    fewer = "jars" in row.columns[:2] and row.factor < FEWER
    return row.not_jarred if fewer else 0.0


def _chance(row: RowVerdict) -> float:
    """Chance that a row does not say what was in the jars."""
    return min(row.slip_chance + _missing(row), 1.0)


def _blame(batch: Batch, rows: Sequence[RowVerdict], suspects: Sequence[RowVerdict]) -> Slip:
    """The column that all suspicious rows share and that stands in no sound row."""
    factors: dict[str, float] = {}
    for row in sorted(suspects, key=lambda row: -_chance(row)):
        for column, factor in _factors(batch, row).items():
            factors.setdefault(column, factor)
    sound = {c for row in rows if row not in suspects for c in row.columns[:2]}
    shared = set.intersection(*(_blamed(row) for row in suspects))
    candidates = [c for c in factors if c in shared and c not in sound]
    candidates = candidates or [c for c in factors if c in shared] or list(factors)
    column, *others = sorted(candidates, key=lambda c: distance(c, factors[c]))
    factor = factors[column]
    worst = max(suspects, key=_chance)
    missing = _missing(worst) > worst.slip_chance
    question = guess(column, factor)
    if missing:
        question = WAS_SOME_NOT_JARRED + (f" Or {question}" if question else "")
    return Slip(
        batch.batch, column, tuple(others), factor, _chance(worst), question, not_jarred=missing
    )


def _blamed(row: RowVerdict) -> set[str]:
    """The columns that could be behind a row that does not fit."""
    hint = {"brine_made_ml", "brine_left_ml"} if row.columns[0] == "brine" else set()
    return {*row.columns, *hint} - {"brine"}


def _factors(batch: Batch, row: RowVerdict) -> dict[str, float]:
    """How many times too large each column of a row is, if that column is wrong."""
    if row.columns[0] not in ("brine", "brine_made_ml"):
        return {row.columns[0]: 1.0 / row.factor, row.columns[1]: row.factor}
    made, left = batch.brine_made_ml or 0.0, batch.brine_left_ml or 0.0
    hint = row.columns[0] == "brine"
    # A weight read off the brine grows as the brine used shrinks: there the factor is inverted.
    share = 1.0 / row.factor if hint else row.factor
    used = max((made - left) / share, 1.0)  # what would have been expected
    factors = {"brine_made_ml": max(made, 1.0) / (used + left)}
    if left > 0 and made > used:
        factors["brine_left_ml"] = left / (made - used)
    if hint:
        factors["jars"] = row.factor
    return factors
