"""How long a command takes from a cold start, beside the least a Typer app can take.

    python tests/benchmarks/cold_start.py

Whole processes that take turns, medians. The floor is an app of two commands whose handler imports
numpy and sqlite3, opens a database and prints; it stands in this file. ``jarcast forecast`` runs on
a ledger of 60 batches, learning included. Where other work shares the machine, processor time is
the better measure. With ``--imports N`` the N modules that take longest by themselves are listed
(``python -X importtime``).
"""

import argparse
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

APP = '''
import typer

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)

@app.command()
def ask(path: str) -> None:
    """Ask."""
    import sqlite3

    import numpy as np
    with sqlite3.connect(path) as connection:
        print(connection.execute("SELECT 1").fetchone()[0] + float(np.ones(3).sum()))

@app.command()
def other(path: str) -> None:
    """Do something else."""
    print(path)

app()
'''
BATCHES = 60
FORECAST = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")
# An installation is compiled; a checkout where Python may not write its bytecode would be compiled
# anew at every start. Each run of this script compiles all it uses in a folder of its own.
_OF_PYTHON = ("PYTHONDONTWRITEBYTECODE", "PYTHONPYCACHEPREFIX")
# What the entry point that pip installs does.
JARCAST = (sys.executable, "-c", "import sys; from jarcast.cli import main; sys.exit(main())")


def make_ledger(path: Path) -> None:
    """The demo household's batches, and as many again under other names, up to 60."""
    from msgspec.structs import replace

    from jarcast.batchtable import read_csv
    from jarcast.files.shipped import shipped
    from jarcast.ledger import Ledger
    from jarcast.ledger.entry import Entry

    batches = [entry.batch for entry in read_csv(shipped("data_demo", "batches.csv")).entries]
    batches += [replace(batch, batch=f"{batch.batch} again") for batch in batches]
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([Entry(batch) for batch in batches[:BATCHES]], "import")


def seconds(command: tuple[str, ...], surroundings: dict[str, str]) -> tuple[float, float]:
    """How long one process takes, start to end, and what of it the processor worked."""
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True, env=surroundings)
    spent, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def imports(surroundings: dict[str, str], most: int) -> list[str]:
    """The modules of a forecast that take longest by themselves, in ms, as table rows."""
    ran = subprocess.run(
        (sys.executable, "-X", "importtime", *JARCAST[1:], *FORECAST),
        check=True, capture_output=True, text=True, env=surroundings,
    )  # fmt: skip
    found = re.findall(r"import time:\s+(\d+) \|\s+\d+ \|\s*(\S+)", ran.stderr)
    slowest = sorted(((int(own), name) for own, name in found), reverse=True)[:most]
    return [f"| {name} | {own / 1000:.1f} |" for own, name in slowest]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--turns", type=int, default=25)
    parser.add_argument("--imports", type=int, default=0, metavar="N", help="list the N slowest")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        app, ledger = folder / "floor.py", folder / "ledger.sqlite3"
        app.write_text(APP, encoding="utf-8")
        make_ledger(ledger)
        surroundings = {
            **{name: value for name, value in os.environ.items() if name not in _OF_PYTHON},
            "JARCAST_LEDGER": str(ledger),
            "OPENBLAS_NUM_THREADS": "1",
            "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
        }
        floor = (sys.executable, str(app))
        commands = {
            "floor": (*floor, "ask", str(folder / "floor.sqlite3")),
            "floor's help": (*floor, "--help"),
            "jarcast forecast": (*JARCAST, *FORECAST),
            "jarcast --help": (*JARCAST, "--help"),
        }
        taken: dict[str, list[tuple[float, float]]] = {what: [] for what in commands}
        for turn in range(asked.turns + 1):
            for what, command in commands.items():
                both = seconds(command, surroundings)
                if turn:  # the first fills the disk's cache and compiles
                    taken[what].append(both)
        middle = {
            what: [sorted(column)[len(column) // 2] for column in zip(*times, strict=True)]
            for what, times in taken.items()
        }
        print("| process | ms | over the floor | processor ms | over the floor |")
        print("| --- | --- | --- | --- | --- |")
        for what, (spent, worked) in middle.items():
            least = middle["floor's help" if "help" in what else "floor"]
            print(f"| {what} | {1e3 * spent:.0f} | {spent / least[0]:.2f} "
                  f"| {1e3 * worked:.0f} | {worked / least[1]:.2f} |")  # fmt: skip
        if asked.imports:
            print("\n| module | ms by itself |\n| --- | --- |")
            print("\n".join(imports(surroundings, asked.imports)))


if __name__ == "__main__":
    sys.exit(main())
