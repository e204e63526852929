"""What every test finds around it: a home and a ledger of its own, and a plain terminal."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from platformdirs import user_data_path

HOMES: list[str] = []


@pytest.mark.parametrize("turn", ["once", "and again"])
def test_a_home_is_empty_and_nobody_else_s(home: Path, turn: str) -> None:
    assert os.environ["HOME"] == str(home) == str(Path.home())
    assert list(home.iterdir()) == []
    assert home not in [Path(one) for one in HOMES]
    HOMES.append(str(home))
    (home / "left-behind").touch()


def test_a_program_keeps_its_files_in_that_home(home: Path) -> None:
    assert user_data_path("jarcast").is_relative_to(home)
    typed = ["record", "--produce", "okra", "--jar", "pint", "--jars", "3"]
    ran = subprocess.run([sys.executable, "-m", "jarcast", *typed], capture_output=True)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert (home / "ledger.sqlite3").exists()


def test_the_terminal_is_plain() -> None:
    assert (os.environ["COLUMNS"], os.environ["TERM"]) == ("80", "dumb")
    assert not {"FORCE_COLOR", "GITHUB_ACTIONS", "JARCAST_BELIEFS"} & os.environ.keys()


@pytest.mark.skipif(os.name != "posix", reason="SIGINT is inherited on POSIX")
def test_what_a_test_starts_does_not_ignore_ctrl_c() -> None:
    # Not even where the tests themselves are a shell's background job, which ignores it.
    code = "import signal; print(signal.getsignal(signal.SIGINT) == signal.SIG_IGN)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.stdout.strip() == "False"
    assert signal.getsignal(signal.SIGINT) != signal.SIG_IGN


@pytest.mark.skipif("PYTEST_XDIST_WORKER" not in os.environ, reason="not spread over cores")
@pytest.mark.skipif(pytest.version_tuple >= (9, 2), reason="pytest-xdist 3.8 keeps no groups there")
@pytest.mark.xdist_group("alone")
def test_what_must_not_run_at_once_is_kept_together(request: pytest.FixtureRequest) -> None:
    # The name's end is what pytest-xdist spreads tests by.
    assert request.node.nodeid.endswith("@alone")
