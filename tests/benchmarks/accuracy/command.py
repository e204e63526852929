"""What the scripts that score one thing household by household share: options, and the scores."""

import argparse
from collections.abc import Callable

import numpy as np

from accuracy.households import REPORTING_SEED, TUNING_SEED


def scored(about: str | None, score_household: Callable[[int, int, int], np.ndarray]) -> np.ndarray:
    """Scores of every household asked for on the command line, stacked; says how many those are.

    ``score_household`` is called with number, seed and draws.
    """
    from joblib import Parallel, delayed

    parser = argparse.ArgumentParser(description=(about or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--households", type=int, default=300)
    parser.add_argument("--seed", choices=("tuning", "reporting"), default="tuning")
    parser.add_argument("--draws", type=int, default=2048)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    seed = TUNING_SEED if asked.seed == "tuning" else REPORTING_SEED
    work = (delayed(score_household)(n, seed, asked.draws) for n in range(asked.households))
    table = np.stack(Parallel(n_jobs=asked.jobs, batch_size=10)(work))
    print(f"{asked.households} households, seed {seed}, {asked.draws} draws a forecast.\n")
    return table
