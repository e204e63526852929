"""Brine by pots: the first for the first load, and in all never less than the whole order."""

from typing import Any

import numpy as np
import pytest

from jarcast import Forecast, Habits, SoFar, habits_from
from jarcast.errors import ForecastError
from jarcast.forecast.first_load import waits_for_reading
from jarcast.forecast.pots import first_pot_ml, next_pot
from jarcast.measures import Units
from jarcast.recipes import shipped_recipes

CUP = 236.5882365  # ml, NIST Handbook 44, Appendix C
POUND_G = 453.59237


@pytest.fixture(scope="module")
def beginner() -> Habits:
    return habits_from([])


@pytest.fixture(scope="module")
def carrots(beginner: Habits) -> Forecast:
    """Three loads of pints, raw."""
    return beginner.forecast(
        produce="carrot", cut="sticks", pack="raw", trimmed_g=14 * POUND_G, cure_hours=0
    )


def test_the_first_pot_is_near_its_share_of_the_brine(carrots: Forecast) -> None:
    """Reckoned another way: the load's share of all the brine, its loss shared out evenly."""
    assert carrots.chain is not None
    share = np.minimum(7.0 / carrots.jars.draws, 1.0)
    evenly = float(np.quantile(carrots.brine_ml.draws * share, 0.975))
    assert first_pot_ml(carrots.chain, 7, 0.05) == pytest.approx(evenly, rel=0.1)


def test_more_jars_and_more_certainty_take_more(carrots: Forecast) -> None:
    assert carrots.brine_for(5) < carrots.brine_for(7) < carrots.brine_for(14)
    assert carrots.brine_for(7, 0.05) < carrots.brine_for(7, 0.01)


def test_all_the_jars_take_the_whole_order(carrots: Forecast) -> None:
    assert carrots.brine_for(10_000) == carrots.brine_to_make()
    assert [pot.ml for pot in carrots.pots(load=10_000)] == [carrots.brine_to_make()]


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("chance", [0.01, 0.05])
def test_pots_come_to_the_whole_order(carrots: Forecast, units: Units, chance: float) -> None:
    first, rest = carrots.pots(7, chance, units)
    assert first.ml + rest.ml == pytest.approx(carrots.brine_to_make(chance, units))
    assert first.ml == carrots.brine_for(7, chance, units)
    assert 0.0 <= rest.low_ml <= rest.high_ml <= rest.ml
    step = CUP / 4 if units is Units.US else 50.0
    assert first.ml / step == pytest.approx(round(first.ml / step))


def test_by_a_card_no_sum_lies_below_its_proportion_and_the_first_has_its_part(
    beginner: Habits,
) -> None:
    card = shipped_recipes()["quick-fresh-pack-dill"]
    found = beginner.forecast(recipe=card, as_bought_g=24 * POUND_G, cure_hours=0.0)
    # By the card 8 lb as bought have 6 cups of vinegar, 8 of water and 1/4 of sugar: 24 lb three
    # times that, and somewhat for the sugar's own room.
    floor = 3 * 14 * CUP
    first, rest = found.pots()
    assert first.ml + rest.ml >= floor
    part = 7.0 / found.jars.quantile(0.95)
    assert first.ml >= floor * part
    formula = found.formula_for(7)
    assert formula is not None
    assert formula.made_ml == first.ml


@pytest.mark.parametrize(
    "asked",
    [
        {"produce": "carrot", "cut": "sticks", "pack": "hot"},
        {"produce": "carrot", "cut": "sticks"},  # a pack that is not said may be a hot one
        {"recipe": shipped_recipes()["pickled-beets"]},  # heated in it
        {"recipe": shipped_recipes()["fourteen-day-sweet"]},  # stands in it: Guide 6, p. 6-11
        {"recipe": shipped_recipes()["sweet-gherkin"]},  # Guide 6, p. 6-10
        {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "7 pint, then quart"},
    ],
    ids=["hot", "unsaid", "card", "14 days", "gherkins", "one load"],
)
def test_one_number_where_there_are_no_pots(beginner: Habits, asked: dict[str, object]) -> None:
    grams = (3 if "jar" in asked else 14) * POUND_G
    found = beginner.forecast(**asked, trimmed_g=grams, cure_hours=0)  # type: ignore[arg-type]
    assert [pot.ml for pot in found.pots()] == [found.brine_to_make()]


def test_what_makes_its_own_liquid_has_no_pots(beginner: Habits) -> None:
    card = shipped_recipes()["pickle-relish"]
    assert beginner.forecast(recipe=card, trimmed_g=20 * POUND_G).pots() == ()


def test_once_packing_has_begun_it_is_what_is_still_to_make(beginner: Habits) -> None:
    found = beginner.forecast(
        produce="carrot", cut="sticks", pack="raw", trimmed_g=14 * POUND_G, cure_hours=0,
        so_far=SoFar(3, produce_left_g=11 * POUND_G, pot_left_ml=4 * CUP, brine_made_ml=9 * CUP),
    )  # fmt: skip
    assert found.brine_for(7) == found.brine_to_make()


@pytest.mark.parametrize("jars", [0, -1, float("nan"), float("inf")])
def test_brine_for_no_jars_is_refused(carrots: Forecast, jars: float) -> None:
    with pytest.raises(ForecastError, match="more than 0 are due"):
        carrots.brine_for(jars)


def test_the_next_pot_is_ordered_where_the_first_does_not_do(carrots: Forecast) -> None:
    """Ordered so that the whole runs short once in twenty: in so many draws it is enough."""
    assert carrots.chain is not None
    little, much = (next_pot(carrots.chain, ml, 0.05) for ml in (1.0, 1e6))
    assert much.quantile(1.0) == 0.0
    # In the middle it is more than what is used, and less than what is ordered unseen.
    assert carrots.brine_ml.median < little.median < carrots.brine_ml.quantile(0.95)


@pytest.mark.parametrize("load", [7.0, 8.0])
@pytest.mark.parametrize("grams", [6000.0, 9000.0, 15000.0])
def test_a_first_pot_does_until_something_is_read_of_its_load(
    habits: Habits, grams: float, load: float
) -> None:
    asked: dict[str, Any] = {
        "produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": grams, "cure_hours": 0.0,
    }  # fmt: skip
    first = habits.forecast(**asked).pots(load)[0].ml

    def waits(jars: float, made: float = first, **read: float) -> bool:
        so_far = SoFar(jars=jars, brine_made_ml=made, **read)
        return waits_for_reading(habits.forecast(**asked, so_far=so_far), load)

    assert [waits(jars) for jars in (1.0, 3.0, load - 1.0)] == [True] * 3
    assert not waits(load)  # its load is full
    assert not waits(2.0, made=0.5 * first)
    assert not waits(3.0, pot_left_ml=0.5 * first)  # the pot was read, and tells
