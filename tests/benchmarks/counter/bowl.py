"""Score forecasts in the middle of packing where the bowl, or the pot, tells only half of it.

    python tests/benchmarks/counter/bowl.py --households 200

Every batch is packed as in the plain world, its last jar part full. After 1, 3 and 5 jars the bowl
is weighed, or the pot is read, or both. Nobody says what happened:

- plain: all that is not in the jars lies in the bowl;
- some eaten, much eaten: a tenth or a quarter of the ready produce went elsewhere before;
- another bowl: three tenths of what is left lies in a second one, and is packed later;
- with its bowl: the weight is that of the bowl as well, 600 g more;
- spilt: half a litre of the brine was spilt, and counts in what the batch takes.

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
from jarcast import Forecast, Habits, SoFar  # noqa: E402
from jarcast.errors import ForecastError  # noqa: E402

OWN, JARS = (0, 3, 13, 30), (1, 3, 5)
# What happened: the share of the ready produce that went elsewhere, the share of what is left that
# lies in another bowl, grams of the bowl itself, and ml of brine that was spilt.
HAPPENED = {
    "plain": (0.0, 0.0, 0.0, 0.0),
    "some eaten": (0.1, 0.0, 0.0, 0.0),
    "much eaten": (0.25, 0.0, 0.0, 0.0),
    "another bowl": (0.0, 0.3, 0.0, 0.0),
    "with its bowl": (0.0, 0.0, 600.0, 0.0),
    "spilt": (0.0, 0.0, 0.0, 500.0),
}
READ = ("bowl", "bowl and pot", "pot")
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
        for h, (share, *off) in enumerate(HAPPENED.values()):
            one = _less(kitchen, coming, own, share) if share else coming
            for j, jars in enumerate(JARS):
                if jars > len(one.packing.full_g):
                    continue
                for r, so_far in enumerate(_readings(kitchen, one, jars, *off)):
                    where = i, h, r, j
                    if READ[r] != "bowl" or not off[-1]:  # which cannot tell of it
                        found = _found(habits, kitchen, one, so_far, draws)
                        table[where] = _scored(found, one, off[-1], luck[where])
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
    kitchen: Kitchen, one: Cooked, jars: int, aside: float, grams: float, spilt_ml: float
) -> tuple[SoFar, SoFar, SoFar]:
    """What is written down of the bowl, of both, and of the pot."""
    note, step = kitchen.note(one, jars, kitchen.world.scale_g), kitchen.world.scale_g
    left = one.packing.ready_g - one.packing.aside_g - one.packing.stood(jars)[0]
    left = read((1.0 - aside) * left + grams, step)
    made, in_pot = note.made_ml, note.pot_left_ml - spilt_ml
    while in_pot <= 0.0:
        made, in_pot = made + one.pot_ml, in_pot + one.pot_ml
    both = replace(note, produce_left_g=left, pot_left_ml=in_pot, made_ml=made)
    return (
        SoFar(jars, produce_left_g=left),
        ask.reading(both, None, None),
        SoFar(jars, pot_left_ml=in_pot, brine_made_ml=made),
    )


def _found(
    habits: Habits, kitchen: Kitchen, one: Cooked, so_far: SoFar, draws: int
) -> Forecast | None:
    """The forecast; None where it is refused, which is an answer too: the cook weighs again."""
    try:
        return ask.forecast(habits, kitchen, one, kitchen.world.scale_g, draws, so_far=so_far)
    except ForecastError:
        return None


def _scored(found: Forecast | None, one: Cooked, spilt_ml: float, luck: float) -> np.ndarray:
    """Scores of one forecast, shape (KINDS, ALL); that it was refused alone, where it was."""
    table = np.full((len(KINDS), len(ALL)), np.nan)
    table[:, -1] = float(found is None)
    if found is not None:
        truths = one.packing.jars, one.packing.need_ml + spilt_ml
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
