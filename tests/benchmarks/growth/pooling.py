"""Pooling many exports: one process, all cores, and a Dask cluster of two workers on this machine.

    python tests/benchmarks/growth/pooling.py --households 400

Wall seconds from files to the beliefs file; each way's file is compared with the first, byte for
byte.
"""

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from accuracy.households import TUNING_SEED, make_household  # noqa: E402
from accuracy.worlds import WORLDS  # noqa: E402

from jarcast.batchtable import write_csv  # noqa: E402
from jarcast.pooling.files import pool_files  # noqa: E402


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--households", type=int, default=400)
    asked = parser.parse_args()
    from distributed import LocalCluster

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        paths = [folder / f"{number}.csv" for number in range(asked.households)]
        for number, path in enumerate(paths):
            write_csv(make_household(WORLDS["plain"], number, TUNING_SEED).history, path)
        with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
            address = cluster.scheduler_address
            ways: dict[str, Callable[[Path], object]] = {
                "one process": lambda to: pool_files(paths, to, jobs=1),
                "two processes": lambda to: pool_files(paths, to, jobs=2),
                "Dask, two workers": lambda to: pool_files(paths, to, scheduler=address),
            }
            print("| way | s | ms a household | same file |\n| --- | --- | --- | --- |")
            first = b""
            for way, do in ways.items():
                do(folder / "warm.json")  # workers started, packages loaded
                start = time.perf_counter()
                do(folder / "out.json")
                spent = time.perf_counter() - start
                found = (folder / "out.json").read_bytes()
                first = first or found
                print(f"| {way} | {spent:.1f} | {1e3 * spent / asked.households:.1f} "
                      f"| {'yes' if found == first else 'NO'} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
