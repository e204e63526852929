"""A forecast in words and as JSON: what was computed is what is told."""

import re
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.forecast.answer import Forecast, RestsOn
from jarcast.forecast.habits import Habits, habits_from
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units
from jarcast.views.forecast import (
    DECIDE,
    NEVER_LESS,
    forecast_document,
    forecast_text,
    outcome_document,
    rests_on_text,
)


@pytest.fixture(scope="module")
def habits() -> Habits:
    """The starting beliefs."""
    return habits_from([])


def words(text: str) -> str:
    return " ".join(text.split())


def replaced(forecast: Forecast, **values: Any) -> Forecast:

    return replace(forecast, **values)


@pytest.fixture(scope="module")
def carrots(habits: Habits) -> Forecast:
    """A forecast whose draws are made up, so that every number in its words is known.

    Jars run evenly from 5 to 15, brine from 0 to 10 US cups (236.5882365 ml: NIST Handbook 44).
    """
    forecast = habits.forecast(produce="carrot", cut="sticks", trimmed_g=2700.0, cure_hours=0)
    jars = Outcome(np.linspace(5.0, 15.0, 10_001))
    brine = Outcome(np.linspace(0.0, 10.0, 10_001) * 236.5882365)
    return replaced(
        forecast, jars=jars, jars_by_sort=(jars,), brine_ml=brine, brine_to_come_ml=brine
    )


def test_the_words_are_those_of_the_draws(carrots: Forecast) -> None:
    text = words(forecast_text(carrots, Units.US))
    assert text.startswith(
        "Carrot, sticks: 5 lb 15 oz trimmed JARS About 10 pints, 8 times in 10 between 6 and 14."
    )
    # The 95th of 100 parts of 0 to 10 cups is 9½ cups: short once in twenty.
    assert "BRINE Make 9½ cups of brine: 1 chance in 20 of running short." in text
    assert "SET OUT 15 jars and lids, " in text  # 14.5 of them nineteen times in twenty
    assert (
        "use about 5 cups, with what stays in the pot, 8 times in 10 between 1 and 9 cups." in text
    )


def test_a_range_whose_ends_read_the_same_is_told_by_its_middle(carrots: Forecast) -> None:
    jars = Outcome(np.linspace(13.9, 14.1, 10_001))
    brine = Outcome(np.linspace(4.99, 5.01, 10_001) * 236.5882365)
    text = words(forecast_text(replaced(carrots, jars=jars, brine_ml=brine), Units.US))
    assert "JARS About 14 pints. BRINE Make " in text
    assert " You'll use about 5 cups, with what stays in the pot. SET OUT " in text


def test_level_and_chance_are_told_as_they_were_asked(carrots: Forecast) -> None:
    text = words(forecast_text(carrots, Units.US, level=0.5, short_chance=0.04))
    assert "JARS About 10 pints, 5 times in 10 between 7½ and 12½." in text
    # 96 of 100 parts of 0 to 10 cups is 9.6; above 8 cups a kitchen measures half cups.
    assert "Make 10 cups of brine: 1 chance in 25" in text


def test_metric_kitchens_get_litres_and_kilograms(carrots: Forecast) -> None:
    text = words(forecast_text(carrots, Units.METRIC))
    assert "2.70 kg trimmed" in text
    assert "cups" not in text
    # 9½ cups are 2.248 l, and up to 5 l a metric kitchen measures to 100 ml.
    assert "Make 2.30 l" in text


def test_caution_defers_to_the_recipe_and_no_safety_number_is_given(carrots: Forecast) -> None:
    text = words(forecast_text(carrots, Units.US))
    assert DECIDE in text
    assert NEVER_LESS in text
    assert "tested recipe" in DECIDE
    assert "local food-safety guidance" in DECIDE
    assert not re.search(r"[0-9]+ ?(%|minutes|min\b|psi|lb of pressure)", text)


def test_no_line_is_wider_than_a_terminal(carrots: Forecast, habits: Habits) -> None:
    long = habits.forecast(
        produce="cucumber + " * 8 + "carrot", as_bought_g=9000.0, jar="3 quart-wide, then pint"
    )
    for forecast in (carrots, long):
        for units in Units:
            assert max(len(s) for s in forecast_text(forecast, units).splitlines()) <= 80


@pytest.mark.parametrize(
    ("rests", "due"),
    [
        (
            RestsOn(0, 0, 0, "this cut"),
            "No batch of your own yet: based on published yields.",
        ),
        (
            RestsOn(1, 0, 0, "this cut"),
            "Based on 1 of your batches like this, and published yields.",
        ),
        (
            RestsOn(3, 2, 7, "this cut"),
            "Based on 3 of your batches like this, 2 other carrot, 7 others, and published yields.",
        ),
        (
            RestsOn(1, 0, 1, "this cut"),
            "Based on 1 of your batches like this, 1 other, and published yields.",
        ),
        (
            RestsOn(0, 0, 7, "this produce"),
            "Based on 7 of your batches of other produce, and published yields of carrot in "
            "general, not of this cut.",
        ),
        (
            RestsOn(0, 0, 0, "nothing published"),
            "No batch of your own yet: based on a rough guess, as nothing is published of it.",
        ),
    ],
)
def test_what_a_forecast_rests_on_is_one_sentence(
    carrots: Forecast, rests: RestsOn, due: str
) -> None:
    assert rests_on_text(replaced(carrots, rests_on=rests)) == due


def test_it_says_when_the_cure_was_left_open(habits: Habits) -> None:
    # Cabbage is commonly salted first (common practice, no source).
    open_ = habits.forecast(produce="cabbage", cut="shredded", trimmed_g=2700.0)
    said = habits.forecast(produce="cabbage", cut="shredded", trimmed_g=2700.0, cure_hours=24)
    assert 0.0 < open_.cured <= 1.0
    assert "not, add --cure-hours 0." in words(forecast_text(open_, Units.US))
    assert "--cure-hours" not in forecast_text(said, Units.US)


def test_json_has_the_outcomes_of_the_draws(carrots: Forecast) -> None:
    document = forecast_document(carrots, Units.US, level=0.8, short_chance=0.05)
    jars = document["jars"]
    assert jars == outcome_document(carrots.jars, 0.8)
    assert (jars["median"], jars["low"], jars["high"]) == pytest.approx((10.0, 6.0, 14.0))
    assert document["brine_ml"]["high"] == pytest.approx(9 * 236.5882365)
    assert document["brine_to_make_ml"] == pytest.approx(9.5 * 236.5882365)
    assert document["short_chance"] == 0.05
    assert document["jars_by_sort"] == [jars]
    assert document["floor_known"] is False
    assert document["from"] == {"stage": "trimmed_g", "grams": 2700.0}


def test_jars_to_set_out_are_told_by_sort(habits: Habits) -> None:
    # 6 quarts come first; what is left of all those to set out is pints.
    forecast = habits.forecast(
        produce="carrot", cut="sticks", trimmed_g=9000.0, cure_hours=0, jar="6 quart, then pint"
    )
    count = forecast.jars_to_have()
    said = f"SET OUT {count} jars and lids (6 quarts, then {count - 6} pints)"
    assert said in words(forecast_text(forecast, Units.US))
    few = habits.forecast(
        produce="carrot", cut="sticks", trimmed_g=900.0, cure_hours=0, jar="6 quart, then pint"
    )
    count = few.jars_to_have()
    assert count <= 6
    assert f"{count} jars and lids ({count} quart" in words(forecast_text(few, Units.US))


def test_a_middle_and_its_range_have_one_unit(carrots: Forecast) -> None:
    # Brine from 12 to 30 cups, its middle 21: 16 cups are a gallon.
    brine = Outcome(np.linspace(12.0, 30.0, 10_001) * 236.5882365)
    forecast = replaced(carrots, brine_ml=brine, brine_to_come_ml=brine)
    text = words(forecast_text(forecast, Units.US))
    assert "You'll use about 21 cups, with what stays in the pot, 8 times in 10 between 14" in text


@pytest.mark.parametrize("trimmed_g", [4000.0, 6000.0, 9000.0])
def test_what_is_used_and_what_to_have_stand_in_one_unit(habits: Habits, trimmed_g: float) -> None:
    forecast = habits.forecast(
        produce="carrot", cut="sticks", pack="raw", trimmed_g=trimmed_g, cure_hours=0
    )
    pots = words(forecast_text(forecast, Units.US, load=7))
    (said,) = re.findall(r"In all you'll use [^.]*\.", pots)
    middle, high = forecast.brine_ml.median, forecast.brine_ml.interval(0.8)[1]
    assert middle > 16 * 236.5882365 or trimmed_g < 9000.0  # a gallon and more
    assert ("cups" in said) == (high < 64 * 236.5882365)
    assert ("cups" in said) != (" gal" in said)
