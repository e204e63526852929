"""Two packers of one kitchen: forecasts of the one who packs less often, told who it is and not.

The accuracy worlds' plain households, in which a second person makes three batches in ten. Her hand
in trimming and packing is her own: it lies off the kitchen's as one person's does off another's,
times the root of a share between 0.2 and 1, drawn for each kitchen; all else is the kitchen's. The
jars and brine of her next batch are forecast from the ready weight: with every batch named, with
half of them, with none, and for whoever it may be.

python -m tests.benchmarks two_packers --households 200 --seed reporting
"""

import argparse
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from accuracy.households import (
    REPORTING_SEED,
    TUNING_SEED,
    Kitchen,
    Unseen,
    pick_crops,
    true_habits,
)
from accuracy.scores import CRPS, IN80, SCORES, SHORT, mean, ratio, score
from accuracy.worlds import WORLDS, Habits
from joblib import Parallel, delayed
from msgspec.structs import replace as written_otherwise

from jarcast import Outcome, habits_from
from jarcast.domain.batch import Batch

Array = np.ndarray[Any, np.dtype[np.float64]]

SIZES = (5, 13, 21, 34)  # batches of both of them
WAYS = ("named", "half named", "nobody named", "not told who")
FIRST, SECOND = "Ada", "Ben"
_SECONDS = 0.3  # of the batches


def kitchen_of_two(
    number: int, seed: int
) -> tuple[list[tuple[str, Unseen]], dict[int, tuple[Unseen, Unseen]]]:
    """A history with who made each batch, and after so many of them the next of each person."""
    rng = np.random.default_rng([seed, number, 2])
    world = WORLDS["plain"]
    crops = pick_crops(world, rng, None)
    cured = [c.cured == "usual" or (c.cured == "sometimes" and rng.random() < 0.5) for c in crops]
    first = true_habits(world, crops, rng)
    apart = np.sqrt(rng.uniform(0.2, 1.0))
    off = {link: apart * rng.normal(0.0, world.hand[link]) for link in ("trim", "pack")}
    second = [
        replace(one, trim=one.trim + off["trim"], pack=one.pack + off["pack"]) for one in first
    ]
    share = rng.dirichlet(np.full(len(crops), 2.0))
    came_out: list[list[float]] = [[] for _ in crops]

    def at_work(habits: list[Habits]) -> Kitchen:
        return Kitchen(world, crops, cured, habits, share, came_out, rng)

    people = {FIRST: at_work(first), SECOND: at_work(second)}
    history: list[tuple[str, Unseen]] = []
    ahead = {}
    for n in range(max(SIZES) + 1):
        if n in SIZES:
            ahead[n] = (people[FIRST].pack(n, kept=False), people[SECOND].pack(n, kept=False))
        who = SECOND if rng.random() < _SECONDS else FIRST
        history.append((who, people[who].pack(n, kept=True)))
    return history, ahead


def score_kitchen(number: int, seed: int, draws: int) -> Array:
    """Scores (sizes, ways, first and second, jars and brine, SCORES) of one kitchen."""
    history, ahead = kitchen_of_two(number, seed)
    found = np.full((len(SIZES), len(WAYS), 2, 2, SCORES), np.nan)
    for i, n in enumerate(SIZES):
        for j, way in enumerate(WAYS):
            batches = [
                named(one.batch, who, way, number + at) for at, (who, one) in enumerate(history[:n])
            ]
            habits = habits_from(batches)
            for k, who in enumerate((FIRST, SECOND)):
                unseen = ahead[n][k]
                batch, (stage, grams) = unseen.batch, unseen.known("ready")
                ask: dict[str, Any] = {f"{stage}_g": grams}
                forecast = habits.forecast(
                    produce=batch.produce, cut=batch.cut, pack=batch.pack, jar=batch.jar[0],
                    cure_hours=batch.cure_hours, draws=draws, seed=number,
                    person=who if way in ("named", "half named") else "", **ask,
                )  # fmt: skip
                told: list[tuple[Outcome, float, float]] = [
                    (forecast.jars, unseen.jars, unseen.printed[0]),
                    (forecast.brine_ml, unseen.brine_ml, unseen.printed[1]),
                ]
                for part, (outcome, truth, printed) in enumerate(told):
                    found[i, j, k, part] = score(outcome.draws, truth, printed)
    return found


def named(batch: Batch, who: str, way: str, number: int) -> Batch:
    """A batch as it is recorded: with who made it, or without."""
    says = way in ("named", "not told who") or (way == "half named" and number % 2 == 0)
    return written_otherwise(batch, person=who if says else "")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--households", type=int, default=100)
    parser.add_argument("--seed", choices=("tuning", "reporting"), default="tuning")
    parser.add_argument("--draws", type=int, default=1024)
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    seed = REPORTING_SEED if asked.seed == "reporting" else TUNING_SEED
    runs = Parallel(n_jobs=asked.jobs)(
        delayed(score_kitchen)(number, seed, asked.draws) for number in range(asked.households)
    )
    found = np.array(runs)
    print(f"{asked.households} kitchens of two, seed {seed}; ± is two standard errors.\n")
    print("| who | outcome | batches | told | CRPS, nobody named = 1 | 80 % holds | 5 % short |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    base = WAYS.index("nobody named")
    for k, who in enumerate(("first", "second")):
        for part, what in enumerate(("jars", "brine")):
            for label, at in (("all", slice(None)), *((str(n), [i]) for i, n in enumerate(SIZES))):
                for j, way in enumerate(WAYS):
                    own = np.nanmean(found[:, at, j, k, part], axis=1)
                    than = np.nanmean(found[:, at, base, k, part], axis=1)
                    better = ratio(own[:, CRPS], than[:, CRPS])
                    holds, short = mean(own[:, IN80]), mean(own[:, SHORT])
                    print(
                        f"| {who} | {what} | {label} | {way} "
                        f"| {better.value:.3f} ± {2 * better.error:.3f} "
                        f"| {100 * holds.value:.1f} ± {200 * holds.error:.1f} % "
                        f"| {100 * short.value:.1f} ± {200 * short.error:.1f} % |"
                    )


if __name__ == "__main__":
    main()
