"""Taking in a CSV file, beside pandas.read_csv and executemany of its rows.

    python tests/benchmarks/growth/importing.py

Tables of 10^3 to 10^5 rows, one core, processor seconds in turns. The floor reads the file without
checking anything and writes it to one SQLite table without an index; jarcast reads, checks every
cell and every row, finds contradictions, and keeps batch and reading in the ledger's own tables,
with three indexes and a foreign key. 'again' is the same file a second time, all of it skipped.
MB is the most that Python holds at once, by tracemalloc; SQLite's own 2 MB are not in it.
"""

import argparse
import csv
import datetime as dt
import gc
import random
import sqlite3
import statistics
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from jarcast.batchtable import read_csv
from jarcast.batchtable.importer import import_csv
from jarcast.cli.app import LIVING
from jarcast.domain.fields import COLUMNS
from jarcast.ledger import Ledger

SIZES = (1_000, 10_000, 100_000)
CROPS = [
    ("carrot", "sticks", "raw"), ("cucumber", "slices", "raw"), ("beet", "slices", "hot"),
    ("cauliflower", "florets", "raw"), ("green bean", "whole", "raw"),
]  # fmt: skip
QUARTER_CUP_ML = 59.147
MOST_NAMED = 2000  # names kept, as the command keeps them without --json


def write_table(path: Path, rows: int) -> None:
    """An invented table of so many batches, with weights to 10 g and jars to the half."""
    rng = random.Random(rows)  # noqa: S311 (invented data)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS, restval="")
        writer.writeheader()
        for number in range(rows):
            produce, cut, pack = rng.choice(CROPS)
            bought = 10 * rng.randint(200, 900)
            trimmed = 5 * round(bought * rng.uniform(0.7, 0.95) / 5)
            jars = max(round(trimmed / 140) / 2, 0.5)
            writer.writerow({
                "batch": f"b{number}", "date": dt.date(2000, 1, 1) + dt.timedelta(number // 20),
                "produce": produce, "cut": cut, "pack": pack, "jar": "pint", "headspace_in": 0.5,
                "as_bought_g": bought, "trimmed_g": trimmed, "cure_hours": 0, "jars": jars,
                "cooked_g": 5 * round(trimmed * 0.18) if pack == "hot" else "",
                "brine_made_ml": f"{round(jars * 4) * QUARTER_CUP_ML:.3f}",
                "brine_left_ml": f"{rng.randint(0, 4) * QUARTER_CUP_ML:.3f}",
            })  # fmt: skip


def floor(table: Path, target: Path) -> None:
    """Read without a check, write without an index."""
    frame = pd.read_csv(table)
    rows = frame.astype(object).where(frame.notna(), None).to_numpy().tolist()
    connection = sqlite3.connect(target)
    connection.execute(f"CREATE TABLE t ({', '.join(frame.columns)})")
    with connection:
        marks = ", ".join("?" * len(frame.columns))
        connection.executemany(f"INSERT INTO t VALUES ({marks})", rows)  # noqa: S608 (own names)
    connection.close()


def reading(table: Path, _: Path) -> None:
    """Read and check alone."""
    read_csv(table)


def importing(table: Path, target: Path) -> None:
    """What 'jarcast import' does with the file."""
    with Ledger.open(target) as ledger:
        import_csv(table, ledger, most_named=MOST_NAMED)


def seconds(do: Callable[[Path, Path], None], table: Path, target: Path) -> float:
    """Processor seconds of one run."""
    gc.collect()  # what the way before left behind is not this one's work
    start = time.process_time()
    do(table, target)
    return time.process_time() - start


def peak_mb(table: Path, folder: Path) -> float:
    """The most that Python holds while the file is taken in, in MB."""
    with tempfile.TemporaryDirectory(dir=folder) as fresh:
        tracemalloc.start()
        importing(table, Path(fresh) / "out.sqlite3")
        most = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
    return most


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--turns", type=int, default=5)
    turns = parser.parse_args().turns
    gc.set_threshold(LIVING)  # as the command sets it, here for all of them
    ways = {"floor": floor, "reading": reading, "importing": importing}
    print("| rows | read_csv and executemany, s | read_csv to checked batches, s "
          "| the whole import, s | over the floor | µs a row | again, s | MB |")  # fmt: skip
    print("|" + " --- |" * 8)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for rows in SIZES:
            table = folder / f"{rows}.csv"
            write_table(table, rows)
            taken: dict[str, list[float]] = {way: [] for way in (*ways, "again")}
            for _ in range(turns):
                with tempfile.TemporaryDirectory(dir=folder) as fresh:
                    for way, do in ways.items():
                        taken[way].append(seconds(do, table, Path(fresh) / f"{way}.sqlite3"))
                    again = seconds(importing, table, Path(fresh) / "importing.sqlite3")
                    taken["again"].append(again)
            middle = {way: statistics.median(times) for way, times in taken.items()}
            print(f"| {rows:,} | {middle['floor']:.3f} | {middle['reading']:.3f} "
                  f"| {middle['importing']:.3f} | {middle['importing'] / middle['floor']:.2f} "
                  f"| {1e6 * middle['importing'] / rows:.0f} | {middle['again']:.3f} "
                  f"| {peak_mb(table, folder):.1f} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
