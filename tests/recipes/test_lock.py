"""The lock: jars, process rows, the floor and the safety block come from the card alone."""

import ast
import inspect
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Struct

import jarcast
from jarcast.domain.jars import SHELF
from jarcast.errors import RecipeError
from jarcast.files.shipped import shipped
from jarcast.measures import POUND_G, Units
from jarcast.recipes import (
    ProcessRow,
    Recipe,
    SafetyNumbers,
    brine_floor_ml,
    check_jar,
    cook_line,
    floor_stage,
    load_card,
    packs_of,
    process_rows_for,
    read_card,
    safety_block,
    scale,
    shipped_recipes,
    why_no_floor,
)
from jarcast.recipes.block import row_text

RECIPES = shipped_recipes()
recipes = st.sampled_from(sorted(RECIPES)).map(RECIPES.__getitem__)
SOURCE = Path(jarcast.__file__).parent

UNSOURCED = read_card(
    'name = "Kohlrabi"\nproduce = "kohlrabi"\nstyle = "cover brine"\n'
    '[tested]\namount = "2 kg"\nbasis = "as bought"\njar = "pint"\njars = 5\n',
    "kohlrabi",
)


def card_jar(recipe: Recipe) -> str:
    assert recipe.safety is not None
    return recipe.safety.jars[0]


# --- jars


@given(recipes, st.sampled_from(sorted(SHELF)))
def test_every_jar_outside_the_card_is_refused_with_the_tested_ones_named(
    recipe: Recipe, jar: str
) -> None:
    assert recipe.safety is not None
    if jar.removesuffix("-wide") in recipe.safety.jars:
        assert check_jar(recipe, jar) == jar.removesuffix("-wide")
        return
    for ask in (check_jar, process_rows_for, safety_block):
        with pytest.raises(RecipeError) as caught:
            ask(recipe, jar)
        assert "this card does not list" in str(caught.value)
        assert "listed: " + ", ".join(recipe.safety.jars) in str(caught.value)


def test_a_half_litre_jar_is_not_a_pint() -> None:
    with pytest.raises(RecipeError, match="listed: pint"):
        check_jar(RECIPES["pickled-beets"], "500 ml")


def test_a_jar_the_user_measured_is_no_tested_jar() -> None:
    with pytest.raises(RecipeError, match="listed: pint"):
        check_jar(RECIPES["pickled-beets"], "grandmother's jar")


# --- process rows


@pytest.mark.parametrize(
    ("altitude", "minutes"),
    # AIB 539, Guide 6, 6:11 pickled beets: 30 (0-1000), 35 (1001-3000), 40 (3001-6000), 45 min.
    # Below the sea water boils hotter, and the lowest band holds.
    [(-1400, 30), (-0.5, 30), (0, 30), (1000, 30), (1000.2, 35), (1001, 35), (3000, 35),
     (3001, 40), (6000, 40),
     (6001, 45), (8000, 45),
     # Michigan's copy of 1997 ends the top band at 8,000 ft, the stricter of the two.
     (8000.5, None), (12_000, None)],
)  # fmt: skip
def test_the_altitude_picks_the_band(altitude: float, minutes: float | None) -> None:
    rows = process_rows_for(RECIPES["pickled-beets"], "pint-wide", altitude_ft=altitude)
    assert [row.minutes for row in rows] == ([] if minutes is None else [minutes])


def test_pack_picks_the_row_where_the_card_has_two() -> None:
    # AIB 539, Guide 6, 6-12: hot pack pints/quarts 5/10/15; raw pack pints 10/15/20, quarts
    # 15/20/25.
    recipe = RECIPES["quick-sweet"]
    found = {
        (pack, jar): [
            row.minutes for row in process_rows_for(recipe, jar, pack=pack, altitude_ft=2000)
        ]
        for pack in ("hot", "raw")
        for jar in ("pint", "quart")
    }
    assert found == {
        ("hot", "pint"): [10], ("hot", "quart"): [10],
        ("raw", "pint"): [15], ("raw", "quart"): [20],
    }  # fmt: skip


def test_a_pack_the_card_lacks_is_refused_as_a_jar_is() -> None:
    # NCHFP; AIB 539, Guide 6, pickled carrots: simmered, and packed hot.
    carrots = RECIPES["pickled-carrots"]
    for ask in (
        lambda: process_rows_for(carrots, "pint", pack="raw", altitude_ft=500),
        lambda: safety_block(carrots, "pint", pack="raw", altitude_ft=500),
    ):
        with pytest.raises(RecipeError, match="does not list a raw pack; listed: hot"):
            ask()


def gapped_card() -> Recipe:
    text = (shipped("models", "recipes") / "pickled-carrots.toml").read_text("utf-8")
    return read_card(
        text.replace('"1001-6000" = 20, "above 6000" = 25', '"2001-6000" = 20'), "gapped"
    )


@pytest.mark.parametrize("altitude", [1500.0, 1000.5, 2000.0, 6000.5, 9000.0])
def test_a_band_the_card_lacks_is_looked_up_in_the_source_and_nothing_is_guessed(
    altitude: float,
) -> None:
    recipe = gapped_card()
    assert process_rows_for(recipe, "pint", altitude_ft=altitude) == ()
    block = safety_block(recipe, "pint", altitude_ft=altitude)
    process = [line for line in block.splitlines() if line.strip().startswith("process")]
    assert len(process) == 1
    assert "look it up in the source" in process[0]
    assert " min" not in process[0]


@given(recipes, st.floats(-500, 15_000), st.sampled_from(["", "hot", "raw"]))
def test_whatever_row_is_found_is_one_of_the_cards_and_holds_the_altitude(
    recipe: Recipe, altitude: float, pack: str
) -> None:
    assert recipe.safety is not None
    if pack and pack not in packs_of(recipe):
        with pytest.raises(RecipeError, match="does not list"):
            process_rows_for(recipe, card_jar(recipe), pack=pack, altitude_ft=altitude)
        return
    for row in process_rows_for(recipe, card_jar(recipe), pack=pack, altitude_ft=altitude):
        assert any(row is printed for printed in recipe.safety.process)
        assert row.from_ft <= max(altitude, 0.0) + 1  # the lowest band holds below the sea
        assert row.to_ft is None or altitude <= row.to_ft


# --- the floor


def test_the_floor_is_the_cards_brine_for_each_pound_at_the_cards_basis() -> None:
    # NCHFP pickled carrots: 5 1/2 cups vinegar, 1 cup water, 2 cups sugar to 2 3/4 lb prepared.
    # 200 g of sugar a cup (SR28, NDB 19335), 0.62 ml a gram dissolved (CRC Handbook, from memory).
    recipe = RECIPES["pickled-carrots"]
    per_lb = (6.5 * 236.5882365 + 2 * 200 * 0.62) / 2.75
    floor = brine_floor_ml(recipe, prepared_g=5 * float(POUND_G))
    assert floor == pytest.approx(5 * per_lb, rel=1e-9)
    assert brine_floor_ml(recipe, as_bought_g=2000, prepared_g=1500) == brine_floor_ml(
        recipe, prepared_g=1500
    )


def test_the_floor_is_not_known_by_a_weight_before_the_cards_own_stage() -> None:
    prepared, bought = RECIPES["pickled-carrots"], RECIPES["pickled-beets"]
    assert brine_floor_ml(prepared, as_bought_g=2000) is None
    assert "weighed prepared" in why_no_floor(prepared, as_bought_g=2000)
    assert brine_floor_ml(bought) is None
    assert "weighed as bought" in why_no_floor(bought)
    assert brine_floor_ml(bought, as_bought_g=2000) is not None


def test_a_weight_of_a_later_stage_bounds_the_floor_from_below() -> None:
    # Nothing is added by trimming: what was bought weighs at least what was trimmed, so 7 lb
    # trimmed need at least the brine that AIB 539 prints for 7 lb of beets as bought.
    beets, pounds = RECIPES["pickled-beets"], 7 * float(POUND_G)
    assert beets.safety is not None
    for stage in ("as_bought_g", "prepared_g", "cured_g", "cooked_g"):
        floor = brine_floor_ml(beets, **{stage: pounds})
        assert floor == pytest.approx(beets.safety.volume_ml)
        assert floor_stage(beets, **{stage: pounds}) == stage
    weighed = {"prepared_g": 0.9 * pounds, "cooked_g": 0.8 * pounds}
    assert brine_floor_ml(beets, **weighed) == pytest.approx(0.9 * beets.safety.volume_ml)
    assert brine_floor_ml(beets, as_bought_g=pounds, **weighed) == pytest.approx(
        beets.safety.volume_ml
    )
    with pytest.raises(TypeError, match="'trimmed_g' is not a stage"):
        brine_floor_ml(beets, trimmed_g=pounds)


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_the_floor_at_the_printed_weight_is_the_printed_brine(key: str) -> None:
    recipe = RECIPES[key]
    assert recipe.safety is not None
    grams = recipe.tested.grams
    floor = brine_floor_ml(recipe, as_bought_g=grams, prepared_g=grams)
    if recipe.own_liquid or grams is None:
        assert floor is None
        assert why_no_floor(recipe, as_bought_g=grams, prepared_g=grams)
    else:
        assert floor == pytest.approx(recipe.safety.volume_ml)


def test_a_card_without_a_source_gives_no_floor_no_jar_and_no_process() -> None:
    assert brine_floor_ml(UNSOURCED, as_bought_g=2000) is None
    assert "where it comes from" in why_no_floor(UNSOURCED, as_bought_g=2000)
    with pytest.raises(RecipeError, match="holds no safety numbers"):
        check_jar(UNSOURCED, "pint")
    with pytest.raises(RecipeError, match="holds no safety numbers"):
        process_rows_for(UNSOURCED, "pint", altitude_ft=0)
    assert "it holds no safety numbers" in safety_block(UNSOURCED, "pint")


# --- the block


def test_the_safety_block_of_a_card_in_full() -> None:
    # AIB 539, Guide 6, p. 6-10; printed numbers as in tests/data/published-recipes.csv, R01.
    block = safety_block(
        RECIPES["quick-fresh-pack-dill"], "quart-wide", pack="raw", altitude_ft=5280
    )
    assert block == (
        "Quick fresh-pack dill pickles. Source: USDA Complete Guide to Home Canning (AIB 539), "
        "Guide 6; revised 2015; p. 6-10\n"
        "  Check these numbers against the current edition of the source before use.\n"
        "  vinegar: 5 % acid or stronger\n"
        "  brine, in these proportions only: 6 cups vinegar, 8 cups water, ¼ cup sugar, "
        "½ cup canning salt\n"
        "    for 8 lb of produce as bought, printed yield 7 to 9 pint jars\n"
        "  headspace: ½ in\n"
        "  jars tested: pint, quart\n"
        "  process: boiling-water canner, raw pack, quart, 1001-6000 ft: 20 min"
    )


def test_a_metric_kitchen_reads_the_printed_measure_with_its_size_beside_it() -> None:
    block = safety_block(RECIPES["pickled-beets"], "pint", altitude_ft=0, units=Units.METRIC)
    assert "2 cups (400 g) sugar" in block  # 200 g a cup: SR28, NDB 19335
    assert "½ in (13 mm)" in block
    assert "0-1000 ft (0-304 m): 30 min" in block


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_in_a_metric_kitchen_no_metre_stands_in_two_bands(key: str) -> None:
    # A foot is 0.3048 m (NIST Handbook 44): 305 m are 1000.7 ft and 1829 m 6000.7, and a part of a
    # foot counts as the next, so they belong to the higher band.
    recipe = RECIPES[key]
    assert recipe.safety is not None
    for row in recipe.safety.process:
        shown = row_text(row, Units.METRIC)
        ends = re.search(r"\((?:from )?(\d+)(?:-(\d+))? m\)", shown)
        assert ends is not None, shown
        low, high = int(ends[1]), 6000 if ends[2] is None else int(ends[2])
        for metres in {low, high, (low + high) // 2}:
            assert row.holds(metres / 0.3048), (shown, metres)
        for outside in {low - 1, *([] if ends[2] is None else [high + 1])}:
            assert outside < 0 or not row.holds(outside / 0.3048), (shown, outside)


def test_305_m_and_1829_m_are_told_with_the_longer_time() -> None:
    block = safety_block(RECIPES["quick-fresh-pack-dill"], "pint", units=Units.METRIC)
    # AIB 539, Guide 6, p. 6-10, pints.
    assert "0-1000 ft (0-304 m): 10 min" in block
    assert "1001-6000 ft (305-1828 m): 15 min" in block
    assert "above 6000 ft (from 1829 m): 20 min" in block


TURNIP = (Path(__file__).parents[1] / "data" / "salted-turnip.toml").read_text()
OTHER = (
    TURNIP
    + """\
[[brine]]
name = "kosher salt"
kind = "salt"
amount = "4 oz"
[safety]
headspace_in = 1
jars = ["quart"]
ferment_salt_percent = [2, 3]
"""
)


def test_a_ferment_without_a_process_says_its_salt_range_and_the_refrigerator() -> None:
    block = safety_block(read_card(OTHER, "turnip"), "quart", units=Units.METRIC).splitlines()
    assert "  salt: 2 to 3 % of the trimmed weight, no less and no more" in block
    assert (  # 4 oz to 5 lb are 5 %: printed for no proportion beside the share
        "    printed: 4 oz (113 g) kosher salt for 5 lb (2.26 kg) of produce prepared, printed "
        "yield 2 quart jars; the share decides"
    ) in block
    assert "  headspace: 1 in (25 mm)" in block
    assert block[-1] == "  process: none on this card; keep these jars in the refrigerator"
    open_ended = OTHER.replace("ferment_salt_percent = [2, 3]\n", "")
    assert "the card gives no share" in safety_block(read_card(open_ended, "turnip"), "quart")


def test_a_pressure_process_shows_minutes_and_pressure() -> None:
    text = OTHER + (
        '[[process]]\nmethod = "dial-gauge canner"\njar = "quart"\nminutes = 30\n'
        'pressure_psi = { "0-2000" = 11, "above 2000" = 12 }\n'
    )
    block = safety_block(read_card(text, "turnip"), "quart", altitude_ft=2500, units=Units.METRIC)
    assert block.splitlines()[-1] == (
        "  process: dial-gauge canner, packed as the source directs, quart, above 2000 ft "
        "(from 610 m): 30 min at 12 psi"
    )


@given(recipes, st.floats(0.01, 500), st.sampled_from(list(Units)), st.floats(0, 1e5))
@settings(max_examples=150, deadline=None)
def test_whatever_is_asked_of_a_card_its_safety_block_stays_byte_for_byte(
    recipe: Recipe, factor: float, units: Units, grams: float
) -> None:
    jar = card_jar(recipe)
    fresh = load_card(shipped("models", "recipes") / f"{recipe.key}.toml")
    expected = safety_block(fresh, jar, altitude_ft=2500, units=units).encode()
    scale(recipe, factor, units)
    brine_floor_ml(recipe, as_bought_g=grams, prepared_g=grams)
    assert safety_block(recipe, jar, altitude_ft=2500, units=units).encode() == expected
    assert recipe == fresh


def test_the_safety_block_takes_the_card_and_the_choices_and_nothing_else() -> None:
    parameters = inspect.signature(safety_block).parameters
    assert set(parameters) == {"recipe", "jar", "pack", "altitude_ft", "units"}


# --- nothing learned or forecast can write a safety number


def _modules(package: str) -> list[Path]:
    return sorted((SOURCE / package).rglob("*.py"))


def _names(tree: ast.AST) -> set[str]:
    """Every name, attribute and imported name in a module."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            found.add(node.id)
        elif isinstance(node, ast.Attribute):
            found.add(node.attr)
        elif isinstance(node, ast.ImportFrom):
            found |= {alias.name for alias in node.names} | {node.module or ""}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


def _copies_with_changes(tree: ast.AST) -> bool:
    """Whether dataclasses.replace is within reach, by either way of importing it."""
    modules = ("dataclasses", "copy")
    return any(
        (isinstance(node, ast.Import) and any(alias.name in modules for alias in node.names))
        or (
            isinstance(node, ast.ImportFrom)
            and node.module in modules
            and any(alias.name == "replace" for alias in node.names)
        )
        for node in ast.walk(tree)
    )


MAKERS = {
    "SafetyNumbers", "ProcessRow", "Ingredient", "Source", "Tested", "Cure", "read_card",
    "load_card", "__setattr__", "__dict__", "setattr", "force_setattr",
}  # fmt: skip


@pytest.mark.parametrize("package", ["learning", "forecast", "harvest", "trackrecord"])
def test_learning_and_forecasting_can_make_no_safety_number(package: str) -> None:
    assert _modules(package)
    for path in _modules(package):
        tree = ast.parse(path.read_text("utf-8"))
        names = _names(tree)
        if any(name.startswith("jarcast.recipes") for name in names):
            assert not names & (MAKERS | {"jarcast.recipes.card"}), path.name
            assert not _copies_with_changes(tree), path.name
        assert "SafetyNumbers" not in names, path.name


def test_learning_does_not_see_recipes_at_all() -> None:
    for path in _modules("learning"):
        names = _names(ast.parse(path.read_text("utf-8")))
        assert not any(name.startswith("jarcast.recipes") for name in names), path.name


def test_recipes_know_nothing_of_what_is_learned_or_forecast() -> None:
    for path in _modules("recipes"):
        names = _names(ast.parse(path.read_text("utf-8")))
        for layer in (
            "learning",
            "forecast",
            "harvest",
            "trackrecord",
            "views",
            "cli",
            "ledger",
            "batchtable",
        ):
            assert not any(name.startswith(f"jarcast.{layer}") for name in names), path.name


def test_safety_numbers_are_made_in_one_place() -> None:
    makers = [
        path.name
        for path in SOURCE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "SafetyNumbers"
    ]
    assert makers == ["parsing.py"]


@pytest.mark.parametrize("kind", [SafetyNumbers, ProcessRow, Recipe])
def test_the_types_of_the_lock_are_frozen(kind: type) -> None:
    assert issubclass(kind, Struct)
    assert kind.__struct_config__.frozen
    assert not any(re.search("list|dict", str(held)) for held in kind.__annotations__.values())


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_in_a_metric_kitchen_acid_is_shown_no_weaker_than_it_is_printed(key: str) -> None:
    # 21 CFR 114 and AIB 539, Guide 1, p. 1-28: vinegar, food and water are not to be altered.
    recipe = RECIPES[key]
    assert recipe.safety is not None
    block = safety_block(recipe, recipe.tested.jar, units=Units.METRIC)
    shown = {
        name: float(amount) * (1000.0 if unit == "l" else 1.0)
        for amount, unit, name in re.findall(r"\(([\d.]+) (ml|l)\) ([^,\n]+)", block)
    }
    liquids = [part for part in recipe.safety.formula if part.kind.liquid]
    acids = [part for part in liquids if part.kind.acid]
    for acid in acids:
        assert shown[acid.name] >= (acid.ml or 0.0) * (1.0 - 1e-9)
        for other in liquids:
            if not other.kind.acid:
                assert shown[other.name] <= (other.ml or 0.0) * (1.0 + 1e-9)


@pytest.mark.parametrize(
    ("sugar", "shown"),
    # A cup of sugar is 200 g (USDA Standard Reference 28, NDB 19335): 2/3 cup is 133.3 g, 1 2/3
    # cups 333.3 g, 5 1/3 cups 1066.7 g, and 3 cups 600 g, which is a mark of the scale.
    [("2/3 cup", "133 g"), ("1 2/3 cups", "330 g"), ("5 1/3 cups", "1.06 kg"), ("3 cups", "600 g")],
)
def test_in_a_metric_kitchen_no_more_sugar_is_shown_than_is_printed(sugar: str, shown: str) -> None:
    # AIB 539, Guide 1, p. 1-28: the proportions stand; sugar takes room that acid would have.
    card = f"""
name = "Turnip sticks"
produce = "turnip"
style = "cover brine"
source = {{ publication = "An invented bulletin", edition = "2019", page = "12" }}
tested = {{ amount = "4 lb", basis = "prepared", jar = "pint", jars = 5 }}
safety = {{ vinegar_percent = 5, headspace_in = 0.5, jars = ["pint"] }}
brine = [
    {{ name = "vinegar", kind = "vinegar", amount = "8 cups" }},
    {{ name = "sugar", kind = "sugar", amount = "{sugar}" }},
]
"""
    block = safety_block(read_card(card, "turnip"), "pint", units=Units.METRIC)
    assert f" ({shown}) sugar" in block


def test_the_brine_of_beets_and_mushrooms_in_a_jug_s_marks() -> None:
    # AIB 539, Guide 6, p. 6-15: 4 cups of vinegar to 2 of water, 946 and 473 ml; p. 6-18: 2 1/2
    # cups of vinegar and 2 of oil, 591 and 473 ml.
    beets = safety_block(RECIPES["pickled-beets"], "pint", units=Units.METRIC)
    assert "4 cups (950 ml) vinegar, 2 cups (470 ml) water" in beets
    mushrooms = safety_block(RECIPES["marinated-mushrooms"], "half-pint", units=Units.METRIC)
    assert "2½ cups (600 ml) white vinegar" in mushrooms
    assert "2 cups (470 ml) " in mushrooms


def test_in_a_metric_kitchen_the_cook_s_line_has_metres_too() -> None:
    dill = RECIPES["quick-fresh-pack-dill"]
    line = cook_line(dill, ["pint"], units=Units.METRIC)
    assert (
        "10 min at 0-1000 ft (0-304 m) / 15 min at 1001-6000 ft (305-1828 m) / 20 min above 6000 "
        "ft (from 1829 m)"
    ) in line
    assert " m)" not in cook_line(dill, ["pint"])
