"""Score how slips are pointed out, in the world where three rows in a hundred hold one.

    python tests/benchmarks/accuracy/flagging.py --households 200

A row counts as flagged when its values contradict each other or do not fit the household's other
batches. Rows of the 34 batches of each household are counted; ± is two standard errors over
households.
"""

import argparse
import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402

from accuracy.households import REPORTING_SEED, TUNING_SEED, make_household  # noqa: E402
from accuracy.worlds import WORLDS  # noqa: E402
from jarcast.domain.batch import Batch  # noqa: E402
from jarcast.domain.contradictions import contradictions  # noqa: E402
from jarcast.domain.fields import NUMBERS  # noqa: E402
from jarcast.learning.learned import learn_batches  # noqa: E402
from jarcast.learning.slips import find_slips  # noqa: E402

BATCHES = 34
_COUNTS = ("slips", "slips flagged", "column named", "sound", "contradict", "do not fit")


def slipped_columns(written: Batch, clean: Batch) -> set[str]:
    """Columns that were recorded wrong; a weight left out is no slip."""
    return {
        column
        for column in (*NUMBERS, "jars")
        if getattr(written, column) is not None
        and getattr(written, column) != getattr(clean, column)
    }


def count(number: int, seed: int) -> np.ndarray:
    """Counts of one household, in the order of _COUNTS."""
    household = make_household(WORLDS["slips"], number, seed)
    history = household.history[:BATCHES]
    found = {s.batch: s for s in find_slips(learn_batches(history).verdicts(), history)}
    counts = dict.fromkeys(_COUNTS, 0)
    for written, clean in zip(history, household.clean, strict=False):
        wrong = slipped_columns(written, clean)
        contradicts = bool(contradictions(written))
        if wrong:
            counts["slips"] += 1
            counts["slips flagged"] += contradicts or written.batch in found
            named = written.batch in found and found[written.batch].column in wrong
            named = named or any(wrong & set(f.columns) for f in contradictions(written))
            counts["column named"] += named
        else:
            counts["sound"] += 1
            counts["contradict"] += contradicts
            counts["do not fit"] += written.batch in found and not contradicts
    return np.array([counts[name] for name in _COUNTS], dtype=float)


def share(part: np.ndarray, whole: np.ndarray) -> str:
    """A ratio of totals in %, with two standard errors over households (linearised)."""
    ratio = part.sum() / whole.sum()
    error = np.sqrt(((part - ratio * whole) ** 2).sum()) / whole.sum()
    return f"{100 * ratio:.1f} ± {200 * error:.1f} %"


def main() -> None:
    """Print the shares."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--households", type=int, default=200)
    parser.add_argument("--seed", choices=("tuning", "reporting"), default="tuning")
    asked = parser.parse_args()
    seed = TUNING_SEED if asked.seed == "tuning" else REPORTING_SEED
    table = np.array([count(number, seed) for number in range(asked.households)])
    slips, flagged, named, sound, contradict, unfit = table.T
    print(f"{asked.households} households, {int(slips.sum())} slips, {int(sound.sum())} sound rows")
    print(f"slips flagged: {share(flagged, slips)}")
    print(f"slips flagged with the right column: {share(named, slips)}")
    print(f"sound rows flagged as not fitting the others: {share(unfit, sound)}")
    print(f"sound rows flagged as contradicting themselves: {share(contradict, sound)}")


if __name__ == "__main__":
    main()
