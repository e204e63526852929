"""What the pool command says it gains, beside what new households then do gain.

    python -m tests.benchmarks accuracy.pool_gain

Households of two worlds: crops as published ('plain'), and crops a quarter off the books the same
way for all ('off-book'). What is told is by leaving households of the pool out; what comes is the
same figure on households that had no part in it, started from the whole pool. Each is the change of
the CRPS of their first three batches, 'better' above 0, with its band of 19 in 20.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from accuracy.households import REPORTING_SEED, make_household  # noqa: E402
from accuracy.pooled import PLAIN, POOLED_SEED, true_crops  # noqa: E402
from jarcast.batchtable import write_csv  # noqa: E402
from jarcast.pooling.files import pooled_beliefs, reduce_files  # noqa: E402
from jarcast.trackrecord.pool_gain import Gain, _changed, _gains, gains  # noqa: E402

NEWCOMERS = 100


def written(folder: Path, count: int, seed: int, *, off: bool) -> list[Path]:
    """Exports of so many households of a world."""
    paths = []
    for number in range(count):
        crops = (true_crops(),) if off else ()
        path = folder / f"{seed}-{number}.csv"
        write_csv(make_household(PLAIN, number, seed, *crops).history, path)
        paths.append(path)
    return paths


def shown(found: tuple[Gain, ...], outcome: str) -> str:
    """One gain in percent with its band."""
    for one in found:
        if one.outcome == outcome:
            ratio, low, high = (100 * (1 - x) for x in (one.ratio, one.high, one.low))
            return f"{ratio:+.0f} ({low:+.0f} to {high:+.0f})"
    return "-"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--pools", type=int, nargs="+", default=[5, 20, 60])
    asked = parser.parse_args()
    print("| world | pool | told: jars, % | came | told: brine, % | came | s to tell |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for off in (False, True):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            paths = written(folder, max(asked.pools), POOLED_SEED, off=off)
            new = written(folder, NEWCOMERS, REPORTING_SEED, off=off)
            households = reduce_files(paths)
            for size in asked.pools:
                start = time.process_time()
                told = gains(paths[:size], households[:size])
                spent = time.process_time() - start
                beliefs = pooled_beliefs(households[:size])
                came = _gains([_changed(path, beliefs) for path in new])
                cells = [f"{shown(told, o)} | {shown(came, o)}" for o in ("jars", "brine_ml")]
                world = "off-book" if off else "plain"
                print(f"| {world} | {size} | {' | '.join(cells)} | {spent:.1f} |", flush=True)


if __name__ == "__main__":
    sys.exit(main())
