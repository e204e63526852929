"""What so many jars take before anything is weighed."""

import pytest

from jarcast import Habits, habits_from
from jarcast.errors import ForecastError
from jarcast.harvest.by_the_jar import by_the_jar
from jarcast.harvest.to_buy import how_much
from jarcast.recipes import scale_for_jars, shipped_recipes

SPEARS = {"produce": "cucumber", "cut": "spears", "pack": "raw", "jar": "quart", "cure_hours": 0.0}


@pytest.fixture(scope="module")
def beginner() -> Habits:
    return habits_from([])


def test_the_middle_weight_fills_about_as_many_jars(beginner: Habits) -> None:
    found = by_the_jar(beginner, SPEARS, jars=7)
    grams = found.weights["as_bought_g"].median
    forecast = beginner.forecast(**SPEARS, as_bought_g=grams)  # type: ignore[arg-type]
    assert forecast.jars.median == pytest.approx(7.0, abs=0.5)
    assert found.brine_ml.median == pytest.approx(forecast.brine_ml.median, rel=0.1)


def test_it_agrees_with_what_is_to_be_bought(beginner: Habits) -> None:
    """What is enough nine times in ten is asked both ways: of the jars, and of the weight."""
    found = by_the_jar(beginner, SPEARS, jars=20)
    bought = how_much(beginner, SPEARS, jars=20, chance=0.9)
    assert found.weights["as_bought_g"].quantile(0.9) == pytest.approx(bought.grams, rel=0.05)


def test_twice_the_jars_take_twice_the_produce(beginner: Habits) -> None:
    one, two = (by_the_jar(beginner, SPEARS, jars=jars) for jars in (7, 14))
    assert two.ready_g.median == pytest.approx(2.0 * one.ready_g.median, rel=0.05)
    # What stays in the pot comes once.
    assert one.brine_ml.median < two.brine_ml.median < 2.0 * one.brine_ml.median


def test_produce_and_brine_fill_the_jars(beginner: Habits) -> None:
    """Water weighs 1 g/ml, cucumbers a little less: both together fill the jars, and no more."""
    found = by_the_jar(beginner, SPEARS, jars=7)
    quart = 946.352946  # ml, NIST Handbook 44, Appendix C
    together = found.ready_g.median + found.brine_ml.median
    assert 0.85 * 7 * quart < together < 1.1 * 7 * quart


def test_by_a_card_the_whole_formula_is_scaled(beginner: Habits) -> None:
    card = shipped_recipes()["quick-fresh-pack-dill"]
    found = by_the_jar(beginner, {"recipe": card, "jar": "quart"}, jars=7)
    formula = found.formula_to_make()
    assert formula is not None
    assert found.brine_to_make() == formula.made_ml
    assert found.brine_to_make() >= found.brine_ml.quantile(0.95)


def test_no_larger_chance_of_running_short_is_taken_unweighed(beginner: Habits) -> None:
    found = by_the_jar(beginner, SPEARS, jars=7)
    with pytest.raises(ForecastError, match="before anything is weighed"):
        found.brine_to_make(0.2)


def test_what_makes_its_own_liquid_takes_no_brine(beginner: Habits) -> None:
    found = by_the_jar(beginner, {"recipe": shipped_recipes()["pickle-relish"]}, jars=7)
    assert found.brine_ml.quantile(1.0) == 0.0
    assert found.ready_g.median > 0.0


COVERED = [key for key, card in shipped_recipes().items() if not card.own_liquid]


@pytest.mark.parametrize("key", COVERED)
def test_by_a_card_no_less_is_made_than_for_these_jars_by_its_printed_yield(
    beginner: Habits, key: str
) -> None:
    # The recipe scaled by jars and by the jar is one recipe: both have its printed yield.
    card = shipped_recipes()[key]
    jars = card.tested.middle_jars
    found = by_the_jar(beginner, {"recipe": card, "jar": card.tested.jar}, jars=jars)
    assert card.safety is not None
    assert found.printed_times == pytest.approx(1.0)
    assert found.brine_to_make() >= card.safety.volume_ml * (1 - 1e-9)
    formula = found.formula_to_make()
    assert formula is not None
    if found.by_printed_yield():
        scaled = scale_for_jars(card, [(jars, card.tested.jar)])
        assert [one.text for one in formula.brine] == [one.text for one in scaled.brine]
