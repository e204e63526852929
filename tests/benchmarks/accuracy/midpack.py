"""Score forecasts made mid-pack, after the first jars, against stretching what is packed.

    python tests/benchmarks/accuracy/midpack.py --households 2500 --seed reporting

Households are those of the plain world: density differs by 5 % from jar to jar and 7 % from batch
to batch, the pot loses about 150 ml a batch, 40 % between people and 30 % between batches. The
last batch is packed jar by jar; after k jars the produce and the brine in them are known, and
what all of it weighed. CRPS is over the final total. 'Stretching' is what a person does in their
head: jars and brine so far, over the produce packed, times all of it, with no range. ± is two
standard errors over households.
"""

import os
import sys
from dataclasses import dataclass
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402

from accuracy.command import scored  # noqa: E402
from accuracy.households import Unseen, make_household  # noqa: E402
from accuracy.scores import crps, mean  # noqa: E402
from accuracy.worlds import WORLDS, World, bounded  # noqa: E402
from jarcast import SoFar, habits_from  # noqa: E402

JARS = (0, 1, 3, 5)
OWN = (0, 3, 13)
_KINDS = ("jars", "brine")
_SCORES = ("CRPS", "stretched", "in80", "short")


@dataclass(frozen=True)
class Packing:
    """A batch packed jar by jar: produce in g and brine in ml of each, and the pot loss.

    ``parts`` is how much of each jar was filled: 1 but for the last one.
    """

    parts: np.ndarray
    produce: np.ndarray
    brine: np.ndarray
    loss: float

    def truth(self) -> tuple[float, float]:
        """Jars and brine of the whole batch."""
        return float(self.parts.sum()), float(self.brine.sum() + self.loss)


def pack(world: World, one: Unseen, rng: np.random.Generator) -> Packing:
    """Pack the ready weight of a batch jar by jar."""
    habits, fill = one.habits, one.setting.fill_ml
    left = float(getattr(one.batch, f"{one.setting.stages[-1]}_g"))
    batch = float(habits.pack) + world.noise["pack"] * rng.standard_normal()
    parts, produce, brine = [], [], []
    while left > 0:
        log_density = batch + world.jar_to_jar * rng.standard_normal()
        full = fill * float(np.exp(bounded(log_density, habits.tissue)))
        grams = min(full, left)
        parts.append(grams / full)
        produce.append(grams)
        brine.append(fill * grams / full - grams / np.exp(habits.tissue))
        left -= grams
    loss = float(np.exp(habits.loss + world.loss_batches * rng.standard_normal()))
    return Packing(*map(np.array, (parts, produce, brine)), loss)


def score_household(number: int, seed: int, draws: int) -> np.ndarray:
    """Scores of one household, shape (OWN, JARS, kinds, scores); NaN where it had fewer jars."""
    world = WORLDS["plain"]
    household = make_household(world, number, seed)
    table = np.full((len(OWN), len(JARS), len(_KINDS), len(_SCORES)), np.nan)
    for i, own in enumerate(OWN):
        one = next(u for u in household.unseen if u.after == own)
        packing = pack(world, one, np.random.default_rng([seed, number, own]))
        habits = habits_from(household.history[:own])
        stage, grams = one.known("ready")
        for j, jars in enumerate(JARS):
            if jars > len(packing.parts) - 1:  # all of it is packed
                continue
            done = float(packing.produce[:jars].sum()), float(packing.brine[:jars].sum())
            forecast = habits.forecast(
                produce=one.batch.produce, cut=one.batch.cut, pack=one.batch.pack,
                jar=one.batch.jar[0], cure_hours=one.batch.cure_hours, headspace_in=0.5,
                so_far=SoFar(jars, *done) if jars else None, draws=draws, seed=number,
                **{f"{stage}_g": grams},
            )  # fmt: skip
            stretched = (jars * grams / done[0], done[1] * grams / done[0]) if jars else (0.0, 0.0)
            both = zip((forecast.jars, forecast.brine_ml), packing.truth(), stretched, strict=True)
            for o, (outcome, truth, guess) in enumerate(both):
                low, high = outcome.interval(0.8)
                table[i, j, o] = (
                    crps(outcome.draws, truth) / truth,
                    abs(guess - truth) / truth if jars else np.nan,
                    low <= truth <= high,
                    truth > outcome.quantile(0.95),
                )
    return table


def lines(table: np.ndarray) -> list[str]:
    """The scores as markdown."""
    found = ["| outcome | own batches | jars packed | CRPS over the total | stretching: miss "
             "over the total | 80 % range holds | 5 % order short |",
             "| --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for o, kind in enumerate(_KINDS):
        for i, own in enumerate(OWN):
            for j, jars in enumerate(JARS):
                cells = [mean(table[:, i, j, o, s]) for s in range(len(_SCORES))]
                shown = [f"{c.value:.3f} ± {2 * c.error:.3f}" for c in cells[:2]]
                shown += [f"{100 * c.value:.1f} ± {200 * c.error:.1f} %" for c in cells[2:]]
                shown = ["-" if "nan" in text else text for text in shown]
                found.append(f"| {kind} | {own} | {jars} | " + " | ".join(shown) + " |")
    return found


def main() -> None:
    """Print the table."""
    table = scored(__doc__, score_household)
    print("\n".join(lines(table)))


if __name__ == "__main__":
    main()
