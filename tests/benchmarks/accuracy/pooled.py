"""What pooling other households does for a newcomer's first forecast; prints a markdown table.

    python tests/benchmarks/accuracy/pooled.py --newcomers 600

Every crop of this world packs 25 % denser or looser than published, and loses about a quarter more
or less in trimming, the same way for all households: which way hangs on its name (for packing that
of produce, cut and pack, for trimming that of produce and cut). Households differ about that as in
the plain world. The limit knows the true centres and the world's law; it, too, has seen no batch of
the newcomer. 'of the way' is how much of the error that knowing the centres would save is saved by
pooling. ± is two standard errors over newcomers.
"""

import argparse
import os
import sys
import zlib
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import json  # noqa: E402

import numpy as np  # noqa: E402

from accuracy.crops import Crop, published_crops  # noqa: E402
from accuracy.households import REPORTING_SEED, TUNING_SEED, make_household  # noqa: E402
from accuracy.peers import ASKS, limit  # noqa: E402
from accuracy.replay import OUTCOMES  # noqa: E402
from accuracy.scores import Array, Figure, crps, mean  # noqa: E402
from accuracy.worlds import WORLDS  # noqa: E402
from jarcast.files.shipped import shipped  # noqa: E402
from jarcast.forecast.habits import habits_from  # noqa: E402
from jarcast.learning.model.beliefs import Beliefs, beliefs_from, starting_beliefs  # noqa: E402
from jarcast.pooling.combine import combine  # noqa: E402
from jarcast.pooling.reduce import reduce_household  # noqa: E402
from jarcast.pooling.write import pooled_document  # noqa: E402

PLAIN = WORLDS["plain"]  # households differ about the true centres as they do there
POOLED_SEED = 5150  # no newcomer is among the pooled


def _side(*words: str) -> float:
    return 1.0 if zlib.crc32("/".join(words).encode()) % 2 else -1.0


@cache
def true_crops() -> tuple[Crop, ...]:
    """The published crops with this world's own centres."""
    off = WORLDS["off-book"].off_book
    return tuple(
        replace(
            crop,
            centre={
                **crop.centre,
                "pack": crop.centre["pack"]
                + off["pack"] * _side("pack", crop.produce, crop.cut, crop.pack),
                "trim": crop.centre["trim"] + off["trim"] * _side("trim", crop.produce, crop.cut),
            },
        )
        for crop in published_crops()
    )


def pooled_beliefs(households: int, batches: int) -> Beliefs:
    """Beliefs pooled from the first ``batches`` of so many households."""
    published = starting_beliefs()
    reduced = []
    for number in range(households):
        household = make_household(PLAIN, number, POOLED_SEED, true_crops())
        reduced.append(reduce_household(household.history[:batches], published))
    raw = json.loads(shipped("models", "starting-beliefs.json").read_text(encoding="utf-8"))
    document = pooled_document(combine(reduced, published), raw, published)
    return beliefs_from(json.loads(json.dumps(document)), "pooled")


def score_newcomer(number: int, seed: int, draws: int, peers: Sequence[Beliefs]) -> Array:
    """CRPS over the true total, and whether the 80 % range held, of each peer and then the limit;
    shape (peers + 1, asks, outcomes, 2).
    """
    household = make_household(PLAIN, number, seed, true_crops())
    unseen = household.unseen[0]
    batch, truths = unseen.batch, (unseen.jars, unseen.brine_ml)
    rng = np.random.default_rng([seed, number])
    answers = limit(household, (0,), rng, draws)
    table = np.empty((len(peers) + 1, len(ASKS), len(OUTCOMES), 2))
    for a, ask in enumerate(ASKS):
        stage, weight = unseen.known(ask)
        found = []
        for beliefs in peers:
            told = habits_from([], beliefs).forecast(
                produce=batch.produce, cut=batch.cut, pack=batch.pack, jar=batch.jar_text,
                headspace_in=batch.headspace_in, cure_hours=batch.cure_hours, draws=draws,
                seed=number, **{f"{stage}_g": weight},
            )  # fmt: skip
            found.append((told.jars.draws, told.brine_ml.draws))
        for p, answer in enumerate([*found, answers[0, ask]]):
            assert answer is not None
            for o, truth in enumerate(truths):
                low, high = np.quantile(answer[o], [0.1, 0.9])
                table[p, a, o] = crps(answer[o], truth) / truth, low <= truth <= high
    return table


def way(before: Array, after: Array, best: Array) -> Figure:
    """(mean before - mean after) / (mean before - mean best), with the error of a ratio of means
    (Cochran 1977, Sampling Techniques, 3rd ed., chapter 6).
    """
    gained, there = before - after, before - best
    share = gained.mean() / there.mean()
    spread = (gained - share * there).std(ddof=1)
    return Figure(float(share), float(spread / there.mean() / np.sqrt(len(before))))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--newcomers", type=int, default=300)
    parser.add_argument("--seed", choices=("tuning", "reporting"), default="tuning")
    parser.add_argument("--draws", type=int, default=2048)
    asked = parser.parse_args()
    seed = TUNING_SEED if asked.seed == "tuning" else REPORTING_SEED
    pools = {"20 households, 34 batches each": (20, 34), "200 households, 5 batches each": (200, 5),
             "200 households, 34 batches each": (200, 34)}  # fmt: skip
    peers = [starting_beliefs(), *(pooled_beliefs(*sizes) for sizes in pools.values())]
    names = ["published yields", *pools, "limit"]
    table = np.stack(
        [score_newcomer(number, seed, asked.draws, peers) for number in range(asked.newcomers)]
    )
    print(f"{asked.newcomers} newcomers without a batch, seed {seed}, {asked.draws} draws.")
    for a, ask in enumerate(ASKS):
        for o, outcome in enumerate(OUTCOMES):
            scores = table[:, :, a, o, :]
            print(f"\n**{outcome}, from the {ask.replace('_', ' ')} weight**\n")
            print("| beliefs | CRPS over the true total | of the way to the limit, in % "
                  "| 80 % range holds, in % |")  # fmt: skip
            print("| --- | --- | --- | --- |")
            for p, name in enumerate(names):
                error, held = mean(scores[:, p, 0]), mean(scores[:, p, 1])
                gone = way(scores[:, 0, 0], scores[:, p, 0], scores[:, -1, 0])
                print(f"| {name} | {error.value:.4f} ± {2 * error.error:.4f} "
                      f"| {100 * gone.value:.0f} ± {200 * gone.error:.0f} "
                      f"| {100 * held.value:.0f} ± {200 * held.error:.0f} |")  # fmt: skip


if __name__ == "__main__":
    main()
