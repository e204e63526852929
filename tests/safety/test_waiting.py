"""No command waits for a pipe or a device that never ends, and none is filled by one."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.ledger.backups import DAILY, make_copy

from .conftest import LOOKING

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="named pipes are POSIX's"),
    pytest.mark.xdist_group("alone"),
]
Run = Callable[..., Any]
SECONDS = 20  # a command that waits would for ever


def ended(*typed: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "jarcast", *typed], capture_output=True, text=True, timeout=SECONDS,
        env={**os.environ, **more}, stdin=subprocess.DEVNULL,
    )  # fmt: skip


@pytest.mark.parametrize(
    "typed",
    [
        ("import", "pipe"),
        ("harvest", "pipe"),
        ("recipes", "add", "pipe"),
        ("forecast", "--recipe", "pipe", "--trimmed", "5 lb"),
        ("beliefs", "use", "pipe"),
        ("beliefs", "use", "/dev/zero"),
        ("beliefs", "pool", "pipe", "--to", "club.json"),
        ("export", "pipe"),
    ],
    ids=" ".join,
)
def test_a_pipe_without_anybody_at_its_other_end_is_refused(
    filled: Path, typed: tuple[str, ...]
) -> None:
    os.mkfifo("pipe")
    ran = ended(*typed)
    assert ran.returncode == 1, ran.stderr
    assert ran.stderr.startswith("jarcast: ")
    assert "should not have happened" not in ran.stderr


@pytest.mark.parametrize("at", ["pipe", "/dev/zero", "/dev/tty", "large.json"])
def test_starting_beliefs_are_an_ordinary_file_of_some_size(filled: Path, at: str) -> None:
    os.mkfifo("pipe")
    Path("large.json").write_bytes(b" " * 8_000_001)
    ran = ended("forecast", "--produce", "carrot", "--trimmed", "5 lb", JARCAST_BELIEFS=at)
    assert ran.returncode == 1
    assert "It was chosen with JARCAST_BELIEFS" in ran.stderr


def test_a_pipe_among_the_copies_or_cards_is_passed_by(filled: Path, run: Run) -> None:
    copy = make_copy(filled, DAILY)
    os.mkfifo(copy.with_name("2099-01-01-000000-daily.sqlite3"))
    ran = ended("restore")
    assert ran.returncode == 0
    assert copy.stem in ran.stdout
    assert "2099" not in ran.stdout
    filled.unlink()
    assert copy.stem in ended("batches").stderr  # the newest sound one is offered


@pytest.mark.parametrize("side", ["-wal", "-journal", "-shm"])
def test_a_pipe_beside_the_ledger_is_not_waited_for(filled: Path, side: str) -> None:
    os.mkfifo(filled.with_name(filled.name + side))
    for typed in (LOOKING[0], ("record", "--produce", "okra", "--jar", "pint", "--jars", "3")):
        ran = ended(*typed)
        assert "should not have happened" not in ran.stderr


@pytest.mark.parametrize("name", ["ledger.sqlite3-wal", "ledger.sqlite3-journal", "other"])
def test_no_table_is_written_where_a_ledger_s_side_file_lies_or_would(
    filled: Path, run: Run, name: str
) -> None:
    Path("other").write_bytes(bytes.fromhex("377f0682") + b"log")  # how a log begins
    before = sorted((path.name, path.read_bytes()) for path in Path().iterdir() if path.is_file())
    for typed in (("export", name), ("beliefs", "pool", "batches.csv", "--to", name)):
        assert run(*typed).code == 1
    assert before == sorted(
        (path.name, path.read_bytes()) for path in Path().iterdir() if path.is_file()
    )
