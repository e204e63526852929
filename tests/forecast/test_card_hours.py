"""A card's hours in salt or soak are known to the forecast, which says so.

Hours are those of the facts read from the source (tests/data/recipe-details.csv, USDA Complete
Guide, Guide 6, 2015: quick fresh-pack dill 12 h, quick sweet 3 to 4 h).
"""

import pytest

from jarcast.forecast.habits import Habits
from jarcast.recipes import shipped_recipes

POUND_G = 453.59237


@pytest.mark.parametrize(("key", "hours"), [("quick-fresh-pack-dill", 12.0), ("quick-sweet", 3.5)])
def test_the_hours_of_a_card_are_taken_unless_others_are_said(
    key: str, hours: float, beginner: Habits
) -> None:
    habits = beginner
    card = shipped_recipes()[key]
    by_card = habits.forecast(recipe=card, as_bought_g=8 * POUND_G)
    assert by_card.request.cure_hours == hours
    assert by_card.cured == 1.0
    said = habits.forecast(recipe=card, as_bought_g=8 * POUND_G, cure_hours=hours)
    assert (by_card.jars.draws == said.jars.draws).all()
    without = habits.forecast(recipe=card, as_bought_g=8 * POUND_G, cure_hours=0.0)
    assert without.cured == 0.0
    # What is not salted keeps its weight, so that it fills no fewer jars.
    assert without.jars.median > by_card.jars.median
    assert habits.forecast(recipe=card, as_bought_g=8 * POUND_G, salt_g=0.0).cured == 0.0


def test_a_soak_whose_hours_are_not_printed_is_taken_as_done(beginner: Habits) -> None:
    # Sweet gherkins stand in two soaks over two days; the source gives no hours for them.
    card = shipped_recipes()["sweet-gherkin"]
    found = beginner.forecast(recipe=card, as_bought_g=7 * POUND_G)
    assert found.cured == 1.0
    assert card.usual_hours is None
