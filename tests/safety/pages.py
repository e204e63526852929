"""Damage every part of a ledger's file, and compare what is then read with what was in it.

    python tests/safety/pages.py --trials 20000 --seed 1

The ledger has sixty batches, and something in every table. The damage goes evenly over the whole
file: bits flipped, bytes changed, stretches zeroed or filled with junk, whole pages swapped. Each
time it must be refused with a sentence, or give every row as it was. It ends with 1 at the first
failure.
"""

import argparse
import datetime as dt
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from jarcast.domain.batch import Batch
from jarcast.domain.jars import Jar
from jarcast.errors import LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import confirm, withdraw
from jarcast.ledger.kept_forecasts import keep_forecast, kept_forecasts
from jarcast.ledger.own_measures import add_jar, own_jars
from jarcast.ledger.steps import begin, steps
from jarcast.ledger.undoing import last_done, undo

BATCHES = 60
PAGE = 4096
TABLES = (
    "action", "batch", "reading", "setting", "forecast", "step", "confirmation", "withdrawal",
    "own_jar", "undone",
)  # fmt: skip


def batch(number: int) -> Batch:
    return Batch(
        batch=f"batch {number}", date=dt.date(2024, 8, 1 + number % 28), produce="beet",
        jar=("pint",), jars=(3.0 + number % 4,), trimmed_g=2000.0 + number,
        note="x" * (number % 50),
    )  # fmt: skip


def make(path: Path) -> None:
    """A ledger with rows in most of its tables; some taken back, some withdrawn."""
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([Entry(batch(number)) for number in range(BATCHES - 10)], "import")
        for number in range(BATCHES - 10, BATCHES):
            ledger.add([Entry(batch(number), {"trimmed_g": "5 lb"})], "record")
        add_jar(ledger, Jar("tall", 500.0, 60.0), {"water": "500 g"})
        withdraw(ledger, "batch 3")
        ledger.amend(Entry(batch(5), {"trimmed_g": "4 lb"}))
        keep_forecast(ledger, "next", {"trimmed_g": 2000.0}, {"jars": [3.0, 4.0]})
        begin(ledger, "open", {"produce": "okra"})
        confirm(ledger, "batch 7", ["trimmed_g"])
        ledger.remember("units", "metric")
        ledger.remember("person", "Ana")
        undo(ledger, last_done(ledger))


def everything(path: Path) -> tuple[object, ...]:
    """All that is read of a ledger, row by row. Raises LedgerError."""
    with Ledger.open(path) as ledger:
        rows = {table: ledger.rows(f"SELECT * FROM {table} ORDER BY id") for table in TABLES}  # noqa: S608
        return (
            rows, ledger.entries(), ledger.readings(), kept_forecasts(ledger), ledger.settings(),
            steps(ledger), own_jars(ledger),
        )  # fmt: skip


def damages(raw: bytes, trials: int, draw: random.Random) -> Iterator[tuple[str, bytes]]:
    """The file damaged in so many ways, from its first byte to its last."""
    for number in range(trials):
        at = number * len(raw) // trials
        kind = number % 6
        length = draw.choice((1, 2, 8, 64, 300, PAGE)) if kind in (2, 3) else 1
        length = min(length, len(raw) - at)
        if kind == 0:
            new = bytes([raw[at] ^ (1 << draw.randrange(8))])
        elif kind == 1:
            new = bytes([draw.randrange(256)])
        elif kind == 2:
            new = bytes(length)
        elif kind == 3:
            new = draw.randbytes(length)
        elif kind == 4:  # two bytes change places
            other = min(at + 1, len(raw) - 1)
            new, length = raw[other : other + 1] + raw[at : at + 1], other - at + 1
        else:  # a page as another one
            at -= at % PAGE
            from_page = draw.randrange(len(raw) // PAGE) * PAGE
            new, length = raw[from_page : from_page + PAGE], PAGE
        yield f"{kind} at {at}, {length} bytes", raw[:at] + new + raw[at + length :]


def run(trials: int, seed: int) -> tuple[str, int]:
    """Damage it so often; the counts, and 1 where what was read was neither equal nor refused."""
    draw = random.Random(seed)  # noqa: S311 (bytes, no secrets)
    began = time.monotonic()
    equal = refused = 0
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "ledger.sqlite3"
        make(path)
        raw, due = path.read_bytes(), everything(path)
        for what, content in damages(raw, trials, draw):
            path.write_bytes(content)
            try:
                found = everything(path)
            except LedgerError:
                refused += 1
            except Exception as error:
                return f"{what}: {type(error).__name__}: {error}", 1
            else:
                if found != due:
                    return f"{what}: read with other rows than were in it", 1
                equal += 1
            if path.read_bytes() != content:
                return f"{what}: written to", 1
    return (
        f"{trials} times damaged (seed {seed}, {len(raw) // PAGE} pages): {refused} refused, "
        f"{equal} read with every row as it was ({time.monotonic() - began:.0f} s)"
    ), 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    said, code = run(asked.trials, asked.seed)
    print(said)
    return code


if __name__ == "__main__":
    sys.exit(main())
