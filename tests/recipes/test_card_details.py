"""Every published fact of every shipped recipe, against the card it stands on, and back again.

The facts are in tests/data/recipe-details.csv, one a row, each with the publication it was read in:
the USDA Complete Guide to Home Canning (AIB 539, revised 2015), Guide 6, and other copies of it. A
fact without a place here fails, and so does a number on a card that no fact has.
"""

import csv
import re
import tomllib
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path

import pytest

from jarcast.files.shipped import shipped
from jarcast.measures import POUND_G, TSP_ML
from jarcast.recipes import Ingredient, Kind, ProcessRow, Recipe, SafetyNumbers, shipped_recipes

Fact = dict[str, str]
DATA = Path(__file__).parents[1] / "data" / "recipe-details.csv"
with DATA.open(encoding="utf-8", newline="") as _file:
    ALL = list(csv.DictReader(_file))
FACTS: dict[str, list[Fact]] = {}
for _row in ALL:
    FACTS.setdefault(_row["recipe"], []).append(_row)
RECIPES = shipped_recipes()
each_card = pytest.mark.parametrize("key", sorted(RECIPES))
# Copies of Michigan State Univ. Extension end the top band of altitude at 8,000 ft; the Guide does
# not. The cards that were read in such a copy too keep its end, the stricter.
END_FT = 8000
IN_TSP = {
    "tsp": 1, "tbsp": 3, "cup": 48, "cups": 48, "quart": 192, "qt": 192, "gallon": 768, "gal": 768,
}  # fmt: skip


def number(text: str) -> Fraction:
    """A kitchen number read without the library: '1-1/2' and '1 1/2' are 3/2."""
    return sum((Fraction(part) for part in re.split(r"[ -]", text)), Fraction(0))


def plain(text: str) -> str:
    """A text as cards write it: '1-1/2 inch' is '1 1/2 in', '7-9' is '7 to 9'."""
    text = re.sub(r"(\d)-(\d/\d)", r"\1 \2", text)
    text = re.sub(r"(?<=\d)-(?=\d)(?!\d+/)", " to ", text) if re.fullmatch(SPAN, text) else text
    return re.sub(r"\binch(es)?\b", "in", text)


SPAN = r"[\d./ ]+-[\d./ ]+"
LEFT_OUT = ("none", "not stated")


def safety_of(recipe: Recipe) -> SafetyNumbers:
    assert recipe.safety is not None
    return recipe.safety


def is_amount(part: Ingredient, value: str, unit: str) -> bool:
    """Whether an ingredient is so much of a unit, as a number or in the card's words."""
    if unit in IN_TSP and part.ml is not None and not re.fullmatch(SPAN, plain(value)):
        exact = number(value) * IN_TSP[unit] * Fraction(TSP_ML)
        return part.ml == pytest.approx(float(exact), rel=1e-12)
    if unit == "lb" and part.grams is not None:
        return part.grams == pytest.approx(float(number(value) * POUND_G), rel=1e-12)
    return part.printed == f"{plain(value)} {unit}".strip()


def named(parts: Iterable[Ingredient], name: str) -> Ingredient:
    """The one ingredient whose name begins with this one."""
    found = [part for part in parts if part.name == name or part.name.startswith(f"{name},")]
    assert len(found) == 1, (name, found)
    return found[0]


def _pack(recipe: Recipe, fact: Fact) -> None:
    if "table prints Hot though" in fact["note"]:  # filled raw, covered with boiling liquid
        assert recipe.packs == ("raw",)
        assert any("table prints a hot pack" in note for note in recipe.notes)
    else:
        assert sorted(recipe.packs) == sorted(fact["value"].split(" and "))


def _jar(recipe: Recipe, fact: Fact) -> None:
    listed = {jar_of(f["value"]) for f in FACTS[fact["recipe"]] if f["fact"] == fact["fact"]}
    assert set(safety_of(recipe).jars) == listed


def jar_of(text: str) -> str:
    return {"12-ounce": "12-oz", "wide-mouth pint": "pint"}.get(text, text)


def _headspace(recipe: Recipe, fact: Fact) -> None:
    assert fact["unit"] == "inch"
    assert safety_of(recipe).headspace_in == float(number(fact["value"]))
    assert safety_of(recipe).headspace_detail == plain(fact["note"])


def _band(row: ProcessRow) -> str:
    end = "" if row.to_ft is None else f"{row.to_ft:,}"
    return f"{row.from_ft:,}-{end} ft" if end else f"Above {row.from_ft - 1:,} ft"


def _process(recipe: Recipe, fact: Fact) -> None:
    _, pack, jar, band = (part.strip() for part in fact["fact"].split("|"))
    if any("table prints a hot pack" in note for note in recipe.notes):
        assert pack == "hot"
        pack = "raw"
    rows = [
        row
        for row in safety_of(recipe).process
        if (row.pack, row.jar) == (pack, jar_of(jar))
        and (_band(row) == band or (band == "Above 6,000 ft" and row.from_ft == 6001))
    ]
    assert [row.minutes for row in rows] == [float(fact["value"])]
    assert (rows[0].method, rows[0].pressure_psi) == ("boiling-water canner", None)
    if band == "Above 6,000 ft":
        assert rows[0].to_ft == (END_FT if _in_michigan(recipe) else None)


def _in_michigan(recipe: Recipe) -> bool:
    return any(
        "Michigan State" in copy and str(END_FT) in copy for copy in safety_of(recipe).source.also
    )


def _sterile(recipe: Recipe, fact: Fact) -> None:
    for row in safety_of(recipe).process:
        due = fact["value"] == "yes"
        if "quarts" in fact["note"]:  # sterile pints, quarts clean and hot
            due = row.jar == "pint"
        if "raw pack text: hot jars" in fact["note"]:
            due = row.pack == "hot"
        assert row.sterile is due


def _vinegar(recipe: Recipe, fact: Fact) -> None:
    if fact["value"] == "none used":
        assert safety_of(recipe).least_acid_percent is None
        assert not any(part.kind.acid for part in safety_of(recipe).formula)
        return
    assert fact["unit"] == "percent acid"
    assert safety_of(recipe).least_acid_percent == float(fact["value"])
    assert any(part.kind is Kind.VINEGAR for part in safety_of(recipe).formula)


def _produce(recipe: Recipe, fact: Fact) -> None:
    part = named(recipe.tested.parts, plain(fact["fact"].removeprefix("produce | ")))
    if " to " in fact["value"]:  # 2-1/2 to 3 lb
        assert part.printed == f"{plain(fact['value'])} {fact['unit']}"
    else:
        assert is_amount(part, fact["value"], fact["unit"])
    said = re.sub(r"^(as bought|prepared)[;,]? ?", "", plain(fact["note"]))
    assert said in part.name


def _brine(recipe: Recipe, fact: Fact) -> None:
    name, formula = fact["fact"].removeprefix("brine | "), safety_of(recipe).formula
    if fact["value"] == "none":
        assert not any(part.kind is Kind.SALT for part in formula)
        return
    part = named(formula, "canning salt" if name == "salt" else name)
    assert is_amount(part, fact["value"], fact["unit"])
    kinds = {
        "vinegar": Kind.VINEGAR, "juice": Kind.LEMON_JUICE, "water": Kind.WATER, "oil": Kind.OIL,
        "salt": Kind.SALT, "sugar": Kind.SUGAR,
    }  # fmt: skip
    assert part.kind is kinds.get(name.split()[-1], Kind.OTHER)


def _seasoning(recipe: Recipe, fact: Fact) -> None:
    name = plain(fact["fact"].removeprefix("seasoning | "))
    said = f"{fact['unit']} {fact['value']} {fact['note']}"
    if not re.search(r"\bper (half-)?(pint|jar)|per jar", said):
        assert is_amount(named(recipe.seasonings, name), fact["value"], fact["unit"])
        return
    each = [
        (one.jar, one.part.printed)
        for one in safety_of(recipe).per_jar
        if one.part.name.split(", or ")[0] == ("canning salt" if name == "salt" else name)
    ]
    assert each, name
    whole = f"{fact['value']} {fact['unit']}".strip()
    whole, _, unit = whole.partition(" per ")
    amount, jars = (plain(whole), unit) if unit else ("1", "jar")
    if " " not in whole:
        amount = plain(fact["value"])
    if recipe.key == "reduced-sodium-dill":
        amount = fact["value"]
    if fact["note"] == "one per jar":
        amount, jars = "1", "jar"
    sizes = safety_of(recipe).jars if jars == "jar" else (jars,)
    for size in sizes:
        printed = dict(each)[size]
        assert printed == amount or printed.startswith((f"{amount},", f"{amount} ")), (
            name,
            printed,
        )
    doubled = re.search(r"(\S+)( tsp)? per pint", fact["note"])
    if doubled and "half-pint" in said:
        assert dict(each)["pint"].split()[0] == doubled[1]


def _soak(recipe: Recipe, fact: Fact) -> None:
    what, value, unit = fact["fact"].removeprefix("soak | "), fact["value"], fact["unit"]
    ferment, cure = safety_of(recipe).ferment, recipe.cure
    if ferment is not None and what in ("below", "above"):
        assert float(value) == (ferment.least_f if what == "below" else ferment.most_f)
    elif ferment is not None and what == "salt per 5 lb":
        assert ferment.salt.startswith(f"{value} {unit} for each 5 lb")
    elif ferment is not None and what.startswith("ferment at"):
        assert unit == "weeks"
        degrees, weeks = (tuple(map(float, re.findall(r"\d+", t))) for t in (what, value))
        assert (degrees, weeks) in ferment.warmth
    elif what == "hours":
        assert cure is not None
        assert cure.hours == (float(value.split("-")[0]), float(value.split("-")[-1]))
    elif what == "refrigerated":
        assert (cure is not None and cure.refrigerated) == (value == "yes")
    elif unit in IN_TSP and what != "boiling water over slices":
        assert cure is not None
        name = "canning salt" if what == "salt" else what
        assert is_amount(named(cure.ingredients, name), value, unit)
    else:
        _in_steps(recipe, fact, f"soak, {plain(what)}")


def _preparation(recipe: Recipe, fact: Fact) -> None:
    _in_steps(recipe, fact, plain(fact["fact"].removeprefix("preparation | ")))


def _in_steps(recipe: Recipe, fact: Fact, what: str) -> None:
    said = f"{plain(fact['value'])} {plain(fact['unit'])}".strip()
    wanted = f"{what}: {said}" if said else what
    found = [step for step in recipe.steps if step == wanted or step.startswith(f"{wanted} (")]
    assert len(found) == 1, (wanted, recipe.steps)
    assert plain(fact["note"]) in found[0]


def _yield(recipe: Recipe, fact: Fact) -> None:
    jars = tuple(map(float, fact["value"].split("-")))
    assert recipe.tested.jars == (jars[0], jars[-1])
    assert recipe.tested.jar == jar_of(fact["unit"])


def _low_temperature(recipe: Recipe, fact: Fact) -> None:
    said = safety_of(recipe).low_temperature
    assert bool(said) == (fact["value"] == "yes")
    assert not said or fact["note"].startswith(said)


def _standing(recipe: Recipe, fact: Fact) -> None:
    if fact["value"] == "not stated":
        assert recipe.standing == ""
    else:
        assert recipe.standing.startswith(f"{plain(fact['value'])} {fact['unit']}")


def _fill(recipe: Recipe, fact: Fact) -> None:
    assert recipe.steps[-1] == f"fill: {plain(fact['value'])}"


def _lemon(recipe: Recipe, fact: Fact) -> None:
    assert fact["value"] == "bottled lemon"
    cure = recipe.cure.ingredients if recipe.cure is not None else ()
    assert named((*safety_of(recipe).formula, *cure), "bottled lemon juice").kind.acid


def _canned(recipe: Recipe, fact: Fact) -> None:
    for name in fact["value"].split("; "):
        assert "canned, drained" in named(recipe.tested.parts, name).name


def _thickener(recipe: Recipe, fact: Fact) -> None:
    formula = safety_of(recipe).formula
    assert named(formula, "cornstarch").printed == "2 tbsp"
    assert named(formula, "prepared yellow mustard").printed == "1/3 cup"
    assert fact["value"] == "cornstarch 2 tbsp and prepared mustard 1/3 cup"


def _flour(recipe: Recipe, fact: Fact) -> None:
    flour = named(recipe.seasonings, "flour")
    assert is_amount(flour, fact["value"], fact["unit"])
    assert flour.name == f"flour, optional thickener, {fact['note']}"


def _noted(recipe: Recipe, fact: Fact) -> None:
    words = {
        "oil recipe": "one of three tested recipes with oil",
        "frozen ingredient allowed": "six 10-ounce packages",
        "lime variation allowed": "lime variation is not for squash",
    }.get(fact["fact"], f"{plain(fact['value'])} {fact['unit']}".strip())
    assert any(words in note for note in recipe.notes), words


def _caution(recipe: Recipe, fact: Fact) -> None:
    assert any(fact["value"] in caution.casefold() for caution in safety_of(recipe).cautions)


def _second(recipe: Recipe, fact: Fact) -> None:
    also = [copy for copy in safety_of(recipe).source.also if copy.startswith(fact["where"])]
    assert len(also) == 1
    if "process time" not in fact["fact"]:
        assert plain(fact["value"]) in also[0]
        return
    assert "the same process times" in also[0]
    assert "agree" in fact["note"] or "same minutes" in fact["note"]
    minutes = {f"{row.minutes:g}" for row in safety_of(recipe).process}
    assert set(re.findall(r"\d+", fact["value"])) <= minutes


PLACES: dict[str, Callable[[Recipe, Fact], None]] = {
    "pack style (process table)": _pack,
    "jar size listed": _jar,
    "headspace, liquid": _headspace,
    "process time |": _process,
    "sterilised empty jars": _sterile,
    "vinegar strength": _vinegar,
    "produce |": _produce,
    "brine |": _brine,
    "seasoning |": _seasoning,
    "soak |": _soak,
    "preparation |": _preparation,
    "printed yield": _yield,
    "low-temperature pasteurisation offered": _low_temperature,
    "standing time before opening": _standing,
    "fill order": _fill,
    "lemon or lime juice": _lemon,
    "canned drained ingredients": _canned,
    "thickener, optional flour": _flour,
    "thickener": _thickener,
    "oil recipe": _noted,
    "frozen ingredient allowed": _noted,
    "lime variation allowed": _noted,
    "mixes allowed": _noted,
    "storage": _noted,
    "caution": _caution,
    "second source: ": _second,
}


def facts_of(recipe: Recipe) -> list[Fact]:
    return FACTS[recipe.name]


@each_card
def test_every_published_fact_of_a_recipe_stands_on_its_card(key: str) -> None:
    recipe = RECIPES[key]
    assert len(facts_of(recipe)) >= 17
    for fact in facts_of(recipe):
        place = next(check for start, check in PLACES.items() if fact["fact"].startswith(start))
        place(recipe, fact)


@each_card
def test_a_card_has_nothing_that_was_not_published(key: str) -> None:
    recipe, safety = RECIPES[key], safety_of(RECIPES[key])
    facts = facts_of(recipe)

    def count(start: str) -> int:
        kept = [f for f in facts if f["fact"].startswith(start) and f["value"] not in LEFT_OUT]
        return len(kept)

    assert len(recipe.tested.parts) == count("produce |")
    assert len(safety.formula) == count("brine |")
    assert len(safety.process) == count("process time |")
    each = {one.part.name for one in safety.per_jar}
    optional = count("thickener, optional")
    assert len(recipe.seasonings) + len(each) == count("seasoning |") + optional


@each_card
def test_every_fact_of_a_card_was_read_and_its_copy_is_cited(key: str) -> None:
    recipe, source = RECIPES[key], safety_of(RECIPES[key]).source
    facts = facts_of(recipe)
    assert {fact["seen"] for fact in facts} == {"yes"}
    first = facts[0]
    assert "AIB 539, revised 2015" in first["where"]
    assert source.edition == "revised 2015"
    assert "AIB 539" in source.publication
    assert first["where"].endswith(source.page)
    assert source.link == first["link"]


NUMBER = re.compile(r"\d+(?: \d+/\d+|/\d+|\.\d+)?")


@each_card
def test_no_number_on_a_card_is_without_a_fact(key: str) -> None:
    recipe = RECIPES[key]
    card = tomllib.loads((shipped("models", "recipes") / f"{key}.toml").read_text("utf-8"))
    published = " ".join(" ".join(fact.values()) for fact in facts_of(recipe))
    known = set(NUMBER.findall(re.sub(r"(\d)-(\d/\d)", r"\1 \2", published)))
    known |= set(NUMBER.findall(published))
    if key == "pickled-hot-peppers":  # '4 tbsp salt in error': note of R20, published-recipes.csv
        known.add("4")
    texts = [card.get("notes", []), card["steps"], card.get("cure", {}).get("detail", "")]
    found = set(NUMBER.findall(str(texts)))
    assert found <= known | {"1", "2"}, found - known


def _in(unit: dict[str, int], text: str) -> Fraction:
    amount, _, measure = text.rpartition(" ")
    return number(amount) * unit[measure] if measure in unit else Fraction(0)


@each_card
def test_the_amount_of_produce_is_the_sum_of_its_parts(key: str) -> None:
    tested = RECIPES[key].tested
    parts = [part.printed for part in tested.parts]
    pounds = sum((_in({"lb": 1}, text) for text in parts if " to " not in text), Fraction(0))
    cups = sum((_in(IN_TSP, text) for text in parts), Fraction(0)) / 48
    if tested.several_ways:
        assert tested.printed == f"{pounds} lb and {cups} cups"
    elif tested.grams is None:
        assert tested.ml == pytest.approx(float(cups * 48 * Fraction(TSP_ML)), rel=1e-12)
    elif any("about 3 lb" in part.name for part in tested.parts):  # 8 cups of onions
        assert tested.grams == pytest.approx(float((pounds + 3) * POUND_G), rel=1e-12)
    elif key == "pickled-pepper-rings":  # 2-1/2 to 3 lb, the middle
        assert tested.grams == pytest.approx(2.75 * float(POUND_G), rel=1e-12)
    else:
        assert tested.grams == pytest.approx(float(pounds * POUND_G), rel=1e-12)


def test_the_end_of_the_top_band_is_the_michigan_copies() -> None:
    (fact,) = (row for row in ALL if row["fact"] == "altitude bands | MSU copies")
    assert fact["value"] == f"top band 6001-{END_FT}"
    ended = {key for key, recipe in RECIPES.items() if _in_michigan(recipe)}
    # Rows of published-recipes.csv whose copy is Michigan's.
    assert ended == {
        "bread-and-butter", "pickled-beets", "pickled-cauliflower", "pickled-brussels-sprouts",
        "marinated-mushrooms", "pickled-bell-peppers", "pickle-relish", "piccalilli",
        "green-tomato-relish", "sauerkraut",
    }  # fmt: skip


def test_salt_of_bell_peppers_goes_into_each_jar_and_none_into_the_liquid() -> None:
    safety = safety_of(RECIPES["pickled-bell-peppers"])
    salt = [(one.jar, one.part.printed) for one in safety.per_jar if one.part.kind is Kind.SALT]
    assert salt == [("half-pint", "1/4 tsp"), ("pint", "1/2 tsp")]
    assert not any(part.kind is Kind.SALT for part in safety.formula)


def test_kraut_salt_by_volume_is_within_its_share_of_the_weight() -> None:
    # 3 tbsp for each 5 lb, and 2.25 to 2.5 % by weight (Univ. of Minnesota), said to be equal:
    # by USDA SR28 (NDB 02047) a cup of salt has 292 g.
    safety = safety_of(RECIPES["sauerkraut"])
    assert safety.ferment_salt == (0.0225, 0.025)
    low, high = safety.ferment_salt
    assert low <= 3 * 292 / 16 / (5 * 453.59237) <= high


@each_card
def test_a_soak_in_the_refrigerator_is_said_to_be_one(key: str) -> None:
    cold = [fact["value"] == "yes" for fact in FACTS.get(RECIPES[key].name, [])
            if fact["fact"] == "soak | refrigerated"]  # fmt: skip
    cure = RECIPES[key].cure
    said = cure is not None and "refrigerat" in cure.line
    assert said == any(cold)
