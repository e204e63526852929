"""Each promise has a guard that ``guards.py`` takes away, and each guard stands where it says."""

import re
from pathlib import Path

from .__main__ import TRIALS, main
from .guards import GUARDS, ROOT

PAGE = ROOT / "docs" / "explanation" / "reliability.md"


def test_every_promise_has_a_guard_that_can_be_taken_away() -> None:
    tables = re.findall(r"^\| promise \|.*\n(?:\|.*\n)+", PAGE.read_text("utf-8"), re.MULTILINE)
    rows = [row for table in tables for row in table.splitlines()[2:]]
    promises = [row.split("|")[1].strip() for row in rows]
    assert len(tables) == 2
    assert promises == list(GUARDS)
    assert all(GUARDS.values())


def test_every_guard_stands_and_has_its_test() -> None:
    for guard in (one for own in GUARDS.values() for one in own):
        file = ROOT / "src" / "jarcast" / guard.file
        assert guard.stands in file.read_text("utf-8"), guard
        assert guard.stands != guard.instead
        assert (ROOT / "tests" / guard.test.split()[0]).is_file(), guard


def test_every_long_trial_can_be_run_and_its_last_figures_are_told() -> None:
    page = PAGE.read_text("utf-8")
    for name in TRIALS:
        assert (Path(__file__).with_name(f"{name}.py")).is_file()
        assert f"| `{name}.py" in page
    assert main(["no_such_trial"]) == 2
