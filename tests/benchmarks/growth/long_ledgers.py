"""Looking back on a long ledger, the report of one, and a long plan; beside learning it once.

    python -m tests.benchmarks growth.long_ledgers

Processor seconds on one core, one run each, beside learning the same ledger once in the same run:
the ratio holds where the seconds do not. 'Busy days' have twenty batches a day, as a community
kitchen's; else one a day, where each batch has a history of its own. 'Latest' is the latest 100,
what the command takes unless told to take all; 'all' is left out where it takes minutes. The report
is what is read and learned for it, without its charts; the plan is 5,000 lines, read and forecast.
"""

import argparse
import datetime as dt
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from msgspec.structs import replace  # noqa: E402

from growth.importing import write_table  # noqa: E402
from jarcast import plan_harvest  # noqa: E402
from jarcast.batchtable import read_csv  # noqa: E402
from jarcast.domain.batch import Batch  # noqa: E402
from jarcast.forecast.habits import habits_from  # noqa: E402
from jarcast.trackrecord.hindsight import ENOUGH, look_back  # noqa: E402
from jarcast.trackrecord.replay import as_one_import  # noqa: E402
from jarcast.trackrecord.summary import summarise  # noqa: E402

LINES = 5_000


def spent(work: Callable[[], object]) -> float:
    """Processor seconds of some work."""
    start = time.process_time()
    work()
    return time.process_time() - start


def batches_of(count: int, *, busy: bool) -> list[Batch]:
    """An invented ledger, twenty batches a day or one."""
    with tempfile.TemporaryDirectory() as name:
        table = Path(name) / "batches.csv"
        write_table(table, count)
        batches = [entry.batch for entry in read_csv(table).entries]
    if busy:
        return batches
    start = dt.date(1995, 1, 1)
    return [replace(one, date=start + dt.timedelta(i)) for i, one in enumerate(batches)]


def learn(batches: list[Batch]) -> object:
    """Learn them once, as every command does, and what the report says of them."""
    habits = habits_from(batches)
    return summarise(habits, batches)


def plan(batches: list[Batch]) -> object:
    """Forecast a long plan of what these batches were, together."""
    habits = habits_from(batches[:100])
    lines = [
        {"produce": one.produce, "cut": one.cut, "pack": one.pack, "jar": "pint",
         "trimmed_g": one.trimmed_g, "cure_hours": 0.0}
        for one in batches[:LINES]
    ]  # fmt: skip
    return plan_harvest(habits, lines)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--sizes", type=int, nargs="+", default=[100, 1_000])
    parser.add_argument("--reports", type=int, nargs="+", default=[1_000, 10_000, 50_000])
    asked = parser.parse_args()
    print("| batches | days | which | s | learning once, s | times that |")
    print("| --- | --- | --- | --- | --- | --- |")
    for size in asked.sizes:
        for busy in (True, False):
            batches = batches_of(size, busy=busy)
            once = spent(lambda rows=batches: habits_from(rows))
            for which, latest in (("latest", ENOUGH), ("all", None)):
                if latest is None and not busy and size > ENOUGH:
                    continue
                took = spent(
                    lambda rows=batches, n=latest: look_back(as_one_import(rows), latest=n, jobs=1)
                )
                print(f"| {size:,} | {'busy' if busy else 'one each'} | {which} | {took:.1f} "
                      f"| {once:.3f} | {took / once:.0f} |", flush=True)  # fmt: skip
    print("\n| what | batches | s |\n| --- | --- | --- |")
    for size in asked.reports:
        batches = batches_of(size, busy=True)
        print(f"| a report's habits | {size:,} | {spent(lambda rows=batches: learn(rows)):.1f} |",
              flush=True)  # fmt: skip
    batches = batches_of(LINES, busy=True)
    print(f"| a plan of {LINES:,} lines | 100 | {spent(lambda: plan(batches)):.1f} |", flush=True)


if __name__ == "__main__":
    sys.exit(main())
