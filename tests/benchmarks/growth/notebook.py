"""What a notebook does with habits, frames and the regression, beside the usual way to do it.

    python -m tests.benchmarks growth.notebook

Milliseconds of processor time, least of the turns, one core, the two of a row in turns. Keeping
habits stands beside learning them again; frames beside pandas making the same table from a list;
the regression beside scikit-learn's BayesianRidge on the same rows; looking back with peers beside
without them.
"""

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
import pandas as pd  # noqa: E402
from sklearn.linear_model import BayesianRidge  # noqa: E402

import jarcast  # noqa: E402
from growth.importing import write_table  # noqa: E402
from jarcast.learning import ConjugateRegression  # noqa: E402

BATCHES = 40
Pair = tuple[str, Callable[[], object], str, Callable[[], object]]


def pairs(folder: Path) -> list[Pair]:
    """What is timed, and what stands beside it."""
    table = folder / "batches.csv"
    write_table(table, BATCHES)
    frame = jarcast.read_batches(table)
    habits = jarcast.learn(frame)
    kept = folder / "habits.json"
    habits.save(kept)
    asked = {"produce": "carrot", "cut": "sticks", "jar": "pint", "trimmed_g": 2700.0}
    found = habits.forecast(**asked)
    draws = np.asarray(found.jars)
    rng = np.random.default_rng(0)
    X = rng.normal(size=(BATCHES, 5))
    y = X @ np.arange(5.0) + rng.normal(size=BATCHES)
    lines = [asked] * 20
    return [
        ("habits saved", lambda: habits.save(kept), "learned again", lambda: jarcast.learn(frame)),
        ("habits loaded", lambda: jarcast.load_habits(kept), "learned again",
         lambda: jarcast.learn(frame)),
        ("jars' mean, sd and chance", lambda: (found.jars.mean(), found.jars.std(),
         found.jars.prob_at_least(9)), "numpy on the draws",
         lambda: (draws.mean(), draws.std(), (draws >= 9).mean())),
        ("forecast.to_frame", found.to_frame, "pd.DataFrame of two rows",
         lambda: pd.DataFrame([{"a": 1.0, "b": 2.0}] * 2)),
        ("learn a path", lambda: jarcast.learn(table), "a frame", lambda: jarcast.learn(frame)),
        ("a plan as a frame", lambda: jarcast.plan_harvest(habits, pd.DataFrame(lines)),
         "as a list", lambda: jarcast.plan_harvest(habits, lines)),
        ("ConjugateRegression.fit", lambda: ConjugateRegression(fit_intercept=True).fit(X, y),
         "BayesianRidge.fit", lambda: BayesianRidge().fit(X, y)),
        ("hindsight beside peers", lambda: jarcast.hindsight(frame, jobs=1), "without",
         lambda: jarcast.hindsight(frame, peers=(), jobs=1)),
    ]  # fmt: skip


def least(work: Callable[[], object], turns: int) -> float:
    """Least processor milliseconds of the turns."""
    taken = []
    for _ in range(turns):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return 1e3 * min(taken)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--turns", type=int, default=5)
    turns = parser.parse_args().turns
    print("| what | ms | beside | ms | times |\n| --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as name:
        for what, work, beside, other in pairs(Path(name)):
            ours, theirs = least(work, turns), least(other, turns)
            print(f"| {what} | {ours:.2f} | {beside} | {theirs:.2f} | {ours / theirs:.2f} |",
                  flush=True)  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
