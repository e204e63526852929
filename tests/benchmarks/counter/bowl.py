"""Score forecasts in the middle of packing where the bowl that is weighed tells only half of it.

    python tests/benchmarks/counter/bowl.py --households 200

Every batch is packed as in the plain world, its last jar part full. After 1, 3 and 5 jars the bowl
is weighed, and in half of the cells the pot is read as well. Nobody says what happened:

- plain: all that is not in the jars lies in the bowl;
- some eaten, much eaten: a tenth or a quarter of the ready produce went elsewhere before;
- another bowl: three tenths of what is left lies in a second one, and is packed later;
- with its bowl: the weight is that of the bowl as well, 600 g more.

Pooled over 0, 3, 13 and 30 batches of history, all of them plain. 200 households take some four
minutes on two cores, --quick half a minute.
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
from accuracy.households import SIZES  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import Cooked, Counter, Kitchen, cook, make_kitchen, read  # noqa: E402
from counter.report import (  # noqa: E402
    KINDS,
    SCORES,
    counter_options,
    figures,
    finished,
    scores_of,
    started,
)
from jarcast import Habits, SoFar  # noqa: E402
from jarcast.errors import ForecastError  # noqa: E402

OWN, JARS = (0, 3, 13, 30), (1, 3, 5)
# What happened: the share of the ready produce that went elsewhere, the share of what is left that
# lies in another bowl, and grams of the bowl itself.
HAPPENED = {
    "plain": (0.0, 0.0, 0.0),
    "some eaten": (0.1, 0.0, 0.0),
    "much eaten": (0.25, 0.0, 0.0),
    "another bowl": (0.0, 0.3, 0.0),
    "with its bowl": (0.0, 0.0, 600.0),
}
READ = ("bowl", "bowl and pot")
ALL = (*SCORES, "refused, %")
PLAIN = Counter("part full", "the last jar is left part full")


def score_household(number: int, seed: int, draws: int) -> np.ndarray:
    """Scores of a household, (OWN, HAPPENED, READ, JARS, KINDS, ALL); NaN: no such jar."""
    shape = (len(OWN), len(HAPPENED), len(READ), len(JARS), len(KINDS), len(ALL))
    table = np.full(shape, np.nan)
    luck = np.random.default_rng([seed, number, 107]).random(shape[:4])
    kitchen = make_kitchen(PLAIN, number, seed)
    for i, own in enumerate(OWN):
        habits, coming = ask.learned(kitchen.history(own)), kitchen.coming(own)
        for h, (share, aside, grams) in enumerate(HAPPENED.values()):
            one = _less(kitchen, coming, own, share) if share else coming
            for j, jars in enumerate(JARS):
                if jars > len(one.packing.full_g):
                    continue
                for r, so_far in enumerate(_readings(kitchen, one, jars, aside, grams)):
                    where = i, h, r, j
                    table[where] = _scored(habits, kitchen, one, so_far, luck[where], draws)
    return table


def _less(kitchen: Kitchen, one: Cooked, own: int, share: float) -> Cooked:
    """The same batch, of which so much never reaches the jars."""
    household = kitchen.household
    if own in SIZES:
        unseen = household.unseen[SIZES.index(own)]
        drawn, tag = (unseen.batch, unseen.crop, unseen.setting, own), -1 - own
    else:
        parts = household.clean, household.crop_of, household.settings
        drawn, tag = (*(each[own] for each in parts), own), own
    less = cook(kitchen, *drawn, tag=tag, aside=share)
    return replace(one, packing=less.packing)


def _readings(
    kitchen: Kitchen, one: Cooked, jars: int, aside: float, grams: float
) -> tuple[SoFar, SoFar]:
    """What is written down of the bowl, without the pot and with it."""
    note, step = kitchen.note(one, jars, kitchen.world.scale_g), kitchen.world.scale_g
    left = one.packing.ready_g - one.packing.aside_g - one.packing.stood(jars)[0]
    left = read((1.0 - aside) * left + grams, step)
    both = ask.reading(replace(note, produce_left_g=left), None, None)
    return SoFar(jars, produce_left_g=left), both


def _scored(
    habits: Habits, kitchen: Kitchen, one: Cooked, so_far: SoFar, luck: float, draws: int
) -> np.ndarray:
    """Scores of one forecast, shape (KINDS, ALL); that it was refused alone, where it was."""
    truths = one.packing.jars, one.packing.need_ml
    table = np.full((len(KINDS), len(ALL)), np.nan)
    table[:, -1] = 0.0
    scale_g = kitchen.world.scale_g
    try:
        found = ask.forecast(habits, kitchen, one, scale_g, draws, so_far=so_far)
    except ForecastError:  # that it cannot be is an answer too: the cook weighs again
        table[:, -1] = 1.0
        return table
    table[:, :-1] = scores_of(found, truths, one.printed, luck)
    return table


def main() -> None:
    """Print the table."""
    parser = counter_options(__doc__, households=200)
    asked, results = started(parser, "bowl")
    table = each_household(score_household, asked)
    for h, happened in enumerate(HAPPENED):
        for r, by in enumerate(READ):
            for o, kind in enumerate(KINDS):
                name = f"{happened}, {by}, {kind}"
                cell = table[:, :, h, r, :, o]
                results.cells[name] = figures(cell, ALL)
                results.paired(name, cell)
                for j, jars in enumerate(JARS):
                    results.cells[f"{name}, {jars} packed"] = figures(cell[:, :, j], ALL)
                for i, own in enumerate(OWN):
                    results.cells[f"{name}, own {own}"] = figures(cell[:, i], ALL)
    finished(asked, results)


if __name__ == "__main__":
    main()
