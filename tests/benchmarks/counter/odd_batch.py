"""Score forecasts after one to four batches of which one is odd, and after clean or tight ones.

    python tests/benchmarks/counter/odd_batch.py --households 400

What is odd is written in ``oddities.py``. The next batch of the odd one's crop ('own crop') and of
one that is not in the history ('other crop') are forecast, from the ready weight. 'clean' is the
same history with nothing odd. 'tight' hands pack 15 or 25 % more into a jar than the plain
world's, 'median / truth' tells how far that is learned. 'under 15 %' is how often the 80 % range of
the jars, before any is rounded to a whole, is narrower than that, over its median; 'narrowest' the
least there was; 'dry' how often the median brine is under a tenth of the jars, and the truth is
not. Last come odd first batches told by hand, over an empty ledger. 400 households take some two
minutes on two cores, --quick a quarter of one.
"""

import datetime as dt
import math
import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from accuracy.command import each_household  # noqa: E402
from accuracy.scores import Figure  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import POUND_G, Cooked, Counter, Kitchen, make_kitchen  # noqa: E402
from counter.oddities import (  # noqa: E402
    BRINES,
    EMPTY,
    UNWRITTEN,
    WRITTEN,
    clean_history,
    draw_oddity,
    next_of,
    odd_history,
)
from counter.report import (  # noqa: E402
    KINDS,
    SCORES,
    counter_options,
    figures,
    finished,
    pooled,
    scores_of,
    started,
)
from jarcast import Habits, habits_from  # noqa: E402
from jarcast.domain.batch import Batch  # noqa: E402

OWN, CROPS = (1, 2, 3, 4), ("own crop", "other crop")
HISTORIES = (*(f"odd, {brine}" for brine in BRINES), f"clean, {UNWRITTEN}", f"clean, {WRITTEN}")
# What is put together: brine is not measured where it was not written down or the pot was empty.
GROUPS = {
    **{name: [place] for place, name in enumerate(HISTORIES)},
    "odd, brine not measured": [BRINES.index(UNWRITTEN), BRINES.index(EMPTY)],
}
TIGHT_OWN, TIGHT = (1, 2, 4, 8), (0.15, 0.25)
PLAIN = Counter("part full", "the last jar is left part full")
NARROW, DRY = 0.15, 0.1
# Beside the scores of report: narrower than NARROW, that width, dry, median / truth, and whether
# the odd one was not all jarred.
MORE = ("under 15 %", "narrowest", "dry", "median / truth", "not jarred")
ALL = (*SCORES, *MORE)
GALLON_ML = 3785.411784
# Odd first batches, told by hand: cucumber spears as bought, in lb, and the jars they filled; the
# gallon of brine is gone. Some of each was eaten. The first is the one that is aimed at.
EXAMPLES = ((20, 7, "quart"), (14, 5, "quart"), (10, 7, "pint"), (20, 8, "quart"))


def scored_batch(
    habits: Habits, kitchen: Kitchen, one: Cooked, luck: float, draws: int, not_jarred: bool = False
) -> np.ndarray:
    """Scores of one forecast from the ready weight, shape (KINDS, ALL)."""
    found = ask.forecast(habits, kitchen, one, kitchen.world.scale_g, draws)
    truths = one.packing.jars, one.packing.need_ml
    low, middle, high = np.quantile(ask.unrounded_jars(found), (0.1, 0.5, 0.9))
    width = (high - low) / middle
    fill_ml = one.packing.fill_ml
    dry = float(np.median(found.brine_ml.draws / (fill_ml * found.jars.draws))) < DRY
    dry = dry and truths[1] / (fill_ml * truths[0]) >= DRY
    more = np.empty((len(KINDS), len(MORE)))
    for o, outcome in enumerate((found.jars, found.brine_ml)):
        more[o] = width < NARROW, width, dry, outcome.median / truths[o], not_jarred
    return np.hstack([scores_of(found, truths, one.printed, luck), more])


def score_odd(number: int, seed: int, draws: int) -> np.ndarray:
    """Scores of one household, shape (OWN, HISTORIES, CROPS, KINDS, ALL); NaN: no such batch."""
    kitchen = make_kitchen(PLAIN, number, seed)
    table = np.full((len(OWN), len(HISTORIES), len(CROPS), len(KINDS), len(ALL)), np.nan)
    for i, own in enumerate(OWN):
        rng = np.random.default_rng([seed, number, 106, own])
        odd, luck = draw_oddity(own, rng), rng.random(table.shape[1:3])
        crops = [one.crop for one in kitchen.cooked[:own]]
        coming = (
            next_of(kitchen, own, [crops[odd.place]], same=True),
            next_of(kitchen, own, crops, same=False),
        )
        histories = [odd_history(kitchen, own, odd, brine) for brine in BRINES]
        histories += [clean_history(kitchen, own, brine) for brine in (UNWRITTEN, WRITTEN)]
        for h, history in enumerate(histories):
            habits = ask.learned(history)
            for c, one in enumerate(coming):
                if one is not None:
                    table[i, h, c] = scored_batch(
                        habits, kitchen, one, luck[h, c], draws, odd.aside > 0
                    )
    return table


def score_tight(number: int, seed: int, draws: int) -> np.ndarray:
    """Scores of one household that packs tighter, shape (TIGHT, TIGHT_OWN, KINDS, ALL)."""
    table = np.full((len(TIGHT), len(TIGHT_OWN), len(KINDS), len(ALL)), np.nan)
    for t, more in enumerate(TIGHT):
        world = Counter("tight", f"{more:.0%} more in a jar", denser=math.log1p(more))
        kitchen = make_kitchen(world, number, seed)
        for i, own in enumerate(TIGHT_OWN):
            habits = ask.learned(kitchen.history(own))
            luck = float(np.random.default_rng([seed, number, 107, own]).random())
            one = kitchen.cooked[own]
            table[t, i] = scored_batch(habits, kitchen, one, luck, draws)
    return table


def shown(cell: np.ndarray) -> dict[str, Figure]:
    """Figures of one cell, shape (households, ..., ALL)."""
    found = figures(cell[..., : len(SCORES)])
    narrow, width, dry, middle, _ = np.moveaxis(cell[..., len(SCORES) :], -1, 0)
    least = float(np.nanmin(width)) if np.isfinite(width).any() else math.nan
    return {
        **found,
        "under 15 %": pooled(narrow),
        "narrowest": Figure(least, math.nan),
        "dry, %": pooled(dry),
        "median / truth": pooled(middle),
    }


def by_own(name: str, rows: np.ndarray) -> dict[str, dict[str, Figure]]:
    """Cells by the batches in the history, of an array (households, OWN, ..., ALL)."""
    cells = {f"{name}, own {own}": shown(rows[:, i]) for i, own in enumerate(OWN)}
    return {**cells, f"{name}, own 2 to 4": shown(rows[:, 1:])}


def examples(draws: int) -> dict[str, dict[str, Figure]]:
    """What an odd first batch does to three answers, each over that of an empty ledger."""

    def answers(history: list[Batch]) -> np.ndarray:
        habits = habits_from(history)
        own = habits.forecast(produce="cucumber", cut="spears", jar="quart", cure_hours=0,
                              trimmed_g=10 * POUND_G, draws=draws)  # fmt: skip
        other = habits.forecast(produce="carrot", cut="sticks", jar="pint", cure_hours=0,
                                trimmed_g=10 * POUND_G, draws=draws)  # fmt: skip
        return np.array([own.jars.median, own.brine_to_make(0.05), other.jars.median])

    names = ("own jars (at least 0.8)", "own brine (at least 0.5)", "carrots (0.88 to 1.12)")
    empty, found = answers([]), {}
    for pounds, jars, jar in EXAMPLES:
        batch = Batch(
            batch="dills", date=dt.date(2021, 7, 3), produce="cucumber", cut="spears", pack="raw",
            cure_hours=0.0, as_bought_g=pounds * POUND_G, jar=(jar,), jars=(float(jars),),
            brine_made_ml=GALLON_ML, brine_left_ml=0.0,
        )  # fmt: skip
        over = answers([batch]) / empty
        found[f"{pounds} lb in {jars} {jar}s, pot empty"] = {
            name: Figure(float(value), math.nan) for name, value in zip(names, over, strict=True)
        }
    return found


def main() -> None:
    """Print the tables."""
    asked, results = started(counter_options(__doc__, households=400), "odd batch")
    odd, tight = each_household(score_odd, asked), each_household(score_tight, asked)
    for group, histories in GROUPS.items():
        for c, crop in enumerate(CROPS):
            for o, kind in enumerate(KINDS):
                rows = odd[:, :, histories, c, o]
                name = f"{group}, {crop}, {kind}"
                results.cells |= by_own(name, rows)
                if group.startswith("clean"):
                    results.paired(f"{name}, own 2 to 4", rows[:, 1:])
                    for i, own in enumerate(OWN):
                        results.paired(f"{name}, own {own}", rows[:, i])
                if c == 0 and group.startswith("odd"):
                    aside = (rows[..., -1] == 1)[..., None]
                    results.cells |= by_own(f"{name}, not jarred", np.where(aside, rows, np.nan))
                    results.cells |= by_own(f"{name}, slip", np.where(aside, np.nan, rows))
    for t, more in enumerate(TIGHT):
        for o, kind in enumerate(KINDS):
            for i, own in enumerate(TIGHT_OWN):
                name, cell = f"tight by {more:.0%}, {kind}, own {own}", tight[:, t, i, o]
                results.cells[name] = shown(cell)
                results.paired(name, cell)
    results.cells |= examples(asked.draws)
    finished(asked, results)


if __name__ == "__main__":
    main()
