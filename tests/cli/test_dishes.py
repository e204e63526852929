"""A dish is asked back with what it is made of, and is never taken for a vegetable."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
import typer

from jarcast.domain.batch import Batch
from jarcast.domain.dishes import DISHES, made_of
from jarcast.domain.names import produce_key
from jarcast.pooling.reduce import reduce_household

Run = Callable[..., Any]


@pytest.mark.parametrize(
    "said",
    ["bread and butter pickles", "Bread-and-butters", "B&B", "b & b pickles", "bread & butter"],
)
def test_bread_and_butter_pickles_are_one_dish_however_they_are_written(said: str) -> None:
    assert produce_key(said) == "bread and butter pickle"
    # Guide 6 of the Complete Guide to Home Canning, 2015: cucumbers and onions, sliced.
    assert made_of(said) == ("cucumber + onion", "slices")


@pytest.mark.parametrize("said", ["bread and butter zucchini", "cucumber", "dilly beans", "beets"])
def test_a_vegetable_is_no_dish(said: str) -> None:
    assert made_of(said) is None


def test_each_dish_is_named_by_its_key_and_made_of_produce() -> None:
    for name, (produce, _) in DISHES.items():
        assert produce_key(name) == name
        assert produce_key(produce) not in DISHES


def test_off_a_terminal_a_dish_is_forecast_widely_with_a_warning(run: Run) -> None:
    dish = ("forecast", "--produce", "bread and butter pickles", "--as-bought", "9 lb")
    ran = run(*dish, "--json")
    assert ran.code == 0
    assert ran.err.startswith("'bread and butter pickles' is a dish")
    assert "cucumber + onion, slices" in ran.err
    made = ("forecast", "--produce", "cucumber + onion", "--cut", "slices", "--as-bought", "9 lb")
    wide, told = ran.document["jars"], run(*made, "--json").document["jars"]
    assert wide["high"] / wide["low"] > told["high"] / told["low"]
    assert run(*dish, "--as-named").err == ""


def test_at_a_terminal_it_is_asked_what_the_dish_is_made_of(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["cauliflower + carrot, florets", None, "giardiniera"])

    def answer(_: str, *, default: str, **__: object) -> str:
        return next(answers) or default

    monkeypatch.setattr("jarcast.cli.crops.asking", lambda as_json: True)
    monkeypatch.setattr(typer, "prompt", answer)
    forecast = ("forecast", "--produce", "giardiniera", "--trimmed", "6 lb", "--cure-hours", "0")
    titles = [run(*forecast).out.splitlines()[0] for _ in range(3)]
    assert titles[0].startswith("Carrot + cauliflower, florets")
    assert titles[1].startswith("Bell pepper + carrot + cauliflower + celery, pieces")
    assert titles[2].startswith("Giardiniera")


def test_a_dish_is_written_down_as_itself_and_teaches_other_kitchens_nothing(run: Run) -> None:
    assert run("record", "bread and butter pickles: 9 lb, 8 pints").code == 0
    (batch,) = run("batches", "--json").document["batches"]
    assert produce_key(batch["produce"]) == "bread and butter pickle"
    jars: dict[str, Any] = {"jar": ("pint",), "jars": (8.0,), "trimmed_g": 3600.0}
    day = dt.date(2024, 8, 1)
    dish = Batch(batch="d", date=day, produce="giardiniera", **jars)
    carrots = Batch(batch="c", date=day, produce="carrot", cut="sticks", **jars)
    both, alone = reduce_household([dish, carrots]), reduce_household([carrots])
    assert both.batches == alone.batches == 1
    assert both.crops == alone.crops
