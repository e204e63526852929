"""Take away one guard after another, and see that the test of its promise then fails.

    python tests/safety/guards.py [WORDS OF A PROMISE]

GUARDS holds, by each promise of ``docs/explanation/reliability.md``, guards that it rests on: the
file, what stands there, what is put in its place, and the test that must notice. The change is made
in a copy of the source, in a temporary folder. It ends with 1 where a test passes all the same.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]


class Guard(NamedTuple):
    """A guard: where it stands, what stands there, what does not guard, and its test."""

    file: str
    stands: str
    instead: str
    test: str


def of_ledger(file: str, stands: str, instead: str, test: str) -> Guard:
    return Guard(f"ledger/{file}.py", stands, instead, test)


GUARDS = {
    "What was said to be written is there, whatever happens next": (
        of_ledger("connection", "PRAGMA synchronous = FULL", "PRAGMA synchronous = OFF",
                  "safety/test_aimed.py -k commit"),
    ),
    "Nothing is half there": (
        of_ledger("backups", "    names_to_disk(folder)\n", "    pass\n",
                  "safety/test_aimed.py -k name"),
        Guard("files/whole.py", "            os.fsync(stream.fileno())\n", "",
              "safety/test_aimed.py -k name"),
    ),
    "An answer tells what was written": (
        of_ledger("store", "STANDS_IN.append((self.path, new.action))", "pass",
                  "cli/test_streams.py -k ledger_has"),
        Guard("app/record.py", "before or free_name", "free_name",
              "cli/test_streams.py -k a_repeat"),
    ),
    "Nothing is changed or deleted": (
        of_ledger("schema", '"UPDATE", "DELETE"', '"DELETE",', "ledger/test_store.py"),
    ),
    "What was changed past the triggers is noticed, and named with its batch": (
        of_ledger("soundness", 'or next(changes(connection), "")', 'or ""',
                  "ledger/test_digests.py"),
    ),
    "A damaged ledger does not give fewer rows or others without a word": (
        of_ledger("soundness", 'or next(changes(connection), "")', 'or ""',
                  "safety/test_pages.py"),
        of_ledger("soundness", "or _broken_pages(connection)", 'or ""', "safety/test_damage.py"),
        of_ledger("soundness", "or _lost_rows(connection)", 'or ""', "safety/test_damage.py"),
        of_ledger("soundness", "_strange_schema(connection) or", "", "safety/test_damage.py"),
    ),
    "What can be read of a damaged ledger can be had": (
        of_ledger("salvaging", "WHERE id = ?", "WHERE id = -?", "ledger/test_salvaging.py"),
    ),
    "A full disk, or no right to write, leaves it as it was": (
        of_ledger("plain_words", "    sqlite3.SQLITE_FULL: (", "    -sqlite3.SQLITE_FULL: (",
                  "safety/test_no_room.py -k outgrows"),
        of_ledger("plain_words", "    sqlite3.SQLITE_READONLY: (",
                  "    -sqlite3.SQLITE_READONLY: (",
                  "safety/test_no_room.py -k nothing_may"),
    ),
    "From a full disk it can be read and exported": (
        of_ledger("connection", "sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR,", "",
                  "safety/test_no_room.py -k exported"),
    ),
    "Two at once do not harm each other": (
        of_ledger("store", 'connection.execute("BEGIN IMMEDIATE")', 'connection.execute("BEGIN")',
                  "safety/test_at_once.py"),
    ),
    "A copy of what stood before each day is there, whatever the clock says": (
        of_ledger("backups", "(stamp <= latest)", "0", "safety/test_backups.py -k clock"),
        of_ledger("backups", "KEPT = 10 ", "KEPT = 1000 ", "safety/test_backups.py -k ten"),
    ),
    "An older ledger opens, a newer one is left alone": (
        of_ledger("upgrading", "if content != before[table]", "if False",
                  "safety/test_damage.py -k migration"),
        of_ledger("connection", "if version > SCHEMA:", "if False:",
                  "safety/test_backups.py -k newer"),
    ),
    "A tap on the page counts once and is not lost": (
        Guard("page/doing.py", "(again, []) if before is not None else do(asked)", "do(asked)",
              "page/test_screens.py -k sent_twice"),
        Guard("page/doing.py", "if before not in (None, asked.digest):", "if False:",
              "page/test_screens.py -k another_form"),
    ),
    "Files are their owner's alone": (
        Guard("files/reading.py", "(*reversed(missing), path)", "(path,)",
              "files/test_reading.py -k folder"),
        of_ledger("connection", "os.O_WRONLY, 0o600", "os.O_WRONLY, 0o666",
                  "safety/test_nothing_in.py -k owner"),
    ),
    "Whatever is typed is read or refused with a sentence": (
        Guard("measures/parsing.py", "raise MeasureError", "raise ValueError",
              "safety/test_fuzz.py -k measure"),
    ),
    "A value of another type is read or refused with a sentence, wherever it stands": (
        Guard("learning/model/beliefs.py", "except (KeyError, TypeError, AttributeError) as error:",
              "except ZeroDivisionError as error:", "safety/test_typed_fuzz.py"),
        of_ledger("readings", "except (ValueError, TypeError) as error:",
                  "except ZeroDivisionError as error:", "cli/test_long_ledgers.py -k half"),
    ),
    "What comes from a file does not fill the memory": (
        Guard("files/reading.py", "    if len(content) > most:", "    if False:",
              "files/test_reading.py"),
    ),
    "No pipe or device is waited for without end": (
        Guard("files/reading.py", " | os.O_NONBLOCK", "", "files/test_reading.py -k before_long"),
    ),
    "Nothing is unpickled": (
        Guard("learning/kept.py", "import types\n", "import pickle, types\n",
              "safety/test_nothing_in.py -k unpickles"),
    ),
    "No code in data is run": (
        Guard("measures/numbers.py", "float(", "eval(", "safety/test_nothing_in.py -k unpickles"),
    ),
    "A spreadsheet does not run what is exported": (
        Guard("batchtable/guard.py", "return APOSTROPHE + inside if", "return inside if",
              "safety/test_formulas.py"),
    ),
    "Nobody gets at the page who was not let in": (
        Guard("page/gate.py", "if host not in self._hosts:", "if False:",
              "page/test_gate.py -k test_02"),
        Guard("page/gate.py", 'if environ.get("HTTP_ORIGIN", "") != f"http://{host}":',
              "if False:", "page/test_gate.py -k test_07"),
        Guard("page/gate.py", "if not token or not pairing.knows(token):", "if not token:",
              "page/test_gate.py -k test_18"),
    ),
    "No table is written over a ledger or its log": (
        Guard("files/whole.py", "start.startswith((_SQLITE, *_SIDES))", "False",
              "safety/test_waiting.py -k no_table"),
    ),
}  # fmt: skip


def noticed(guard: Guard, folder: Path) -> bool:
    """Whether the test fails without the guard."""
    shutil.copytree(ROOT / "src", folder / "src")
    for beside in ("tests", "models", "docs", "data_demo", "pyproject.toml"):
        (folder / beside).symlink_to(ROOT / beside)
    file = folder / "src" / "jarcast" / guard.file
    text = file.read_text(encoding="utf-8")
    if guard.stands not in text:
        raise SystemExit(f"{guard.file} has no {guard.stands!r}: mend the list of guards")
    file.write_text(text.replace(guard.stands, guard.instead), encoding="utf-8")
    path, *which = guard.test.split()
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "-n", "0"]
    try:
        ran = subprocess.run(
            [*command, f"tests/{path}", *which], cwd=folder, capture_output=True, timeout=120,
            env={**os.environ, "PYTHONPATH": str(folder / "src"), "PYTHONDONTWRITEBYTECODE": "1"},
        )  # fmt: skip
    except subprocess.TimeoutExpired:  # it waits: that is what the guard is there for
        return True
    if ran.returncode not in (0, 1):  # no test was run at all
        raise SystemExit(ran.stdout.decode()[-2000:])
    return ran.returncode == 1


def main() -> int:
    missed = 0
    wanted = " ".join(sys.argv[1:]).casefold()
    for promise, guard in ((promise, one) for promise, own in GUARDS.items() for one in own):
        if wanted not in promise.casefold():
            continue
        with tempfile.TemporaryDirectory() as name:
            found = noticed(guard, Path(name))
        missed += not found
        print("noticed" if found else "NOT NOTICED", guard.file, repr(guard.stands), guard.test,
              flush=True)  # fmt: skip
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
