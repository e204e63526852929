"""How long learning and a forecast take in one process, beside scikit-learn's BayesianRidge.

    python tests/benchmarks/in_process.py

Processor time, medians of runs that take turns, twenty-five at a time, on one core: learning from
40 batches of the demo household, what one batch more adds to that (the slope from 20 to 40), and a
forecast of 4,096 joint draws, each also over BayesianRidge.fit on as many rows (log litres filled
for each kilogram, one column a crop). Habits are a function of the ledger: a new batch is learned
by learning again.

A virtual machine may lend half a core to others, which makes everything twice as slow for a while.
A fixed piece of plain Python before and after each run tells: the second table holds the runs in
which it was within a tenth of its quickest both times, whatever the run itself took.
"""

import os
import sys
import time
from collections.abc import Callable

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

import numpy as np  # noqa: E402
from sklearn.linear_model import BayesianRidge  # noqa: E402

import jarcast  # noqa: E402
from jarcast.batchtable import read_csv  # noqa: E402
from jarcast.domain.batch import Batch  # noqa: E402
from jarcast.files.shipped import shipped  # noqa: E402
from jarcast.learning.learned import learn_batches  # noqa: E402

TURNS, STRETCH = 40, 25
WHOLE = 1.1  # the fixed piece over its quickest, at most, with the core to oneself
BASE, FEW, MANY = (
    "BayesianRidge.fit on 40 rows",
    "learning from 20 batches",
    "learning from 40 batches",
)


def rows(batches: list[Batch]) -> tuple[np.ndarray, np.ndarray]:
    """Crops as columns, and the log of ml filled for each gram known first."""
    crops = sorted({batch.produce for batch in batches})
    X = np.array([[batch.produce == crop for crop in crops] for batch in batches], dtype=float)
    weights = [batch.as_bought_g or batch.trimmed_g or 1.0 for batch in batches]
    y = np.log([b.fill_volume_ml() / w for b, w in zip(batches, weights, strict=True)])
    return X, y


def taken(do: Callable[[], object]) -> float:
    """Processor seconds that one run takes."""
    start = time.process_time()
    do()
    return time.process_time() - start


def fixed_piece() -> None:
    """What tells how much of a core there is."""
    sum(i * i for i in range(2000))


def main() -> None:
    """Print the two tables."""
    entries = read_csv(shipped("data_demo", "batches.csv")).entries
    batches = [entry.batch for entry in entries][:40]
    habits = jarcast.habits_from(batches)
    X, y = rows(batches)
    work: dict[str, Callable[[], object]] = {
        BASE: lambda: BayesianRidge().fit(X, y),
        FEW: lambda: learn_batches(batches[:20]),
        MANY: lambda: learn_batches(batches),
        "a forecast of 4,096 draws": lambda: habits.forecast(
            produce="carrot", cut="sticks", pack="raw", jar="pint", trimmed_g=2700.0
        ),
    }
    runs: dict[str, list[tuple[float, float]]] = {name: [] for name in work}
    for _ in range(TURNS):
        for name, do in work.items():
            for _ in range(STRETCH):
                before, own, after = taken(fixed_piece), taken(do), taken(fixed_piece)
                runs[name].append((own, max(before, after)))
    quickest = min(around for timed in runs.values() for _, around in timed)
    table("all runs", {name: [own for own, _ in timed] for name, timed in runs.items()})
    table(
        "runs with a whole core",
        {
            name: [own for own, around in timed if around <= WHOLE * quickest]
            for name, timed in runs.items()
        },
    )


def table(title: str, times: dict[str, list[float]]) -> None:
    """Print medians, what one batch more adds among them, and how many runs they rest on."""
    if not all(times.values()):
        print(f"\n{title}: none")
        return
    medians = {name: float(np.median(own)) for name, own in times.items()}
    medians["one batch more, of 20 to 40"] = (medians[MANY] - medians[FEW]) / 20
    fewest = min(map(len, times.values()))
    print(f"\n{title}, at least {fewest} of {TURNS * STRETCH}:\n")
    print("| what | median ms | over BayesianRidge.fit |")
    print("| --- | --- | --- |")
    for name, median in medians.items():
        print(f"| {name} | {1e3 * median:.2f} | {median / medians[BASE]:.1f} |")


if __name__ == "__main__":
    sys.exit(main())
