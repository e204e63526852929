"""Kill a writing jarcast at random moments, and look whether anything was lost or half-written.

    python tests/safety/crash.py --kills 300 --seed 1

A child says on a pipe what it is about to write, and again once that is committed; it is killed
with SIGKILL at a moment drawn evenly over what its work takes. Then the ledger must open, pass
SQLite's own check, hold everything acknowledged and nothing that was not tried, each import whole
or not at all, and still take an entry. It ends with 1 at the first failure.

A killed process leaves the system's own buffers standing: a power cut is not simulated.
"""

import argparse
import datetime as dt
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from jarcast.app.record import amend, make_entry, write_down
from jarcast.app.work import Work
from jarcast.batchtable import read_csv
from jarcast.domain.batch import Batch
from jarcast.ledger import Entry, Ledger, steps
from jarcast.ledger.backups import SET_ASIDE, copies, folder_of
from jarcast.ledger.restoring import restore
from jarcast.ledger.schema import SCHEMA

OLD = sorted((Path(__file__).resolve().parents[1] / "data" / "ledgers").glob("schema-*.sqlite3"))
OLD_NAMES = {"007", "c1", "2024-08-31 beet slices"}
TODAY = dt.date(2024, 9, 30)
ROWS = 30  # batches of one import
ROUNDS = 12  # things a child writes, if it is let

WEIGH, PACK = steps.StepKind.WEIGH, steps.StepKind.PACK

Say = Callable[[str, str], None]  # 'try' or 'done', and what


@dataclass(frozen=True)
class Scenario:
    """What a child does, and what must be true of the ledger after its end."""

    name: str
    work: Callable[[Path, str, Say], None]
    fresh: bool  # whether each kill starts anew from a ledger of an earlier schema


def batch(name: str, jars: float = 3.0) -> Batch:
    return Batch(
        batch=name, date=dt.date(2024, 9, 1), produce="beet", jar=("pint",), jars=(jars,),
        note="x" * 200,
    )  # fmt: skip


def do(say: Say, what: str, write: Callable[[], object]) -> None:
    say("try", what)
    write()
    say("done", what)


def importing(path: Path, run: str, say: Say) -> None:
    for number in range(ROUNDS):
        table = path.with_name("import.csv")
        lines = [f"{run}.{number}.{row},2024-09-01,radish,pint,3,two\n" for row in range(ROWS)]
        table.write_text("batch,date,produce,jar,jars,note\n" + "".join(lines))

        def write(table: Path = table) -> None:
            with Ledger.open(path, writing=True) as ledger:
                ledger.add(read_csv(table, today=TODAY).entries, "import")

        do(say, f"import {run}.{number}", write)


def write(path: Path, typed: dict[str, str]) -> None:
    with Work(path) as work:
        write_down(work, make_entry(typed, TODAY))


def change(path: Path, name: str, changes: dict[str, str]) -> None:
    with Work(path) as work:
        amend(work, name, changes, TODAY)


def recording(path: Path, run: str, say: Say) -> None:
    shutil.rmtree(folder_of(path), ignore_errors=True)  # so that today's copy is made once more
    for number in range(ROUNDS):
        name = f"{run}.{number}"
        typed = {"batch": name, "produce": "okra", "jar": "pint", "jars": "3 1/2"}
        do(say, f"batch {name}", lambda typed=typed: write(path, typed))  # type: ignore[misc]


def packing(path: Path, run: str, say: Say) -> None:
    for number in range(ROUNDS // 4):
        name = f"{run}.{number}"

        def step(act: Callable[[Ledger], object]) -> None:
            with Ledger.open(path, writing=True) as ledger:
                act(ledger)

        acts: tuple[tuple[str, Callable[[Ledger], object]], ...] = (
            ("begin", lambda book, n=name: steps.begin(book, n, {"produce": "beet"})),
            ("weigh", lambda b, n=name: steps.add_step(b, n, WEIGH, {"trimmed": "5 lb"})),
            ("pack", lambda b, n=name: steps.add_step(b, n, PACK, {}, {"jars": 2.0})),
            ("close", lambda book, n=name: steps.close(book, n, Entry(batch(n)), {})),
        )
        for what, act in acts:
            do(say, f"{what} {name}", lambda act=act: step(act))  # type: ignore[misc]


def amending(path: Path, run: str, say: Say) -> None:
    del run
    with Ledger.open(path) as ledger:
        found = ledger.find("c1")
    assert found is not None
    start = int(found.batch.note) if found.batch.note.isdigit() else 0
    for number in range(start + 1, start + 1 + ROUNDS):
        note = {"note": str(number)}
        do(say, f"amend {number}", lambda note=note: change(path, "c1", note))  # type: ignore[misc]


def migrating(path: Path, run: str, say: Say) -> None:
    del run

    def write() -> None:
        Ledger.open(path, writing=True).close()

    do(say, "migrate", write)


def restoring(path: Path, run: str, say: Say) -> None:
    for number in range(ROUNDS // 4):
        name = f"{run}.{number}"
        typed = {"batch": name, "produce": "okra", "jar": "pint", "jars": "3"}
        do(say, f"batch {name}", lambda typed=typed: write(path, typed))  # type: ignore[misc]
        copy = copies(path)[-1].name
        do(say, f"restore {copy}", lambda copy=copy: restore(path, copy))  # type: ignore[misc]


SCENARIOS = (
    Scenario("import", importing, fresh=False),
    Scenario("record", recording, fresh=False),
    Scenario("weigh and pack", packing, fresh=False),
    Scenario("amend", amending, fresh=False),
    Scenario("migration", migrating, fresh=True),
    Scenario("restore", restoring, fresh=True),
)


# Running a child


def run_child(scenario: Scenario, path: Path, run: str, delay: float | None) -> list[list[str]]:
    """Let a child work, killed after ``delay`` seconds if it is given; what it said."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            scenario.work(path, run, lambda *words: _say(writing, words))
        except BaseException as error:
            _say(writing, ("error", f"{type(error).__name__}: {error}"))
        os._exit(0)
    os.close(writing)
    if delay is not None:
        time.sleep(delay)
        os.kill(child, signal.SIGKILL)
    with open(reading, "rb") as pipe:  # noqa: PTH123 (a pipe has no path)
        said = pipe.read().decode()
    os.waitpid(child, 0)
    return [line.split(" ", 1) for line in said.splitlines()]


def _say(pipe: int, words: tuple[str, str]) -> None:
    os.write(pipe, (" ".join(words) + "\n").encode())  # short enough to go whole: pipe(7)


def start(folder: Path, number: int = 0) -> Path:
    """A ledger of an earlier schema with three batches, in an empty folder."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    path = Path(shutil.copyfile(OLD[number % len(OLD)], folder / "ledger.sqlite3"))
    begun_long_ago(path)
    return path


def begun_long_ago(path: Path) -> None:
    """Date a ledger's first action long before today, whenever that is: a copy is due."""
    with closing(sqlite3.connect(path)) as raw, raw:
        (trigger,) = raw.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'action_no_update'"
        ).fetchone()
        raw.execute("DROP TRIGGER action_no_update")
        raw.execute("UPDATE action SET at = '2020-08-01T08:00:00+00:00' WHERE id = 1")
        if "digest" in [row[1] for row in raw.execute("PRAGMA table_info(action)")]:
            raw.execute("UPDATE action SET digest = NULL")  # as an older jarcast left it
        raw.execute(trigger)


# What must be true afterwards


def check(path: Path, said: list[list[str]], run: str, fresh: bool) -> None:
    """Raise AssertionError where something is lost or half there."""
    assert not [what for word, what in said if word == "error"], said
    tried = {what for word, what in said if word == "try"}
    done = {what for word, what in said if word == "done"}
    check_file(path, fresh)
    with Ledger.open(path) as ledger:
        assert ledger.rows("PRAGMA integrity_check") == [("ok",)]
        assert ledger.rows("PRAGMA foreign_key_check") == []
        entries = {entry.batch.batch: entry for entry in ledger.entries()}
        found = steps.steps(ledger)
        history = [reading.entry.batch.note for reading in ledger.history("c1")]
    assert set(entries) >= OLD_NAMES
    there = set(holds(entries, found, history, run))
    restored = any(what.startswith("restore") for what in tried)
    if restored:
        there |= set_aside(path, run)
    kinds = ("import", "batch", "begin", "weigh", "pack", "close", "amend")
    lost = {what for what in done if what.split()[0] in kinds} - there
    assert not lost, f"acknowledged and not there: {lost}"
    stray = {what for what in there if what not in tried and not what.startswith("amend")}
    assert not stray, f"there and never tried: {stray}"
    assert all(copy.sound for copy in copies(path)), copies(path)
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([Entry(batch(f"after {run}"))], "record")
        assert ledger.rows("PRAGMA integrity_check") == [("ok",)]


def check_file(path: Path, fresh: bool) -> None:
    """By SQLite alone: whole, and either of the old schema or of the new, with its copy."""
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        version = raw.execute("PRAGMA user_version").fetchone()[0]
        tables = {name for (name,) in raw.execute("SELECT name FROM sqlite_schema")}
    assert (version >= 3) == ("step" in tables), version  # schema 3 brought it
    if version == SCHEMA and fresh:
        assert [copy for copy in copies(path) if copy.sound], "brought up to date without a copy"


def holds(
    entries: dict[str, Entry], found: list[steps.Step], history: list[str], run: str
) -> Iterator[str]:
    """What the ledger holds of this run, in the words the child uses."""
    own = {n: entry.batch.produce for n, entry in entries.items() if n.startswith(f"{run}.")}
    yield from (f"batch {name}" for name, produce in own.items() if produce == "okra")
    imports = Counter(name.rpartition(".")[0] for name, crop in own.items() if crop == "radish")
    assert set(imports.values()) <= {ROWS}, f"a part of an import: {imports}"
    yield from (f"import {name}" for name in imports)
    noted = {(str(one.kind), one.batch) for one in found if one.batch.startswith(f"{run}.")}
    closed = {name for kind, name in noted if kind == "close"}
    assert closed == {n for n, produce in own.items() if produce == "beet"}, f"half shut: {closed}"
    yield from (f"{kind} {name}" for kind, name in noted)
    numbers = [int(note) for note in history if note.isdigit()]
    assert numbers == list(range(1, len(numbers) + 1)), f"a hole in the history: {numbers}"
    yield from (f"amend {number}" for number in numbers)


def set_aside(path: Path, run: str) -> set[str]:
    """Batches of this run in ledgers that a restoring kept aside."""
    found: set[str] = set()
    for copy in copies(path):
        if copy.why == SET_ASIDE:
            with Ledger.open(copy.path) as ledger:
                names = {entry.batch.batch for entry in ledger.entries()}
            found |= {f"batch {name}" for name in names if name.startswith(f"{run}.")}
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    draw = random.Random(asked.seed)  # noqa: S311 (moments, no secrets)
    began = time.monotonic()
    counts = dict.fromkeys((one.name for one in SCENARIOS), 0)
    cut_short = 0
    with tempfile.TemporaryDirectory() as name:
        paths = {one.name: start(Path(name) / one.name) for one in SCENARIOS}
        takes: dict[str, float] = {}
        for one in SCENARIOS:  # how long the work takes when it is let
            at = time.monotonic()
            check(paths[one.name], run_child(one, paths[one.name], "let", None), "let", one.fresh)
            takes[one.name] = time.monotonic() - at
        for number in range(asked.kills):
            one = SCENARIOS[number % len(SCENARIOS)]
            path = (
                start(paths[one.name].parent, number // len(SCENARIOS))
                if one.fresh
                else paths[one.name]
            )
            delay = draw.uniform(0.0, takes[one.name])
            said = run_child(one, path, f"k{number}", delay)
            try:
                check(path, said, f"k{number}", one.fresh)
            except AssertionError as error:
                print(f"{one.name}, kill {number} after {1000 * delay:.1f} ms: {error}")
                return 1
            counts[one.name] += 1
            cut_short += len({what for w, what in said if w == "try"}) > sum(
                w == "done" for w, _ in said
            )
    listed = ", ".join(f"{name} {count}" for name, count in counts.items())
    print(
        f"{asked.kills} kills (seed {asked.seed}): {listed}; {cut_short} in the middle of a "
        f"writing; nothing lost, nothing half-written ({time.monotonic() - began:.0f} s)"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
