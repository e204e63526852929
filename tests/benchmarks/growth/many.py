"""Time and memory of learning many households at once, beside pandas' groupby mean.

    python tests/benchmarks/growth/many.py --figure docs/explanation/growth.png

A table of 10^3 to 10^6 rows, 50 batches a household of up to twelve crops, on one core. For each
size, in turns: the mean by household and crop as pandas makes it; the sufficient statistics of the
trim arrow from the same columns (household, crop, logit of the share kept); the whole chain learned
for all households. Medians; memory is the most that numpy asked for beyond the table.
"""

import argparse
import os
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

import numpy as np  # noqa: E402
import pandas as pd  # noqa: E402

from jarcast.learning.beliefs import starting_beliefs  # noqa: E402
from jarcast.pooling.chain import ManyBatches, learn_many  # noqa: E402
from jarcast.pooling.many import places, sums  # noqa: E402

SIZES = (1_000, 10_000, 100_000, 1_000_000)
BATCHES = 50  # a household
CROPS = [
    ("carrot", "sticks", "raw"), ("carrot", "slices", "hot"), ("cucumber", "slices", "raw"),
    ("beet", "slices", "hot"), ("cauliflower", "florets", "raw"), ("green bean", "whole", "raw"),
    ("onion", "rings", "raw"), ("asparagus", "spears", "raw"), ("okra", "whole", "raw"),
    ("turnip", "sticks", "raw"), ("kohlrabi", "sticks", "raw"), ("zucchini", "slices", "raw"),
]  # fmt: skip


def make_table(rows: int, rng: np.random.Generator) -> tuple[ManyBatches, int]:
    """A table with every column filled; what is in it does not matter to the time it takes."""
    households = max(rows // BATCHES, 1)
    household = np.sort(rng.integers(households, size=rows))
    picked = rng.integers(len(CROPS), size=(households, 4))  # a household grows a few of them
    crop = picked[household, rng.integers(4, size=rows)]
    hot = np.array([one[2] == "hot" for one in CROPS])[crop]
    bought = rng.uniform(2000.0, 8000.0, rows)
    trimmed = bought * rng.uniform(0.7, 0.95, rows)
    cooked = np.where(hot, trimmed * rng.uniform(0.85, 0.98, rows), np.nan)
    volume = np.where(hot, cooked, trimmed) / rng.uniform(0.5, 0.7, rows)
    nothing = np.full(rows, np.nan)
    table = ManyBatches(
        household=household, crop=crop, as_bought_g=bought, trimmed_g=trimmed, salt_g=nothing,
        cure_hours=np.zeros(rows), cured_g=nothing, cooked_g=cooked, jars=volume / 437.0,
        fill_volume_ml=volume, wide=np.zeros(rows), brine_used_ml=0.45 * volume,
    )  # fmt: skip
    return table, households


def timed(work: dict[str, Callable[[], object]], turns: int) -> dict[str, float]:
    """Median seconds of each, taking turns."""
    taken: dict[str, list[float]] = {name: [] for name in work}
    for _ in range(turns):
        for name, do in work.items():
            start = time.perf_counter()
            do()
            taken[name].append(time.perf_counter() - start)
    return {name: float(np.median(times)) for name, times in taken.items()}


def peak(do: Callable[[], object]) -> float:
    """The most memory it asked for, in MB."""
    tracemalloc.start()
    do()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most / 1e6


def measure(rows: int, turns: int) -> dict[str, float]:
    """Seconds and megabytes at one size."""
    table, households = make_table(rows, np.random.default_rng(rows))
    share = table.trimmed_g / table.as_bought_g
    logit = np.log(share / (1.0 - share))
    frame = pd.DataFrame({"household": table.household, "crop": table.crop, "logit": logit})
    beliefs = starting_beliefs()

    def by_pandas() -> object:
        return frame.groupby(["household", "crop"])["logit"].mean()

    def one_arrow() -> object:
        at = places(table.household, table.crop, households, len(CROPS))
        return sums(at, logit)

    def chain() -> object:
        return learn_many(table, CROPS, households, beliefs)

    found = timed({"pandas": by_pandas, "arrow": one_arrow, "chain": chain}, turns)
    means = by_pandas().to_numpy()  # type: ignore[attr-defined]
    told = one_arrow()
    assert np.allclose(told.fy / told.rows, means)  # type: ignore[attr-defined]
    found["MB"] = peak(chain)
    found["table MB"] = sum(getattr(table, name).nbytes for name in table.__struct_fields__) / 1e6
    return found


def draw(found: dict[int, dict[str, float]], path: Path) -> None:
    """Seconds against rows, both logarithmic."""
    from matplotlib.figure import Figure

    page = Figure(figsize=(6.0, 4.0), layout="constrained")
    axis = page.subplots()
    labels = {"pandas": "pandas groupby mean", "arrow": "sums of one arrow",
              "chain": "whole chain learned"}  # fmt: skip
    for name, label in labels.items():
        axis.loglog(list(found), [one[name] for one in found.values()], marker="o", label=label)
    axis.set_xlabel("batches")
    axis.set_ylabel("seconds, one core")
    axis.grid(visible=True, which="major", lw=0.4)
    axis.legend()
    page.savefig(path, dpi=110)


def main() -> None:
    """Print the table, and draw it if asked."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--turns", type=int, default=7)
    parser.add_argument("--figure", type=Path)
    asked = parser.parse_args()
    found = {}
    print("| batches | households | groupby mean, s | one arrow, s | over groupby | whole chain, s "
          "| over groupby | µs a batch | MB beyond the table | table, MB |")  # fmt: skip
    print("|" + " --- |" * 10)
    for rows in SIZES:
        one = found[rows] = measure(rows, asked.turns)
        print(f"| {rows:,} | {max(rows // BATCHES, 1):,} | {one['pandas']:.4f} "
              f"| {one['arrow']:.4f} | {one['arrow'] / one['pandas']:.2f} "
              f"| {one['chain']:.3f} | {one['chain'] / one['pandas']:.1f} "
              f"| {1e6 * one['chain'] / rows:.2f} | {one['MB']:.0f} | {one['table MB']:.0f} |",
              flush=True)  # fmt: skip
    if asked.figure:
        draw(found, asked.figure)


if __name__ == "__main__":
    sys.exit(main())
