"""A card that is no ferment and has too little acid gets no boiling-water process.

AIB 539 (USDA Complete Guide to Home Canning), Guide 1: all fresh vegetables but most tomatoes are
low-acid, and are canned in a pressure canner at 10 to 15 psi.
"""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from jarcast import habits_from
from jarcast.errors import RecipeError
from jarcast.recipes import Kind, Recipe, process_rows_for, read_card, shipped_recipes, why_low_acid

RECIPES = shipped_recipes()
DATA = Path(__file__).parents[1] / "data"

HEAD = """\
name = "Green beans"
produce = "green bean"
style = "cover brine"
[source]
publication = "A family notebook"
edition = "1950"
page = "1"
[tested]
amount = "4 lb"
basis = "as bought"
jar = "pint"
jars = 8
"""
SALT = '[[brine]]\nname = "canning salt"\nkind = "salt"\namount = "2 tbsp"\n'
SAFETY = '[safety]\nheadspace_in = 0.5\njars = ["pint"]\n'
BOILING = (
    '[[process]]\nmethod = "boiling-water canner"\njar = "pint"\n'
    'minutes = { "0-1000" = 10, "1001-6000" = 15, "above 6000" = 20 }\n'
)
PRESSURE = (
    '[[process]]\nmethod = "pressure canner"\njar = "pint"\nminutes = 20\n'
    'pressure_psi = { "0-2000" = 11, "2001-4000" = 12 }\n'
)


def brine(*parts: tuple[str, str]) -> str:
    """Parts of a formula, each a kind and an amount; its name is its kind."""
    return "".join(
        f'[[brine]]\nname = "{kind}"\nkind = "{kind}"\namount = "{amount}"\n'
        for kind, amount in parts
    )


def refusal(text: str) -> str:
    with pytest.raises(RecipeError) as caught:
        read_card(text, "beans", "beans.toml")
    (problem,) = caught.value.problems
    assert "process 1" in problem
    assert "low-acid vegetables need a pressure canner and a tested process" in problem
    return problem


@pytest.mark.parametrize("style", ["cover brine", "relish"])
@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((("water", "8 cups"),), "no vinegar and no bottled lemon juice"),
        ((("oil", "4 cups"), ("lemon juice", "1 tsp")), "less than a third"),
        ((("water", "5 cups"), ("lemon juice", "2 cups")), "less than a third"),
        ((("lemon juice", "1 cup"),), "no published pickle has under"),
    ],
    ids=["brine of salt", "oil with a teaspoon of lemon", "thinned", "too little for the beans"],
)
def test_too_little_acid_is_refused_with_the_reason(
    style: str, parts: tuple[tuple[str, str], ...], says: str
) -> None:
    text = HEAD.replace("cover brine", style) + brine(*parts) + SALT + SAFETY
    assert says in refusal(text + BOILING)
    assert read_card(text, "beans").safety is not None  # for the refrigerator
    assert read_card(text + PRESSURE, "beans").safety is not None  # as its source has it


def test_acid_enough_is_taken() -> None:
    # AIB 539, Guide 6, dilled beans: 4 cups of vinegar and 4 of water to 4 lb.
    text = HEAD + brine(("vinegar", "4 cups"), ("water", "4 cups")) + SAFETY
    safety = read_card(text + "vinegar_percent = 5\n" + BOILING, "beans").safety
    assert safety is not None
    assert [row.minutes for row in safety.process] == [10, 15, 20]


def test_a_vinegar_counts_by_its_strength_and_only_with_one() -> None:
    text = HEAD + brine(("vinegar", "4 cups"), ("water", "4 cups")) + SAFETY
    assert "less than a third" in refusal(f"{text}vinegar_percent = 0.1\n{BOILING}")
    with pytest.raises(RecipeError, match="vinegar_percent: is missing"):
        read_card(text + BOILING, "beans")
    beets = RECIPES["pickled-beets"]
    assert beets.safety is not None
    unstated = replace(beets, safety=replace(beets.safety, least_acid_percent=None))
    assert "how strong its vinegar must be" in why_low_acid(unstated)


def test_vinegar_of_no_kind_is_pointed_out() -> None:
    text = (
        HEAD
        + brine(("water", "1 cup"))
        + (
            '[[brine]]\nname = "cider vinegar"\nkind = "other"\namount = "4 cups"\n'
            + SAFETY
            + BOILING
        )
    )
    assert "'cider vinegar' counts once its kind says so" in refusal(text)


@pytest.mark.parametrize(
    "process",
    [
        PRESSURE.replace("11", "2").replace("= 12", "= 3"),  # no pressure canner's pressure
        PRESSURE.replace("pressure canner", "boiling-water canner"),
        BOILING.replace("boiling-water canner", "oven"),
        BOILING.replace("boiling-water canner", "pressure canner"),  # at no pressure
    ],
)
def test_what_is_no_pressure_canner_is_no_way_round(process: str) -> None:
    refusal(HEAD + brine(("water", "8 cups")) + SALT + SAFETY + process)


def test_a_ferment_sours_in_its_salt_and_needs_no_acid() -> None:
    text = HEAD.replace("cover brine", "ferment")
    assert read_card(text + SALT + SAFETY + BOILING, "beans").safety is not None
    assert "no vinegar" in refusal(text + brine(("water", "8 cups")) + SAFETY + BOILING)


def test_a_card_made_in_python_is_no_way_round() -> None:
    beets = RECIPES["pickled-beets"]
    assert beets.safety is not None
    kept = tuple(part for part in beets.safety.formula if not part.kind.acid)
    plain = replace(beets, safety=replace(beets.safety, formula=kept))
    with pytest.raises(RecipeError, match="need a pressure canner and a tested process"):
        process_rows_for(plain, "pint")
    with pytest.raises(RecipeError, match="need a pressure canner and a tested process"):
        habits_from([]).forecast(recipe=plain, as_bought_g=3000.0)


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_every_shipped_card_has_acid_enough(key: str) -> None:
    assert why_low_acid(RECIPES[key]) == ""


MOST_ACID = ("pickled-carrots", "pickled-pepper-rings", "jalapeno-rings", "reduced-sodium-dill")


@given(st.sampled_from(sorted(set(RECIPES) - {"sauerkraut"})), st.floats(0.0, 0.3))
def test_no_shipped_card_keeps_its_process_with_a_third_of_its_acid(key: str, share: float) -> None:
    # These have the most acid for each pound, five times the least there is and more.
    recipe = RECIPES[key]
    assert recipe.safety is not None
    if key in MOST_ACID:
        share /= 4
    if recipe.tested.grams is None:
        share /= 2
    formula = tuple(
        replace(part, ml=(part.ml or 0.0) * share) if part.kind.acid else part
        for part in recipe.safety.formula
    )
    assert why_low_acid(replace(recipe, safety=replace(recipe.safety, formula=formula)))


def published() -> list[dict[str, str]]:
    """Published recipes that were read, go into boiling water, and are no ferments."""
    with (DATA / "published-recipes.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [
        row
        for row in rows
        if row["process_min_0_1000ft"] and row["seen"] == "copy read" and row["id"] not in FERMENTS
    ]


FERMENTS = ("R33", "R34", "R35")


def test_the_least_acid_is_that_of_the_published_recipes() -> None:
    def least(column: str, *, tomatoes: bool) -> float:
        return min(
            (float(row["vinegar_cups"]) + (0.25 if row["id"] == "R30" else 0)) / float(row[column])
            for row in published()
            if row[column] and ("tomato" in row["produce"]) == tomatoes
        )  # three-bean salad (R30) has 1/4 cup of lemon juice as well

    def passes(card: Recipe) -> bool:
        return not why_low_acid(card)

    for produce, column, amount, tomatoes in (
        ("green bean", "weight_lb", "7 lb", False),
        ("green tomato relish", "weight_lb", "15 lb", True),
        ("green bean", "volume_cups", "11 cups", False),
    ):
        cups = least(column, tomatoes=tomatoes) * float(amount.split()[0])
        head = HEAD.replace("4 lb", amount).replace("green bean", produce)
        just = head + brine(("lemon juice", "9 cups")) + SAFETY + BOILING
        card = read_card(just, "any")
        assert card.safety is not None
        for times, enough in ((1.001, True), (0.999, False)):
            ml = times * cups * 236.5882365
            part = replace(card.safety.formula[0], ml=ml)
            assert part.kind is Kind.LEMON_JUICE
            found = replace(card, safety=replace(card.safety, formula=(part,)))
            assert passes(found) is enough, (produce, amount, times)


def test_steam_is_no_pressure_canner_whatever_pressure_stands_beside_it() -> None:
    # AIB 539, Guide 1: low-acid foods are canned in a pressure canner; steam canners run at none.
    steam = PRESSURE.replace("pressure canner", "steam canner")
    assert "pressure canner" in refusal(HEAD + brine(("water", "6 cups")) + SALT + SAFETY + steam)


def test_a_pinch_of_salt_makes_no_ferment() -> None:
    # 1/8 tsp to 4 lb; the least of a published ferment is some 1.9 % (AIB 539, Guide 6).
    pinch = SALT.replace("2 tbsp", "1/8 tsp")
    refusal(
        HEAD.replace("cover brine", "ferment")
        + brine(("water", "6 cups"))
        + pinch
        + SAFETY
        + BOILING
    )
