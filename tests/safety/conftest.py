"""A kitchen of one's own, and ways into the command line: here, or as another user."""

import contextlib
import io
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli import main
from jarcast.ledger import Ledger

HEADER = "batch,date,produce,cut,pack,jar,trimmed,cure_hours,jars,brine_made,brine_left,note"
ROWS = (
    "c1,2024-08-03,carrots,sticks,raw,pint,6 lb 4 oz,0,9.5,10 cups,1 1/2 cups,first",
    "c2,2024-08-10,carrots,sticks,raw,pint,5 lb,0,7.5,8 cups,1/2 cup,",
    "b1,2024-09-01,beets,slices,hot,pint,2700 g,0,6,6 cups,1 cup,",
)
# Every command that writes, on the ledger of `filled`.
WRITING: tuple[tuple[str, ...], ...] = (
    ("record", "--produce", "okra", "--jar", "pint", "--jars", "3"),
    ("import", "more.csv"),
    ("amend", "c1", "jars=9"),
    ("begin", "--produce", "okra", "--trimmed", "2 lb", "--batch", "two"),
    ("weigh", "--trimmed", "4 lb 8 oz", "--batch", "one"),
    ("pack", "--jars", "3", "--produce-left", "3 lb", "--batch", "one"),
    ("close", "--jars", "7.5", "--brine-made", "8 cups", "--batch", "one"),
    ("drop", "--batch", "one"),
    ("kitchen", "jars", "add", "tall jar", "--water", "415 g"),
    ("forecast", "--produce", "carrot", "--trimmed", "5 lb", "--keep", "next"),
    ("undo", "c1"),
)
# And every command that only looks.
LOOKING: tuple[tuple[str, ...], ...] = (
    ("batches",), ("habits",), ("hindsight",), ("export",), (), ("kitchen",),
    ("kitchen", "jars", "list"),
    ("forecast", "--produce", "carrot", "--trimmed", "5 lb"), ("restore",),
    ("harvest", "--line", "carrot: 5 lb"), ("buy", "9", "--produce", "carrot"),
)  # fmt: skip


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what it said."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.out)
        return found


def run_here(*arguments: str) -> Ran:
    """Run the command line in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(list(arguments))
        except SystemExit as ended:
            code = ended.code
    assert isinstance(code, int)
    return Ran(int(code), out.getvalue(), err.getvalue())


@pytest.fixture
def run() -> Callable[..., Ran]:
    return run_here


@pytest.fixture
def kitchen(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder to work in, which other users can reach, as pytest's own cannot be."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        monkeypatch.chdir(folder)
        for unset in ("JARCAST_DEBUG", "FORCE_COLOR"):
            monkeypatch.delenv(unset, raising=False)
        for variable, value in (
            ("NO_COLOR", "1"), ("COLUMNS", "80"), ("HOME", name), ("XDG_DATA_HOME", name),
            ("JARCAST_LEDGER", str(folder / "ledger.sqlite3")),
        ):  # fmt: skip
            monkeypatch.setenv(variable, value)
        yield folder
        folder.chmod(0o755)


def fill(folder: Path) -> Path:
    """A ledger of three batches, one of them open besides, and a table more to import."""
    (folder / "batches.csv").write_text("\n".join([HEADER, *ROWS]) + "\n")
    rows = [f"m{number},2024-08-01,okra,,,pint,,,3,,,{'x' * 400}" for number in range(800)]
    (folder / "more.csv").write_text("\n".join([HEADER, *rows]) + "\n")
    ran = run_here("import", str(folder / "batches.csv"))
    assert ran.code == 0, ran.err
    typed = ("begin", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")
    ran = run_here(*typed, "--batch", "one")
    assert ran.code == 0, ran.err
    return folder / "ledger.sqlite3"


@pytest.fixture
def filled(kitchen: Path) -> Path:
    return fill(kitchen)


def content(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of a ledger."""
    with Ledger.open(path) as ledger:
        tables = ledger.rows("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        return {n: ledger.rows(f'SELECT * FROM "{n}"') for (n,) in tables}  # noqa: S608


_AS_ANOTHER = """
import contextlib, encodings.utf_8_sig, io, json, os, pkgutil, sys
from importlib import import_module
import jarcast, jarcast.cli
for found in pkgutil.walk_packages(jarcast.__path__, "jarcast."):
    if not found.name.endswith("__main__"):
        import_module(found.name)
def ended(words):
    out, err, code = io.StringIO(), io.StringIO(), 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            jarcast.cli.main(words)
        except SystemExit as end:
            code = int(end.code)
    return [code, out.getvalue(), err.getvalue()]
# Whatever is loaded at the first answer: of a ledger that is not there.
for words in json.loads(sys.argv[2]):
    ended([*words, "--ledger", "none/none.sqlite3"])
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
print(json.dumps([ended(words) for words in json.loads(sys.argv[1])]))
"""


def run_as_another(*lines: tuple[str, ...]) -> list[Ran]:
    """Run command lines as a user without rights: root may do anything, so root becomes one.

    What they need is loaded first: such a user may not even reach the installed package.
    """
    ran = subprocess.run(
        [sys.executable, "-c", _AS_ANOTHER, json.dumps(lines), json.dumps(LOOKING)],
        capture_output=True, text=True, timeout=120, env=dict(os.environ),
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return [Ran(*end) for end in json.loads(ran.stdout)]


@pytest.fixture
def as_another() -> Callable[..., list[Ran]]:
    return run_as_another


def one_sentence(ran: Ran) -> None:
    """It failed, and said so in one clear sentence (or two), with no trace of the program."""
    assert ran.code == 1, (ran.code, ran.err)
    assert ran.err.startswith("jarcast: ")
    assert ran.err.count("\n") == 1, ran.err
    for word in ("Traceback", "should not have happened", "Error:", "database is locked"):
        assert word not in ran.err
