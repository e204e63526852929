"""jarcast demo: the main job on an invented household, with nothing of one's own touched."""

import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.files.shipped import shipped

Run = Callable[..., Any]


@pytest.fixture
def rows() -> list[dict[str, str]]:
    """The household's batches, as the file has them."""
    with shipped("data_demo", "batches.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_it_says_that_the_household_is_invented_and_tells_its_story(
    run: Run, rows: list[dict[str, str]], kitchen: Path
) -> None:
    ran = run("demo")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("An invented household")
    assert f"{len(rows)} batches" in ran.out
    assert re.search(
        r"^ {2}JARS {5}About [0-9]+½? pints, 8 times in 10 between ", ran.out, re.MULTILINE
    )
    assert "Heat " in ran.out
    own = [r for r in rows if r["produce"].startswith("carrot") and r["cut"].startswith("stick")]
    assert f"{len(own)} of your batches like this" in " ".join(ran.out.split())
    assert list(kitchen.iterdir()) == []


def test_the_range_tightens_from_step_to_step(run: Run, rows: list[dict[str, str]]) -> None:
    document = run("demo", "--json").document
    assert (document["format"], document["version"]) == ("jarcast demo", 1)
    steps = document["steps"]
    assert steps[0]["batches"] == 0
    assert steps[-1]["batches"] == len(rows)
    widths = []
    for step in steps:
        forecast = step["forecast"]
        for outcome in (forecast["jars"], forecast["brine_ml"]):
            assert set(outcome) == {"median", "low", "high", "level"}
        assert forecast["brine_to_make_ml"] > 0.0
        widths.append(forecast["jars"]["high"] / forecast["jars"]["low"])
    assert widths == sorted(widths, reverse=True)


def test_a_ledger_of_one_s_own_is_neither_read_nor_written(run: Run, filled: Path) -> None:
    before = filled.read_bytes()
    with_one = run("demo")
    assert filled.read_bytes() == before
    filled.write_text("no ledger any more")
    assert run("demo") == with_one


def test_it_speaks_metric_when_asked(run: Run) -> None:
    out = run("demo", "--units", "metric").out
    assert "2.70 kg trimmed" in out
    assert "cups" not in out
