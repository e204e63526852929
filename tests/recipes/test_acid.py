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
from jarcast.recipes.cautions import Situation, cautions_for
from jarcast.recipes.plausible import unpublished

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
    """Parts of a formula, each a kind and an amount; its name is its kind, lemon juice bottled."""
    return "".join(
        f'[[brine]]\nname = "{"bottled " * (kind == "lemon juice")}{kind}"\nkind = "{kind}"\n'
        f'amount = "{amount}"\n'
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


GREEN_BEANS = HEAD + '[[brine]]\nname = "vinegar"\nkind = "vinegar"\namount = "4 cups"\n'
STATED = SAFETY + "vinegar_percent = 5\n"


def card(text: str) -> str:
    """What reading a card refuses, in words; '' where it is taken."""
    try:
        read_card(text, "own", "own.toml")
    except RecipeError as problem:
        return str(problem)
    return ""


# AIB 539, Guide 6: of the published pickles none has less acid than a third of its liquid, and
# none that is boiled is of meat, fish or eggs.
@pytest.mark.parametrize("name", ["vegetable stock", "water from the tap", "white wine", "cider"])
def test_liquid_counts_whatever_it_is_called(name: str) -> None:
    more = f'[[brine]]\nname = "{name}"\nkind = "other"\namount = "10 cups"\n'
    assert "less than a third" in card(GREEN_BEANS + more + STATED + BOILING)
    beside = f'[[seasoning]]\nname = "{name}"\namount = "10 cups"\n'
    assert "less than a third" in card(GREEN_BEANS + beside + STATED + BOILING)


@pytest.mark.parametrize("name", ["mustard seed", "chopped onion", "dill heads", "minced garlic"])
def test_what_is_dry_by_its_name_is_no_liquid(name: str) -> None:
    more = f'[[brine]]\nname = "{name}"\nkind = "other"\namount = "10 cups"\n'
    assert card(GREEN_BEANS + more + STATED + BOILING) == ""


@pytest.mark.parametrize("name", ["lemon juice", "fresh lemon juice", "juice of lemons"])
def test_lemon_juice_counts_where_it_is_bottled(name: str) -> None:
    # AIB 539 has bottled lemon juice in every pickle that lemon juice is in.
    lemon = f'[[brine]]\nname = "{name}"\nkind = "lemon juice"\namount = "4 cups"\n'
    assert "counts once it says that it is bottled" in card(HEAD + lemon + SAFETY + BOILING)
    bottled = lemon.replace(f'name = "{name}"', f'name = "Bottled {name}"')
    assert card(HEAD + bottled + SAFETY + BOILING) == ""


@pytest.mark.parametrize(
    "produce",
    ["pork", "quail eggs", "herring", "smoked salmon", "pork + tomato", "green bean, sausages"],
)
def test_meat_fish_and_eggs_get_no_boiling_water_time(produce: str) -> None:
    text = GREEN_BEANS.replace('produce = "green bean"', f'produce = "{produce}"')
    assert "is not pickled like vegetables" in card(text + STATED + BOILING)
    # In the refrigerator no time is taken from the card, so it may stand.
    assert card(text + STATED) == ""


@pytest.mark.parametrize(
    "produce", ["eggplant", "oyster mushroom", "crab apple", "beef tomato", "lamb's lettuce"]
)
def test_a_plant_with_an_animal_in_its_name_is_a_plant(produce: str) -> None:
    text = GREEN_BEANS.replace('produce = "green bean"', f'produce = "{produce}"')
    assert card(text + STATED + BOILING) == ""


@pytest.mark.parametrize("name", ["oil", "olive oil"])
def test_more_oil_than_any_published_pickle_has_is_refused(name: str) -> None:
    # AIB 539, Guide 6, marinated mushrooms: 2 cups of oil to 2 cups of vinegar and 1/2 cup of
    # bottled lemon juice.
    kinds = ("oil",) if name == "oil" else ("oil", "other")
    for kind in kinds:
        for cups, taken in (("3 1/4 cups", True), ("3 1/2 cups", False)):
            more = f'[[brine]]\nname = "{name}"\nkind = "{kind}"\namount = "{cups}"\n'
            said = card(GREEN_BEANS.replace("4 cups", "4 1/8 cups") + more + STATED + BOILING)
            assert (said == "") is taken
            assert taken or "no published pickle has more than 4 parts to 5" in said


def test_tomatoes_lower_the_bound_only_where_they_are_most_of_it() -> None:
    # AIB 539, Guide 6, green-tomato relish: 10 lb of tomatoes of 15 lb, 4 cups of vinegar.
    heavy = GREEN_BEANS.replace('amount = "4 lb"', 'amount = "15 lb"')
    for produce, taken in (("green tomato", True), ("green bean + tomato", False)):
        said = card(
            heavy.replace('produce = "green bean"', f'produce = "{produce}"') + STATED + BOILING
        )
        assert (said == "") is taken


def test_parts_beside_the_amount_need_their_acid_too() -> None:
    parts = '[[tested.part]]\nname = "beans"\namount = "20 lb"\n'
    text = GREEN_BEANS.replace('amount = "4 lb"', 'amount = "6 cups"').replace(
        "jars = 8\n", "jars = 8\n" + parts
    )
    assert "no published pickle has under" in card(text + STATED + BOILING)


@pytest.mark.parametrize(
    ("salt", "declared", "taken"),
    [
        ("1/8 tsp", "[2, 3]", False),  # what is measured out is not what is declared
        ("2 tbsp", "[2, 3]", True),
        ("2 tbsp", "[0.5, 3]", False),
        ("2 tbsp", "", True),
    ],
)
def test_a_ferment_needs_the_salt_it_declares(salt: str, declared: str, taken: bool) -> None:
    text = HEAD.replace("cover brine", "ferment") + SALT.replace("2 tbsp", salt) + SAFETY
    text += f"ferment_salt_percent = {declared}\n" if declared else ""
    assert (card(text + BOILING) == "") is taken


@pytest.mark.parametrize(
    ("old", "new"),
    [("canning salt", "kosher salt"), ('amount = "4 lb"', 'amount = "8 cups"')],
    ids=["salt of which no weight is known", "produce by the cup"],
)
def test_a_ferment_whose_salt_cannot_be_told_says_its_share(old: str, new: str) -> None:
    text = (HEAD.replace("cover brine", "ferment") + SALT + SAFETY).replace(old, new)
    assert "ferment_salt_percent" in card(text + BOILING)
    assert card(text + "ferment_salt_percent = [2, 3]\n" + BOILING) == ""


@pytest.mark.parametrize(("quart", "taken"), [("10", False), ("15", True), ("20", True)])
def test_a_larger_jar_takes_no_shorter_time(quart: str, taken: bool) -> None:
    # AIB 539, Guide 6: no table has a quart under its pint (the shipped cards are all taken).
    two = BOILING.replace(
        'jar = "pint"\nminutes = { "0-1000" = 10', 'jar = "pint"\nminutes = { "0-1000" = 15'
    )
    more = two.replace('"pint"', '"quart"').replace('"0-1000" = 15', f'"0-1000" = {quart}')
    more = more.replace('"1001-6000" = 15', f'"1001-6000" = {max(int(quart), 15)}')
    said = card(GREEN_BEANS + STATED.replace('["pint"]', '["pint", "quart"]') + two + more)
    assert (said == "") is taken
    assert taken or "is shorter than the 15 min of the smaller pint" in said


@pytest.mark.parametrize(
    ("process", "inches", "pointed_out"),
    [
        # AIB 539, Guide 1: 1/2 in for pickles, 1 to 1 1/4 in for low-acid food at pressure.
        ("boiling", 0.5, False), ("boiling", 0.2, True), ("boiling", 1.0, True),
        ("pressure", 1.0, False), ("pressure", 1.25, False), ("pressure", 0.5, True),
    ],
)  # fmt: skip
def test_a_headspace_is_held_against_that_of_its_own_method(
    process: str, inches: float, pointed_out: bool
) -> None:
    end = STATED.replace("headspace_in = 0.5", f"headspace_in = {inches}")
    if process == "pressure":
        recipe = read_card(HEAD + brine(("water", "8 cups")) + SALT + end + PRESSURE, "own")
    else:
        recipe = read_card(GREEN_BEANS + end + BOILING, "own")
    assert any("headspace" in one for one in unpublished(recipe)) is pointed_out
    assert not any("more water" in one for one in unpublished(recipe))
    with pytest.raises(RecipeError, match="headspace"):
        read_card(GREEN_BEANS + end.replace(f"{inches}", "0.01") + BOILING, "own")


@pytest.mark.parametrize(("percent", "key"), [(4, "weak vinegar"), (5, "vinegar"), (6, "vinegar")])
def test_vinegar_weaker_than_the_published_guide_asks_for_is_said_with_it(
    percent: int, key: str
) -> None:
    # AIB 539, Guide 1, p. 1-28: vinegar of 5 percent acidity.
    text = GREEN_BEANS.replace("4 cups", "8 cups") + STATED.replace("= 5\n", f"= {percent}\n")
    found = cautions_for(Situation(recipe=read_card(text + BOILING, "own"), jar="pint"))
    assert [one.key for one in found if "vinegar" in one.key] == [key]
