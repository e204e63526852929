"""Weights that are counted: containers, cups of trimmed produce, and baskets of one's own."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer

Run = Callable[..., Any]
POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C
SPEARS = ("--produce", "cucumber", "--cut", "spears", "--cure-hours", "0")
BUCKET = ("kitchen", "baskets", "add", "blue bucket", "--cucumber", "23 lb")
RECORD = ("record", *SPEARS, "--jars", "14 quarts")


def test_a_forecast_takes_a_container_as_a_range_and_says_whose_it_is(run: Run) -> None:
    ran = run("forecast", *SPEARS, "--as-bought", "1/2 bushel")
    assert ran.code == 0
    assert "USDA Complete Guide to Home Canning (AIB 539), Guide 6" in ran.err
    assert "22 lb 13 oz to 25 lb" in ran.out
    started = run("forecast", *SPEARS, "--as-bought", "1/2 bushel", "--json").document["from"]
    # A bushel of pickling cucumbers is 48 lb: Complete Guide to Home Canning, Guide 6.
    assert started["grams"] == pytest.approx(24 * POUND_G)
    assert started["log_sd"] > 0.0


def test_cups_of_trimmed_produce_make_a_wider_range_than_their_weight(run: Run) -> None:
    slices = ("--produce", "cucumber", "--cut", "slices", "--cure-hours", "0", "--json")
    cups = run("forecast", *slices, "--trimmed", "16 cups").document["jars"]
    # A loose cup of sliced cucumber is 104 g: USDA Standard Reference Release 28, NDB 11205.
    grams = run("forecast", *slices, "--trimmed", f"{16 * 104} g").document["jars"]
    assert cups["median"] == pytest.approx(grams["median"], rel=0.1)
    assert cups["high"] / cups["low"] > grams["high"] / grams["low"]


def test_what_nobody_published_is_refused_with_its_mend(run: Run) -> None:
    for typed in (("forecast", "--produce", "okra"), ("record", "okra: 4 pints")):
        ran = run(*typed, "--as-bought", "2 buckets")
        assert ran.code == 1
        assert "weigh one" in ran.err
        assert "jarcast kitchen baskets add bucket --okra '23 lb'" in ran.err
    assert run("batches", "--json").document["batches"] == []


def test_what_nobody_published_is_asked_back_at_a_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("jarcast.cli.counted.asking", lambda as_json: True)
    monkeypatch.setattr(typer, "prompt", lambda *_, **__: "11 lb")
    assert run(*RECORD, "--as-bought", "2 boxes", "--yes").code == 0
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["as_bought_g"] == pytest.approx(11 * POUND_G)
    assert "counted" not in batch
    asked = run("forecast", *SPEARS, "--as-bought", "2 boxes")
    assert "11 lb as bought" in asked.out
    begun = run("begin", *SPEARS, "--as-bought", "2 boxes", "--batch", "open")
    assert "11 lb" in run().out, begun.err
    assert run("weigh", "--trimmed", "a colander", "--yes").code == 0
    assert "trimmed 11 lb" in run().out


def test_a_basket_is_kept_listed_added_to_and_taken_back(run: Run) -> None:
    assert run(*BUCKET).code == 0
    more = run("kitchen", "baskets", "add", "Blue  Bucket", "--green-bean=11-13 lb", "--json")
    kept = {"blue bucket": {"cucumber": "23 lb", "green bean": "11-13 lb"}}
    assert more.document["baskets"] == kept
    assert run("kitchen", "baskets", "list", "--json").document["baskets"] == kept
    assert run("kitchen", "--json").document["own_baskets"] == ["blue bucket"]
    assert run("undo", "--yes").code == 0
    listed = run("kitchen", "baskets", "list", "--json").document["baskets"]
    assert listed == {"blue bucket": {"cucumber": "23 lb"}}


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        (("bushel", "--okra", "20 lb"), "is a measure already"),
        (("cup", "--okra", "20 lb"), "is a measure already"),
        (("2 buckets", "--okra", "20 lb"), "begins with a letter"),
        (("pail", "--okra", "20"), "no unit"),
        (("pail", "--okra", "0 lb"), "more than 0"),
        (("pail", "okra", "20 lb"), "each produce with its weight"),
        (("pail", "--okra"), "each produce with its weight"),
    ],
)
def test_a_basket_that_cannot_be_is_refused(run: Run, typed: tuple[str, ...], why: str) -> None:
    ran = run("kitchen", "baskets", "add", *typed)
    assert ran.code == 1
    assert why in ran.err
    assert run("kitchen", "baskets", "list").out.startswith("No baskets")


def test_a_basket_is_a_weight_wherever_one_is(run: Run, kitchen: Path) -> None:
    run(*BUCKET)
    run(*RECORD, "--as-bought", "2 blue buckets", "--batch", "by options", "--yes")
    run("record", "cucumber spears: 2 blue buckets, 14 quarts", "--batch", "by line", "--yes")
    begun = run("begin", *SPEARS, "--as-bought", "2 blue buckets", "--batch", "open", "--json")
    assert begun.code == 0, begun.err
    batches = run("batches", "--json").document["batches"]
    assert [one["as_bought_g"] for one in batches] == [pytest.approx(46 * POUND_G)] * 2
    assert {one["counted"]["as_bought_g"]["typed"] for one in batches} == {
        "2 blue buckets of 23 lb"
    }
    line = run("harvest", "--line", "cucumber, spears: 2 blue buckets", "--json").document
    low, high = line["lines"][0]["containers"]["grams"]
    assert math.sqrt(low * high) == pytest.approx(46 * POUND_G)
    assert "about 46 lb" in run("batches").out


def test_a_counted_batch_comes_back_from_an_export_as_it_was(run: Run, kitchen: Path) -> None:
    run(*BUCKET)
    run(*RECORD, "--as-bought", "2 blue buckets", "--trimmed", "40 lb", "--yes")
    run("export", "out.csv")
    text = (kitchen / "out.csv").read_text()
    assert text.splitlines()[1].endswith(",2 blue buckets of 23 lb")
    again = run("import", "out.csv", "--json").document
    assert (again["added"], len(again["skipped"])) == ([], 1)
    # Where nobody knows the bucket it is read as well.
    before = run("batches", "--json").document["batches"]
    elsewhere = ("--ledger", "other.sqlite3")
    assert run("import", "out.csv", *elsewhere).code == 0
    assert run("batches", "--json", *elsewhere).document["batches"] == before


def test_an_amended_batch_keeps_what_was_counted(run: Run) -> None:
    run(*RECORD, "--as-bought", "1/2 bushel", "--batch", "one", "--yes")
    before = run("batches", "--json").document["batches"][0]
    assert run("amend", "one", "sealed=14").code == 0
    assert run("batches", "--json").document["batches"][0] == {**before, "sealed": 14.0}
    assert run("amend", "one", "as_bought=24 lb").code == 0
    assert "counted" not in run("batches", "--json").document["batches"][0]


def test_a_recipe_s_brine_is_that_of_the_heavy_end_of_a_count(run: Run) -> None:
    """A count may weigh more than its middle: the recipe has more brine for it then."""
    card = ("forecast", "--recipe", "pickled-carrots", "--json")
    counted = run(*card, "--trimmed", "16 cups").document
    middle, sd = counted["from"]["grams"], counted["from"]["log_sd"]
    weighed = run(*card, "--trimmed", f"{middle} g").document
    assert counted["brine_to_make_ml"] > weighed["brine_to_make_ml"]
    heavy = run(*card, "--trimmed", f"{middle * math.exp(1.2 * sd)} g").document
    assert counted["brine_to_make_ml"] >= heavy["brine_to_make_ml"]


@pytest.mark.parametrize("typed", ["2 blue crates", "1 1/2 blue crates", "a blue crate"])
def test_a_basket_nobody_has_weighed_is_told_for_what_it_is(run: Run, typed: str) -> None:
    ran = run("forecast", "--produce", "okra", "--as-bought", typed)
    assert ran.code == 1
    said = " ".join(ran.err.split())
    assert "what a blue crate of okra weighs is not known; weigh one" in said
    assert "jarcast kitchen baskets add 'blue crate' --okra '23 lb'" in said
