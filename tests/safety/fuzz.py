"""Feed jarcast what nobody meant to type, and look whether it keeps its word.

    python tests/safety/fuzz.py --inputs 200000 --seed 1

Measures, CSV files, recipe cards, harvest plans and command lines. Of each input: no traceback
(an answer, or one of jarcast's own errors), no more than 2 s of work, no more memory than MEMORY,
no NaN or infinity out, and after a command that failed a ledger as it was. It works in a folder of
its own, and ends with 1 when anything broke.
"""

import argparse
import importlib
import math
import os
import random
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from command_lines import CommandLines
from mutating import HEADER, MEASURES, PLANS, ROWS, mutated

SECONDS = 2.0  # of work on one input
HANGS = 30.0  # on the clock, however busy the machine is
MEMORY = 3_000_000_000  # bytes of address space, numpy's included


class Hang(BaseException):
    """One input took too long; no 'except Exception' catches it."""


def _alarm(number: int, frame: object) -> None:
    raise Hang


class Fuzzer:
    """One kind of input after another, drawn by one seed; ``broken`` says what went wrong."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.draw = random.Random(seed)  # noqa: S311 (no secrets)
        self.folder = folder
        self.broken: dict[str, str] = {}
        self.ends: Counter[str] = Counter()
        self.slowest: tuple[float, str] = (0.0, "")
        import jarcast.files.shipped

        cards = sorted(jarcast.files.shipped.shipped("models", "recipes").glob("*.toml"))
        self.cards = [card.read_bytes() for card in cards]
        self.files()
        self.lines = CommandLines(self.draw, folder)

    def files(self) -> None:
        """Files that a command line may name."""
        (self.folder / "good.csv").write_bytes(HEADER + b"".join(ROWS))
        (self.folder / "card.toml").write_bytes(self.cards[0])
        (self.folder / "plan.csv").write_bytes(PLANS[0])
        (self.folder / "plan.toml").write_bytes(PLANS[1])

    # Each kind: makes an input, and gives what to do with it

    def measure(self) -> tuple[bytes, Callable[[], str]]:
        from jarcast import measures

        raw = mutated(self.draw, MEASURES, 1000)
        text = raw.decode("utf-8", "replace")
        names = ("parse_weight", "parse_volume", "parse_hours", "parse_inches", "parse_salt")
        read = getattr(measures, self.draw.choice(names))

        def run() -> str:
            value = read(text)
            assert math.isfinite(value), value
            assert value >= 0, value
            return "fine"

        return raw, run

    def csv(self) -> tuple[bytes, Callable[[], str]]:
        from jarcast.batchtable import read_csv, write_csv
        from jarcast.ledger.entry import differences

        rows = b"".join(self.draw.choices(ROWS, k=self.draw.randrange(4)))
        seeds = [HEADER + rows, (HEADER + rows).replace(b",", b";"), *ROWS]
        raw = mutated(self.draw, seeds[:1] if self.draw.random() < 0.7 else seeds)
        path = self.folder / "fuzz.csv"
        path.write_bytes(raw)

        def run() -> str:
            table = read_csv(path)
            again = self.folder / "again.csv"
            write_csv([entry.batch for entry in table.entries], again)
            back = read_csv(again).entries
            assert len(back) == len(table.entries)
            for old, new in zip(table.entries, back, strict=True):
                assert not differences(old.batch, new.batch), (old, new)
            return "fine"

        return raw, run

    def card(self) -> tuple[bytes, Callable[[], str]]:
        from jarcast.recipes.parsing import load_card

        raw = mutated(self.draw, self.cards)
        path = self.folder / "fuzz.toml"
        path.write_bytes(raw)

        def run() -> str:
            load_card(path)
            return "fine"

        return raw, run

    def plan(self) -> tuple[bytes, Callable[[], str]]:
        from jarcast.errors import RecipeError
        from jarcast.harvest.plan.parsing import read_plan

        def no_card(name: str) -> Any:
            raise RecipeError(f"no card '{name[:20]}'")

        raw = mutated(self.draw, PLANS)
        path = self.folder / self.draw.choice(("fuzz-plan.csv", "fuzz-plan.toml"))
        path.write_bytes(raw)
        typed = mutated(self.draw, [b"carrot, sticks, pint: 20-35 lb"], 300)
        lines = [typed.decode("utf-8", "replace")] if self.draw.random() < 0.3 else []

        def run() -> str:
            read_plan(path, lines, cards=no_card)
            return "fine"

        return raw, run

    def command(self) -> tuple[bytes, Callable[[], str]]:
        if self.draw.random() < 0.01 or not self.lines.template:
            self.lines.new_ledger()
        words = self.lines.line()
        return " ".join(words).encode("utf-8", "replace"), lambda: self.lines.check(words)

    def one(self, kind: str) -> None:
        """Make one input of a kind and see what becomes of it."""
        from jarcast.errors import JarcastError

        raw, run = getattr(self, kind)()
        began = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        signal.setitimer(signal.ITIMER_REAL, HANGS)
        try:
            end = run()
        except JarcastError as error:
            end = "refused"
            if not str(error).strip():
                self.broken.setdefault(f"{kind}: an error that says nothing", repr(raw[:400]))
        except (Exception, Hang) as error:
            end = "broken"
            frames = traceback.extract_tb(error.__traceback__)
            own = [f"{Path(f.filename).name}:{f.lineno}" for f in frames]
            where = f"{kind}: {type(error).__name__}: {str(error)[:200]} at {' '.join(own[-4:])}"
            self.broken.setdefault(where, repr(raw[:1500]))
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            signal.setitimer(signal.ITIMER_REAL, 0)
        self.slowest = max(self.slowest, (time.process_time() - began, f"{kind} {raw[:80]!r}"))
        self.ends[f"{kind} {end}"] += 1


# How often each kind comes, of a hundred.
SHARES = {"measure": 50, "csv": 20, "card": 10, "plan": 10, "command": 10}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--inputs", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="*", default=list(SHARES), choices=list(SHARES))
    asked = parser.parse_args()
    shares = {kind: SHARES[kind] for kind in asked.kinds}
    return feed(Fuzzer, shares, asked.seed, asked.inputs)


def feed(
    make: Callable[[Path, int], Fuzzer],
    shares: dict[str, int],
    seed: int,
    inputs: int,
    seconds: float = math.inf,
) -> int:
    """Feed so many inputs of these kinds, for so long at most; say what came of it, 1 if broken."""
    began = time.monotonic()
    signal.signal(signal.SIGPROF, _alarm)
    signal.signal(signal.SIGALRM, _alarm)
    with tempfile.TemporaryDirectory() as name:
        _surroundings(Path(name))
        fuzzer = make(Path(name), seed)
        for _ in range(inputs):
            fuzzer.one(fuzzer.draw.choices(list(shares), list(shares.values()))[0])
            if len(fuzzer.broken) >= 40 or time.monotonic() - began > seconds:
                break
        os.chdir("/")
    for where, raw in fuzzer.broken.items():
        print(f"{where}\n    {raw}")
    ends = ", ".join(f"{end} {count}" for end, count in sorted(fuzzer.ends.items()))
    slow, what = fuzzer.slowest
    took = time.monotonic() - began
    print(f"{fuzzer.ends.total()} inputs (seed {seed}) in {took:.0f} s: {ends}")
    print(f"slowest {slow:.2f} s of work ({what}); {len(fuzzer.broken)} kinds of failure")
    return 1 if fuzzer.broken else 0


def _surroundings(folder: Path) -> None:
    """A home, a ledger and a data folder of the run's own; nothing to read from the keyboard."""
    import resource

    for name in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"):
        os.environ[name] = str(folder)
    os.environ |= {"JARCAST_LEDGER": str(folder / "ledger.sqlite3"), "JARCAST_DEBUG": "1"}
    os.environ |= {"NO_COLOR": "1", "COLUMNS": "80", "OPENBLAS_NUM_THREADS": "1"}
    os.chdir(folder)
    sys.stdin = open(os.devnull)  # noqa: PTH123, SIM115 (stays open to the end)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    # Loaded by the first command that draws a chart, fonts and all: that is not an input's work.
    for name in ("jinja2", "matplotlib.backends.backend_svg", "matplotlib.figure", "pandas"):
        importlib.import_module(name)


if __name__ == "__main__":
    sys.exit(main())
