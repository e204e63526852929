"""jarcast habits: what was learned beside what is published, and values that do not fit."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from jarcast.learning.beliefs import starting_beliefs
from jarcast.shipped import shipped

Run = Callable[..., Any]


@pytest.fixture
def demo(run: Run) -> dict[str, Any]:
    """Habits of the demo household, as JSON."""
    assert run("import", str(shipped("data_demo", "batches.csv"))).code == 0
    document: dict[str, Any] = run("habits", "--json").document
    return document


def _crop(document: dict[str, Any], produce: str, cut: str) -> dict[str, Any]:
    return next(c for c in document["crops"] if (c["produce"], c["cut"]) == (produce, cut))


def test_an_empty_ledger_says_so(run: Run) -> None:
    ran = run("habits")
    assert (ran.code, ran.err) == (0, "")
    assert "No batches yet" in ran.out


def test_each_habit_stands_beside_the_published_value_and_its_batches(
    demo: dict[str, Any],
) -> None:
    carrot = _crop(demo, "carrot", "sticks")
    published = starting_beliefs().crop("carrot", "sticks", "raw")
    trim = next(h for h in carrot["habits"] if h["name"] == "trim yield")
    assert trim["published"]["median"] == pytest.approx(published.trim_yield.centre)
    # The published range is centre and spread on the logit scale; 1.2816 sd is 80 % of a normal.
    odds = math.log(published.trim_yield.centre / (1 - published.trim_yield.centre))
    low = 1 / (1 + math.exp(-(odds - 1.2816 * published.trim_yield.spread)))
    assert trim["published"]["low"] == pytest.approx(low, abs=1e-4)
    assert trim["batches"] == 6  # of seven batches, one was not weighed as bought
    assert {h["name"] for h in carrot["habits"]} == {"trim yield", "density"}


def test_own_ranges_are_narrower_than_the_published_ones(demo: dict[str, Any]) -> None:
    for crop in demo["crops"]:
        for habit in crop["habits"]:
            own, published = habit["own"], habit["published"]
            assert own["high"] - own["low"] < published["high"] - published["low"]


def test_produce_and_brine_of_a_jar_fill_it_together(demo: dict[str, Any]) -> None:
    # A pint to half an inch holds 437 ml: 16 fl oz less a cylinder of 60 mm (geometry).
    (pint,) = (j for j in _crop(demo, "carrot", "sticks")["jars"] if j["jar"] == "pint")
    tissue = starting_beliefs().crop("carrot", "sticks", "raw").tissue.centre
    filled = pint["produce_g"]["median"] / tissue + pint["brine_ml"]["median"]
    assert filled == pytest.approx(437.27, rel=0.02)


def test_the_demo_s_one_slip_is_named_with_its_reason_and_no_other(
    demo: dict[str, Any], run: Run
) -> None:
    # data_demo/README.md: batch 25e, pounds written down as kilograms.
    (slip,) = demo["slips"]
    assert (slip["batch"], slip["column"]) == ("25e", "trimmed_g")
    assert slip["factor"] == pytest.approx(2.2046, rel=0.15)
    assert slip["guess"] == "pounds typed as kilograms?"
    assert "25e: trimmed weight looks" in run("habits").out


def test_a_slip_that_is_mended_is_named_no_more(demo: dict[str, Any], run: Run) -> None:
    assert run("amend", "25e", "trimmed=5.4 lb").code == 0
    assert run("habits", "--json").document["slips"] == []


def test_one_produce_can_be_shown_alone(demo: dict[str, Any], run: Run) -> None:
    found = run("habits", "--produce", "Cucumbers", "--json").document
    assert {crop["produce"] for crop in found["crops"]} == {"cucumber"}
    assert len(found["crops"]) == 2
