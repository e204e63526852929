"""jarcast buy: the forecast asked backwards."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
CARROTS = ("--produce", "carrot", "--cut", "sticks")
QUARTER_POUND_G = 453.59237 / 4  # exact: NIST Handbook 44, Appendix C


def test_the_answer_comes_first(run: Run, filled: Path) -> None:
    ran = run("buy", "24", *CARROTS)
    assert (ran.code, ran.err) == (0, "")
    title, answer, *_ = ran.out.strip().split("\n\n")
    assert title == "Carrot, sticks, raw pack: for 24 pints"
    said = " ".join(answer.split())
    assert re.match(r"Buy [0-9]+ lb( [0-9]+ oz)?: 9 times in 10 it fills 24 pints or more", said)
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_the_weight_shown_is_enough_by_the_forecast(run: Run, filled: Path) -> None:
    found = run("buy", "24", *CARROTS, "--json").document
    shown = -(-found["grams"] // QUARTER_POUND_G) * QUARTER_POUND_G
    forecast = run(
        "forecast", *CARROTS, "--as-bought", f"{shown} g", "--level", "0.8", "--json"
    ).document
    # 24 jars 9 times in 10 are the low end of the 80 % range.
    assert forecast["jars"]["low"] >= 24.0
    assert forecast["jars"]["low"] < 24.0 * 1.03


def test_more_certainty_and_more_jars_take_more(run: Run, filled: Path) -> None:
    def grams(*typed: str) -> float:
        return float(run("buy", *typed, *CARROTS, "--json").document["grams"])

    assert grams("24") < grams("24", "--chance", "0.99")
    assert grams("23") < grams("24") < grams("48")


def test_a_recipe_names_produce_and_jar(run: Run, filled: Path) -> None:
    ran = run("buy", "14", "--recipe", "pickled-beets", "--batches", "2")
    assert ran.code == 0
    assert ran.out.startswith("Beet, slices, hot pack: for 14 pints, over 2 batches")


@pytest.mark.parametrize(
    ("typed", "code", "says"),
    [
        (("0", *CARROTS), 1, "ask for more than 0"),
        (("nan", *CARROTS), 1, "ask for more than 0"),
        (("24", *CARROTS, "--chance", "2"), 1, "must be 0.001 to 0.999"),
        (("24",), 1, "needs a produce"),
        (("24", "--recipe", "pickled-beets", "--jar", "1l"), 1, "does not list"),
        ((), 2, "Missing argument"),
        (("many", *CARROTS), 2, "many"),
    ],
)
def test_what_cannot_be_answered_is_said(
    run: Run, filled: Path, typed: tuple[str, ...], code: int, says: str
) -> None:
    ran = run("buy", *typed)
    assert (ran.code, ran.out) == (code, "")
    assert says in " ".join(ran.err.split())


def test_jars_beyond_any_kitchen_are_refused_with_the_number_as_it_was_typed(run: Run) -> None:
    ran = run("buy", "10000000000", "--produce", "carrot")
    assert (ran.code, ran.out) == (1, "")
    assert "jars wanted: 10000000000 cannot be" in ran.err
    assert "100000 at most" in ran.err


def test_what_cannot_be_asked_names_no_line_where_nobody_wrote_one(run: Run) -> None:
    ran = run("buy", "24")
    assert ran.code == 1
    assert "line 1" not in ran.err
    assert "produce" in ran.err
    # One or many batches, what is wrong is wrong with all of them.
    assert run("buy", "24", "--batches", "3").err == ran.err


def test_jars_of_two_sizes_are_bought_for_at_once(run: Run, filled: Path) -> None:
    found = run("buy", "24 pints + 6 quarts", *CARROTS, "--json").document
    assert found["wanted_jars"] == 30.0
    # A forecast of that weight fills them in that order as often as asked.
    jars = ("--jar", "24 pint, then quart")
    weight = ("--as-bought", f"{found['grams']} g")
    made = run("forecast", *CARROTS, *jars, *weight, "--level", "0.8", "--json").document
    assert made["jars"]["low"] == pytest.approx(30.0, rel=0.01)
    unquoted = run("buy", "24", "pints", "+", "6", "quarts", *CARROTS, "--json").document
    assert unquoted == found


def test_several_crops_are_asked_at_once_and_each_as_by_itself(run: Run, filled: Path) -> None:
    asked = ("carrot, sticks: 24 pints + 6 quarts", "by pickled-beets: 12 pints")
    crops = run("buy", *asked, "--json").document["crops"]
    assert crops[0] == run("buy", "24 pints + 6 quarts", *CARROTS, "--json").document
    assert crops[1] == run("buy", "12 pints", "--recipe", "pickled-beets", "--json").document
    ran = run("buy", *asked)
    assert (ran.code, ran.err) == (0, "")
    assert "Carrot, sticks, raw pack: for 30 jars (24 pints + 6 quarts)" in ran.out
    assert "Beet, slices, hot pack: for 12 pints" in ran.out
    assert ran.out.count("These are amounts") == 1
    alone = run("buy", asked[1], "--json").document
    assert alone == crops[1]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("carrot: 24", "12 pints"), "'12 pints' names no crop"),
        (("carrot: 24", "--cut", "sticks"), "--cut: with several crops"),
        (("carrot: 24; note=x",), "note is not asked here"),
        (("carrot, sticks, sticks: 24",), "says cut twice"),
    ],
)
def test_crops_that_cannot_be_told_apart_are_refused(
    run: Run, typed: tuple[str, ...], says: str
) -> None:
    ran = run("buy", *typed)
    assert (ran.code, ran.out) == (1, "")
    assert says in " ".join(ran.err.split())
