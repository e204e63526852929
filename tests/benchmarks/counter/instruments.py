"""Score forecasts where bowl and pot are read off coarse scales, cups and marks.

    python tests/benchmarks/counter/instruments.py --households 400

The last jar is left part full. Every weighing is rounded to the scale, the history's own and the
coming batch's, and so is what is left in the bowl after 1, 3 and 5 jars; what is left in the pot
then is read to the measure. A bathroom scale shows quarter pounds; the marks on a pot are half a
litre apart and read to half of that. Pooled over 0, 3, 13 and 30 batches of history. 400 households
take some five minutes on two cores, --quick half a minute.
"""

import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from accuracy.command import each_household  # noqa: E402
from accuracy.households import QUARTER_CUP_ML  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import POUND_G, Counter, make_kitchen  # noqa: E402
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
QUARTER_POUND_G = POUND_G / 4
WORLDS = (
    Counter("scale of 5 g", "and quarter cups, as in the plain world"),
    Counter("scale of 50 g", "and quarter cups", scale_g=50.0),
    Counter("scale of 1/4 lb", "and quarter cups", scale_g=QUARTER_POUND_G),
    Counter("scale changed", "5 g and 1/4 lb, one before half of the history, one since; in even "
            "households 5 g now", other_scale_g=QUARTER_POUND_G),
    Counter("cups of 1/2", "and the 5 g scale", measure_ml=2 * QUARTER_CUP_ML),
    Counter("marks on a pot", "read to 250 ml, and the 5 g scale", measure_ml=250.0),
)  # fmt: skip


def score_household(number: int, seed: int, draws: int, told: bool = False) -> np.ndarray:
    """Scores of one household, shape (WORLDS, OWN, JARS, KINDS, SCORES); NaN: no such jar."""
    table = np.full((len(WORLDS), len(OWN), len(JARS), len(KINDS), len(SCORES)), np.nan)
    luck = np.random.default_rng([seed, number, 105]).random((*table.shape[:3],))
    for w, world in enumerate(WORLDS):
        kitchen = make_kitchen(world, number, seed)
        for i, own in enumerate(OWN):
            one = kitchen.coming(own)
            scale = kitchen.scale_g(own, own)
            habits = ask.learned(kitchen.history(own))
            steps = (scale, world.measure_ml) if told else (None, None)
            truths = one.packing.jars, one.packing.need_ml
            for j, jars in enumerate(JARS):
                if jars > len(one.packing.full_g):
                    continue
                read = ask.reading(kitchen.note(one, jars, scale), *steps) if jars else None
                found = ask.forecast(habits, kitchen, one, scale, draws, so_far=read)
                table[w, i, j] = scores_of(found, truths, one.printed, luck[w, i, j])
    return table


def _told(number: int, seed: int, draws: int) -> np.ndarray:
    return score_household(number, seed, draws, told=True)


def main() -> None:
    """Print the table."""
    parser = counter_options(__doc__, households=400)
    parser.add_argument("--told", action="store_true",
                        help="tell jarcast the steps in the middle of packing")  # fmt: skip
    asked, results = started(parser, "instruments")
    table = each_household(_told if asked.told else score_household, asked)
    for w, world in enumerate(WORLDS):
        for o, kind in enumerate(KINDS):
            for j, jars in enumerate(JARS):
                cell = table[:, w, :, j, o]
                results.cells[f"{world.name}, {kind}, {jars} packed"] = figures(cell)
            packed = table[:, w, :, 1:, o]
            results.cells[f"{world.name}, {kind}, 1 to 5 packed"] = figures(packed)
    finished(asked, results)


if __name__ == "__main__":
    main()
