"""A home and a ledger for every test, a plain terminal, how tests are spread, a small record."""

import datetime as dt
import itertools
import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from jarcast import Habits
    from jarcast.domain.batch import Batch

# One thread a process: tests are what is spread over the cores. numpy must not be loaded before.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# What would change what a terminal shows, or which files are read.
UNSET = ("FORCE_COLOR", "GITHUB_ACTIONS", "PY_COLORS", "CLICOLOR", "CLICOLOR_FORCE", "NO_COLOR")
TERMINAL = {"COLUMNS": "80", "TERM": "dumb"}


def _of_its_own(home: Path) -> dict[str, str]:
    """The variables by which a program finds a person's files, all of them under one folder."""
    return {
        "HOME": str(home),
        "USERPROFILE": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "XDG_CONFIG_HOME": str(home / "config"),
        "XDG_CACHE_HOME": str(home / "cache"),
        "JARCAST_LEDGER": str(home / "ledger.sqlite3"),
    }


def _surround(patch: pytest.MonkeyPatch, home: Path) -> None:
    for name in [*UNSET, *(name for name in os.environ if name.startswith("JARCAST_"))]:
        patch.delenv(name, raising=False)
    for name, value in (TERMINAL | _of_its_own(home)).items():
        patch.setenv(name, value)


@pytest.fixture(scope="session", autouse=True)
def homes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Iterator[Path]]:
    """Fresh homes, one after the other; the first is that of what several tests share."""
    folder = tmp_path_factory.mktemp("homes", numbered=False)
    fresh = (folder / str(number) for number in itertools.count())
    with pytest.MonkeyPatch.context() as patch:
        _surround(patch, next(fresh))
        # Finding the machine's fonts takes half a second: once a run, and not in every new home.
        run = tmp_path_factory.getbasetemp()
        run = run.parent if "PYTEST_XDIST_WORKER" in os.environ else run
        patch.setenv("MPLCONFIGDIR", str(run / "matplotlib"))
        yield fresh


@pytest.fixture(autouse=True)
def home(homes: Iterator[Path]) -> Iterator[Path]:
    """A home of this test's own, in which there is nothing yet."""
    folder = next(homes)
    folder.mkdir()
    with pytest.MonkeyPatch.context() as patch:
        _surround(patch, folder)
        yield folder


@pytest.fixture(scope="session", autouse=True)
def interruptible() -> Iterator[None]:
    """Programs that tests start can be stopped with Ctrl-C, wherever the tests run.

    A shell's background job ignores SIGINT, and whatever it starts inherits that.
    """
    before = signal.getsignal(signal.SIGINT)
    if before != signal.SIG_IGN:
        yield
        return
    signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.hookimpl(tryfirst=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """No workers for a file or two by name: starting them would take longer than the tests.

    None leaves it to pytest-xdist: one for each core, or what PYTEST_XDIST_AUTO_NUM_WORKERS says.
    """
    named = [word for word in config.invocation_params.args if ".py" in str(word)]
    return 0 if 0 < len(named) <= 2 else None


@pytest.fixture(scope="session")
def batches() -> "list[Batch]":
    """A small made-up record: three carrots, two salted cucumbers, a hot pack of beets."""
    from jarcast.domain.batch import Batch

    day = dt.date(2024, 8, 1)
    return [
        Batch(
            batch=str(number), date=day + dt.timedelta(days=number), produce="carrot",
            cut="sticks", pack="raw", jar=("pint",), jars=(jars,), as_bought_g=1.25 * trimmed,
            trimmed_g=trimmed, cure_hours=0.0, brine_made_ml=3000.0, brine_left_ml=left,
        )
        for number, (jars, trimmed, left) in enumerate(
            [(9.0, 2300.0, 700.0), (7.5, 2000.0, 1000.0), (12.0, 3150.0, 100.0)]
        )
    ] + [
        Batch(
            batch=f"c{number}", date=day + dt.timedelta(days=10 + number), produce="cucumber",
            cut="slices", pack="raw", jar=("quart",), jars=(jars,), trimmed_g=trimmed,
            cure_hours=12.0, cured_g=0.85 * trimmed,
        )
        for number, (jars, trimmed) in enumerate([(4.0, 2600.0), (5.5, 3500.0)])
    ] + [
        Batch(
            batch="b", date=day + dt.timedelta(days=20), produce="beet", cut="slices", pack="hot",
            jar=("pint-wide",), jars=(6.0,), as_bought_g=2700.0,
        )
    ]  # fmt: skip


@pytest.fixture(scope="session")
def habits(batches: "list[Batch]") -> "Habits":
    """What the record teaches."""
    from jarcast import habits_from

    return habits_from(batches)


@pytest.fixture(scope="session")
def beginner() -> "Habits":
    """The starting beliefs, no batch of one's own."""
    from jarcast import habits_from

    return habits_from([])
