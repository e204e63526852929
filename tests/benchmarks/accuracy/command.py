"""What the scripts that score one thing household by household share: options, and the scores."""

import argparse
from collections.abc import Callable

import numpy as np

from accuracy.households import REPORTING_SEED, TUNING_SEED


def options(about: str | None, households: int = 300) -> argparse.ArgumentParser:
    """The options that these scripts share; ``about`` is the script's docstring."""
    parser = argparse.ArgumentParser(description=(about or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--households", type=int, default=households)
    parser.add_argument("--seed", choices=("tuning", "reporting"), default="tuning")
    parser.add_argument("--draws", type=int, default=2048)
    parser.add_argument("--jobs", type=int, default=2)
    return parser


def seed_of(asked: argparse.Namespace) -> int:
    """The number behind the seed that was given by name."""
    return TUNING_SEED if asked.seed == "tuning" else REPORTING_SEED


def each_household(
    score_household: Callable[[int, int, int], np.ndarray], asked: argparse.Namespace
) -> np.ndarray:
    """Scores of every household asked for, stacked in order, whatever the number of jobs.

    ``score_household`` is called with number, seed and draws.
    """
    from joblib import Parallel, delayed

    work = (
        delayed(score_household)(n, seed_of(asked), asked.draws) for n in range(asked.households)
    )
    return np.stack(Parallel(n_jobs=asked.jobs, batch_size=10)(work))


def scored(about: str | None, score_household: Callable[[int, int, int], np.ndarray]) -> np.ndarray:
    """Scores of every household asked for on the command line; says how many those are."""
    asked = options(about).parse_args()
    table = each_household(score_household, asked)
    print(
        f"{asked.households} households, seed {seed_of(asked)}, {asked.draws} draws a forecast.\n"
    )
    return table
