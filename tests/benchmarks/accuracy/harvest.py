"""Score the total of a harvest: eight batches forecast together, against two ways of adding up.

    python tests/benchmarks/accuracy/harvest.py --households 2500 --seed reporting

Households of the plain world with three batches of their own; the next eight are packed by the
same hand from the same crops, known by their weight as bought. 'Ends added' takes the sum of each
line's own low and high, 'unrelated' adds up draws of lines taken as having nothing in common.
± is two standard errors over households.
"""

import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402

from accuracy.command import scored  # noqa: E402
from accuracy.households import make_household  # noqa: E402
from accuracy.scores import mean, median_ratio  # noqa: E402
from accuracy.worlds import WORLDS  # noqa: E402
from jarcast import habits_from, plan_harvest  # noqa: E402

OWN, NEXT = 3, 8
WAYS = ("jointly", "ends added", "unrelated")
KINDS = ("jars", "brine")


def score_household(number: int, seed: int, draws: int) -> np.ndarray:
    """Whether each way's 80 % range held, and its width, shape (kinds, ways, 2)."""
    household = make_household(WORLDS["plain"], number, seed)
    habits = habits_from(household.history[:OWN])
    coming = household.history[OWN : OWN + NEXT]
    lines = [
        {
            "produce": b.produce, "cut": b.cut, "pack": b.pack, "jar": b.jar[0],
            "as_bought_g": b.as_bought_g, "cure_hours": b.cure_hours, "headspace_in": 0.5,
        }
        for b in coming
    ]  # fmt: skip
    found = plan_harvest(habits, lines, draws=draws, seed=number)
    truths = household.truths[OWN : OWN + NEXT]
    rng = np.random.default_rng([seed, number, 7])
    table = np.empty((len(KINDS), len(WAYS), 2))
    for o, total in enumerate((found.jars, found.brine_ml)):
        own = [(one.jars, one.brine_ml)[o] for one in found.lines]
        truth = sum(both[o] for both in truths)
        unrelated = np.sum([rng.permutation(outcome.draws) for outcome in own], axis=0)
        ranges = (
            total.interval(0.8),
            np.sum([outcome.interval(0.8) for outcome in own], axis=0),
            np.quantile(unrelated, [0.1, 0.9]),
        )
        for w, (low, high) in enumerate(ranges):
            table[o, w] = low <= truth <= high, (high - low) / truth
    return table


def main() -> None:
    """Print the table."""
    table = scored(__doc__, score_household)
    print("| total of | added up | 80 % range holds | median width, jointly = 1 |")
    print("| --- | --- | --- | --- |")
    for o, kind in enumerate(KINDS):
        for w, way in enumerate(WAYS):
            held = mean(table[:, o, w, 0])
            wide = median_ratio(table[:, o, w, 1], table[:, o, 0, 1])
            print(f"| {kind} | {way} | {100 * held.value:.1f} ± {200 * held.error:.1f} % "
                  f"| {wide.value:.2f} |")  # fmt: skip


if __name__ == "__main__":
    main()
