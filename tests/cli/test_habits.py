"""jarcast habits: what was learned beside what is published, and values that do not fit."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.files.shipped import shipped
from jarcast.learning.model.beliefs import starting_beliefs

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


def _tightening(table: Callable[..., Path]) -> Path:
    """Three summers of eight batches; from the second on each is packed 5 % tighter."""
    rows = []
    for number in range(24):
        tighter = 1.05 ** max(0, number - 8)
        wobble = (1.02, 0.98, 1.0)[number % 3]
        grams = round(420 * 0.5 * 9 * tighter * wobble)
        day = f"{2022 + number // 8}-07-{1 + 3 * (number % 8):02d}"
        rows.append(f"{number},{day},carrot,sticks,raw,pint,{grams} g,0,9,,,")
    return table(*rows)


def test_what_changed_is_told_once_for_each_link_with_since_when(
    run: Run, table: Callable[..., Path]
) -> None:
    assert run("import", str(_tightening(table))).code == 0
    text = " ".join(run("habits").out.split())
    assert text.count("You pack") == 1
    assert "% tighter than" in text
    told = run("habits", "--json").document["trends"]
    assert [(one["arrow"], one["since"]) for one in told] == [
        ("pack", "2022-07-01"),
        ("pack", "2023-07-01"),
    ]


@pytest.mark.parametrize(
    ("since", "due"),
    [("2023", "2023-07-01"), ("2023-07-02", "2023-07-04"), ("2020", "2022-07-01")],
)
def test_since_a_season_is_since_its_first_batch(
    run: Run, table: Callable[..., Path], since: str, due: str
) -> None:
    assert run("import", str(_tightening(table))).code == 0
    (told,) = run("habits", "--since", since, "--json").document["trends"]
    assert (told["arrow"], told["since"]) == ("pack", due)
    assert told["change"]["low"] > 0.1
    assert f"(since {due})." in " ".join(run("habits", "--since", since).out.split())


def test_asked_of_a_steady_hand_nothing_is_said_to_have_changed(run: Run, filled: Path) -> None:
    assert (
        "Nothing has surely changed since 2024-08-01." in run("habits", "--since", "2024-08-01").out
    )


def test_a_day_without_a_batch_after_it_and_no_day_at_all_are_refused(
    run: Run, filled: Path
) -> None:
    ran = run("habits", "--since", "2030-01-01")
    assert (ran.code, ran.out) == (1, "")
    assert "the last one is of 2024-09-01" in ran.err
    assert run("habits", "--since", "last summer").code == 2


def test_habits_know_the_jars_of_one_s_own(run: Run, filled: Path) -> None:
    assert run("kitchen", "jars", "add", "tall", "--water", "1500 g").code == 0
    typed = ("record", "--produce", "carrot", "--cut", "sticks", "--trimmed", "2 kg")
    assert run(*typed, "--jar", "tall", "--jars", "3").code == 0
    jars = [jar for c in run("habits", "--json").document["crops"] for jar in c["jars"]]
    assert "tall" in {jar["jar"] for jar in jars}


def test_a_produce_never_put_up_is_named_and_not_said_to_be_the_first(
    run: Run, filled: Path
) -> None:
    ran = run("habits", "--produce", "zzz")
    assert ran.code == 0
    assert ran.out.startswith("No batch of 'zzz' yet: ")
    assert run("habits", "--produce", "zzz", "--ledger", "new.sqlite3").out.startswith(
        "No batches yet: "
    )
