"""How long learning and a forecast take in one process, beside scikit-learn's BayesianRidge.

    python tests/benchmarks/in_process.py

Medians of runs that take turns, on one core: learning from 40 batches of the demo household, what
one batch more adds to that (the slope from 20 to 40), and a forecast of 4,096 joint draws, each
also over BayesianRidge.fit on as many rows (log litres filled for each kilogram, one column a
crop). Habits are a function of the ledger: a new batch is learned by learning again.
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
from jarcast.batch import Batch  # noqa: E402
from jarcast.interchange import read_csv  # noqa: E402
from jarcast.learning.learned import learn_batches  # noqa: E402
from jarcast.shipped import shipped  # noqa: E402

TURNS = 60


def rows(batches: list[Batch]) -> tuple[np.ndarray, np.ndarray]:
    """Crops as columns, and the log of ml filled for each gram known first."""
    crops = sorted({batch.produce for batch in batches})
    X = np.array([[batch.produce == crop for crop in crops] for batch in batches], dtype=float)
    weights = [batch.as_bought_g or batch.trimmed_g or 1.0 for batch in batches]
    y = np.log([b.fill_volume_ml() / w for b, w in zip(batches, weights, strict=True)])
    return X, y


def main() -> None:
    """Print the table."""
    entries = read_csv(shipped("data_demo", "batches.csv")).entries
    batches = [entry.batch for entry in entries][:40]
    habits = jarcast.habits_from(batches)
    X, y = rows(batches)
    work: dict[str, Callable[[], object]] = {
        "BayesianRidge.fit on 40 rows": lambda: BayesianRidge().fit(X, y),
        "learning from 20 batches": lambda: learn_batches(batches[:20]),
        "learning from 40 batches": lambda: learn_batches(batches),
        "a forecast of 4,096 draws": lambda: habits.forecast(
            produce="carrot", cut="sticks", pack="raw", jar="pint", trimmed_g=2700.0
        ),
    }
    times: dict[str, list[float]] = {name: [] for name in work}
    for _ in range(TURNS):
        for name, do in work.items():
            start = time.perf_counter()
            do()
            times[name].append(time.perf_counter() - start)
    base = float(np.median(times["BayesianRidge.fit on 40 rows"]))
    print("| what | median ms | over BayesianRidge.fit |")
    print("| --- | --- | --- |")
    medians = {name: float(np.median(taken)) for name, taken in times.items()}
    added = medians["learning from 40 batches"] - medians["learning from 20 batches"]
    medians["one batch more, of 20 to 40"] = added / 20
    for name, median in medians.items():
        print(f"| {name} | {1e3 * median:.2f} | {median / base:.1f} |")


if __name__ == "__main__":
    sys.exit(main())
