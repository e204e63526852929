"""What to make is one figure: in words, on the sheet, in JSON, and by what the formula makes."""

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jarcast import Habits, habits_from
from jarcast.forecast.answer import Forecast
from jarcast.measures import Units, parse_volume, parse_weight
from jarcast.recipes import Kind, Recipe, Scaled, shipped_recipes
from jarcast.views.counter import expected_lines, paragraphs
from jarcast.views.counter_documents import expected_document, to_come_document
from jarcast.views.forecast import forecast_document, forecast_text
from jarcast.views.pages.sheet import sheet_page

COVERED = [card for card in shipped_recipes().values() if not card.own_liquid]
CUP = 236.5882365  # NIST Handbook 44, Appendix C
# Grams a cup: USDA Standard Reference 28, NDB 19335. Dissolved sugar takes 0.62 ml a gram (CRC
# Handbook, from memory).
SUGAR_G_PER_CUP, SUGAR_ML_PER_G = 200.0, 0.62
# What a formula makes, as a forecast and as the lines of a formula say it.
IN_A_SENTENCE = r"\. ([0-9½¼¾⅓⅔][^:,]*?) is [^:]+: the whole formula "
IN_LINES = r"which makes (.+?):"
both_units = st.sampled_from(list(Units))


@pytest.fixture(scope="module")
def beginner() -> Habits:
    """Nobody's habits yet."""
    return habits_from([])


def poured_together(formula: Scaled) -> float:
    """Room in ml of the formula, read again from what it says in words."""
    total = 0.0
    for portion in formula.brine:
        if portion.ingredient.kind.liquid:
            total += parse_volume(portion.text)
        elif portion.ingredient.kind is Kind.SUGAR:
            weighed = portion.by_weight
            grams = (
                parse_weight(portion.text)
                if weighed
                else parse_volume(portion.text) / CUP * SUGAR_G_PER_CUP
            )
            total += SUGAR_ML_PER_G * grams
    return total


def said(pattern: str, text: str) -> str:
    found = re.search(pattern, " ".join(text.split()))
    assert found, text
    return " ".join(part for part in found.groups() if part)


def weighed(card: Recipe, grams: float) -> dict[str, float]:
    return {"as_bought_g": grams, "trimmed_g": 0.9 * grams}


def check_one_number(forecast: Forecast, units: Units) -> None:
    order, formula = forecast.brine_to_make(units=units), forecast.formula_to_make(units=units)
    assert formula is not None
    assert order == formula.made_ml
    poured = poured_together(formula)
    wide = (CUP if order >= 64 * CUP else CUP / 2) if units is Units.US else 500.0
    assert order * (1 - 1e-6) <= poured < order + wide  # to the kitchen's step
    assert order >= (forecast.floor_ml or 0.0)
    assert order >= forecast.brine_short_ml.quantile(0.95) * (1 - 1e-9)
    document = forecast_document(forecast, units)
    assert document["brine_to_make_ml"] == document["brine_made_ml"] == order
    beside = expected_document(forecast, units)
    assert beside is not None
    assert beside["brine_to_make_ml"] == order
    assert to_come_document(forecast, units)["brine_to_make_ml"] == order
    page = sheet_page(forecast, units)
    check_text(forecast, forecast_text(forecast, units), units, IN_A_SENTENCE)
    check_text(forecast, paragraphs(expected_lines(forecast, None, units)), units, IN_LINES)
    step = CUP / 4 if units is Units.US else 50.0
    assert order / step == pytest.approx(round(order / step), abs=1e-9)
    made = said(IN_LINES, page)
    unit = r'(?: <p class="unit"><bdi>(.*?)</bdi></p>)?'
    answer = r'Make brine</h2> <p class="number">([^<]*)</p>' + unit
    assert parse_volume(said(answer, page)) == parse_volume(made)


def check_text(forecast: Forecast, text: str, units: Units, makes: str) -> None:
    """One pot is the whole order; of two, the first is what the formula makes, both the order."""
    order, pots = forecast.brine_to_make(units=units), forecast.pots(units=units)
    shown = {said(makes, text)}
    if len(pots) == 1:
        shown.add(said(r"Make (.+?) of the recipe's brine", text))
    else:
        shown.add(said(r"Heat (.+?) for the first [^ ]+ jars", text))
        whole = said(r"have enough for (.+?)\. (?:SET OUT|Each pot|! )", text)
        assert parse_volume(whole) == pytest.approx(order, rel=1e-9)
    assert len(shown) == 1
    assert parse_volume(shown.pop()) == pytest.approx(pots[0].ml, rel=1e-9)
    listed = forecast_document(forecast, units)["pots"]
    assert [pot["ml"] for pot in listed] == [pot.ml for pot in pots]


@given(st.sampled_from(COVERED), st.floats(100.0, 6e4), both_units, st.integers(0, 50))
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_text_sheet_json_and_formula_have_one_figure(
    beginner: Habits, card: Recipe, grams: float, units: Units, seed: int
) -> None:
    forecast = beginner.forecast(recipe=card, draws=200, seed=seed, **weighed(card, grams))  # type: ignore[arg-type]
    check_one_number(forecast, units)


@pytest.mark.parametrize("pounds", [8, 16])
@pytest.mark.parametrize("key", ["quick-fresh-pack-dill", "pickled-beets"])
def test_large_orders_are_said_exactly(beginner: Habits, key: str, pounds: int) -> None:
    card = shipped_recipes()[key]
    forecast = beginner.forecast(recipe=card, as_bought_g=pounds * 453.59237, cure_hours=0.0)
    check_one_number(forecast, Units.US)
