"""Score forecasters over invented households; prints markdown tables.

    python tests/benchmarks/accuracy/run.py --households 200
    python tests/benchmarks/accuracy/run.py --households 2500 --worlds all --peers all \\
        --seed reporting --figure accuracy.png

Households are tuned on with one seed and reported on with another.
"""

import argparse
import os
import sys
from pathlib import Path

# One thread a process: the households are what is spread over the cores. This must stand before
# numpy is loaded, here and in the processes started from here.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from accuracy.figure import draw  # noqa: E402
from accuracy.households import REPORTING_SEED, SIZES, TUNING_SEED  # noqa: E402
from accuracy.peers import PEERS, SETS  # noqa: E402
from accuracy.replay import Trial, run_trial  # noqa: E402
from accuracy.tables import TITLES, world_tables  # noqa: E402
from accuracy.worlds import WORLDS  # noqa: E402

_SEEDS = {"tuning": TUNING_SEED, "reporting": REPORTING_SEED}
_ALWAYS = ("limit", "oracle")  # the others are measured against them


def _seed(text: str) -> int:
    return _SEEDS[text] if text in _SEEDS else int(text)


def _sizes(text: str) -> tuple[int, ...]:
    wanted = tuple(sorted({int(part) for part in text.split(",")}))
    if unknown := set(wanted) - set(SIZES):
        raise argparse.ArgumentTypeError(f"{sorted(unknown)} not among {SIZES}")
    return wanted


def _worlds(text: str) -> tuple[str, ...]:
    wanted = tuple(WORLDS) if text == "all" else tuple(text.split(","))
    if unknown := set(wanted) - set(WORLDS):
        raise argparse.ArgumentTypeError(f"{sorted(unknown)} not among {', '.join(WORLDS)}")
    return wanted


def _peers(text: str) -> tuple[str, ...]:
    wanted = {*SETS.get(text, text.split(",")), *_ALWAYS}
    if unknown := wanted - set(PEERS):
        known = ", ".join([*SETS, *PEERS])
        raise argparse.ArgumentTypeError(f"{sorted(unknown)} not among {known}")
    return tuple(name for name in PEERS if name in wanted)


def _scores(text: str) -> tuple[str, ...]:
    if unknown := set(text.split(",")) - set(TITLES):
        raise argparse.ArgumentTypeError(f"{sorted(unknown)} not among {', '.join(TITLES)}")
    return tuple(title for title in TITLES if title in text.split(","))


def _options() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--households", type=int, default=200, help="in each world")
    parser.add_argument("--worlds", type=_worlds, default=("plain",),
                        help=f"all, or some of {','.join(WORLDS)}")  # fmt: skip
    parser.add_argument("--peers", type=_peers, default=_peers("tuning"),
                        help=f"{', '.join(SETS)}, or names with commas between")  # fmt: skip
    parser.add_argument("--sizes", type=_sizes, default=SIZES, help="own batches, as 0,3,8")
    parser.add_argument("--seed", type=_seed, default=TUNING_SEED,
                        help="tuning, reporting or a number")  # fmt: skip
    parser.add_argument("--draws", type=int, default=4096, help="of each forecast")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--slow-households", type=int, default=200,
                        help="households the slow peers see")  # fmt: skip
    parser.add_argument("--scores", type=_scores, default=tuple(TITLES),
                        help=f"tables to print, some of {','.join(TITLES)}")  # fmt: skip
    parser.add_argument("--figure", type=Path, help="picture to write, as accuracy.png")
    return parser


def main() -> None:
    """Run the trial asked for and print its tables."""
    chosen = _options().parse_args()
    print(f"{chosen.households} households a world, seed {chosen.seed}, {chosen.draws} draws a "
          "forecast. ± is two standard errors over households.")  # fmt: skip
    runs = {}
    for world in chosen.worlds:
        trial = Trial(
            world, chosen.households, chosen.seed, chosen.sizes, chosen.peers, chosen.draws,
            chosen.slow_households,
        )  # fmt: skip
        scores = run_trial(trial, chosen.jobs)
        runs[world] = trial, scores
        lines = world_tables(trial, scores, WORLDS[world].about, chosen.scores)
        print("", *lines, sep="\n", flush=True)
    if chosen.figure:
        draw(runs, chosen.figure)


if __name__ == "__main__":
    main()
