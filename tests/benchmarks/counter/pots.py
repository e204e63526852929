"""Score brine made by pots, load by load, against all of it made at once.

    python tests/benchmarks/counter/pots.py --households 800

A load of the canner is 7 jars, the last jar is left part full. All at once: one order, before
packing; short is who needs more. By pots: the first for the first load, ordered before packing;
with three jars packed, what all of it takes is forecast again, the second pot's own loss included,
and what the first pot lacks is made. Short is who had too little before the first load was full, or
in all. After three jars their produce and brine are known to the gram in one world; in the other
the bowl is weighed to 5 g and the pot read off marks, to 250 ml, then and in the history.

Both ways are tuned to the same measured chance of running short, 5 % unless said, by bisection over
the chance that is asked for: over all batches that are scored together, those over one load apart
from those of one load or less, by the jars they came to. 'All' is tuned over both, and 'all, over
one load' is what those batches have left over then. Left over is of what is needed. 800 households
take some four minutes on two cores, --quick a few seconds.
"""

import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from accuracy.command import each_household  # noqa: E402
from accuracy.scores import Figure, mean  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import Counter, make_kitchen  # noqa: E402
from counter.report import counter_options, finished, started  # noqa: E402
from counter.tuning import CHANCES, at, largest_known, side_by_side  # noqa: E402

OWN, LOAD, READ_AT = (0, 3, 8, 34), 7, 3
WORLDS = (
    Counter("to the gram", "what stands in the jars is known"),
    Counter("off marks", "bowl and pot are read, the pot to 250 ml", measure_ml=250.0),
)
# What is kept of a batch beside its orders: all it needs out of one pot, what its first load needs,
# what a second pot loses beside, its jars, and whether three were packed.
NEED, FIRST, SECOND, JARS, READ = range(5)
ONCE, POT, AGAIN, AGAIN_ONE = range(4)  # orders: all at once; first pot; all, with two pots and one

Cell = dict[str, Figure]


def score_household(number: int, seed: int, draws: int) -> np.ndarray:
    """Facts and orders of one household's batches, shape (WORLDS, OWN, facts and 4 x CHANCES)."""
    return np.stack([_in_world(world, number, seed, draws) for world in WORLDS])


def _in_world(world: Counter, number: int, seed: int, draws: int) -> np.ndarray:
    kitchen = make_kitchen(world, number, seed)
    table = np.full((len(OWN), READ + 1 + 4 * len(CHANCES)), np.nan)
    for i, own in enumerate(OWN):
        one = kitchen.coming(own)
        packing, habits = one.packing, ask.learned(kitchen.history(own))
        before = ask.forecast(habits, kitchen, one, world.scale_g, draws)
        orders = [ask.total_ml(before, CHANCES), ask.first_pot_ml(before, LOAD, CHANCES)]
        was_read = len(packing.full_g) >= READ_AT
        if was_read:
            so_far = ask.stood(one, (1, READ_AT))
            if world is WORLDS[1]:
                so_far = ask.reading(kitchen.note(one, READ_AT, world.scale_g), None, None)
            after = ask.forecast(habits, kitchen, one, world.scale_g, draws, so_far=so_far)
            orders += [ask.with_second_ml(after, CHANCES), ask.total_ml(after, CHANCES)]
        else:
            orders += [np.zeros(len(CHANCES))] * 2
        facts = packing.need_ml, packing.poured_ml(LOAD), packing.second_loss_ml, packing.jars
        table[i] = np.concatenate([[*facts, was_read], *orders])
    return table


class Batches:
    """The batches of many households after so many of their own, and both ways of making brine."""

    def __init__(self, table: np.ndarray) -> None:
        """``table`` is (households, facts and orders)."""
        self.facts = table[:, : READ + 1]
        self.orders = table[:, READ + 1 :].reshape(len(table), 4, len(CHANCES)).swapaxes(0, 1)
        self.most = largest_known(*self.orders)

    def at_once(self, chance: float) -> tuple[np.ndarray, np.ndarray]:
        """Who runs short, and what is left over of what was needed, with one order."""
        need, made = self.facts[:, NEED], at(self.orders[ONCE], chance)
        return need > made, np.maximum(made - need, 0.0) / need

    def by_pots(self, chance: float) -> tuple[np.ndarray, np.ndarray]:
        """The same, load by load."""
        facts = self.facts
        first, again = at(self.orders[POT], chance), self.second(chance)
        need = facts[:, NEED] + np.where(again > 0, facts[:, SECOND], 0.0)
        short = (facts[:, FIRST] > first) | (need > first + again)
        return short, np.maximum(first + again - need, 0.0) / facts[:, NEED]

    def second(self, chance: float) -> np.ndarray:
        """What the second pot makes, in ml; 0 where none is heated."""
        first = at(self.orders[POT], chance)
        lacks = at(self.orders[AGAIN_ONE], chance) > first
        more = at(self.orders[AGAIN], chance) - first
        return np.where(lacks, np.maximum(more, 0.0), 0.0)


def compared(table: np.ndarray, target: float) -> tuple[Cell, Batches, float]:
    """Figures of one group of batches, those batches, and the chance by pots was tuned to."""
    batches = Batches(table)
    ways = batches.at_once, batches.by_pots
    (once, pots), ratio, error = side_by_side(ways, target, batches.most)
    lefts = [mean(way(t.chance)[1]) for way, t in zip(ways, (once, pots), strict=True)]
    found = {
        "batches": Figure(float(len(table)), 0.0),
        "short at once, %": Figure(once.short, np.nan),
        "short by pots, %": Figure(pots.short, np.nan),
        "left at once, %": lefts[0],
        "left by pots, %": lefts[1],
        "by pots / at once": Figure(ratio, error),
        "asked at once": Figure(once.chance, np.nan),
        "asked by pots": Figure(pots.chance, np.nan),
        "two pots, %": mean((batches.second(pots.chance) > 0).astype(float)),
    }
    return found, batches, pots.chance


def cells(before: str, after: str, rows: np.ndarray, target: float) -> dict[str, Cell]:
    """The cells of one world and one size of history."""
    over = rows[:, JARS] > LOAD
    found, batches, by_pots = compared(rows, target)
    lefts = [
        batches.at_once(found["asked at once"].value)[1][over],
        batches.by_pots(by_pots)[1][over],
    ]
    both = {
        "left at once, %": mean(lefts[0]),
        "left by pots, %": mean(lefts[1]),
        "by pots / at once": Figure(float(lefts[1].mean() / lefts[0].mean()), np.nan),
    }
    return {
        f"{before}over one load{after}": compared(rows[over], target)[0],
        f"{before}one load or less{after}": compared(rows[~over], target)[0],
        f"{before}all{after}": found,
        f"{before}all, over one load{after}": both,
    }


def main() -> None:
    """Print the table."""
    parser = counter_options(__doc__, households=800)
    parser.add_argument("--short", type=float, default=0.05, help="chance that both are tuned to")
    asked, results = started(parser, "pots")
    table = each_household(score_household, asked)
    for w, world in enumerate(WORLDS):
        for i, own in enumerate(OWN):
            results.cells |= cells(f"{world.name}, ", f", own {own}", table[:, w, i], asked.short)
    finished(asked, results)


if __name__ == "__main__":
    main()
