"""Score forecasts where the last jar is left part full, topped up, squeezed in or eaten.

    python tests/benchmarks/counter/last_jar.py --households 400

The worlds are those of ``WORLDS`` below; what happens in them is written in ``packing.py``.
Before packing and after 1, 3 and 5 jars; the produce and the brine in those are known to the gram,
and a forecast after several jars has every reading up to then. Pooled over 0, 3, 13 and 30 batches
of history; 'own 0' and so on are the same apart. In the tiring worlds but the last one batches of
the history have notes as well. 400 households take some seven minutes on two cores, --quick half a
minute.
"""

import os
import sys
from dataclasses import replace
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from accuracy.command import each_household  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import Counter, make_kitchen  # noqa: E402
from counter.packing import EATEN, PART, SQUEEZED, TIRING_SD, TOPPED  # noqa: E402
from counter.report import (  # noqa: E402
    KINDS,
    SCORES,
    Results,
    counter_options,
    figures,
    finished,
    scores_of,
    started,
)

OWN, JARS = (0, 3, 13, 30), (0, 1, 3, 5)
_TIRING = Counter("tiring", "", slope_sd=TIRING_SD, notes=(1, 3, 5))
WORLDS = (
    Counter("part full", "the last jar is left part full and counts as part", PART),
    Counter("topped up", "the last jar is topped up with brine", TOPPED),
    Counter("squeezed", "the rest is pressed in among the others where it goes", SQUEEZED),
    Counter("eaten", "the rest is eaten", EATEN),
    Counter("mixed", "each of the four habits now and then, one usual", "mixed"),
    replace(_TIRING, about="part full; jars get looser or tighter by 1 % a jar (sd)"),
    replace(_TIRING, name="tiring, topped up", about="the same, topped up", habit=TOPPED),
    replace(
        _TIRING, name="tiring, no notes", about="tiring, and no earlier batch has notes", notes=()
    ),
)


def score_household(number: int, seed: int, draws: int, told: bool = False) -> np.ndarray:
    """Scores of one household, shape (WORLDS, OWN, JARS, KINDS, SCORES); NaN: no such jar."""
    table = np.full((len(WORLDS), len(OWN), len(JARS), len(KINDS), len(SCORES)), np.nan)
    luck = np.random.default_rng([seed, number, 104]).random((*table.shape[:3],))
    for w, world in enumerate(WORLDS):
        kitchen = make_kitchen(world, number, seed)
        whole = None if not told or world.habit == "mixed" else world.habit != PART
        for i, own in enumerate(OWN):
            one = kitchen.coming(own)
            habits = ask.learned(kitchen.history(own), kitchen.notes(own), whole)
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


def whole_jars(results: Results, table: np.ndarray) -> None:
    """The habits that only fill whole jars, together."""
    whole = [w for w, one in enumerate(WORLDS) if one.habit in (TOPPED, SQUEEZED, EATEN)]
    whole = [w for w in whole if not WORLDS[w].slope_sd]
    for o, kind in enumerate(KINDS):
        for j, jars in enumerate(JARS):
            name, cell = f"whole jars, {kind}, {jars} packed", table[:, whole][:, :, :, j, o]
            results.cells[name] = figures(cell)
            results.paired(name, cell)


def main() -> None:
    """Print the table."""
    parser = counter_options(__doc__, households=400)
    parser.add_argument("--told", action="store_true",
                        help="tell jarcast whether only whole jars are filled")  # fmt: skip
    asked, results = started(parser, "last jar")
    table = each_household(_told if asked.told else score_household, asked)
    for w, world in enumerate(WORLDS):
        for o, kind in enumerate(KINDS):
            for j, jars in enumerate(JARS):
                cell = table[:, w, :, j, o]
                name = f"{world.name}, {kind}, {jars} packed"
                results.cells[name] = figures(cell)
                results.cells[f"{name}, own 3 to 30"] = figures(cell[:, 1:])
                results.paired(name, cell)
                if world.habit == PART:
                    results.paired(f"{name}, own 3 to 30", cell[:, 1:])
                for i, own in enumerate(OWN):
                    results.cells[f"{name}, own {own}"] = figures(cell[:, i])
    whole_jars(results, table)
    finished(asked, results)


if __name__ == "__main__":
    main()
