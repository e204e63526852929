"""A ledger of 100,000 batches: what commands take of it, beside reading it once.

    python -m tests.benchmarks growth.large_ledger

Each command is a process of its own, of which processor seconds and the most memory it ever held
are told, and all that it printed counted, unread. 'Reading it' opens the ledger, which looks it
through, and makes every batch of it. The last row learns from a DataFrame of twice as many rows,
whose making is not in the seconds but is in the memory; the frame alone stands before it.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from growth.importing import write_table

_READ = """
from jarcast.ledger import Ledger
from pathlib import Path
with Ledger.open(Path({ledger!r})) as ledger:
    assert len(ledger.entries())
"""
_FRAME = """
import time
import pandas as pd
frame = pd.read_csv({table!r})
"""
_LEARN = """
from jarcast import learn
import jarcast.learning
import jarcast.batchtable
start = time.process_time()
habits = learn(frame)
print(time.process_time() - start)
"""
_CARROTS = ["--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb"]
_JARCAST = [sys.executable, "-m", "jarcast"]


def spent(command: list[str], folder: Path) -> tuple[float, float, int, str]:
    """Processor seconds, the most memory in MB, bytes printed, and the last line of it."""
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=folder,
        env={**os.environ, "JARCAST_LEDGER": str(folder / "ledger.sqlite3"), "HOME": str(folder)},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        printed, last = 0, b""
        while piece := process.stdout.read(65_536):
            printed += len(piece)
            last = piece
        said = process.stderr.read().decode()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{command}: {said}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, printed, last.decode().strip()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--batches", type=int, default=100_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        table, ledger = folder / "batches.csv", str(folder / "ledger.sqlite3")
        write_table(table, asked.batches)
        spent([*_JARCAST, "import", str(table)], folder)
        write_table(table, 2 * asked.batches)
        read = _READ.format(ledger=ledger)
        frame = _FRAME.format(table=str(table))
        rows = {
            "reading it": [sys.executable, "-c", read],
            "forecast": [*_JARCAST, "forecast", *_CARROTS],
            "record": [*_JARCAST, "record", *_CARROTS, "--jars", "7 pint"],
            "batches": [*_JARCAST, "batches"],
            "batches --json": [*_JARCAST, "batches", "--json"],
            "export": [*_JARCAST, "export", "out.csv"],
            "report": [*_JARCAST, "report", "report.html"],
            f"a frame of {2 * asked.batches:,} rows": [sys.executable, "-c", frame],
            "learn from it": [sys.executable, "-c", frame + _LEARN],
        }
        print("| what | processor s | times reading it | MB | printed, MB |")
        print("| --- | --- | --- | --- | --- |")
        once = 0.0
        for what, command in rows.items():
            seconds, most, printed, last = spent(command, folder)
            if what == "learn from it":
                seconds = float(last)
            once = once or seconds
            print(f"| {what} | {seconds:.1f} | {seconds / once:.1f} | {most:.0f} "
                  f"| {printed / 1e6:.1f} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
