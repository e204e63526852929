"""Cautions: each where it matters, with a source, and not where it does not."""

import ast
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import jarcast.recipes
from jarcast.errors import RecipeError
from jarcast.recipes import CLOSING, Recipe, Situation, cautions_for, read_card, shipped_recipes
from jarcast.recipes.cautions import ACIDIFIED_FOODS, STEAM_MOST_MINUTES

RECIPES = shipped_recipes()
DILL = RECIPES["quick-fresh-pack-dill"]

STEAMED = """\
name = "Turnip sticks"
produce = "turnip"
style = "cover brine"
[source]
publication = "An invented bulletin"
edition = "2019"
page = "12"
[tested]
amount = "4 lb"
basis = "prepared"
jar = "pint"
jars = 5
[[brine]]
name = "vinegar"
kind = "vinegar"
amount = "3 cups"
[safety]
vinegar_percent = 6
headspace_in = 0.5
jars = ["pint"]
steam_canner = true
[[process]]
method = "boiling-water canner"
jar = "pint"
minutes = { "0-1000" = 40, "1001-6000" = 45, "above 6000" = 50 }
"""
FERMENT = STEAMED.replace("cover brine", "ferment").replace(
    "steam_canner = true", "ferment_salt_percent = [2, 3]"
)


def keys(**known: object) -> list[str]:
    return [caution.key for caution in cautions_for(Situation(**known))]  # type: ignore[arg-type]


def text_of(key: str, **known: object) -> str:
    found = cautions_for(Situation(**known))  # type: ignore[arg-type]
    return next(caution.text for caution in found if caution.key == key)


def test_a_whole_batch_by_a_card_gets_vinegar_no_thinning_and_its_process_time() -> None:
    known = {"recipe": DILL, "jar": "pint", "pack": "raw", "altitude_ft": 500.0}
    assert keys(**known) == ["vinegar", "no thinning", "process"]
    # AIB 539, Guide 6: 5 % acetic acid; p. 6-10, raw pack, pints, 0-1000 ft: 10 min.
    assert "5 % acid or stronger" in text_of("vinegar", **known)
    assert "10 min" in text_of("process", **known)


def test_a_card_may_ask_for_stronger_vinegar_than_the_guide() -> None:
    recipe = read_card(STEAMED, "turnip")
    assert "6 % acid or stronger" in text_of("vinegar", recipe=recipe, jar="pint")


def test_without_an_altitude_the_process_caution_gives_no_time() -> None:
    text = text_of("process", recipe=DILL, jar="pint")
    assert "altitude" in text
    assert "min" not in text


def test_a_missing_band_or_pack_points_to_the_source() -> None:
    known = {"recipe": RECIPES["pickled-carrots"], "jar": "pint", "pack": "raw", "altitude_ft": 9.0}
    assert keys(**known) == ["vinegar", "no thinning", "see the source"]


def test_a_card_without_a_process_is_for_the_refrigerator() -> None:
    recipe = read_card(STEAMED.split("[[process]]")[0], "turnip")
    assert keys(recipe=recipe, jar="pint") == ["vinegar", "no thinning", "no process"]
    assert "refrigerator" in text_of("no process", recipe=recipe)


def test_before_a_jar_is_chosen_the_process_caution_gives_no_time() -> None:
    text = text_of("process", recipe=DILL, altitude_ft=500.0)
    assert "min" not in text


def test_two_packs_give_two_times_each_with_its_pack() -> None:
    text = text_of("process", recipe=RECIPES["quick-sweet"], jar="quart", altitude_ft=0.0)
    # AIB 539, Guide 6, 6-12: quarts hot 5 min, raw 15 min up to 1000 ft.
    assert "5 min (boiling-water canner, hot pack)" in text
    assert "15 min (boiling-water canner, raw pack)" in text


@pytest.mark.parametrize(
    ("known", "key"),
    [
        ({"part_jar": True}, "part jar"),
        ({"short": True}, "short of brine"),
        ({"carried_brine": True}, "used brine"),
        ({"unsealed": 1}, "unsealed"),
    ],
)
def test_a_caution_about_the_jars_comes_only_when_it_applies(
    known: dict[str, object], key: str
) -> None:
    base = {"recipe": DILL, "jar": "pint", "pack": "raw", "altitude_ft": 500.0}
    assert keys(**base, **known) == [*keys(**base), key]


def test_an_unsealed_jar_is_processed_again_within_a_day_or_refrigerated() -> None:
    # AIB 539, Guide 1 (reprocessing unsealed jars), from memory: within 24 hours.
    text = text_of("unsealed", recipe=DILL, unsealed=2)
    assert "24 hours" in text
    assert "refrigerator" in text


def test_short_of_brine_never_means_water_or_plain_vinegar() -> None:
    text = text_of("short of brine", recipe=DILL, short=True)
    assert "whole formula" in text
    assert "Never top up with water or plain vinegar" in text


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_no_shipped_card_says_a_word_of_steam(key: str) -> None:
    recipe = RECIPES[key]
    assert recipe.safety is not None
    found = cautions_for(Situation(recipe=recipe, jar=recipe.safety.jars[0], altitude_ft=100.0))
    assert not any("steam" in caution.text for caution in found)


@pytest.mark.parametrize(
    ("altitude", "says"),
    # 45 minutes at most, altitude included: National Center for Home Food Preservation, from memory
    [(None, "45 min at most"), (500.0, "45 min at most"), (3000.0, "45 min at most"),
     (7000.0, "Not in an atmospheric steam canner")],
)  # fmt: skip
def test_steam_comes_with_its_limit_where_the_card_allows_it(
    altitude: float | None, says: str
) -> None:
    assert STEAM_MOST_MINUTES == 45
    recipe = read_card(STEAMED, "turnip")
    assert says in text_of("steam", recipe=recipe, jar="pint", altitude_ft=altitude)


@pytest.mark.parametrize(
    ("share", "key"),
    # 2-3 % salt by weight: 7 CFR 52.3451 (US Standards for Grades of Bulk Sauerkraut)
    [
        (0.0199, "salt too low"),
        (0.02, None),
        (0.025, None),
        (0.03, None),
        (0.0301, "salt too high"),
    ],
)
def test_a_ferments_salt_stays_inside_the_cards_range_both_ways(
    share: float, key: str | None
) -> None:
    found = keys(recipe=read_card(FERMENT, "turnip"), jar="pint", salt_share=share)
    assert [name for name in found if name.startswith("salt")] == ([key] if key else [])


def test_salt_share_says_nothing_of_a_cover_brine() -> None:
    assert keys(recipe=DILL, salt_share=0.9) == keys(recipe=DILL)


def test_without_a_recipe_or_a_source_the_jars_are_for_the_refrigerator() -> None:
    unsourced = read_card(
        'name = "Kohlrabi"\nproduce = "kohlrabi"\nstyle = "cover brine"\n'
        '[tested]\namount = "2 kg"\nbasis = "as bought"\njar = "pint"\njars = 5\n',
        "kohlrabi",
    )
    for recipe, key in ((None, "no recipe"), (unsourced, "no source")):
        assert keys(recipe=recipe) == [key]
        text = text_of(key, recipe=recipe)
        assert "for the refrigerator, unless you have a tested process" in text


def test_a_jar_outside_the_card_is_refused_here_too() -> None:
    with pytest.raises(RecipeError, match="tested: pint, quart"):
        cautions_for(Situation(recipe=DILL, jar="half-pint"))


@given(
    st.sampled_from([None, *RECIPES.values()]),
    st.one_of(st.none(), st.floats(-100, 12_000)),
    st.booleans(), st.booleans(), st.booleans(), st.integers(0, 3),
    st.one_of(st.none(), st.floats(0, 0.2)),
)  # fmt: skip
def test_every_caution_has_a_source_and_is_said_once(
    recipe: Recipe | None, altitude: float | None, part: bool, short: bool, carried: bool,
    unsealed: int, share: float | None,
) -> None:  # fmt: skip
    jar = recipe.safety.jars[0] if recipe and recipe.safety else ""
    found = cautions_for(
        Situation(recipe=recipe, jar=jar, altitude_ft=altitude, part_jar=part, short=short,
                  carried_brine=carried, unsealed=unsealed, salt_share=share)
    )  # fmt: skip
    assert len({caution.key for caution in found}) == len(found)
    assert all(caution.text and caution.source for caution in found)
    assert not any("tight" in caution.text for caution in found)


def test_the_closing_line_defers_to_recipe_guidance_and_licensed_practice() -> None:
    for words in ("tested recipe", "local food-safety guidance", "licensed practice"):
        assert words in CLOSING


def test_the_regulation_is_cited_and_no_acidity_is_computed() -> None:
    # 21 CFR 114.3(b), copy read: finished equilibrium pH 4.6 or below.
    assert "21 CFR 114.3(b)" in ACIDIFIED_FOODS
    source = next(c.source for c in cautions_for(Situation(recipe=DILL)) if c.key == "no thinning")
    assert ACIDIFIED_FOODS in source
    for path in Path(jarcast.recipes.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            assert not (isinstance(node, ast.Constant) and node.value == 4.6), path.name
            name = getattr(node, "id", getattr(node, "name", getattr(node, "arg", "")))
            assert str(name).casefold() not in ("ph", "log10"), path.name
