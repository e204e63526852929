"""Shopping: joint totals, the whole formula by one factor, sizes shops sell, prices."""

import math
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.packing import SoFar
from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.needs import OWN_BRINE, Thing, lid_name, needs_of
from jarcast.harvest.shopping import Price, Size, pieces_for, rounded_up, shopping
from jarcast.harvest.together import plan_harvest
from jarcast.measures import Units
from jarcast.recipes import Recipe, shipped_recipes

CUP_ML = 236.5882365  # exact: the US gallon of 231 cubic inches (NIST Handbook 44) over 16
POUND_G = 453.59237


@pytest.fixture(scope="module")
def beets() -> Recipe:
    """USDA Guide 6, pickled beets: 7 lb as bought, 4 cups vinegar, 2 of water, 2 of sugar."""
    return shipped_recipes()["pickled-beets"]


def made(habits: Habits, brine_ml: list[float], jars: list[float], **asked: Any) -> Forecast:
    """A forecast whose draws are these, place by place."""
    if "recipe" not in asked:
        asked = {"produce": "carrot", "cut": "sticks", "as_bought_g": 3000.0, **asked}
    forecast = habits.forecast(**asked, draws=len(jars))
    brine, count = Outcome(np.array(brine_ml)), Outcome(np.array(jars))
    return replace(
        forecast, jars=count, jars_by_sort=(count,), jars_to_come=count, brine_ml=brine,
        brine_to_come_ml=brine,
    )  # fmt: skip


def need(forecasts: list[Forecast], name: str) -> Outcome:
    found = [one for one in needs_of(forecasts).needs if one.name == name]
    assert len(found) == 1
    return found[0].amount


def test_jars_and_lids_are_whole_for_every_batch_and_added_draw_by_draw(beginner: Habits) -> None:
    batches = [
        made(beginner, [0.0] * 3, [7.0, 7.2, 7.9], jar="pint"),
        made(beginner, [0.0] * 3, [1.0, 3.5, 0.1], jar="pint"),
        made(beginner, [0.0] * 3, [2.0, 2.0, 2.5], jar="quart-wide"),
        made(beginner, [0.0] * 3, [4.0, 4.0, 4.0], jar="quart"),
    ]
    assert list(need(batches, "pint").draws) == [8, 12, 9]
    assert list(need(batches, "quart-wide").draws) == [2, 2, 3]
    assert list(need(batches, "regular lids").draws) == [12, 16, 13]  # pints and quarts alike
    assert list(need(batches, "wide lids").draws) == [2, 2, 3]


def test_lids_go_by_the_mouth_and_those_of_other_jars_by_their_name() -> None:
    assert lid_name(SHELF["pint"]) == lid_name(SHELF["quart"]) == "regular lids"
    assert lid_name(SHELF["half-pint-wide"]) == "wide lids"
    assert lid_name(SHELF["500ml"]) == "lids of 500ml"
    assert lid_name(Jar("tall", 900.0, 60.0)) == "lids of tall"


def high_and_low(beginner: Habits, card: Recipe) -> list[Forecast]:
    """Two batches, one high where the other is low: together they always take ten formulas."""
    assert card.safety is not None
    rising, volume = np.linspace(2.0, 8.0, 1001), card.safety.volume_ml
    return [
        made(beginner, list(times * volume), [5.0] * 1001, recipe=card, trimmed_g=100.0)
        for times in (rising, 10.0 - rising)
    ]


def test_the_joint_total_of_one_recipe_is_bought_and_not_every_batchs_own_worst(
    beginner: Habits,
) -> None:
    # Each formula has 6 cups of vinegar (USDA Complete Guide, Guide 6, quick fresh-pack dill), and
    # is poured over raw produce.
    batches = high_and_low(beginner, shipped_recipes()["quick-fresh-pack-dill"])
    assert need(batches, "vinegar").interval(0.9) == pytest.approx((60 * CUP_ML, 60 * CUP_ML))
    bill = shopping(batches, short_chance=0.05)
    vinegar = next(line for line in bill.lines if line.need.name == "vinegar")
    # 7.7 formulas each, the 95th of 100 parts, are 92 cups.
    assert 60.0 <= vinegar.amount / CUP_ML <= 63.0


def test_brine_that_produce_was_heated_in_goes_into_no_other_batch(
    beginner: Habits, beets: Recipe
) -> None:
    # That Leftover Pickling Brine, National Center for Home Food Preservation blog: not of a hot
    # pack. A formula has 4 cups of vinegar (Guide 6, pickled beets): 7.7 formulas each are 61 cups.
    bill = shopping(high_and_low(beginner, beets), short_chance=0.05)
    vinegar = next(line for line in bill.lines if line.need.name == "vinegar")
    assert vinegar.amount / CUP_ML >= 2 * 4 * 7.7


def test_brine_of_batches_that_name_no_recipe_is_added_up(beginner: Habits) -> None:
    # What is left of one pot may not be what the next batch takes.
    rising = np.linspace(2.0, 8.0, 1001)
    batches = [
        made(beginner, list(rising * CUP_ML), [5.0] * 1001),
        made(beginner, list((10.0 - rising) * CUP_ML), [5.0] * 1001),
    ]
    total = need(batches, OWN_BRINE)
    assert total.interval(0.9) == pytest.approx((10 * CUP_ML, 10 * CUP_ML))
    bill = shopping(batches, short_chance=0.05)
    brine = next(line for line in bill.lines if line.need.thing is Thing.BRINE)
    # 7.7 cups each, the 95th of 100 parts, rounded up to 7 3/4.
    assert brine.amount / CUP_ML == pytest.approx(15.5)
    assert brine.amount == pytest.approx(bill.orders_ml)


def test_the_amount_bought_falls_short_as_often_as_was_asked(beginner: Habits) -> None:
    lines = [{"produce": "carrot", "cut": "sticks", "trimmed_g": 3000.0 + 40 * n} for n in range(4)]
    first = plan_harvest(beginner, lines, draws=8000, seed=1)
    again = plan_harvest(beginner, lines, draws=8000, seed=2)
    for chance in (0.02, 0.05):  # without a floor no larger chance is taken
        bill = shopping(first.lines, short_chance=chance, units=Units.METRIC)
        bought = next(line for line in bill.lines if line.need.thing is Thing.BRINE)
        exact = bought.need.amount.quantile(1 - chance)
        short = again.brine_ml.chance_above(exact)
        assert short == pytest.approx(chance, abs=5 * math.sqrt(chance * (1 - chance) / 8000))
        # No recipe is named, so each batch has a pot of its own: four orders, rounded up each.
        orders = [line.brine_to_make(chance, Units.METRIC) for line in first.lines]
        assert exact <= bought.amount
        assert bought.amount == pytest.approx(math.fsum(orders))


def test_a_formula_is_scaled_whole_by_one_factor(beginner: Habits, beets: Recipe) -> None:
    # 12 lb as bought; twice the printed brine is 2 x (4 + 2 cups and the room of the sugar).
    assert beets.safety is not None
    volume = beets.safety.volume_ml
    batch = made(beginner, [2 * volume, 3 * volume], [8.0, 8.0], recipe=beets, trimmed_g=100.0)
    vinegar, sugar = need([batch], "vinegar"), need([batch], "sugar")
    salt = need([batch], "canning salt")
    assert vinegar.draws / CUP_ML == pytest.approx([8.0, 12.0])
    assert sugar.draws == pytest.approx([800.0, 1200.0])  # 200 g a cup: USDA SR 28, NDB 19335
    assert salt.draws / sugar.draws == pytest.approx([9.125 / 400] * 2)  # 1 1/2 tsp to 2 cups
    assert not [one for one in needs_of([batch]).needs if one.name == "water"]


def test_never_less_than_the_recipes_own_proportion(beginner: Habits, beets: Recipe) -> None:
    # 14 lb as bought is the printed batch twice: 8 cups of vinegar, whatever the jars would take.
    batch = made(beginner, [10.0, 20.0], [8.0, 8.0], recipe=beets, as_bought_g=14 * POUND_G)
    needs = needs_of([batch])
    vinegar = next(one for one in needs.needs if one.name == "vinegar")
    assert vinegar.amount.draws / CUP_ML == pytest.approx([8.0, 8.0])
    assert vinegar.acid_percent == 5  # as the card asks
    assert needs.limited == (0,)


@pytest.mark.parametrize("pounds", [3.0, 5.0, 8.0, 14.0])
def test_a_batch_is_limited_by_its_recipe_where_its_own_order_is(
    beginner: Habits, beets: Recipe, pounds: float
) -> None:
    """Of 14 lb as bought so much was left: one order is the recipe's floor, or it is not.

    The list never has less of a thing than the batch by itself measures out.
    """
    batch = beginner.forecast(recipe=beets, as_bought_g=14 * POUND_G, trimmed_g=pounds * POUND_G)
    bill = shopping([batch])
    alone = batch.brine_ml.quantile(0.95)
    assert batch.floor_ml is not None
    assert bill.limited == ((0,) if batch.floor_ml > alone else ())
    vinegar = next(line for line in bill.lines if line.need.name == "vinegar")
    formula = batch.formula_to_make(0.05)
    assert formula is not None
    own = next(one.ml for one in formula.brine if one.ingredient.name == "vinegar")
    assert vinegar.amount == pytest.approx(own, rel=1e-6)


def test_a_batch_being_packed_is_given_the_one_amount_that_packing_tells(
    beginner: Habits, beets: Recipe
) -> None:
    """8 pints are full and there is room for little: no more is bought than is to be heated.

    A pint holds 473 ml (NIST Handbook 44); the floor of 14 lb, over 12 cups, finds no room there.
    """
    so_far = SoFar(jars=8.0, produce_left_g=0.5 * POUND_G, brine_made_ml=3 * CUP_ML,
                   pot_left_ml=0.2 * CUP_ML)  # fmt: skip
    batch = beginner.forecast(
        recipe=beets, as_bought_g=14 * POUND_G, trimmed_g=6 * POUND_G, cooked_g=6 * POUND_G,
        so_far=so_far,
    )  # fmt: skip
    assert batch.less_than_recipe()
    assert batch.brine_to_make() < 3 * CUP_ML
    formula = batch.formula_to_make()
    assert formula is not None
    own = next(one.ml for one in formula.brine if one.ingredient.name == "vinegar")
    bill = shopping([batch])
    vinegar = next(line for line in bill.lines if line.need.name == "vinegar")
    assert vinegar.amount == pytest.approx(own, rel=1e-6)
    assert bill.limited == ()


def test_the_proportion_holds_for_a_weight_guessed_at_too(beginner: Habits, beets: Recipe) -> None:
    batch = beginner.forecast(recipe=beets, as_bought_g=(7 * POUND_G, 28 * POUND_G))
    vinegar = need([replace(batch, brine_to_come_ml=Outcome(0 * batch.brine_ml.draws))], "vinegar")
    low, high = vinegar.interval(0.8)
    assert low / CUP_ML == pytest.approx(4.0, rel=0.05)
    assert high / CUP_ML == pytest.approx(16.0, rel=0.05)


def test_a_floor_that_is_not_known_is_said(beginner: Habits) -> None:
    carrots = shipped_recipes()["pickled-carrots"]
    needs = needs_of([beginner.forecast(recipe=carrots, as_bought_g=3000.0)])
    assert [one.line for one in needs.no_floor] == [0]
    assert "prepared" in needs.no_floor[0].why


def test_a_later_weight_than_the_cards_bounds_the_need(beginner: Habits, beets: Recipe) -> None:
    # 14 lb trimmed were at least as much as bought: 8 cups of vinegar, as above.
    batch = made(beginner, [10.0, 20.0], [8.0, 8.0], recipe=beets, trimmed_g=14 * POUND_G)
    needs = needs_of([batch])
    vinegar = next(one for one in needs.needs if one.name == "vinegar")
    assert vinegar.amount.draws / CUP_ML == pytest.approx([8.0, 8.0])
    assert (needs.limited, needs.no_floor) == ((0,), ())


def test_a_larger_chance_of_running_short_needs_a_floor(beginner: Habits, beets: Recipe) -> None:
    with pytest.raises(ForecastError, match=r"above 0\.05 the recipe's own least amount"):
        shopping([beginner.forecast(produce="carrot", trimmed_g=3000.0)], short_chance=0.2)
    assert shopping([beginner.forecast(recipe=beets, as_bought_g=3000.0)], short_chance=0.2).lines


def test_vinegars_of_two_recipes_are_one_line_by_strength(beginner: Habits, beets: Recipe) -> None:
    peppers = shipped_recipes()["pickled-bell-peppers"]
    batches = [
        beginner.forecast(recipe=beets, as_bought_g=3000.0, seed=1),
        beginner.forecast(recipe=peppers, as_bought_g=2000.0, seed=1),
    ]
    assert peppers.safety is not None
    stronger = replace(peppers, safety=replace(peppers.safety, least_acid_percent=6.0))
    alike = [one for one in needs_of(batches).needs if one.name == "vinegar"]
    assert [one.acid_percent for one in alike] == [5]
    batches[1] = replace(batches[1], recipe=stronger)
    apart = [one for one in needs_of(batches).needs if one.name == "vinegar"]
    assert [one.acid_percent for one in apart] == [5, 6]
    total = sum(one.amount.draws for one in apart)
    assert total == pytest.approx(alike[0].amount.draws)


def test_a_relish_goes_by_its_produce_or_is_not_counted(beginner: Habits) -> None:
    relish = shipped_recipes()["piccalilli"]
    tested = relish.tested
    if tested.grams is None:
        relish = replace(relish, tested=replace(tested, grams=2000.0, ml=None))
    basis = "as_bought_g" if relish.tested.basis == "as bought" else "trimmed_g"
    other = "trimmed_g" if basis == "as_bought_g" else "as_bought_g"
    weighed = beginner.forecast(recipe=relish, **{basis: 2 * (relish.tested.grams or 0.0)})
    # The card has 4 1/2 cups of vinegar; twice the produce takes nine.
    assert need([weighed], "vinegar").median / CUP_ML == pytest.approx(9.0)
    if other == "trimmed_g":
        unknown = needs_of([beginner.forecast(recipe=relish, trimmed_g=2000.0)]).unknown
        assert [one.line for one in unknown] == [0]


def test_without_a_card_only_the_volume_of_brine_is_told(beginner: Habits) -> None:
    batch = made(beginner, [1000.0, 2000.0], [5.0, 5.0], salt_g=200.0, cure_hours=12.0)
    found = {one.name: one.amount.median for one in needs_of([batch]).needs}
    assert found[OWN_BRINE] == pytest.approx(1500.0)
    assert found["salt for curing, as planned"] == pytest.approx(200.0)
    assert "vinegar" not in found


def test_what_is_packed_is_not_bought_again(beginner: Habits) -> None:
    asked = {"produce": "carrot", "cut": "sticks", "trimmed_g": 4000.0, "jar": "pint"}
    whole = beginner.forecast(**asked)
    so_far = SoFar(jars=4.0, produce_g=1600.0, brine_made_ml=2000.0, pot_left_ml=900.0)
    part = beginner.forecast(**asked, so_far=so_far)
    assert need([part], "pint").median <= need([whole], "pint").median - 3
    assert need([part], OWN_BRINE).median < need([whole], OWN_BRINE).median


@pytest.mark.parametrize(
    ("amount", "sizes", "bought"),
    [
        (10.0, [4.0], {4.0: 3}),
        (8.0, [4.0], {4.0: 2}),
        (9.0, [4.0, 1.0], {4.0: 2, 1.0: 1}),
        (9.5, [4.0, 1.0], {4.0: 3}),  # the smallest that will do for the rest of 1.5
        (0.5, [4.0, 1.0], {1.0: 1}),
        (0.0, [4.0], {}),
        (5.0, [], {}),
    ],
)
def test_sizes_cover_the_amount(
    amount: float, sizes: list[float], bought: dict[float, int]
) -> None:
    found = pieces_for(amount, [Size("vinegar", size, "ml") for size in sizes])
    assert {size.amount: count for size, count in found} == bought
    assert sum(size.amount * count for size, count in found) >= amount or not sizes


def test_whole_sizes_are_paid_for_and_what_a_jar_uses_up_is_a_range(beginner: Habits) -> None:
    # Ten jars and ten lids, or twenty: lids at 3 for a dozen are 0.25 each, a jar takes one.
    batch = made(beginner, [0.0] * 101, list(np.linspace(10, 20, 101)), jar="pint")
    lids = Price(Size("lids", 12, "count", "12"), 3.0, "$")
    bill = shopping([batch], short_chance=0.05, prices=[lids])
    line = next(line for line in bill.lines if line.need.thing is Thing.LIDS)
    assert line.amount == 20
    assert [(size.amount, count) for size, count in line.pieces] == [(12, 2)]
    assert bill.to_pay == pytest.approx(6.0)
    assert bill.sign == "$"
    assert bill.by_jar is not None
    low, high = bill.by_jar.interval(0.98)
    assert 0.25 <= low < high <= 0.25 * 11 / 10.1 + 1e-9  # eleven lids for 10.1 jars at worst


def test_a_bottle_of_another_size_is_paid_by_the_price_of_its_content(beginner: Habits) -> None:
    recipe = shipped_recipes()["pickled-carrots"]
    batch = beginner.forecast(recipe=recipe, trimmed_g=2.75 * POUND_G)
    quart = Size("vinegar", 4 * CUP_ML, "ml")
    price = Price(Size("vinegar", 16 * CUP_ML, "ml"), 4.0)
    bill = shopping([batch], sizes=[quart], prices=[price])
    line = next(line for line in bill.lines if line.need.name == "white vinegar")
    ((_, count),) = line.pieces
    assert line.to_pay == pytest.approx(count * 1.0)


def test_produce_is_on_the_list_only_where_it_is_paid_for(beginner: Habits) -> None:
    batch = beginner.forecast(produce="carrot", as_bought_g=10 * POUND_G)
    assert all(line.need.thing is not Thing.PRODUCE for line in shopping([batch]).lines)
    price = Price(Size("carrot", POUND_G, "g"), 1.5)
    bill = shopping([batch], prices=[price])
    assert bill.to_pay == pytest.approx(15.0)


def test_names_that_nothing_answers_to_are_given_back(beginner: Habits) -> None:
    batch = beginner.forecast(produce="carrot", trimmed_g=3000.0)
    bill = shopping([batch], sizes=[Size("saffron", 1, "g")])
    assert bill.unmatched == ("saffron",)


def test_what_cannot_be_is_refused(beginner: Habits) -> None:
    batch = beginner.forecast(produce="carrot", trimmed_g=3000.0)
    prices = [Price(Size("lids", 12, "count"), 3.0, sign) for sign in "$€"]
    with pytest.raises(ForecastError, match="one currency"):
        shopping([batch], prices=prices)
    with pytest.raises(ForecastError, match="by number"):
        shopping([batch], sizes=[Size("lids", 500.0, "g")])
    with pytest.raises(ForecastError, match="a chance"):
        shopping([batch], short_chance=0.0)
    with pytest.raises(ForecastError, match="is that the right size"):
        pieces_for(1e9, [Size("vinegar", 1.0, "ml")])


@pytest.mark.parametrize("units", list(Units))
def test_amounts_are_rounded_up_to_kitchen_measures(units: Units) -> None:
    for measure in ("ml", "g", "count", "times"):
        for amount in (0.3, 5.01, 123.4, 4567.8):
            found = rounded_up(amount, measure, units)
            # A quarter ounce, 7.1 g, is the smallest mark of a scale in pounds and ounces.
            assert amount <= found <= 1.25 * amount + 7.1
    assert rounded_up(0.0, "ml", units) == 0.0
    assert rounded_up(4 * CUP_ML, "ml", Units.US) == pytest.approx(4 * CUP_ML)


def test_jars_at_hand_are_not_bought_again_draw_by_draw(beginner: Habits) -> None:
    batches = [
        made(beginner, [0.0] * 3, [7.0, 12.0, 20.0], jar="pint"),
        made(beginner, [0.0] * 3, [4.0, 4.0, 4.0], jar="quart"),
    ]
    bill = shopping(batches, have={"pint": 10.0, "quart": 4.0, "half-pint": 6.0})
    bought = {line.need.name: line for line in bill.lines}
    assert list(bought["pint"].need.amount.draws) == [0.0, 2.0, 10.0]
    assert "quart" not in bought  # all of them are there
    assert bought["regular lids"].need.amount.draws.max() == 24.0  # every jar takes a new lid


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("key", sorted(shipped_recipes()))
def test_never_less_than_the_formula_of_the_same_forecast(
    beginner: Habits, key: str, units: Units
) -> None:
    # The other side of the counter: what the formula measures out is what must be in the house.
    recipe = shipped_recipes()[key]
    weight = "as_bought_g" if recipe.tested.basis == "as bought" else "trimmed_g"
    for grams in (1370.0, 3210.0, 7770.0):
        forecast = beginner.forecast(recipe=recipe, **{weight: grams})
        formula = forecast.formula_to_make(0.05, units)
        if formula is None:
            continue
        bill = shopping([forecast], short_chance=0.05, units=units)
        bought = {(line.need.name, line.need.measure): line.amount for line in bill.lines}
        for made_of in (*formula.brine, *formula.cure):
            name, kind = made_of.ingredient.name, made_of.ingredient.kind
            amounts = {"ml": made_of.ml, "g": made_of.grams, "count": float(made_of.amount)}
            found = [(m, bought[name, m]) for m in amounts if (name, m) in bought]
            assert found or kind == "water" or made_of.ingredient.line in {n for n, _ in bought}
            for measure, amount in found:
                assert amount >= (amounts[measure] or 0.0) * (1 - 1e-9), (name, grams)


@pytest.mark.parametrize("units", list(Units))
def test_brine_without_a_card_is_never_less_than_the_order(beginner: Habits, units: Units) -> None:
    for grams in (2000.0, 5130.0, 14_000.0, 60_000.0):
        forecast = beginner.forecast(produce="carrot", cut="sticks", trimmed_g=grams)
        (line,) = (ln for ln in shopping([forecast], units=units).lines if ln.need.measure == "ml")
        assert line.amount >= forecast.brine_to_make(0.05, units)


def test_salt_that_goes_into_each_jar_is_needed_by_the_jars_and_not_by_the_brine(
    beginner: Habits,
) -> None:
    # AIB 539, Guide 6, p. 6-21: 1/2 tsp of salt in each pint of bell peppers, none in the liquid;
    # canning salt by the household weight of table salt, 292 g a cup (SR28, NDB 02047).
    peppers = shipped_recipes()["pickled-bell-peppers"]
    batch = beginner.forecast(recipe=peppers, jar="pint", as_bought_g=7 * POUND_G, seed=1)
    salt = need([batch], "canning salt")
    jars = np.ceil(batch.jars.draws - 1e-9)
    assert salt.draws == pytest.approx(jars * 292 / 96)


def test_what_the_crops_use_up_adds_up_to_the_whole(habits: Habits) -> None:
    """Arithmetic done another way: the crops' costs add up, draw by draw, to the harvest's."""
    lines = [
        {"produce": "carrot", "cut": "sticks", "jar": "pint", "as_bought_g": 5000.0},
        {"produce": "beet", "cut": "slices", "jar": "pint", "as_bought_g": 9000.0},
        {"produce": "carrot", "cut": "coins", "jar": "pint", "as_bought_g": 3000.0},
    ]
    made = plan_harvest(habits, lines).lines
    prices = [
        Price(Size("lids", 12, "count"), 3.0),
        Price(Size("pint", 12, "count"), 12.0),
        Price(Size("carrot", 1000.0, "g"), 2.0),
    ]
    for have in ({}, {"pint": 10.0}):
        bill = shopping(made, prices=prices, have=have)
        assert bill.by_jar is not None
        assert [one.produce for one in bill.by_crop] == ["carrot", "beet"]
        whole = sum(one.used.draws for one in bill.by_crop)
        jars = np.sum([one.jars_to_come.draws for one in made], axis=0)
        np.testing.assert_allclose(whole, bill.by_jar.draws * np.maximum(jars, 1.0))
    # Without jars you have: 8 kg of carrots at 2 a kilogram, and 1.25 for each jar and its lid.
    bill = shopping(made, prices=prices)
    count = sum(np.ceil(one.jars.draws - 1e-9) for one in (made[0], made[2]))
    np.testing.assert_allclose(bill.by_crop[0].used.draws, 16.0 + 1.25 * count)


def test_produce_without_a_price_is_named(habits: Habits) -> None:
    lines = [
        {"produce": "carrot", "cut": "sticks", "jar": "pint", "as_bought_g": 5000.0},
        {"produce": "beet", "cut": "slices", "jar": "pint", "trimmed_g": 4000.0},
    ]
    made = plan_harvest(habits, lines).lines
    bill = shopping(made, prices=[Price(Size("lids", 12, "count"), 3.0)])
    assert "carrot" in {line.need.name for line in bill.unpriced}
    assert "pint" in {line.need.name for line in bill.unpriced}
    assert bill.no_weight == ("beet",)
    assert shopping(made).unpriced == ()  # nobody asked what it costs
