"""Score forecasts where the jars of a batch are not all of one sort.

    python tests/benchmarks/counter/two_sorts.py --households 200

Either the rest goes into a jar of half the size, topped up with brine, which is written as half a
jar or by its name; or the first three jars are of another mouth or size than the others, and only
the last one is part full, topped up or eaten. Before packing and after 1, 3 and 5 jars; what is in
these is known to the gram, and each reading rests on those before. Pooled over 0, 3, 13 and 30
batches of history. ``--told`` tells what becomes of the last jar. 200 households take some two
minutes on two cores, --quick half a minute.
"""

import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from accuracy.command import each_household  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import Counter, make_kitchen  # noqa: E402
from counter.packing import EATEN, PART, SMALLER, TOPPED  # noqa: E402
from counter.report import (  # noqa: E402
    KINDS,
    SCORES,
    counter_options,
    figures,
    finished,
    scores_of,
    started,
)

OWN, JARS = (0, 3, 13, 30), (0, 1, 3, 5)
WORLDS = (
    Counter("smaller, as half", "a last jar of half the size counts as half a jar", SMALLER),
    Counter("smaller, by name", "it is written by its own name", SMALLER, named=True),
    Counter("two mouths, part full", "three jars of the other mouth first", PART, first=3),
    Counter("two mouths, topped up", "the same, topped up", TOPPED, first=3),
    Counter("two sizes, topped up", "three of the other size first", TOPPED, first=3, other="size"),
    Counter("two sizes, eaten", "the same, the rest eaten", EATEN, first=3, other="size"),
)


def score_household(number: int, seed: int, draws: int, told: bool = False) -> np.ndarray:
    """Scores of one household, shape (WORLDS, OWN, JARS, KINDS, SCORES); NaN: no such jar."""
    table = np.full((len(WORLDS), len(OWN), len(JARS), len(KINDS), len(SCORES)), np.nan)
    luck = np.random.default_rng([seed, number, 110]).random((*table.shape[:3],))
    for w, world in enumerate(WORLDS):
        kitchen = make_kitchen(world, number, seed)
        said = world.habit if told else None
        for i, own in enumerate(OWN):
            one = kitchen.coming(own)
            habits = ask.learned(kitchen.history(own), last_jar=said)
            truths = one.packing.jars, one.packing.need_ml
            for j, jars in enumerate(JARS):
                if jars > len(one.packing.full_g):
                    continue
                readings = ask.stood(one, [k for k in JARS if 0 < k <= jars])
                found = ask.forecast(habits, kitchen, one, world.scale_g, draws, so_far=readings)
                table[w, i, j] = scores_of(found, truths, one.printed, luck[w, i, j])
    return table


def _told(number: int, seed: int, draws: int) -> np.ndarray:
    return score_household(number, seed, draws, told=True)


def main() -> None:
    """Print the table."""
    parser = counter_options(__doc__, households=200)
    parser.add_argument("--told", action="store_true",
                        help="tell jarcast what becomes of the last jar")  # fmt: skip
    asked, results = started(parser, "two sorts")
    table = each_household(_told if asked.told else score_household, asked)
    for w, world in enumerate(WORLDS):
        for o, kind in enumerate(KINDS):
            for j, jars in enumerate(JARS):
                cell = table[:, w, :, j, o]
                name = f"{world.name}, {kind}, {jars} packed"
                results.cells[name] = figures(cell)
                results.paired(name, cell)
                results.cells[f"{name}, own 3 to 30"] = figures(cell[:, 1:])
                results.paired(f"{name}, own 3 to 30", cell[:, 1:])
    finished(asked, results)


if __name__ == "__main__":
    main()
