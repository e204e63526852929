"""The pack check: one way only, against the printed weight over the printed jars."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.domain.jars import SHELF
from jarcast.errors import RecipeError
from jarcast.measures import POUND_G, Units
from jarcast.recipes import (
    Recipe,
    pack_check,
    printed_g_per_jar,
    read_card,
    shipped_recipes,
)

RECIPES = shipped_recipes()
POUND = float(POUND_G)
RANGED = RECIPES["reduced-sodium-sweet"]  # AIB 539, Guide 6: 4 lb in 4 to 5 pints


def test_the_printed_weight_over_the_printed_jars_is_the_yardstick() -> None:
    # AIB 539, Guide 6: 7 lb of bell peppers in 9 pints; 4 lb of cucumbers in 4 to 5 pints.
    assert printed_g_per_jar(RECIPES["pickled-bell-peppers"], "pint") == pytest.approx(
        (7 * POUND / 9, 7 * POUND / 9)
    )
    assert printed_g_per_jar(RANGED, "pint-wide") == pytest.approx((4 * POUND / 5, POUND))


@pytest.mark.parametrize(
    ("grams", "chance"),
    [(300.0, 0.0), (4 * POUND / 5, 0.0), (4.5 * POUND / 5, 0.5), (POUND, 1.0), (600.0, 1.0)],
)
def test_the_chance_counts_the_printed_range_evenly(grams: float, chance: float) -> None:
    check = pack_check(RANGED, [grams] * 3, "pint")
    assert check is not None
    assert check.chance == pytest.approx(chance)
    assert bool(check.message) == (chance > 0.5)


def test_more_than_even_odds_gives_a_plain_caution() -> None:
    check = pack_check(RECIPES["pickled-bell-peppers"], [300.0, 400.0, 420.0], "pint")
    assert check is not None
    assert check.chance == pytest.approx(2 / 3)
    assert check.message == (
        "You put about 14 oz of produce (as bought) in a jar where the tested recipe has "
        "12½ oz: less acid for each gram and slower heat than was tested. Pack looser."
    )


@pytest.mark.parametrize(("grams", "tested"), [(POUND, True), (1.001 * POUND, False)])
def test_as_close_as_is_printed_is_no_closer_than_was_tested(grams: float, tested: bool) -> None:
    check = pack_check(RANGED, [grams], "pint")  # 4 lb in 4 pints at the closest
    assert check is not None
    assert check.message.endswith(": near the most that it was tested with. Pack looser.") == tested
    assert ("less acid for each gram" in check.message) != tested


def test_even_odds_are_not_enough() -> None:
    check = pack_check(RECIPES["pickled-bell-peppers"], [300.0, 400.0], "pint")
    assert check is not None
    assert (check.chance, check.message) == (0.5, "")


def test_another_tested_jar_is_compared_by_its_fill_volume() -> None:
    half, pint = (SHELF[size].fill_volume_ml(0.5) for size in ("half-pint", "pint"))
    found = printed_g_per_jar(RECIPES["pickled-bell-peppers"], "half-pint")
    assert found is not None
    assert found[0] == pytest.approx(7 * POUND / 9 * half / pint)
    with pytest.raises(RecipeError, match="listed: half-pint, pint"):
        pack_check(RECIPES["pickled-bell-peppers"], [300.0], "quart")


@pytest.mark.parametrize(
    "key",
    # More than a pint can hold: 8 lb of whole cucumbers in 7 to 9 pints, 7 lb of gherkins in 6 to
    # 7 (AIB 539, Guide 6). A pint holds 437 ml up to half an inch, for a neck of 60 mm (from
    # memory).
    ["quick-fresh-pack-dill", "sweet-gherkin"],
)
def test_a_printed_yield_that_cannot_fit_is_no_yardstick(key: str) -> None:
    assert printed_g_per_jar(RECIPES[key], "pint") is None
    assert pack_check(RECIPES[key], [500.0], "pint") is None


def test_what_is_lost_before_the_jar_can_make_a_printed_yield_possible() -> None:
    # 8 lb in 7 to 9 pints as bought, of sliced cucumbers that lose some in trimming and salting
    assert printed_g_per_jar(RECIPES["quick-sweet"], "pint") is None
    assert printed_g_per_jar(RECIPES["quick-sweet"], "pint", ready_share=0.85) == pytest.approx(
        (8 * POUND / 9, 8 * POUND / 7)
    )


@pytest.mark.parametrize("key", ["corn-relish", "green-tomato-relish", "pickled-cauliflower"])
def test_relishes_and_recipes_by_the_cup_are_no_yardstick(key: str) -> None:
    recipe = RECIPES[key]
    assert recipe.safety is not None
    assert pack_check(recipe, [300.0], recipe.safety.jars[0]) is None


def test_a_card_without_a_source_and_an_empty_history_are_no_yardstick() -> None:
    card = read_card(
        'name = "Kohlrabi"\nproduce = "kohlrabi"\nstyle = "cover brine"\n'
        '[tested]\namount = "1 kg"\nbasis = "as bought"\njar = "pint"\njars = 5\n',
        "kohlrabi",
    )
    assert pack_check(card, [300.0], "pint") is None
    assert pack_check(RANGED, [], "pint") is None


@pytest.mark.parametrize("grams", [float("nan"), float("inf"), -1.0])
def test_grams_that_cannot_be_are_refused(grams: float) -> None:
    with pytest.raises(RecipeError, match="finite"):
        pack_check(RANGED, [300.0, grams], "pint")


weighed = st.sampled_from([key for key in sorted(RECIPES) if RECIPES[key].tested.grams])


@given(
    weighed.map(RECIPES.__getitem__),
    st.lists(st.floats(0, 5000), min_size=1, max_size=30),
    st.sampled_from(list(Units)),
    st.floats(0.3, 1),
)
def test_packing_tighter_is_never_suggested_in_words_or_numbers(
    recipe: Recipe, own: list[float], units: Units, share: float
) -> None:
    check = pack_check(recipe, own, recipe.tested.jar, ready_share=share, units=units)
    if check is None:
        return
    assert 0 <= check.chance <= 1
    assert bool(check.message) == (check.chance > 0.5)
    assert not re.search(r"tight|more produce|room|could hold|denser", check.message)
    if check.message:
        assert check.message.endswith("Pack looser.")
        assert check.own_g >= check.printed_g[0]
