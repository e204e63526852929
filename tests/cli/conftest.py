"""Running the command line as a user would meet it: in this process, or as one of its own."""

import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli import main

HEADER = "batch,date,produce,cut,pack,jar,trimmed,cure_hours,jars,brine_made,brine_left,note"
ROWS = (
    "c1,2024-08-03,carrots,sticks,raw,pint,6 lb 4 oz,0,9.5,10 cups,1 1/2 cups,first of the year",
    "c2,2024-08-10,Carrot,Sticks,raw pack,pint,5 lb,0,7.5,8 cups,1/2 cup,",
    "k1,2024-08-17,cucumbers,slices,raw,pint-wide + pint,3.1 kg,0,4 + 5,2 qt,4 cups,two sorts",
    "b1,2024-09-01,beets,slices,hot,pint,2700 g,0,6,6 cups,1 cup,",
)


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what it said."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """Standard output as one JSON document."""
        document: dict[str, Any] = json.loads(self.out, parse_constant=_no_constant)
        return document

    @property
    def error(self) -> dict[str, Any]:
        """Standard error as one JSON document."""
        document: dict[str, Any] = json.loads(self.err, parse_constant=_no_constant)
        return document


def _no_constant(name: str) -> float:
    raise AssertionError(f"{name} is no JSON")


class _Stream(io.TextIOWrapper):
    """A standard stream that is kept: UTF-8, as most terminals are."""

    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8", newline="")

    def text(self) -> str:
        self.flush()
        assert isinstance(self.buffer, io.BytesIO)
        return self.buffer.getvalue().decode()


def run_here(*arguments: str) -> Ran:
    """Run the command line in this process."""
    out, err = _Stream(), _Stream()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(list(arguments))
        except SystemExit as ended:
            code = ended.code
    assert isinstance(code, int)
    return Ran(int(code), out.text(), err.text())


@pytest.fixture
def run() -> Callable[..., Ran]:
    """Runs the command line in this process."""
    return run_here


@pytest.fixture(autouse=True)
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of one's own to work in, and a terminal that is the same everywhere.

    The ledger will be ``kitchen/ledger.sqlite3``; there is none yet.
    """
    folder = tmp_path / "kitchen"
    folder.mkdir()
    monkeypatch.chdir(folder)
    for name in ("FORCE_COLOR", "GITHUB_ACTIONS", "PY_COLORS", "JARCAST_DEBUG", "PYTHONIOENCODING"):
        monkeypatch.delenv(name, raising=False)
    for name, value in (("COLUMNS", "80"), ("TERM", "dumb"), ("NO_COLOR", "1")):
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("JARCAST_LEDGER", str(folder / "ledger.sqlite3"))
    return folder


@pytest.fixture
def ledger(kitchen: Path) -> Path:
    """Where the ledger will be."""
    return kitchen / "ledger.sqlite3"


@pytest.fixture
def table(kitchen: Path) -> Callable[..., Path]:
    """Puts a CSV file there: of these rows under the header, or of this whole content."""

    def put(*rows: str, content: str | bytes | None = None, header: str = HEADER) -> Path:
        path = kitchen / "batches.csv"
        text = "\n".join([header, *rows]) + "\n" if content is None else content
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return put


@pytest.fixture(scope="session")
def imported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger that ``ROWS`` were imported into once, to be copied."""
    folder = tmp_path_factory.mktemp("imported")
    table, ledger = folder / "batches.csv", folder / "ledger.sqlite3"
    table.write_text("\n".join([HEADER, *ROWS]) + "\n")
    ran = run_here("import", str(table), "--ledger", str(ledger))
    assert ran.code == 0, ran.err
    assert sorted(path.name for path in folder.iterdir()) == [table.name, ledger.name]
    return ledger


@pytest.fixture
def filled(imported: Path, table: Callable[..., Path], ledger: Path) -> Path:
    """A ledger of four batches of three crops, and the table they were imported from."""
    table(*ROWS)
    shutil.copyfile(imported, ledger)
    ledger.chmod(imported.stat().st_mode)
    return ledger


@pytest.fixture
def process(kitchen: Path) -> Callable[..., "subprocess.CompletedProcess[bytes]"]:
    """Runs the command line as a process of its own; ``more`` adds to its surroundings."""

    def start(
        *arguments: str, more: dict[str, str] | None = None, **options: Any
    ) -> "subprocess.CompletedProcess[bytes]":
        kept = {"capture_output": True} if "stdout" not in options else {"stderr": subprocess.PIPE}
        return subprocess.run(
            [sys.executable, "-m", "jarcast", *arguments],
            env={**os.environ, **(more or {})},
            timeout=60,
            **kept,
            **options,
        )

    return start
