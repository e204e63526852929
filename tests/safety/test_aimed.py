"""What is written waits for the disk before it is acknowledged; so do the names of files."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from . import aimed

pytestmark = [
    pytest.mark.skipif(sys.platform != "linux", reason="the calls are counted as on Linux"),
    pytest.mark.xdist_group("alone"),
]

_NOTED = """
import ctypes, os, sys
from pathlib import Path
from jarcast.files.whole import write_whole
from jarcast.ledger import Ledger
from jarcast.ledger.backups import make_copy
shim = ctypes.CDLL(os.environ["LD_PRELOAD"])
path = Path("l.sqlite3")
Ledger.open(path, writing=True).close()
ledger = Ledger.open(path, writing=True)
shim.note(1)
{work}
os.writev(1, [b"acknowledged\\n"])
"""


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = aimed.built(tmp_path_factory.mktemp("aimed"))
    if found is None:
        pytest.skip("no C compiler is here")
    return found


def calls(library: Path, folder: Path, work: str) -> list[tuple[str, str]]:
    """The calls that a piece of work makes, each with the name of its file, until it is said."""
    ran = subprocess.run(
        [sys.executable, "-c", _NOTED.format(work=work)], cwd=folder, capture_output=True,
        text=True, timeout=60, env={**os.environ, "LD_PRELOAD": str(library)},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    lines, said, _ = ran.stdout.partition("acknowledged\n")
    assert said
    found = [line.partition(" ") for line in lines.splitlines()]
    return [(name, os.path.basename(path)) for name, _, path in found]  # noqa: PTH119


SYNCS = ("fsync", "fdatasync")


def test_a_commit_waits_for_the_disk(library: Path, tmp_path: Path) -> None:
    """synchronous = FULL: https://sqlite.org/pragma.html#pragma_synchronous"""
    made = calls(library, tmp_path, 'ledger.remember("units", "us")')
    last = max(at for at, (name, _) in enumerate(made) if name.startswith("pwrite"))
    assert made[last][1] == "l.sqlite3-wal"
    assert [one for one in made[last + 1 :] if one[0] in SYNCS and one[1] == "l.sqlite3-wal"]


@pytest.mark.parametrize(
    ("work", "folder"),
    [
        ('make_copy(path, "daily")', "l.sqlite3.backups"),
        ('write_whole(Path("page"), lambda out: out.write(b"x"))', ""),
    ],
)
def test_a_file_is_on_the_disk_before_its_name_and_its_name_before_it_is_said(
    library: Path, tmp_path: Path, work: str, folder: str
) -> None:
    made = calls(library, tmp_path, work)
    (named,) = [at for at, (name, _) in enumerate(made) if name == "rename"]
    before = [one for one in made[:named] if one[0] in (*SYNCS, "write", "pwrite64", "pwrite")]
    assert before[-1][0] in SYNCS
    assert before[-1][1].endswith(".part")
    after = [path for name, path in made[named + 1 :] if name in SYNCS]
    assert after == [folder or tmp_path.name]


def test_aimed_kills_lose_nothing() -> None:
    """A sample; CI and ``aimed.py --kills 300`` make more of them."""
    ran = subprocess.run(
        [sys.executable, aimed.__file__, "--kills", "18"], capture_output=True, text=True,
        timeout=200,
    )  # fmt: skip
    if ran.returncode == 2:
        pytest.skip(ran.stdout)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "nothing lost" in ran.stdout
