"""Time and memory of learning one ledger as it grows.

    python tests/benchmarks/growth/one_ledger.py

Processor seconds, least of the turns, one core; memory is the most that was given at once.
"""

import argparse
import os
import sys
import tempfile
import time
import tracemalloc
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from growth.importing import write_table  # noqa: E402
from jarcast.batchtable import read_csv  # noqa: E402
from jarcast.learning.learned import learn_batches  # noqa: E402

SIZES = (10, 100, 1_000, 10_000)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--turns", type=int, default=3)
    turns = parser.parse_args().turns
    with tempfile.TemporaryDirectory() as name:
        table = Path(name) / "batches.csv"
        write_table(table, max(SIZES))
        batches = [entry.batch for entry in read_csv(table).entries]
    print("| batches | learning, s | µs a batch | kB a batch |\n| --- | --- | --- | --- |")
    for size in SIZES:
        taken = []
        for _ in range(turns):
            start = time.process_time()
            learn_batches(batches[:size])
            taken.append(time.process_time() - start)
        tracemalloc.start()
        learn_batches(batches[:size])
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        print(f"| {size:,} | {min(taken):.3f} | {1e6 * min(taken) / size:.0f} "
              f"| {most / size / 1e3:.1f} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
