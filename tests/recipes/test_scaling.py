"""Scaling: one factor for the whole formula, and rounding that never takes acid away."""

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jarcast.domain.jars import SHELF
from jarcast.errors import RecipeError
from jarcast.measures import Units, parse_volume, parse_weight
from jarcast.recipes import (
    Basis,
    Kind,
    Portion,
    Recipe,
    Scaled,
    read_card,
    scale,
    scale_for_jars,
    scale_for_produce,
    scale_to_volume,
    shipped_recipes,
)
from jarcast.recipes.kitchen import Rounding, exact_ml, round_volume, round_weight

RECIPES = shipped_recipes()
COVER = sorted(key for key, recipe in RECIPES.items() if not recipe.own_liquid)

# NIST Handbook 44, Appendix C: exact, worked out here from the gallon of 231 cubic inches.
CUP = 231 * Fraction("2.54") ** 3 / 16
SPOONS = {
    "cup": CUP,
    "cups": CUP,
    "tbsp": CUP / 16,
    "tsp": CUP / 48,
    "gal": 16 * CUP,
    "qt": 4 * CUP,
}
# Grams a cup: USDA Standard Reference 28, NDB 19335, 19334, 02047.
GRAMS = {"sugar": 200, "white sugar": 200, "brown sugar": 220, "canning salt": 292}

each_card = pytest.mark.parametrize("key", sorted(RECIPES))
each_units = pytest.mark.parametrize("units", list(Units))
factors = st.floats(0.05, 40, allow_nan=False)
recipes = st.sampled_from(sorted(RECIPES)).map(RECIPES.__getitem__)
both_units = st.sampled_from(list(Units))


def card_ml(portion: Portion) -> Fraction:
    """The card's amount in exact ml, read from its printed text without the library."""
    found = re.fullmatch(r"([0-9 /]+) (cups?|tbsp|tsp|qt|gal)", portion.ingredient.printed)
    assert found
    number = sum((Fraction(part) for part in found[1].split()), Fraction(0))
    return number * SPOONS[found[2]]


def rounded_ml(portion: Portion) -> Fraction:
    """The rounded amount in exact ml; a weight by its household grams."""
    if portion.by_weight:
        return portion.amount / GRAMS[portion.ingredient.name] * CUP
    return portion.amount


Size = Callable[[Portion], Fraction]


def finished(portions: tuple[Portion, ...], size: Size) -> Fraction:
    """Finished volume: liquids, and 0.62 ml a gram of sugar (CRC Handbook, from memory)."""
    whole = Fraction(0)
    for part in portions:
        if part.ingredient.kind.liquid:
            whole += size(part)
        elif part.ingredient.kind is Kind.SUGAR:
            whole += size(part) / CUP * GRAMS[part.ingredient.name] * Fraction("0.62")
    return whole


@given(factors, both_units)
@settings(max_examples=200, deadline=None)
def test_a_second_acid_keeps_up_with_the_first(factor: float, units: Units) -> None:
    recipe = RECIPES["three-bean-salad"]  # vinegar and lemon juice
    made = scale(recipe, factor, units).brine
    vinegar, lemon = (part for part in made if part.ingredient.kind.acid)
    assert rounded_ml(lemon) * card_ml(vinegar) >= rounded_ml(vinegar) * card_ml(lemon)


@given(recipes, factors, both_units)
@settings(max_examples=400, deadline=None)
def test_after_rounding_acid_to_every_other_part_is_at_least_the_cards(
    recipe: Recipe, factor: float, units: Units
) -> None:
    made = scale(recipe, factor, units).brine
    for acid in (part for part in made if part.ingredient.kind.acid):
        for other in made:
            if other.ingredient.kind in (Kind.WATER, Kind.OIL, Kind.SUGAR):
                # acid made : other made >= acid printed : other printed, exactly
                assert rounded_ml(acid) * card_ml(other) >= rounded_ml(other) * card_ml(acid)


@given(recipes, factors, both_units)
@settings(max_examples=400, deadline=None)
def test_after_rounding_acid_to_produce_is_at_least_the_cards(
    recipe: Recipe, factor: float, units: Units
) -> None:
    made = scale(recipe, factor, units).brine
    least = Fraction(factor) * (1 - Fraction(1, 10**9))
    for acid in (part for part in made if part.ingredient.kind.acid):
        assert rounded_ml(acid) >= least * card_ml(acid)


@given(recipes, factors, both_units)
@settings(max_examples=400, deadline=None)
def test_after_rounding_acid_to_finished_brine_is_at_least_the_cards(
    recipe: Recipe, factor: float, units: Units
) -> None:
    scaled = scale(recipe, factor, units)
    if not any(part.kind.acid for part in recipe.safety.formula):  # type: ignore[union-attr]  # kraut is salted dry: no brine is made
        return

    def share(size: Size) -> Fraction:
        acid = sum(size(part) for part in scaled.brine if part.ingredient.kind.acid)
        return Fraction(acid) / finished(scaled.brine, size)

    assert share(rounded_ml) >= share(card_ml)


@given(recipes, factors, both_units)
@settings(max_examples=300, deadline=None)
def test_the_brine_made_is_no_less_than_was_asked_and_little_more(
    recipe: Recipe, factor: float, units: Units
) -> None:
    scaled = scale(recipe, factor, units)
    made = float(finished(scaled.brine, rounded_ml))
    assert made >= factor * float(finished(scaled.brine, card_ml)) * (1 - 1e-9)
    assert scaled.made_ml == pytest.approx(made, rel=1e-9)
    assert scaled.made_factor >= scaled.factor
    if scaled.volume_ml > 950:  # from a quart on
        assert scaled.made_ml <= 1.15 * scaled.volume_ml


@given(recipes, factors, both_units)
@settings(max_examples=300, deadline=None)
def test_the_kitchen_text_says_the_rounded_amount_and_nothing_else(
    recipe: Recipe, factor: float, units: Units
) -> None:
    scaled = scale(recipe, factor, units)
    for portion in (*scaled.brine, *scaled.cure):
        read = (parse_weight if portion.by_weight else parse_volume)(portion.text)
        assert read == pytest.approx(float(portion.amount), rel=1e-12)


@given(recipes, factors, both_units)
@settings(max_examples=200, deadline=None)
def test_salt_is_near_what_the_factor_gives(recipe: Recipe, factor: float, units: Units) -> None:
    scaled = scale(recipe, factor, units)
    for portion in scaled.brine:
        if portion.ingredient.kind is Kind.SALT:
            exact = float(card_ml(portion)) * scaled.made_factor
            if portion.amount in (QUARTER_TSP, Fraction(1, 2)) and float(portion.amount) > exact:
                continue  # less than the smallest spoon, or half a gram: never nothing
            # half a mark at most: quarter teaspoons, half teaspoons, tablespoons and so on
            assert abs(float(rounded_ml(portion)) - exact) <= max(0.13 * exact, 0.7)


QUARTER_TSP = CUP / 192


@given(recipes, st.floats(1e-6, 1.0), both_units)
@settings(max_examples=400, deadline=None)
def test_no_ingredient_is_ever_measured_out_as_nothing(
    recipe: Recipe, factor: float, units: Units
) -> None:
    scaled = scale(recipe, factor, units)
    for portion in (*scaled.brine, *scaled.cure):
        assert portion.amount > 0
        assert not portion.text.startswith("0 ")
    for acid in (p for p in scaled.brine if p.ingredient.kind.acid):
        for other in (p for p in scaled.brine if p.ingredient.kind is not Kind.SALT):
            if not other.ingredient.kind.acid:  # no part of it thins the acid
                assert rounded_ml(acid) * card_ml(other) >= rounded_ml(other) * card_ml(acid)


def test_a_quarter_cup_of_beet_brine_has_the_smallest_spoon_of_salt() -> None:
    # 1 1/2 tsp of salt to some 7 cups: a thirtieth of that is 1/20 tsp, which no kitchen measures.
    scaled = scale_to_volume(RECIPES["pickled-beets"], float(CUP / 4))
    assert "¼ tsp canning salt" in [portion.line for portion in scaled.brine]


@each_card
@each_units
def test_scaled_to_its_own_printed_yield_a_card_gives_back_its_printed_brine(
    key: str, units: Units
) -> None:
    recipe = RECIPES[key]
    low, high = recipe.tested.jars
    scaled = scale_for_jars(recipe, [((low + high) / 2, recipe.tested.jar)], units)
    assert scaled.factor == pytest.approx(1.0, rel=1e-12)
    assert scaled.jars == pytest.approx((low, high))
    for portion in (*scaled.brine, *scaled.cure):
        if units is Units.US:  # printed in cups and spoons: given back to the drop
            assert portion.amount == card_ml(portion)
        elif portion.ingredient.kind.liquid:  # 25 ml marks below 5 l, and a mark more at most
            assert float(portion.amount) == pytest.approx(float(card_ml(portion)), abs=51)
        elif not portion.by_weight or float(portion.amount) > 20:
            # 2.5 ml marks below 50 ml, a mark at most
            expected = pytest.approx(float(card_ml(portion)), rel=0.06, abs=2.5)
            assert float(rounded_ml(portion)) == expected


@each_card
def test_scaled_to_its_own_printed_produce_a_card_gives_back_its_printed_brine(key: str) -> None:
    tested = RECIPES[key].tested
    amount = tested.grams if tested.grams is not None else tested.ml
    if tested.several_ways:  # 6 lb and 10 cups: no one amount says how much that is
        with pytest.raises(RecipeError, match="some of its produce by weight and some by the cup"):
            scale_for_produce(RECIPES[key], 1000.0, tested.basis)
        return
    assert amount is not None
    scaled = scale_for_produce(RECIPES[key], amount, tested.basis)
    assert [portion.amount for portion in scaled.brine] == [card_ml(p) for p in scaled.brine]


@pytest.mark.parametrize("key", COVER)
def test_scaled_to_its_own_printed_volume_a_card_gives_back_its_printed_brine(key: str) -> None:
    safety = RECIPES[key].safety
    assert safety is not None
    scaled = scale_to_volume(RECIPES[key], safety.volume_ml)
    assert [portion.amount for portion in scaled.brine] == [card_ml(p) for p in scaled.brine]


def test_half_the_fresh_pack_dill_is_half_of_every_printed_measure() -> None:
    # AIB 539, Guide 6, p. 6-10: 6 cups vinegar, 8 cups water, 1/4 cup sugar, 1/2 cup salt to 8 lb;
    # half of that worked out by hand.
    scaled = scale_for_produce(
        RECIPES["quick-fresh-pack-dill"], parse_weight("4 lb"), Basis.AS_BOUGHT
    )
    assert [portion.line for portion in scaled.brine] == [
        "3 cups vinegar", "4 cups water", "2 tbsp sugar", "¼ cup canning salt",
    ]  # fmt: skip
    assert [portion.line for portion in scaled.cure] == [
        "¼ cup + 2 tbsp canning salt", "1 gal water",
    ]  # fmt: skip
    assert scaled.produce == "4 lb as bought"
    assert scaled.jars == (3.5, 4.5)


def test_jars_of_another_tested_size_count_by_their_fill_volume() -> None:
    recipe = RECIPES["quick-fresh-pack-dill"]
    quarts = scale_for_jars(recipe, [(4, "quarts")])
    pint, quart = (SHELF[size].fill_volume_ml(0.5) for size in ("pint", "quart"))
    assert quarts.factor == pytest.approx(4 * quart / (8 * pint))


def test_a_jar_outside_the_card_is_refused_and_the_tested_ones_are_named() -> None:
    with pytest.raises(RecipeError, match="does not list 'half-pint' jars; listed: pint, quart"):
        scale_for_jars(RECIPES["quick-fresh-pack-dill"], [(4, "half-pint")])


def test_produce_at_another_stage_than_the_cards_is_refused() -> None:
    with pytest.raises(RecipeError, match="as bought, not prepared"):
        scale_for_produce(RECIPES["quick-fresh-pack-dill"], 3000, Basis.PREPARED)


def test_a_relish_is_not_scaled_by_brine() -> None:
    with pytest.raises(RecipeError, match="liquid of its own"):
        scale_to_volume(RECIPES["corn-relish"], 1000)


@pytest.mark.parametrize("factor", [0.0, -1.0, float("nan"), float("inf"), 1e9])
def test_an_amount_no_kitchen_makes_is_refused(factor: float) -> None:
    with pytest.raises(RecipeError, match="cannot be made"):
        scale(RECIPES["pickled-beets"], factor)


def test_a_card_without_safety_numbers_is_not_scaled() -> None:
    card = read_card(
        'name = "Kohlrabi"\nproduce = "kohlrabi"\nstyle = "cover brine"\n'
        '[tested]\namount = "2 kg"\nbasis = "as bought"\njar = "pint"\njars = 5\n',
        "kohlrabi",
    )
    with pytest.raises(RecipeError, match="holds no safety numbers"):
        scale(card, 1.0)


def test_shopping_adds_brine_and_cure_by_volume_and_weight_and_buys_no_water() -> None:
    scaled = scale(RECIPES["quick-fresh-pack-dill"], 1.0)
    lines = {line.name: line for line in scaled.shopping}
    assert set(lines) == {"vinegar", "sugar", "canning salt"}
    # SR28: 238 g a cup of distilled vinegar (NDB 02053), 200 of sugar, 292 of table salt.
    assert lines["vinegar"].grams == pytest.approx(6 * 238)
    assert lines["sugar"].grams == pytest.approx(200 / 4)
    assert lines["canning salt"].grams == pytest.approx((1 / 2 + 3 / 4) * 292)
    assert lines["canning salt"].ml == pytest.approx(float(CUP) * 1.25)
    assert lines["vinegar"].text == "vinegar: 6 cups or 3 lb 2½ oz"


TURNIP = (Path(__file__).parents[1] / "data" / "salted-turnip.toml").read_text()
FERMENT = (
    TURNIP
    + """\
[[brine]]
name = "canning salt"
kind = "salt"
amount = "3 tbsp"
[[brine]]
name = "water"
kind = "water"
amount = "2 qt"
[safety]
headspace_in = 0.5
jars = ["quart"]
ferment_salt_percent = [2, 3]
"""
)


@given(factors, both_units)
@settings(max_examples=200, deadline=None)
def test_a_ferments_salt_is_never_below_the_cards_share(factor: float, units: Units) -> None:
    salt, water = scale(read_card(FERMENT, "turnip"), factor, units).brine
    assert rounded_ml(salt) * card_water(water) >= water.amount * card_ml(salt)
    assert rounded_ml(salt) >= Fraction(factor) * (1 - Fraction(1, 10**9)) * card_ml(salt)


def card_water(water: Portion) -> Fraction:
    assert water.ingredient.printed == "2 qt"
    return 8 * CUP


@pytest.mark.parametrize("salt", ["kosher", "flaky"])
def test_what_is_counted_and_what_is_weighed_is_scaled_as_well(salt: str) -> None:
    text = FERMENT.replace('"3 tbsp"', '"150 g"').replace(
        "[safety]",
        '[[brine]]\nname = "heads of dill"\nkind = "other"\namount = 6\n'
        f'[[brine]]\nname = "{salt} salt"\nkind = "salt"\namount = "2 oz"\n[safety]',
    )
    scaled: Scaled = scale(read_card(text, "turnip"), 1.5, Units.METRIC)
    # 3 qt is 2839 ml, up to a mark of 25 ml: 2850. Salt goes with it, up to a whole gram:
    # 225 x 2850 / 2839 = 225.9, and 3 oz = 85.05, so 85.4.
    assert [portion.text for portion in scaled.brine] == ["226 g", "2.85 l", "9", "86 g"]
    assert scaled.shopping[1].text == "heads of dill: 9"
    assert scaled.shopping[2].ml is None  # no household weight for an uneven salt


amounts = st.fractions(Fraction(1, 100), Fraction(100_000))


@given(amounts, both_units, st.sampled_from([round_volume, round_weight]))
@settings(max_examples=300, deadline=None)
def test_rounding_goes_its_way_and_stays_where_it_came_to(
    amount: Fraction, units: Units, rounding: object
) -> None:
    def go(value: Fraction, way: Rounding) -> Fraction:
        result: Fraction = rounding(value, units, way)  # type: ignore[operator]
        return result

    up, down = go(amount, Rounding.UP), go(amount, Rounding.DOWN)
    nearest = go(amount, Rounding.NEAREST)
    assert down <= amount <= up
    assert nearest in (down, up)
    assert abs(nearest - amount) == min(up - amount, amount - down)
    assert go(up, Rounding.UP) == up == go(up, Rounding.DOWN)
    if down:
        assert go(down, Rounding.UP) == down == go(down, Rounding.DOWN)


@given(amounts, amounts, both_units, st.sampled_from(list(Rounding)))
@settings(max_examples=200, deadline=None)
def test_more_never_rounds_to_less(
    one: Fraction, two: Fraction, units: Units, way: Rounding
) -> None:
    low, high = sorted((one, two))
    assert round_volume(low, units, way) <= round_volume(high, units, way)


@given(st.integers(1, 400), st.sampled_from([1, 2, 3, 4, 8]), st.sampled_from(sorted(SPOONS)))
def test_a_printed_kitchen_measure_is_held_exactly(count: int, parts: int, unit: str) -> None:
    exact = Fraction(count, parts) * SPOONS[unit]
    assert exact_ml(float(exact)) == exact


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("key", sorted(RECIPES))
def test_what_is_bought_is_read_back_as_no_less_than_the_formula(key: str, units: Units) -> None:
    for factor in (0.37, 1.0, 1.91, 4.3):
        scaled = scale(RECIPES[key], factor, units)
        for line in scaled.shopping:
            if line.ml is None:
                continue
            shown = line.text.removeprefix(f"{line.name}: ").partition(" or ")[0]
            read = sum(parse_volume(part) for part in shown.split(" + "))
            assert read >= line.ml * (1 - 1e-6), line.text
