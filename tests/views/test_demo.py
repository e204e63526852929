"""The demo in words and as JSON."""

import datetime as dt
import re

import pytest

from jarcast.app.demo import DemoStep, run_demo
from jarcast.domain.batch import Batch
from jarcast.measures import Units
from jarcast.views.demo import demo_document, demo_text


@pytest.fixture(scope="module")
def steps() -> tuple[DemoStep, ...]:
    """The demo of a household of two batches."""
    return run_demo(
        [
            Batch(
                batch=str(number),
                date=dt.date(2024, 8, number),
                produce="carrot",
                cut="sticks",
                pack="raw",
                jar=("pint",),
                jars=(9.0,),
                trimmed_g=2700.0,
                cure_hours=0.0,
            )
            for number in (1, 2)
        ]
    )


def test_it_says_first_that_the_household_is_invented(steps: tuple[DemoStep, ...]) -> None:
    text = demo_text(steps, Units.US)
    assert text.startswith("An invented household, 2 batches")
    assert max(len(line) for line in text.splitlines()) <= 80


def test_each_step_is_one_line_of_its_table(steps: tuple[DemoStep, ...]) -> None:
    lines = demo_text(steps, Units.US).splitlines()
    head = next(i for i, line in enumerate(lines) if "own batches" in line)
    table = lines[head + 1 : head + 1 + len(steps)]
    assert [line.split()[0] for line in table] == [str(step.batches) for step in steps]
    assert all(" to " in line and re.search(r"\b(cups?|qt|gal)\b", line) for line in table)


def test_json_has_every_step_with_its_forecast(steps: tuple[DemoStep, ...]) -> None:
    document = demo_document(steps, Units.US)
    assert [step["batches"] for step in document["steps"]] == [0, 2, 2]
    for told, step in zip(document["steps"], steps, strict=True):
        assert told["forecast"]["jars"]["median"] == step.forecast.jars.median
