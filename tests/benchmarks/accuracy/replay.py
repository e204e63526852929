"""Every forecaster on every household: chunks of households spread over the cores."""

import sys
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from accuracy.households import make_household
from accuracy.peers import ASKS, PEERS, SLOW
from accuracy.scores import FAILED, SCORES, Array, score
from accuracy.worlds import WORLDS

OUTCOMES = ("jars", "brine")
_CHUNK = 10  # households handed to a core at a time
T = TypeVar("T")


@dataclass(frozen=True)
class Trial:
    """One run: which households, forecasters and questions."""

    world: str
    households: int
    seed: int
    sizes: tuple[int, ...]
    peers: tuple[str, ...]
    draws: int
    slow_households: int  # the slow peers see only so many


def score_household(trial: Trial, number: int) -> dict[str, Array]:
    """Scores of each peer, shape (asks, outcomes, sizes, SCORES); NaN where it was not run."""
    household = make_household(WORLDS[trial.world], number, trial.seed)
    truths = {u.after: ((u.jars, u.brine_ml), u.printed) for u in household.unseen}
    scores = {}
    for name in trial.peers:
        table = np.full((len(ASKS), len(OUTCOMES), len(trial.sizes), SCORES), np.nan)
        scores[name] = table
        if name in SLOW and number >= trial.slow_households:
            continue
        rng = np.random.default_rng([trial.seed, number, zlib.crc32(name.encode())])
        answers = PEERS[name](household, trial.sizes, rng, trial.draws)
        for i, ask in enumerate(ASKS):
            for j, size in enumerate(trial.sizes):
                found = answers[size, ask]
                for o, (truth, printed) in enumerate(zip(*truths[size], strict=True)):
                    table[i, o, j] = FAILED if found is None else score(found[o], truth, printed)
    return scores


def score_chunk(trial: Trial, numbers: Sequence[int]) -> dict[str, Array]:
    """Scores of several households, shape (households, asks, outcomes, sizes, SCORES)."""
    each = [score_household(trial, number) for number in numbers]
    return {name: np.stack([scores[name] for scores in each]) for name in trial.peers}


def run_trial(trial: Trial, jobs: int) -> dict[str, Array]:
    """Scores of all households in one world, in order, whatever the number of jobs."""
    from joblib import Parallel, delayed

    numbers = range(trial.households)
    chunks = [numbers[i : i + _CHUNK] for i in range(0, len(numbers), _CHUNK)]
    work = (delayed(score_chunk)(trial, chunk) for chunk in chunks)
    done = Parallel(n_jobs=jobs, return_as="generator")(work)
    parts = list(_progress(done, len(chunks), trial.world))
    return {name: np.concatenate([part[name] for part in parts]) for name in trial.peers}


def _progress(items: Iterable[T], total: int, label: str) -> Iterator[T]:
    """A bar on stderr; a plain line where tqdm is not installed."""
    try:
        from tqdm import tqdm  # type: ignore[import-untyped]
    except ImportError:
        for done, item in enumerate(items, start=1):
            print(f"\r{label}: {done}/{total}", end="", file=sys.stderr, flush=True)
            yield item
        print(file=sys.stderr)
    else:
        yield from tqdm(items, total=total, desc=label, unit="chunk")
