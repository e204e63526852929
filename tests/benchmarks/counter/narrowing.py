"""Score what would narrow a forecast: widths before and after each question, and what it foretold.

    python tests/benchmarks/counter/narrowing.py --households 400

The width is that of the 80 % range, over the printed total. Before and after are one batch: known
as bought and then trimmed; trimmed and then cured (batches that are cured); ready and then with one
or three jars packed, bowl and pot read. 'realised' is the mean width after over that before;
'foretold / realised' is what the forecast before said of it, over that: empty as long as forecasts
do not say it. Apart for 0, 3, 13 and 30 batches of history. 400 households take some two minutes
on two cores, --quick a quarter of one.
"""

import os
import sys
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from accuracy.command import each_household  # noqa: E402
from accuracy.scores import mean, ratio  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import POUND_G, Cooked, Counter, Kitchen, make_kitchen  # noqa: E402
from counter.packing import TIRING_SD, TOPPED  # noqa: E402
from counter.report import KINDS, counter_options, finished, started  # noqa: E402
from jarcast import Forecast, Habits  # noqa: E402

OWN = (0, 3, 13, 30)
QUESTIONS = ("weigh trimmed", "weigh cured", "note after 1 jar", "note after 3 jars")
WORLDS = (
    Counter("part full", "the last jar is left part full: nearest to the plain world"),
    Counter("topped up", "the last jar is topped up with brine", TOPPED),
    Counter("tiring", "jars get looser or tighter by 1 % a jar (sd)", slope_sd=TIRING_SD),
    Counter("scale of 1/4 lb", "every weighing to a quarter pound", scale_g=POUND_G / 4),
)
WAS, IS, SAID = range(3)


def asked_of(
    habits: Habits, kitchen: Kitchen, one: Cooked, own: int, draws: int
) -> dict[str, tuple[Forecast, Forecast]]:
    """The forecasts before and after each question that this batch can be asked."""
    scale = kitchen.scale_g(own, own)

    def at(stage: str) -> Forecast:
        return ask.forecast(habits, kitchen, one, scale, draws, stage=stage)

    stages, pairs = one.setting.stages, {}
    known = {stage: at(stage) for stage in stages}
    if "trimmed" in stages:
        pairs["weigh trimmed"] = known["as_bought"], known["trimmed"]
    if "cured" in stages:
        pairs["weigh cured"] = known["trimmed"], known["cured"]
    for jars, question in ((1, "note after 1 jar"), (3, "note after 3 jars")):
        if jars <= len(one.packing.full_g):
            read = ask.reading(kitchen.note(one, jars, scale), None, None)
            after = ask.forecast(habits, kitchen, one, scale, draws, so_far=read)
            pairs[question] = known[stages[-1]], after
    return pairs


def score_household(number: int, seed: int, draws: int) -> np.ndarray:
    """Widths was, is and as foretold, shape (WORLDS, OWN, QUESTIONS, KINDS, 3); NaN: not asked."""
    table = np.full((len(WORLDS), len(OWN), len(QUESTIONS), len(KINDS), 3), np.nan)
    for w, world in enumerate(WORLDS):
        kitchen = make_kitchen(world, number, seed)
        for i, own in enumerate(OWN):
            one = kitchen.coming(own)
            habits = ask.learned(kitchen.history(own))
            pairs = asked_of(habits, kitchen, one, own, draws)
            for question, (before, after) in pairs.items():
                said = ask.narrowed(before, question)
                cell = table[w, i, QUESTIONS.index(question)]
                cell[:, WAS], cell[:, IS] = _widths(before, one), _widths(after, one)
                cell[:, SAID] = np.nan if said is None else said * cell[:, WAS]
    return table


def _widths(found: Forecast, one: Cooked) -> np.ndarray:
    ends = np.array([found.jars.interval(0.8), found.brine_ml.interval(0.8)])
    return np.asarray((ends[:, 1] - ends[:, 0]) / np.array(one.printed))


def main() -> None:
    """Print the table."""
    asked, results = started(counter_options(__doc__, households=400), "narrowing")
    table = each_household(score_household, asked)
    for w, world in enumerate(WORLDS):
        for q, question in enumerate(QUESTIONS):
            for o, kind in enumerate(KINDS):
                for i, own in enumerate(OWN):
                    was, now, said = table[:, w, i, q, o].T
                    results.cells[f"{world.name}, {question}, {kind}, own {own}"] = {
                        "width before": mean(was),
                        "realised": ratio(now, was),
                        "foretold / realised": ratio(said, now),
                    }
    finished(asked, results)


if __name__ == "__main__":
    main()
