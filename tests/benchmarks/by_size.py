"""Orders of brine by the size of the batch: how often the 5 % order runs short in each third.

The accuracy worlds' households, from eight batches of their own on; forecasts from the ready
weight. The thirds are by the brine the printed yield reckons with, over all batches of a world.

python -m tests.benchmarks by_size --households 300 --seed reporting
"""

import os
import sys
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from accuracy.command import each_household, options, seed_of
from accuracy.households import SIZES, make_household
from accuracy.scores import mean
from accuracy.worlds import WORLDS

from jarcast import habits_from

Array = np.ndarray[Any, np.dtype[np.float64]]

WORLD_NAMES = ("plain", "heavy", "sizes", "simmer")
FROM = 8  # own batches
ASKED = tuple(n for n in SIZES if n >= FROM)
SIZE, SHORT, IN80, CRPS = range(4)


def score_household(number: int, seed: int, draws: int) -> Array:
    """(worlds, own batches, 4): printed brine in ml, short, held, and CRPS over the printed."""
    from accuracy.scores import crps

    found = np.full((len(WORLD_NAMES), len(ASKED), 4), np.nan)
    for i, name in enumerate(WORLD_NAMES):
        house = make_household(WORLDS[name], number, seed)
        for j, n in enumerate(ASKED):
            unseen = house.unseen[SIZES.index(n)]
            batch, (stage, grams) = unseen.batch, unseen.known("ready")
            ask: dict[str, Any] = {f"{stage}_g": grams}
            forecast = habits_from(house.history[:n]).forecast(
                produce=batch.produce, cut=batch.cut, pack=batch.pack, jar=batch.jar[0],
                cure_hours=batch.cure_hours, draws=draws, seed=number, **ask,
            )  # fmt: skip
            needed, brine = unseen.brine_ml, forecast.brine_ml
            low, high = brine.interval(0.8)
            found[i, j] = (
                unseen.printed[1],
                needed > brine.quantile(0.95),
                low <= needed <= high,
                crps(brine.draws, needed) / unseen.printed[1],
            )
    return found


def main() -> None:
    asked = options(__doc__).parse_args()
    found = each_household(score_household, asked)
    print(f"{asked.households} households, seed {seed_of(asked)}; ± is two standard errors.\n")
    print("| world | third | 5 % short | 80 % holds | CRPS, % of the printed |")
    print("| --- | --- | --- | --- | --- |")
    for i, name in enumerate(WORLD_NAMES):
        size = found[:, i, :, SIZE]
        ends = np.quantile(size, [1 / 3, 2 / 3])
        third = np.digitize(size, ends)
        for k, label in enumerate(("small", "middle", "large")):
            own = np.where((third == k)[:, :, None], found[:, i], np.nan)
            of_each = [
                mean(np.nanmean(row, axis=1) if np.isfinite(row).any() else row)
                for row in (_known(own[:, :, at]) for at in (SHORT, IN80, CRPS))
            ]
            short, holds, miss = of_each
            print(
                f"| {name} | {label} | {100 * short.value:.1f} ± {200 * short.error:.1f} % "
                f"| {100 * holds.value:.1f} ± {200 * holds.error:.1f} % "
                f"| {100 * miss.value:.2f} ± {200 * miss.error:.2f} |"
            )


def _known(values: Array) -> Array:
    """Households that had a batch of this third."""
    return values[np.isfinite(values).any(axis=1)]


if __name__ == "__main__":
    main()
