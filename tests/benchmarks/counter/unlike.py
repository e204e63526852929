"""Score forecasts in kitchens of which no two are alike, everything drawn at once.

    python tests/benchmarks/counter/unlike.py --households 200

Every other world changes one thing at a time. Here each household draws all of it for itself,
sizes evenly in logs, from half to twice or more of what the plain world has:

- how its jars differ (2 to 12 %), its batches (half to twice the noise of trim, cure, cook and
  density), its crops (0.6 to 1.8 times as far off the book), its pot (50 to 450 ml lost, which
  differs by 15 to 60 % from batch to batch);
- what becomes of its last jar: each of the four habits, or 'mixed' in one kitchen of three;
- its scale (1 g to a quarter of a pound) and its measure (a quarter of a cup to a cup);
- whether its jars get looser or tighter by 1 % a jar (one in three), and after which jars earlier
  batches were noted: none in one kitchen of four.

The ways to end a batch are those that the model knows of too: of another one this tells nothing.

Before packing and after 1, 3 and 5 jars, by bowl and pot as its scale and its measure read them,
each reading resting on those before. Nothing is told. Pooled over 0, 1, 3, 8 and 21 batches of
history. 200 households take some two minutes on two cores, --quick half a minute.
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
from accuracy.households import QUARTER_CUP_ML  # noqa: E402
from accuracy.worlds import World  # noqa: E402
from msgspec.structs import replace as replaced  # noqa: E402

from counter import ask  # noqa: E402
from counter.kitchens import PLAIN, POUND_G, Cooked, Counter, Kitchen, make_kitchen  # noqa: E402
from counter.packing import HABITS, TIRING_SD  # noqa: E402
from counter.report import (  # noqa: E402
    KINDS,
    SCORES,
    counter_options,
    figures,
    finished,
    scores_of,
    started,
)
from jarcast import SoFar  # noqa: E402
from jarcast.errors import ForecastError  # noqa: E402

OWN, JARS = (0, 1, 3, 8, 21), (0, 1, 3, 5)
_LAST_JARS = (*HABITS, "mixed", "mixed")
_SCALES_G = (1.0, 5.0, 10.0, POUND_G / 16, 50.0, POUND_G / 4)
_MEASURES_ML = tuple(QUARTER_CUP_ML * many for many in (1, 1, 2, 4))
_NOTES: tuple[tuple[int, ...], ...] = ((), (3,), (5,), (1, 3, 5))
_SLOPES = (0.0, 0.0, TIRING_SD)
ALL = (*SCORES, "refused, %")


def draw_world(number: int, seed: int) -> tuple[World, Counter]:
    """What the household of this number differs by, and its counter."""
    rng = np.random.default_rng([seed, number, 108])

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    jars, batches, crops = between(0.02, 0.12), between(0.5, 2.0), between(0.6, 1.8)
    spreads = replace(
        PLAIN,
        name="unlike",
        jar_to_jar=jars,
        noise={link: batches * size for link, size in PLAIN.noise.items()},
        crop={link: crops * size for link, size in PLAIN.crop.items()},
        loss_ml=between(50.0, 450.0),
        loss_batches=between(0.15, 0.6),
    )
    picked = [int(rng.integers(len(each)))
              for each in (_LAST_JARS, _SLOPES, _SCALES_G, _MEASURES_ML, _NOTES)]  # fmt: skip
    habit, slope, scale, measure, notes = picked
    return spreads, Counter(
        "unlike", "", _LAST_JARS[habit], slope_sd=_SLOPES[slope], scale_g=_SCALES_G[scale],
        measure_ml=_MEASURES_ML[measure], notes=_NOTES[notes],
    )  # fmt: skip


def score_household(number: int, seed: int, draws: int) -> np.ndarray:
    """Scores of a household, (OWN, JARS, KINDS, ALL); NaN: no such jar."""
    table = np.full((len(OWN), len(JARS), len(KINDS), len(ALL)), np.nan)
    luck = np.random.default_rng([seed, number, 109]).random(table.shape[:2])
    spreads, counter = draw_world(number, seed)
    kitchen = make_kitchen(counter, number, seed, spreads)
    for i, own in enumerate(OWN):
        habits, one = ask.learned(kitchen.history(own), kitchen.notes(own)), kitchen.coming(own)
        truths = one.packing.jars, one.packing.need_ml
        for j, jars in enumerate(JARS):
            if jars > len(one.packing.full_g):
                continue
            table[i, j, :, -1] = 0.0
            try:
                found = ask.forecast(
                    habits, kitchen, one, counter.scale_g, draws, so_far=_read(kitchen, one, jars)
                )
            except ForecastError:
                table[i, j, :, -1] = 1.0
                continue
            table[i, j, :, :-1] = scores_of(found, truths, one.printed, luck[i, j])
    return table


def _read(kitchen: Kitchen, one: Cooked, jars: int) -> SoFar | None:
    """What was read of bowl and pot, reading after reading; None before the first jar."""
    found: SoFar | None = None
    for count in JARS:
        if 0 < count <= jars:
            note = kitchen.note(one, count, kitchen.world.scale_g)
            found = replaced(ask.reading(note, None, None), earlier=found)
    return found


def main() -> None:
    """Print the table."""
    parser = counter_options(__doc__, households=200)
    asked, results = started(parser, "unlike")
    table = each_household(score_household, asked)
    for o, kind in enumerate(KINDS):
        for j, jars in enumerate(JARS):
            name = f"{kind}, {jars} packed"
            results.cells[name] = figures(table[:, :, j, o], ALL)
            results.paired(name, table[:, :, j, o])
        for i, own in enumerate(OWN):
            results.cells[f"{kind}, own {own}"] = figures(table[:, i, :, o], ALL)
        for habit in (*HABITS, "mixed"):
            mine = [draw_world(n, results.seed)[1].habit == habit for n in range(len(table))]
            results.cells[f"{kind}, {habit}"] = figures(table[mine][:, :, :, o], ALL)
    finished(asked, results)


if __name__ == "__main__":
    main()
