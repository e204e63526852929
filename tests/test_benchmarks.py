"""One word lists the benchmarks and runs them."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def benchmarks(*words: str) -> "subprocess.CompletedProcess[str]":
    typed = [sys.executable, "-m", "tests.benchmarks", *words]
    return subprocess.run(typed, cwd=ROOT, capture_output=True, text=True, timeout=60)


def test_each_is_listed_with_what_it_measures() -> None:
    ran = benchmarks()
    assert (ran.returncode, ran.stderr) == (0, "")
    listed = ran.stdout.partition("\n\n")[0].splitlines()
    names = {line.split()[0] for line in listed}
    assert {"cold_start", "in_process", "accuracy.run", "growth.importing"} <= names
    assert all(len(line.split()) > 4 for line in listed)
    # Told by the folders: whatever can be run by its path can be run by its name.
    scripts = {
        path.relative_to(ROOT / "tests" / "benchmarks").with_suffix("").as_posix()
        for path in (ROOT / "tests" / "benchmarks").rglob("*.py")
        if path.name != "__main__.py" and "argparse.ArgumentParser(" in path.read_text("utf-8")
    }
    assert {name.replace("/", ".") for name in scripts} - names <= {"accuracy.command"}


@pytest.mark.parametrize("name", ["cold_start", "accuracy.midpack"])
def test_one_is_run_by_its_name(name: str) -> None:
    ran = benchmarks(name, "--help")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.startswith(f"usage: {name.rpartition('.')[2]}.py")


def test_another_name_is_refused_with_those_there_are() -> None:
    ran = benchmarks("warm_start")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "no benchmark 'warm_start'" in ran.stderr
    assert "cold_start" in ran.stderr
