"""A forecast by a tested recipe: the card decides, the floor holds, the block stays the card's."""

import datetime as dt
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from jarcast import Habits, habits_from
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.packing import SoFar
from jarcast.errors import ForecastError, RecipeError
from jarcast.files.shipped import shipped
from jarcast.forecast.answer import Forecast
from jarcast.forecast.request import JarTurn, Request
from jarcast.forecast.sample import Drawn
from jarcast.measures import POUND_G, Units
from jarcast.recipes import (
    Basis,
    Kind,
    Place,
    Recipe,
    Scaled,
    cook_line,
    load_card,
    read_card,
    safety_block,
    scale_to_volume,
    shipped_recipes,
)
from jarcast.views.forecast import forecast_document, forecast_text

RECIPES = shipped_recipes()
BEETS, CARROTS = RECIPES["pickled-beets"], RECIPES["pickled-carrots"]
COVERED = [card for card in RECIPES.values() if not card.own_liquid]
WEIGHED = [card for card in COVERED if card.tested.grams is not None]
POUND = float(POUND_G)
CUP = 236.5882365  # NIST Handbook 44, Appendix C

YIELD_ONLY = read_card(
    'name = "Kohlrabi sticks"\nproduce = "kohlrabi"\ncut = "sticks"\nstyle = "cover brine"\n'
    '[tested]\namount = "2 kg"\nbasis = "as bought"\njar = "pint"\njars = [5, 6]\n',
    "kohlrabi-sticks",
)


def carrots(habits: Habits, **asked: Any) -> Forecast:
    return habits.forecast(recipe=CARROTS, **{"trimmed_g": 5 * POUND, **asked})


# --- what the card decides


def test_the_card_says_what_is_put_up_unless_that_is_given(habits: Habits) -> None:
    asked = habits.forecast(recipe=BEETS, as_bought_g=3000.0).request
    assert (asked.produce, asked.cut, asked.pack) == ("beet", "slices", "hot")
    given = habits.forecast(
        recipe=BEETS, as_bought_g=3000.0, produce="Beets", cut="whole", pack="boiled"
    ).request
    assert (given.produce, given.cut, given.pack) == ("beet", "whole", "hot")
    with pytest.raises(RecipeError, match="does not list a raw pack; listed: hot"):
        habits.forecast(recipe=BEETS, as_bought_g=3000.0, pack="raw")


def test_a_card_of_several_packs_does_not_choose_one(habits: Habits) -> None:
    assert habits.forecast(recipe=RECIPES["quick-sweet"], trimmed_g=3000.0).request.pack == ""


def test_without_a_recipe_the_produce_is_still_needed(habits: Habits) -> None:
    with pytest.raises(ForecastError, match="needs a produce"):
        habits.forecast(trimmed_g=2000.0)


def test_another_produce_than_the_cards_is_refused(habits: Habits) -> None:
    with pytest.raises(ForecastError, match="is for beet, not for carrot; leave the produce out"):
        habits.forecast(recipe=BEETS, produce="carrots", trimmed_g=2000.0)


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_headspace_and_jar_are_the_cards(key: str, beginner: Habits) -> None:
    card = RECIPES[key]
    assert card.safety is not None
    request = beginner.forecast(recipe=card, trimmed_g=3000.0, draws=50).request
    assert request.headspace_in == card.safety.headspace_in
    assert [turn.jar.key for turn in request.turns] == [card.tested.jar]
    fill = SHELF[card.tested.jar].fill_volume_ml(card.safety.headspace_in)
    assert request.turns[0].fill_ml == fill


@pytest.mark.parametrize("inches", [0.0, 0.25, 0.375, 0.75, 1.0])
def test_another_headspace_than_the_cards_is_refused_as_the_recipes_number(
    inches: float, habits: Habits
) -> None:
    with pytest.raises(ForecastError, match=r"0\.5 in is what the recipe .* comes from the recipe"):
        carrots(habits, headspace_in=inches)


@pytest.mark.parametrize("inches", [0.5, 12 / 25.4, 13 / 25.4])
def test_the_cards_headspace_may_be_given_as_a_ruler_shows_it(
    inches: float, habits: Habits
) -> None:
    assert carrots(habits, headspace_in=inches).request.headspace_in == 0.5


def test_a_headspace_that_is_no_number_is_refused(habits: Habits) -> None:
    with pytest.raises(ForecastError):
        carrots(habits, headspace_in=float("nan"))


@given(st.sampled_from(sorted(RECIPES)), st.sampled_from(sorted(SHELF)), st.booleans())
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_a_jar_outside_the_card_is_refused_alone_and_in_a_list(
    beginner: Habits, key: str, jar: str, first: bool
) -> None:
    card = RECIPES[key]
    assert card.safety is not None
    tested = card.safety.jars[0]
    listed = f"3 {jar}, then {tested}" if first else f"3 {tested}, then {jar}"
    for text in (jar, listed):
        if jar.removesuffix("-wide") in card.safety.jars:
            forecast = beginner.forecast(recipe=card, trimmed_g=3000.0, jar=text, draws=20)
            assert jar in [turn.jar.key for turn in forecast.request.turns]
            continue
        with pytest.raises(RecipeError) as caught:
            beginner.forecast(recipe=card, trimmed_g=3000.0, jar=text, draws=20)
        assert "this card does not list" in str(caught.value)
        assert "listed: " + ", ".join(card.safety.jars) in str(caught.value)


@pytest.mark.parametrize("jar", ["bucket", "half litre"])
def test_a_jar_nobody_has_is_answered_with_the_tested_ones(jar: str, habits: Habits) -> None:
    with pytest.raises(RecipeError, match=r"listed: pint\b"):
        carrots(habits, jar=jar)


def test_a_jar_one_measured_oneself_is_no_tested_size(habits: Habits) -> None:
    shelf = {**SHELF, "pint": Jar("pint", 560.0, 60.0)}
    with pytest.raises(RecipeError, match="measured yourself"):
        carrots(Habits(habits.learned, shelf))


def test_a_later_stage_that_weighs_more_than_an_earlier_one_is_refused(habits: Habits) -> None:
    with pytest.raises(ForecastError, match=r"trimmed, 3000 g .* is more than as bought, 2000 g"):
        habits.forecast(recipe=BEETS, as_bought_g=2000.0, trimmed_g=3000.0)


# --- the floor


def test_the_floor_is_the_printed_brine_for_each_pound_at_the_cards_stage(habits: Habits) -> None:
    # NCHFP pickled carrots: 5 1/2 cups vinegar, 1 cup water, 2 cups sugar to 2 3/4 lb prepared.
    # 200 g of sugar a cup (SR28, NDB 19335), 0.62 ml a gram dissolved (CRC Handbook, from memory).
    forecast = carrots(habits)
    floor = 5 / 2.75 * (6.5 * CUP + 400 * 0.62)
    assert forecast.floor_ml == pytest.approx(floor, rel=1e-9)
    assert forecast.brine_to_make() >= floor


def test_the_floor_goes_by_the_cards_stage_whatever_was_weighed_after_it(habits: Habits) -> None:
    early = habits.forecast(recipe=BEETS, as_bought_g=3000.0).floor_ml
    late = habits.forecast(
        recipe=BEETS, as_bought_g=3000.0, trimmed_g=2400.0, cooked_g=2200.0
    ).floor_ml
    assert early is not None
    assert late == early


@pytest.mark.parametrize(
    ("card", "weights"),
    [
        (CARROTS, {"as_bought_g": 2400.0}),
        (CARROTS, {"as_bought_g": (2000.0, 2400.0)}),
        (RECIPES["bread-and-butter-zucchini"], {"trimmed_g": 2400.0}),  # measured by the cup
        (YIELD_ONLY, {"as_bought_g": 2400.0}),
    ],
)
def test_the_floor_is_not_known_where_the_cards_stage_was_not_weighed(
    card: Recipe, weights: dict[str, Any], habits: Habits
) -> None:
    forecast = habits.forecast(recipe=card, **weights)
    assert forecast.floor_ml is None
    assert not forecast.limited_by_recipe()
    text = " ".join(forecast_text(forecast, Units.US).split())
    assert "The recipe's own amount for this much produce is not known: the card " in text
    assert "where the recipe gives more brine for this produce, make that much." in text
    assert forecast_document(forecast, Units.US)["floor_known"] is False
    for ask in (forecast.brine_to_make, forecast.formula_to_make):
        with pytest.raises(ForecastError, match=r"above 0\.05 the recipe's own least amount"):
            ask(0.2)  # nothing would hold so small an order up


@pytest.mark.parametrize(
    ("card", "weights", "words"),
    [
        (BEETS, {"trimmed_g": 2400.0}, "by the trimmed weight; as bought it would be more."),
        (BEETS, {"cooked_g": 2400.0}, "by the ready weight; as bought it would be more, or"),
        (CARROTS, {"cured_g": 2400.0}, "by the cured weight; trimmed it would be more, or somewhat "
         "less after a soak, which adds water: this errs on the safe side."),
        (CARROTS, {"as_bought_g": 3000.0, "cooked_g": 2400.0}, "by the ready weight"),
    ],
)  # fmt: skip
def test_a_weight_after_the_cards_stage_bounds_the_floor_and_says_so(
    card: Recipe, weights: dict[str, float], words: str, habits: Habits
) -> None:
    # Produce weighs no more trimmed than it was bought: the card's own proportion on the later
    # weight is no more than on the weight it was printed for.
    forecast = habits.forecast(recipe=card, **weights)  # type: ignore[arg-type]
    assert card.safety is not None
    assert card.tested.grams is not None
    floor = card.safety.volume_ml * 2400.0 / card.tested.grams
    assert forecast.floor_ml == pytest.approx(floor)
    for chance in (0.01, 0.05, 0.5, 0.9):
        assert forecast.brine_to_make(chance) >= floor
    text = " ".join(forecast_text(forecast, Units.US).split())
    assert "At least " in text
    assert words in text
    document = forecast_document(forecast, Units.US)
    assert (document["floor_known"], document["floor_at_least"]) == (True, True)
    exact = habits.forecast(
        recipe=card, as_bought_g=2400.0, trimmed_g=2400.0, cooked_g=weights.get("cooked_g")
    )
    assert not exact.floor_at_least
    assert "At least " not in forecast_text(exact, Units.US)


def test_dense_batches_do_not_take_the_floor_from_a_later_weight(habits: Habits) -> None:
    # AIB 539, quick fresh-pack dill: 6 cups of vinegar, 8 of water and 1/4 cup of sugar to 8 lb.
    dense = habits_from(
        [
            Batch(
                batch=f"d{n}", date=dt.date(2024, 7, n), produce="cucumber", cut="whole",
                pack="raw", jar=("pint",), jars=(5.0,), trimmed_g=8 * POUND, cure_hours=0.0,
                brine_made_ml=2 * CUP, brine_left_ml=0.5 * CUP,
            )
            for n in range(1, 13)
        ]
    )  # fmt: skip
    dill = RECIPES["quick-fresh-pack-dill"]
    for stage in ("trimmed_g", "cured_g"):
        asked = {stage: 8 * POUND, "cure_hours": 0.0 if stage == "trimmed_g" else None}
        found = dense.forecast(recipe=dill, **asked)  # type: ignore[arg-type]
        for chance in (0.05, 0.9):
            assert found.brine_to_make(chance) >= (14 + 0.25 * 200 * 0.62 / CUP) * CUP


def test_a_clamp_by_the_recipe_is_seen_in_text_and_json(habits: Habits) -> None:
    forecast = carrots(habits)
    assert forecast.limited_by_recipe()
    text = " ".join(forecast_text(forecast, Units.US).split())
    assert "raised to the recipe's own amount for this much produce" in text
    assert "of running short" not in text
    document = forecast_document(forecast, Units.US)
    assert document["limited_by_recipe"] is True
    assert document["brine_to_make_ml"] >= document["floor_ml"] > document["brine_ml"]["high"]


def test_where_the_jars_take_more_the_recipe_does_not_limit(beginner: Habits) -> None:
    forecast = beginner.forecast(recipe=BEETS, as_bought_g=4000.0)
    assert forecast.floor_ml is not None
    assert not forecast.limited_by_recipe()
    said = " ".join(forecast_text(forecast, Units.US).split())
    assert "1 chance in 20 of running short" in said


def test_the_floor_limits_the_order_and_not_what_will_be_used(batches: list[Batch]) -> None:
    # Of somebody who has no smaller jar for the rest: which of these may be used, a card does say.
    habits = habits_from(batches, last_jar="part")
    by_card = carrots(habits)
    plain = habits.forecast(
        produce="carrot", cut="slices", pack="hot", trimmed_g=5 * POUND, headspace_in=0.5
    )
    assert (by_card.brine_ml.draws == plain.brine_ml.draws).all()
    assert plain.floor_ml is None
    assert plain.brine_to_make() < by_card.brine_to_make()


# --- the formula for the order


def part(formula: Scaled, kind: Kind) -> float:
    return sum(float(p.amount) for p in formula.brine if p.ingredient.kind is kind)


def test_the_order_is_the_whole_formula_by_one_factor(habits: Habits) -> None:
    formula = carrots(habits).formula_to_make()
    assert formula is not None
    printed = {"white vinegar": 5.5, "water": 1.0, "sugar": 2.0}  # cups: NCHFP pickled carrots
    made = {p.ingredient.name: (p.ml or 0.0) / CUP for p in formula.brine}
    times = made["white vinegar"] / printed["white vinegar"]
    assert set(made) == {*printed, "canning salt"}
    for name, cups in printed.items():
        assert made[name] <= times * cups + 1e-9  # rounding never thins the vinegar
        mark = 1 / 8 if made[name] < 2 else 1 / 4  # the marks of spoons and cups there
        assert made[name] == pytest.approx(times * cups, abs=mark)
    assert formula.made_ml == carrots(habits).brine_to_make()


def test_without_a_card_or_a_source_there_is_no_formula(habits: Habits) -> None:
    assert habits.forecast(produce="carrot", trimmed_g=2000.0).formula_to_make() is None
    assert habits.forecast(recipe=YIELD_ONLY, as_bought_g=2000.0).formula_to_make() is None


weights = st.floats(50.0, 2e5)
units = st.sampled_from(list(Units))
chances = st.floats(0.005, 0.5)


@given(st.sampled_from(WEIGHED), weights, units, chances)
@settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_what_is_ordered_and_measured_out_is_never_below_the_cards_proportion(
    habits: Habits, card: Recipe, grams: float, kitchen: Units, chance: float
) -> None:
    assert card.safety is not None
    assert card.tested.grams is not None
    stage = "as_bought_g" if card.tested.basis is Basis.AS_BOUGHT else "trimmed_g"
    forecast = habits.forecast(recipe=card, draws=64, **{stage: grams})  # type: ignore[arg-type]
    floor, order = forecast.floor_ml, forecast.brine_to_make(chance, kitchen)
    formula = forecast.formula_to_make(chance, kitchen)
    assert floor is not None
    assert formula is not None
    assert order >= floor
    assert order >= forecast.brine_ml.quantile(1.0 - chance)
    assert formula.made_ml == order
    printed = sum(p.ml or 0.0 for p in card.safety.formula if p.kind.acid)
    acid = sum(p.ml or 0.0 for p in formula.brine if p.ingredient.kind.acid)
    assert acid / grams >= printed / card.tested.grams * (1 - 1e-9)
    water = sum(p.ml or 0.0 for p in card.safety.formula if p.kind is Kind.WATER)
    poured = sum(p.ml or 0.0 for p in formula.brine if p.ingredient.kind is Kind.WATER)
    assert poured * printed <= water * acid * (1 + 1e-9)


@given(st.sampled_from(COVERED), st.floats(100.0, 1e5), st.floats(1.0, 3.0), units)
@settings(max_examples=150, deadline=None)
def test_more_brine_is_no_less_of_any_ingredient(
    card: Recipe, order: float, times: float, kitchen: Units
) -> None:
    less, more = (scale_to_volume(card, ml, kitchen) for ml in (order, order * times))
    assert less.made_ml <= more.made_ml
    for few, many in zip(less.brine, more.brine, strict=True):
        assert few.amount <= many.amount


@given(st.sampled_from(WEIGHED), weights, st.floats(1.0, 5.0))
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_more_produce_has_no_lower_floor(
    beginner: Habits, card: Recipe, grams: float, times: float
) -> None:
    stage = "as_bought_g" if card.tested.basis is Basis.AS_BOUGHT else "trimmed_g"
    floors = [
        beginner.forecast(recipe=card, draws=4, **{stage: weight}).floor_ml or 0.0  # type: ignore[arg-type]
        for weight in (grams, grams * times)
    ]
    assert 0 < floors[0] <= floors[1]


# --- cards without a cover brine, cards without a source


@pytest.mark.parametrize("key", sorted(k for k, card in RECIPES.items() if card.own_liquid))
def test_what_makes_its_own_liquid_has_no_brine_to_make(key: str, habits: Habits) -> None:
    forecast = habits.forecast(recipe=RECIPES[key], as_bought_g=4000.0)
    assert not forecast.has_brine
    assert forecast.floor_ml is None
    assert not forecast.brine_ml.draws.any()
    assert forecast.brine_to_make() == 0.0
    text = forecast_text(forecast, Units.US)
    assert "No brine to make" in text
    assert "loor" not in text
    assert "own amount for this much produce" not in text


TURNIP = (Path(__file__).parents[1] / "data" / "salted-turnip.toml").read_text()
FERMENT = (
    TURNIP
    + """\
[[brine]]
name = "canning salt"
kind = "salt"
amount = "2 oz"
[safety]
headspace_in = 1
jars = ["quart"]
ferment_salt_percent = [2, 3]
"""
)


@pytest.mark.parametrize(
    ("salt_g", "caution"), [(30.0, "Too little salt"), (50.0, ""), (80.0, "Too much salt")]
)
def test_the_salt_of_a_ferment_stays_inside_the_cards_range_both_ways(
    salt_g: float, caution: str, habits: Habits
) -> None:
    card = read_card(FERMENT, "turnip")
    forecast = habits.forecast(recipe=card, trimmed_g=2000.0, salt_g=salt_g)
    assert not forecast.has_brine
    assert not forecast.brine_ml.draws.any()
    text = forecast_text(forecast, Units.METRIC)
    assert "2 to 3 % of the trimmed weight" in text
    assert ("Too " in text) == bool(caution)
    assert caution in text


def test_what_makes_its_own_liquid_follows_its_produce(habits: Habits) -> None:
    # The invented card: 2 oz of salt to 5 lb; twice the produce, twice the salt.
    formula = habits.forecast(
        recipe=read_card(FERMENT, "t"), trimmed_g=10 * POUND
    ).formula_to_make()
    assert formula is not None
    assert formula.brine[0].grams == pytest.approx(POUND / 4, abs=2.0)


def test_a_card_without_a_source_gives_its_yield_and_no_safety_number(habits: Habits) -> None:
    forecast = habits.forecast(
        recipe=YIELD_ONLY, as_bought_g=4000.0, headspace_in=0.25, jar="quart"
    )
    assert forecast.request.headspace_in == 0.25  # nothing there to differ from
    assert forecast.printed_jars == pytest.approx((10.0, 12.0))  # 5 to 6 pints for 2 kg
    text = forecast_text(forecast, Units.US)
    assert "10 to 12 pints" in " ".join(text.split())
    assert "it holds no safety numbers" in " ".join(text.split())
    document = forecast_document(forecast, Units.US)
    assert document["brine_ingredients"] == []
    assert document["recipe"]["source"] is None


# --- the pack check


def packed(grams_per_pint: float, count: int = 12, **changed: Any) -> Habits:
    """Batches of hot-packed beet slices with so much produce, as bought, in each pint."""
    day = dt.date(2024, 9, 1)
    return habits_from(
        [
            Batch(
                **{
                    "batch": str(n), "date": day + dt.timedelta(days=n), "produce": "beet",
                    "cut": "slices", "pack": "hot", "jar": ("pint",), "jars": (8.0 + n % 3,),
                    "as_bought_g": grams_per_pint * (8.0 + n % 3), "cure_hours": 0.0,
                    **changed,
                }
            )
            for n in range(count)
        ],
        whole_jars=False,  # so much in each pint, the last one counted by its part
    )  # fmt: skip


def test_packing_closer_than_the_recipe_is_said_plainly() -> None:
    # AIB 539, Guide 6: 7 lb of beets as bought in 8 pints, 397 g in each.
    habits = packed(480.0)
    forecast = habits.forecast(recipe=BEETS, as_bought_g=4000.0)
    check = habits.pack_check(forecast)
    assert check is not None
    assert check.printed_g == pytest.approx((7 * POUND / 8, 7 * POUND / 8))
    assert check.own_g == pytest.approx(480.0, rel=0.05)
    assert check.chance > 0.8
    text = " ".join(forecast_text(forecast, Units.US, packing=check).split())
    assert "less acid for each gram and slower heat than was tested. Pack looser." in text


@pytest.mark.parametrize("grams", [200.0, 320.0])
def test_packing_looser_needs_no_caution_and_nothing_suggests_packing_tighter(
    grams: float,
) -> None:
    habits = packed(grams)
    forecast = habits.forecast(recipe=BEETS, as_bought_g=4000.0)
    check = habits.pack_check(forecast)
    assert check is not None
    assert check.chance < 0.5
    assert check.message == ""
    text = forecast_text(forecast, Units.US, packing=check)
    assert "nothing to change" in " ".join(text.split())
    assert not re.search(r"tight|Pack looser|more produce in|could hold|denser|room for", text)


def test_the_comparison_is_at_the_cards_stage_by_ones_own_trim_yield() -> None:
    # Carrots are weighed prepared: 2 3/4 lb in 4 pints (NCHFP), 312 g in each. The same jars by
    # weight as bought are heavier by the trim, which must not count against the packer.
    habits = packed(250.0 / 0.8, produce="carrot", trimmed_g=None)
    closer = habits.pack_check(habits.forecast(recipe=CARROTS, trimmed_g=2000.0))
    assert closer is not None
    assert closer.own_g < 0.95 * 250.0 / 0.8
    assert closer.message == ""


@pytest.mark.parametrize(
    ("habits", "card"),
    [
        (packed(480.0, 0), BEETS),
        (packed(480.0, 3, produce="carrot"), BEETS),
        (packed(480.0, 3, pack="raw"), BEETS),
        (packed(480.0, 3, as_bought_g=None), BEETS),  # jars alone tell nothing
        (packed(480.0, 3, produce="zucchini + onion"), RECIPES["bread-and-butter-zucchini"]),
        (packed(480.0, 3, produce="kohlrabi", cut="sticks"), YIELD_ONLY),
        (packed(480.0, 3, produce="corn relish", cut="kernels", pack=""), RECIPES["corn-relish"]),
    ],
    ids=["beginner", "other crop", "other pack", "no weights", "by the cup", "no source", "relish"],
)
def test_without_a_yardstick_or_own_batches_nothing_is_compared(
    habits: Habits, card: Recipe
) -> None:
    forecast = habits.forecast(recipe=card, as_bought_g=4000.0, trimmed_g=3500.0)
    assert habits.pack_check(forecast) is None


def test_a_batch_whose_pack_was_not_written_down_counts() -> None:
    habits = packed(480.0, 3, pack="")
    assert habits.pack_check(habits.forecast(recipe=BEETS, as_bought_g=4000.0)) is not None


# --- the lock


names = sorted({card.produce for card in RECIPES.values()} | {"kohlrabi", ""})
grams = st.none() | st.floats(0.1, 1e6)
some_ml = st.none() | st.floats(0.0, 1e6)


@st.composite
def histories(draw: st.DrawFn) -> list[Batch]:
    """Any history whatever, contradictions and slips of the pen included."""
    batches = []
    for number in range(draw(st.integers(0, 6))):
        sorts = draw(st.integers(1, 2))
        batches.append(
            Batch(
                batch=str(number),
                date=dt.date(2020, 1, 1) + dt.timedelta(days=draw(st.integers(0, 2000))),
                produce=draw(st.sampled_from(names)) or "oca",
                cut=draw(st.sampled_from(["", "slices", "whole", "strips"])),
                pack=draw(st.sampled_from(["", "raw", "hot"])),
                jar=tuple(draw(st.sampled_from(sorted(SHELF))) for _ in range(sorts)),
                jars=tuple(draw(st.floats(0.25, 500.0)) for _ in range(sorts)),
                headspace_in=draw(st.none() | st.floats(0.0, 2.0)),
                as_bought_g=draw(grams),
                trimmed_g=draw(grams),
                cured_g=draw(grams),
                cooked_g=draw(grams),
                salt_g=draw(st.none() | st.floats(0.0, 1e4)),
                cure_hours=draw(st.none() | st.floats(0.0, 200.0)),
                brine_made_ml=draw(some_ml),
                brine_left_ml=draw(some_ml),
                recipe=draw(st.sampled_from(["", "pickled-beets", "headspace 0 in, 1 % vinegar"])),
            )
        )
    return batches


@given(
    histories(), st.sampled_from(sorted(RECIPES)), weights, units,
    st.none() | st.floats(-500, 12_000), st.booleans(), chances,
)  # fmt: skip
@settings(max_examples=100, deadline=None)
def test_for_any_history_the_block_printed_is_the_cards_byte_for_byte(
    history: list[Batch],
    key: str,
    weight: float,
    kitchen: Units,
    altitude: float | None,
    steam: bool,
    chance: float,
) -> None:
    card, fresh = RECIPES[key], load_card(shipped("models", "recipes") / f"{key}.toml")
    habits = habits_from(history)
    forecast = habits.forecast(recipe=card, as_bought_g=weight, trimmed_g=weight, draws=32)
    packing = habits.pack_check(forecast, kitchen)
    shown = {"place": Place(altitude, steam=steam), "packing": packing}
    if forecast.floor_ml is None:
        chance = min(chance, 0.05)  # a larger one is not taken without a floor
    text = forecast_text(forecast, kitchen, 0.8, chance, **shown)  # type: ignore[arg-type]
    document = forecast_document(forecast, kitchen, 0.8, chance, **shown)  # type: ignore[arg-type]
    block = safety_block(
        fresh, fresh.tested.jar, pack=forecast.request.pack, altitude_ft=altitude, units=kitchen
    )
    line = cook_line(
        fresh,
        [fresh.tested.jar],
        pack=forecast.request.pack,
        altitude_ft=altitude,
        units=kitchen,
    )
    # The card is named in the title; its line stands in its row, with a capital to begin.
    head, _, told = line.partition(f"By the card of {fresh.name}: ")
    assert head == ""
    said = " ".join(text.split())
    assert f", by {fresh.name} JARS " in said
    assert f" CARD {told[:1].upper()}{' '.join(told[1:].split())} " in said
    assert document["safety_block"].encode() == block.encode()
    assert fresh.safety is not None
    assert document["headspace_in"] == fresh.safety.headspace_in
    assert card == fresh
    if forecast.floor_ml is not None:
        assert document["brine_to_make_ml"] >= forecast.floor_ml
        assert document["brine_made_ml"] >= forecast.floor_ml * (1 - 1e-9)


@given(histories(), histories(), st.sampled_from(WEIGHED), weights)
@settings(max_examples=40, deadline=None)
def test_the_floor_is_the_same_for_any_two_histories(
    one: list[Batch], other: list[Batch], card: Recipe, weight: float
) -> None:
    floors = {
        habits_from(history)
        .forecast(recipe=card, as_bought_g=weight, trimmed_g=weight, draws=4)
        .floor_ml
        for history in (one, other)
    }
    assert len(floors) == 1
    assert card.tested.grams is not None
    assert card.safety is not None
    assume(None not in floors)
    assert floors.pop() == pytest.approx(card.safety.volume_ml * weight / card.tested.grams)


@pytest.mark.parametrize("kind", [Forecast, Request, JarTurn, Drawn])
def test_the_forecast_types_have_no_field_for_a_safety_number(kind: type) -> None:
    for name, held in kind.__annotations__.items():
        assert not re.search(
            r"process|minute|pressure|psi|altitude|acid|vinegar|percent|formula|floor|safety|tested",
            name,
        ), name
        assert not re.search(r"Safety|Process|Ingredient|Tested", str(held)), name


def test_a_forecast_without_a_recipe_does_not_load_the_recipes() -> None:
    code = (
        "import sys, jarcast.cli; from jarcast.forecast.habits import habits_from; "
        "from jarcast.views.forecast import forecast_text; from jarcast.measures import Units; "
        "f = habits_from([]).forecast(produce='carrot', trimmed_g=2000.0, draws=10); "
        "forecast_text(f, Units.US); "
        "sys.exit(any(name.startswith('jarcast.recipes') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=60).returncode == 0


def test_the_printed_batch_of_each_card_forecasts_its_own_printed_yield(beginner: Habits) -> None:
    # The worked example of each card: its printed weight gives its printed jars.
    for card in WEIGHED:
        grams = card.tested.grams
        forecast = beginner.forecast(recipe=card, as_bought_g=grams, trimmed_g=grams, draws=4)
        assert forecast.printed_jars == pytest.approx(card.tested.jars)
        assert card.safety is not None
        assert forecast.floor_ml == pytest.approx(card.safety.volume_ml)


# --- the jars being filled


def filling(weights: dict[str, float], so_far: SoFar, card: Recipe = CARROTS, **asked: Any) -> str:
    """The caution for the jars of a batch being packed by somebody with no batch of their own."""
    habits = habits_from([])
    forecast = habits.forecast(recipe=card, so_far=so_far, **weights, **asked)
    check = habits.pack_check(forecast)
    return "" if check is None else check.message


# Carrots, by the National Center for Home Food Preservation: 2 3/4 lb prepared in 4 pints, which is
# 11 oz (312 g) in each.
PRINTED_G = 2.75 * POUND / 4


def test_jars_filled_closer_than_was_tested_are_told_while_they_are_filled() -> None:
    noted = SoFar(jars=3.0, produce_g=3 * POUND)
    said = filling({"trimmed_g": 3 * POUND}, noted)
    assert "You put about 1 lb of produce (prepared) in a jar" in said
    assert "has 11 oz: less acid for each gram" in said
    # What is left of a weight tells the same.
    weights = {"trimmed_g": 3 * POUND, "cooked_g": 3 * POUND}
    assert filling(weights, SoFar(jars=2.0, produce_left_g=1 * POUND)) == said


@pytest.mark.parametrize("each", [PRINTED_G, 0.9 * PRINTED_G])
@pytest.mark.parametrize("jars", [1.0, 3.0, 7.0])
def test_jars_filled_as_was_tested_or_looser_need_no_caution(each: float, jars: float) -> None:
    noted = SoFar(jars=jars, produce_g=jars * each)
    assert filling({"trimmed_g": 20 * POUND}, noted) == ""


def test_ready_produce_is_brought_to_the_cards_stage_by_what_was_weighed_alone() -> None:
    # 8 lb prepared came down to 6 lb ready: 10 oz ready in a jar were 13 1/3 oz prepared.
    noted = SoFar(jars=2.0, produce_g=20 / 16 * POUND)
    weights = {"trimmed_g": 8 * POUND, "cooked_g": 6 * POUND}
    assert "13½ oz" in filling(weights, noted) or "13¼ oz" in filling(weights, noted)
    # Without the weight before cooking only the bound is known, and 10 oz are not above 11.
    assert filling({"cooked_g": 6 * POUND}, noted) == ""
    # Above 11 oz ready is above 11 oz prepared, whatever it lost.
    assert filling({"cooked_g": 6 * POUND}, SoFar(jars=2.0, produce_g=1.5 * POUND)) != ""


def test_a_note_without_weights_goes_by_the_last_one_that_had_them() -> None:
    earlier = SoFar(jars=2.0, produce_g=2 * POUND)
    weights = {"trimmed_g": 6 * POUND}
    assert filling(weights, SoFar(jars=4.0, pot_left_ml=500.0, earlier=earlier)) != ""


def test_jars_of_two_sorts_are_judged_by_what_they_hold() -> None:
    # Beets, USDA Guide 6: 7 lb as bought in 8 pints, 14 oz in each; a wide pint is a pint.
    each = 7 * POUND / 8
    for times, due in ((1.05, True), (0.95, False)):
        noted = SoFar(jars=4.0, produce_g=4 * each * times)
        said = filling({"as_bought_g": 20 * POUND}, noted, BEETS, jar="2 pint-wide, then pint")
        assert bool(said) is due


@pytest.mark.parametrize("card", [YIELD_ONLY, RECIPES["corn-relish"]])
def test_jars_being_filled_are_not_compared_without_a_yardstick(card: Recipe) -> None:
    noted = SoFar(jars=2.0, produce_g=1.8 * POUND)
    assert filling({"as_bought_g": 9 * POUND, "trimmed_g": 8 * POUND}, noted, card) == ""
