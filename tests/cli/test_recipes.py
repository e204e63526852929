"""jarcast recipes, and jarcast forecast --recipe: what a pickler types and reads."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli.altitude import parse_altitude
from jarcast.cli.screen import fitted
from jarcast.errors import MeasureError
from jarcast.files.shipped import shipped
from jarcast.measures import Units
from jarcast.recipes import (
    CLOSING,
    cook_line,
    load_card,
    safety_block,
    shipped_recipes,
    why_not_clean,
)

Run = Callable[..., Any]
RECIPES = shipped_recipes()

OWN = """\
name = "Oca slices"
produce = "oca"
cut = "slices"
pack = "raw"
style = "cover brine"
[source]
publication = "An invented bulletin"
edition = "2019"
page = "3"
[tested]
amount = "5 lb"
basis = "as bought"
jar = "pint"
jars = 6
[[brine]]
name = "vinegar"
kind = "vinegar"
amount = "4 cups"
[safety]
vinegar_percent = 5
headspace_in = 0.25
jars = ["pint"]
[[process]]
method = "boiling-water canner"
jar = "pint"
minutes = { "0-1000" = 10 }
"""
UNSOURCED = OWN[: OWN.index("[source]")] + OWN[OWN.index("[tested]") : OWN.index("[[brine]]")]


def block(key: str, **choices: Any) -> str:
    """The safety block of a card read afresh."""
    card = load_card(shipped("models", "recipes") / f"{key}.toml")
    return safety_block(card, choices.pop("jar", card.tested.jar), **choices)


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def own_card(kitchen: Path) -> Callable[[str, str], Path]:
    def write(text: str, name: str = "oca.toml") -> Path:
        path = kitchen / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


# --- altitude


@pytest.mark.parametrize(
    ("text", "feet"),
    # A foot is 0.3048 m exactly (NIST Handbook 44, Appendix C).
    [("3000 ft", 3000), ("3,000 feet", 3000), ("5280ft.", 5280), ("0 ft", 0), (" 12 FT ", 12),
     ("914.4 m", 3000), ("900 metres", 900 / 0.3048), ("-3 m", -3 / 0.3048), ("3000'", 3000)],
)  # fmt: skip
def test_an_altitude_is_read_in_feet_or_metres(text: str, feet: float) -> None:
    assert parse_altitude(text) == pytest.approx(feet)


@pytest.mark.parametrize(
    ("text", "why"),
    [("3000", "in feet or in metres"), ("", "not an altitude"), ("high", "not an altitude"),
     ("3 km", "neither feet nor metres"), ("1.250 m", "is 1250 m meant"),
     ("99999 ft", "not an altitude people live at"), ("9000 m", "not an altitude"),
     ("ft", "not an altitude"), ("1 2 ft", "not an altitude"), ("x" * 500, "not an altitude")],
)  # fmt: skip
def test_anything_else_is_refused_with_what_to_write(text: str, why: str) -> None:
    with pytest.raises(MeasureError, match=why) as caught:
        parse_altitude(text)
    assert len(str(caught.value)) < 150


@pytest.mark.parametrize(
    ("altitude", "minutes"),
    # AIB 539, Guide 6, 6:11 pickled beets: 30 (0-1000), 35 (1001-3000), 40 (3001-6000), 45 min.
    [("0 ft", 30), ("300 m", 30), ("305 m", 35), ("914.4 m", 35), ("915 m", 40), ("2000 m", 45)],
)
def test_the_altitude_picks_the_process_time(run: Run, altitude: str, minutes: int) -> None:
    ran = run("forecast", "--recipe", "beets", "--as-bought", "8 lb", "--altitude", altitude)
    assert ran.code == 0, ran.err
    assert re.findall(r"(\d+) min at", flat(ran.out)) == [str(minutes)]


ALTITUDE_ALONE = "Your altitude's time: jarcast kitchen --altitude '3000 ft'"
BEETS = ("forecast", "--recipe", "beets", "--as-bought", "8 lb")


def test_a_look_at_an_altitude_stores_nothing_and_says_how_to_keep_it(
    run: Run, tmp_path: Path
) -> None:
    assert ALTITUDE_ALONE in run(*BEETS).out
    looks = (
        BEETS,
        ("recipes", "show", "beets"),
        (*BEETS, "--sheet", str(tmp_path / "beets.html")),
        ("harvest", "--line", "by pickled-beets: 8 lb"),
    )
    for look in looks:
        ran = run(*look, "--altitude", "2500 ft")
        assert ran.code == 0, ran.err
        assert "2500 ft counts for this answer only." in ran.err
        assert "jarcast kitchen --altitude '2500 ft'" in ran.err
        assert run("kitchen", "--json").document["altitude"] is None
    assert ALTITUDE_ALONE in run(*BEETS).out


def test_a_kitchens_altitude_stands_until_it_is_changed_on_purpose(run: Run) -> None:
    # AIB 539, Guide 6, 6:11 pickled beets: 35 min at 1001-3000 ft, 30 up to 1000 ft, 45 above 6000.
    kept = run("kitchen", "--altitude", "2500 ft")
    assert (kept.code, kept.err) == (0, "")
    assert "Altitude: 2500 ft" in kept.out
    assert re.findall(r"(\d+) min at", flat(run(*BEETS).out)) == ["35"]
    look = run("recipes", "show", "beets", "--altitude", "7000 ft")
    assert set(re.findall(r"ft: (\d+) min", look.out)) == {"45"}  # pints and quarts
    assert "your kitchen stays at 2500 ft" in look.err
    assert set(re.findall(r"ft: (\d+) min", run("recipes", "show", "beets").out)) == {"35"}
    assert run("recipes", "show", "beets", "--altitude", "2500 ft").err == ""  # it is the kitchen's
    moved = run("kitchen", "--altitude", "100 m")
    assert "it was 2500 ft" in moved.err
    assert re.findall(r"(\d+) min at", flat(run(*BEETS).out)) == ["30"]


def test_the_kitchen_shows_and_keeps_its_units_too(run: Run) -> None:
    assert "Altitude: not known" in run("kitchen").out
    found = run("kitchen", "--units", "metric", "--altitude", "300 m", "--json").document
    assert (found["format"], found["version"], found["units"]) == ("jarcast kitchen", 1, "metric")
    assert found["altitude"] == "300 m"
    assert found["altitude_ft"] == pytest.approx(300 / 0.3048)
    assert "Units: kilograms and litres (metric)" in run("kitchen").out
    bare = run("kitchen", "--altitude", "2500")
    assert (bare.code, bare.out) == (1, "")
    assert "in feet or in metres" in bare.err
    assert run("kitchen", "--json").document["altitude"] == "300 m"


def test_an_altitude_without_a_recipe_is_said_to_count_for_nothing_yet(run: Run) -> None:
    ran = run("forecast", "--produce", "carrot", "--trimmed", "5 lb", "--altitude", "2500 ft")
    assert ran.code == 0
    assert "only matters with a recipe" in ran.err


def test_nothing_is_remembered_of_a_forecast_that_fails(run: Run, ledger: Path) -> None:
    ran = run("forecast", "--recipe", "beets", "--altitude", "2500 ft", "--jar", "half-pint")
    assert ran.code == 1
    assert not ledger.exists()
    bare = run("forecast", "--recipe", "beets", "--as-bought", "8 lb", "--altitude", "2500")
    assert bare.code == 1
    assert "in feet or in metres" in bare.err
    assert bare.out == ""


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_what_is_more_than_was_tested_is_told_alike_of_a_card_scaled_and_forecast(
    run: Run, key: str
) -> None:
    """Brine that is poured over is divided into pots, and what is made with it into batches."""
    jar = RECIPES[key].tested.jar
    scaled = flat(run("recipes", "scale", key, "--jars", "60", "--jar", jar).out)
    bought = flat(run("buy", f"60 {jar}", "--recipe", key).out)
    ways = ("divide the brine, and heat one pot after the other", "one after the other, unless")
    said = [way for way in ways if way in scaled]
    assert len(said) == 1
    assert said == [way for way in ways if way in bought] or "More than twice" not in bought
    assert (said == [ways[0]]) == (why_not_clean(RECIPES[key], "") == "")


# --- forecast --recipe


@pytest.mark.parametrize("key", sorted(RECIPES))
@pytest.mark.parametrize("units", list(Units))
def test_the_block_on_screen_is_the_cards_whatever_the_ledger_holds(
    run: Run, filled: Path, key: str, units: Units
) -> None:
    ran = run(
        "forecast", "--recipe", key, "--as-bought", "8 lb", "--trimmed", "7 lb",
        "--altitude", "2500 ft", "--units", units.value, "--jar", RECIPES[key].tested.jar,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    packs = RECIPES[key].packs
    pack = packs[0] if len(packs) == 1 else "raw" if key == "quick-sweet" else ""
    jar = RECIPES[key].tested.jar
    due = cook_line(RECIPES[key], [jar], pack=pack, altitude_ft=2500.0, units=units)
    card = flat(due).removeprefix(f"By the card of {RECIPES[key].name}: ")
    assert f" CARD {card[0].upper()}{card[1:]} " in flat(ran.out)
    document = run(
        "forecast", "--recipe", key, "--as-bought", "8 lb", "--trimmed", "7 lb",
        "--altitude", "2500 ft", "--units", units.value, "--jar", jar, "--json",
    ).document  # fmt: skip
    assert document["safety_block"] == block(
        key, jar=jar, pack=pack, altitude_ft=2500.0, units=units
    )


def test_the_answer_stands_first_then_the_block_the_cautions_and_the_closing_line(
    run: Run, filled: Path
) -> None:
    ran = run("forecast", "--recipe", "beets", "--as-bought", "8 lb", "--altitude", "2500 ft")
    order = [
        "Beet, slices, hot pack: 8 lb as bought, by Pickled beets",
        "JARS About ", "8 times in 10", "BRINE Make ", " vinegar, ", " sugar", "SET OUT ", "CARD ",
        "hot pack, 35 min", "vinegar of 5 %", "jarcast recipes show pickled-beets", "Based on",
        "! A part-full jar",
    ]  # fmt: skip
    places = [flat(ran.out).index(text) for text in order]
    assert places == sorted(places)
    assert flat(ran.out).endswith(CLOSING)


def test_on_a_narrow_terminal_the_lines_of_a_card_stay_apart(run: Run) -> None:
    text = run("forecast", "--recipe", "pickled-beets", "--as-bought", "10 lb").out
    narrow = [line.strip() for line in fitted(text, 50).splitlines()]
    assert max(map(len, narrow)) <= 50
    assert any(line.startswith("Your altitude's time: ") for line in narrow)
    assert any(line.startswith("All of it: ") for line in narrow)


def test_what_jarcast_says_itself_fits_a_terminal(run: Run, filled: Path) -> None:
    ran = run("forecast", "--recipe", "beets", "--as-bought", "8 lb")
    of_the_card = set(block("pickled-beets", pack="hot").splitlines())
    own = [line for line in ran.out.splitlines() if line not in of_the_card]
    assert max(map(len, own)) <= 80


def test_a_list_of_jars_shows_the_process_of_each_size(run: Run) -> None:
    # AIB 539, Guide 6, 6-10 fresh-pack dill, 1001-6000 ft: pints 15 min, quarts 20 min.
    ran = run(
        "forecast", "--recipe", "quick-fresh-pack-dill", "--as-bought", "20 lb",
        "--jar", "3 quart-wide, then pint", "--altitude", "2500 ft",
    )  # fmt: skip
    found = re.findall(r"(pint|Quart), raw pack, (\d+) min at 1001-6000 ft", flat(ran.out))
    assert found == [
        ("Quart", "20"), ("pint", "15"),
    ]  # fmt: skip
    assert "Process every" not in ran.out  # no one time holds for both


def test_a_band_the_card_lacks_sends_to_the_source(run: Run, own_card: Any) -> None:
    path = own_card(OWN)
    ran = run(
        "forecast", "--recipe", str(path), "--as-bought", "8 lb", "--altitude", "2500 ft",
        "--jar", "pint",
    )  # fmt: skip
    assert "look it up in the source and do not guess it" in flat(ran.out)
    assert not re.search(r"\d min\b", ran.out)


def test_the_json_of_a_forecast_by_a_recipe(run: Run, filled: Path) -> None:
    ran = run(
        "forecast", "--recipe", "beets", "--as-bought", "7 lb", "--altitude", "500 ft", "--json"
    )
    found = ran.document
    assert (found["format"], found["version"]) == ("jarcast forecast", 1)
    assert {"jars", "brine_ml", "brine_to_make_ml"} <= set(found)
    # AIB 539, Guide 6: 7 lb takes 4 cups vinegar, 2 water, 2 sugar; 0.62 ml a gram of sugar.
    assert found["floor_known"] is True
    assert found["floor_ml"] == pytest.approx(6 * 236.5882365 + 400 * 0.62)
    assert found["limited_by_recipe"] in (True, False)
    assert [part["name"] for part in found["brine_ingredients"]] == [
        "vinegar", "water", "sugar", "canning salt",
    ]  # fmt: skip
    assert found["brine_made_ml"] >= found["brine_to_make_ml"] >= found["floor_ml"]
    assert found["safety_block"] == block("pickled-beets", pack="hot", altitude_ft=500.0)
    assert found["closing"] == CLOSING
    assert {"vinegar", "no thinning", "process"} <= {c["key"] for c in found["cautions"]}
    assert all(caution["source"] for caution in found["cautions"])


def test_without_a_recipe_the_json_says_that_nothing_of_one_is_known(run: Run) -> None:
    found = run("forecast", "--produce", "carrot", "--trimmed", "5 lb", "--json").document
    assert (found["recipe"], found["floor_known"], found["floor_ml"]) == (None, False, None)
    assert found["limited_by_recipe"] is False


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("--jar", "half-pint"), "this card does not list 'half-pint' jars; listed: pint"),
        (
            ("--jar", "4 pint, then half-pint"),
            "does not list 'half-pint' jars; listed: pint",
        ),
        (("--headspace", "1/4 in"), "the headspace comes from the recipe"),
        (("--produce", "carrot"), "is for beet, not for carrot"),
        (("--trimmed", "9 lb"), "is more than as bought"),
    ],
)
def test_what_the_card_does_not_allow_is_refused_in_words_and_in_json(
    run: Run, arguments: tuple[str, ...], why: str
) -> None:
    ask = ("forecast", "--recipe", "beets", "--as-bought", "8 lb", *arguments)
    ran = run(*ask)
    assert (ran.code, ran.out) == (1, "")
    assert why in ran.err
    as_json = run(*ask, "--json")
    assert (as_json.code, as_json.out) == (1, "")
    assert why in as_json.error["error"]


def test_produce_is_optional_only_with_a_recipe(run: Run) -> None:
    assert run("forecast", "--recipe", "beets", "--as-bought", "8 lb").code == 0
    ran = run("forecast", "--as-bought", "8 lb")
    assert ran.code == 1
    assert "a forecast needs a produce, such as 'carrot', or a recipe" in ran.err


def test_the_usual_jar_and_pack_count_only_where_the_card_allows_them(run: Run, table: Any) -> None:
    run("import", str(table(
        "d1,2024-08-03,cucumbers,slices,raw,quart,6 lb,0,5,10 cups,1 cup,",
        "d2,2024-08-04,carrots,slices,raw,quart,6 lb,0,5,10 cups,1 cup,",
    )))  # fmt: skip
    allowed = run("forecast", "--recipe", "quick-sweet", "--as-bought", "8 lb", "--json").document
    assert (allowed["jar"], allowed["pack"]) == (["quart"], "raw")
    not_tested = run("forecast", "--recipe", "carrots", "--trimmed", "6 lb", "--json").document
    assert (not_tested["jar"], not_tested["pack"]) == (["pint"], "hot")


def test_the_published_rule_on_steam_is_worked_out_for_each_card(run: Run) -> None:
    # National Center for Home Food Preservation, Using Atmospheric Steam Canners: the boiling-water
    # times of tested recipes, up to 45 minutes with the altitude.
    for key in RECIPES:
        ran = run("recipes", "show", key, "--altitude", "2500 ft")
        assert "In an atmospheric steam canner: for the same time" in flat(ran.out), key
        assert "45 min is the most" in flat(ran.out)


def test_steam_is_told_beside_a_forecast_to_those_who_have_such_a_canner(run: Run) -> None:
    assert "steam" not in run(*BEETS).out
    assert run("kitchen", "--canner-kind", "steam").code == 0
    assert "In an atmospheric steam canner" in flat(run(*BEETS).out)


def test_the_law_is_cited_and_no_acidity_is_computed(run: Run) -> None:
    # 21 CFR 114.3(b): acidified foods have a finished equilibrium pH of 4.6 or below.
    ran = run("recipes", "show", "beets")
    assert re.findall(r"pH\s+(?:of\s+)?([\d.]+)", ran.out) == ["4.6"]
    assert "cited only, nothing here computes one" in flat(ran.out)


# --- recipes list, show, check, add


def test_every_card_is_listed_and_fits_a_terminal(run: Run) -> None:
    ran = run("recipes", "list")
    assert max(map(len, ran.out.splitlines())) <= 80
    assert set(RECIPES) <= {line.split()[0] for line in ran.out.splitlines() if line}
    found = run("recipes", "list", "--json").document
    assert (found["format"], found["version"]) == ("jarcast recipes", 1)
    assert {recipe["key"] for recipe in found["recipes"]} == set(RECIPES)
    assert found["broken"] == []


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_a_card_shown_is_its_block_and_the_process_of_its_other_jars(run: Run, key: str) -> None:
    ran = run("recipes", "show", key)
    assert ran.code == 0, ran.err
    assert ran.out.startswith(block(key))
    card = RECIPES[key]
    assert card.safety is not None
    for row in card.safety.process:
        assert f"{row.jar}, {row.band}: {row.minutes:g} min" in ran.out
    assert flat(ran.out).endswith(CLOSING)
    found = run("recipes", "show", key, "--json").document
    assert found["safety_block"].startswith(block(key))
    assert found["source"] == card.safety.source.cited


def test_show_with_a_jar_the_card_lacks_names_the_tested_ones(run: Run) -> None:
    ran = run("recipes", "show", "beets", "--jar", "half-pint")
    assert ran.code == 1
    assert "listed: pint" in ran.err


def test_a_card_of_ones_own_lives_beside_the_ledger(run: Run, own_card: Any, kitchen: Path) -> None:
    path = own_card(OWN)
    added = run("recipes", "add", str(path))
    assert added.code == 0, added.err
    assert (kitchen / "recipes" / "oca.toml").read_bytes() == path.read_bytes()
    assert "its name is oca" in flat(added.out)
    assert "\noca " in run("recipes", "list").out
    ran = run("forecast", "--recipe", "oca", "--as-bought", "5 lb", "--json")
    assert ran.document["headspace_in"] == 0.25
    assert ran.document["recipe"]["source"] == "An invented bulletin; 2019; 3"
    assert run("recipes", "add", str(path)).code == 0  # the same card once more is no harm


def test_a_card_that_cannot_be_used_is_not_added(run: Run, own_card: Any, kitchen: Path) -> None:
    path = own_card(OWN.replace('"5 lb"', '"5"').replace("headspace_in", "headspice_in"))
    for command in ("check", "add"):
        ran = run("recipes", command, str(path))
        assert (ran.code, ran.out) == (1, "")
        assert "line 11, tested, amount" in ran.err
        assert "was 'headspace_in' meant?" in ran.err
        problems = run("recipes", command, str(path), "--json").error["problems"]
        assert len(problems) == 3
    assert not (kitchen / "recipes").exists()


def test_a_broken_card_beside_the_ledger_is_told_and_the_others_stay(
    run: Run, own_card: Any, kitchen: Path
) -> None:
    run("recipes", "add", str(own_card(OWN)))
    (kitchen / "recipes" / "torn.toml").write_text("name = ", encoding="utf-8")
    ran = run("recipes", "list")
    assert ran.code == 0
    assert "torn.toml" in ran.err
    assert "oca" in ran.out
    assert len(run("recipes", "list", "--json").document["broken"]) == 1


def test_a_card_without_a_source_serves_for_its_yield_and_that_is_said(
    run: Run, own_card: Any
) -> None:
    path = own_card(UNSOURCED)
    for command in ("check", "add"):
        ran = run("recipes", command, str(path))
        assert ran.code == 0, ran.err
        assert "holds no safety numbers for it: it is good for its yield only" in flat(ran.out)
    assert "yield only, no source" in run("recipes", "list").out
    assert "it holds no safety numbers" in run("recipes", "show", "oca").out
    ran = run("forecast", "--recipe", "oca", "--as-bought", "10 lb")
    assert "; the recipe says 12." in flat(ran.out)  # 6 pints from 5 lb
    assert "it holds no safety numbers" in flat(ran.out)
    assert " min" not in ran.out
    scaled = run("recipes", "scale", "oca", "--jars", "12")
    assert scaled.code == 1
    assert "is good for its yield only" in scaled.err


@pytest.mark.parametrize("command", [("recipes", "show"), ("recipes", "scale"), ("forecast",)])
def test_a_recipe_nobody_has_is_answered_in_one_sentence(
    run: Run, command: tuple[str, ...]
) -> None:
    name = ("--recipe", "pickld-beats") if command == ("forecast",) else ("pickld-beats",)
    ran = run(*command, *name)
    assert (ran.code, ran.out) == (1, "")
    assert "near it: pickled-beets" in ran.err
    missing = run("recipes", "check", "nowhere.toml")
    assert missing.code == 1
    assert "cannot be read" in missing.err


# --- recipes scale


@pytest.mark.parametrize(
    "way",
    # AIB 539, Guide 6, 6:11: 7 lb of beets, 8 pints, 4 cups vinegar, 2 water, 2 sugar, 1 1/2 tsp
    # salt: twice that. The sugar's room: 0.62 ml a gram (CRC Handbook, from memory).
    [("--weight", "14 lb"), ("--jars", "16"), ("--jars", "16", "--jar", "pint-wide"),
     ("--brine", f"{2 * (6 * 236.5882365 + 400 * 0.62):.6f} ml")],
)  # fmt: skip
def test_twice_the_printed_batch_is_twice_the_printed_formula(
    run: Run, way: tuple[str, ...]
) -> None:
    ran = run("recipes", "scale", "beets", *way, "--json")
    assert ran.code == 0, ran.err
    found = ran.document
    assert (found["format"], found["version"]) == ("jarcast recipe scaled", 1)
    assert {part["name"]: part["text"] for part in found["brine"]} == {
        "vinegar": "8 cups", "water": "4 cups", "sugar": "4 cups", "canning salt": "1 tbsp",
    }  # fmt: skip
    assert found["printed_jars"] == pytest.approx([16.0, 16.0])
    bought = {line["name"]: line for line in found["shopping"]}
    assert set(bought) == {"vinegar", "sugar", "canning salt"}  # water is not bought
    # USDA SR28 household weights: cider or white vinegar 238 g a cup, sugar 200 g a cup.
    assert bought["vinegar"]["ml"] == pytest.approx(8 * 236.5882365)
    assert bought["vinegar"]["grams"] == pytest.approx(8 * 238)
    assert bought["sugar"]["grams"] == pytest.approx(4 * 200)


def test_a_scaled_recipe_in_words_lists_formula_cure_and_shopping(run: Run) -> None:
    # AIB 539, Guide 6, 6-10: 8 lb, 6 cups vinegar, 8 water; soaked in 3/4 cup salt, 2 gal water.
    ran = run("recipes", "scale", "quick-fresh-pack-dill", "--weight", "8 lb")
    text = ran.out
    assert "for 8 lb as bought: 1 times the printed recipe" in flat(text)
    for line in ("  6 cups vinegar", "  8 cups water", "  ¾ cup canning salt", "  2 gal water"):
        assert line in text.splitlines()
    assert re.search(r"To buy:\n  vinegar: 6 cups or 3 lb", text)
    assert flat(text).endswith(CLOSING)
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        ((), "one of --brine, --weight and --jars"),
        (("--brine", "2 cups", "--jars", "4"), "just one"),
        (("--brine", "2 cups", "--jar", "pint"), "--jar says which jars"),
        (("--jars", "4", "--jar", "half-pint"), "listed: pint"),
        (("--jars", "-3"), "a number of jars must be above 0"),
        (("--jars", "nan"), "--jars 'nan': is not a number"),
        (("--brine", "0 cups"), "above 0"),
        (("--brine", "lots"), "--brine 'lots'"),
        (("--weight", "4 cups"), "measures its produce by weight"),
    ],
)
def test_a_scale_that_cannot_be_is_refused_with_how_to_ask(
    run: Run, arguments: tuple[str, ...], why: str
) -> None:
    ran = run("recipes", "scale", "beets", *arguments)
    assert (ran.code, ran.out) == (1, "")
    assert why in ran.err


def test_one_jar_of_a_scaled_recipe_is_one(run: Run) -> None:
    out = " ".join(run("recipes", "scale", "pickled-beets", "--brine", "1 cup").out.split())
    assert "by the recipe's own yield about 1 pint." in out


def test_a_card_that_measures_by_the_cup_is_scaled_by_the_cup(run: Run) -> None:
    # AIB 539, Guide 6, corn relish: 18 3/4 cups of vegetables, 5 cups of vinegar.
    ran = run("recipes", "scale", "corn-relish", "--weight", "37 1/2 cups", "--json")
    assert ran.document["brine"][0]["text"] == "10 cups"
    by_weight = run("recipes", "scale", "corn-relish", "--weight", "5 lb")
    assert "measures its produce by the cup" in by_weight.err
    by_brine = run("recipes", "scale", "corn-relish", "--brine", "5 cups")
    assert "makes liquid of its own" in by_brine.err


# --- low acid

BEANS = """\
name = "Green beans"
produce = "green bean"
style = "cover brine"
[source]
publication = "Grandma"
edition = "1950"
page = "1"
[tested]
amount = "4 lb"
basis = "as bought"
jar = "pint"
jars = 8
[[brine]]
name = "water"
kind = "water"
amount = "8 cups"
[[brine]]
name = "canning salt"
kind = "salt"
amount = "2 tbsp"
[safety]
headspace_in = 0.5
jars = ["pint"]
[[process]]
method = "boiling-water canner"
jar = "pint"
minutes = { "0-1000" = 10, "1001-6000" = 15, "above 6000" = 20 }
"""


def test_a_low_acid_card_is_refused_on_every_use(run: Run, kitchen: Path) -> None:
    # AIB 539, Guide 1: low-acid vegetables are canned under pressure, by a tested process.
    card = kitchen / "beans.toml"
    card.write_text(BEANS, encoding="utf-8")
    file = str(card)
    (kitchen / "recipes").mkdir()
    (kitchen / "recipes" / "snaps.toml").write_text(BEANS, encoding="utf-8")  # put there by hand
    weighed = ("--as-bought", "4 lb")
    for typed in (
        ("recipes", "check", file), ("recipes", "add", file), ("recipes", "show", file),
        ("recipes", "scale", file, "--weight", "4 lb"),
        ("forecast", "--recipe", file, *weighed, "--altitude", "900 ft"),
        ("forecast", "--recipe", file, *weighed, "--sheet", "b.html"),
        ("buy", "24", "--recipe", file),
        ("begin", "--recipe", file, *weighed), ("begin", "--recipe", "snaps", *weighed),
        ("forecast", "--recipe", "snaps", *weighed), ("harvest", "--line", "by snaps: 4 lb"),
    ):  # fmt: skip
        ran = run(*typed)
        assert (ran.code, ran.out) == (1, ""), typed
        assert "low-acid vegetables need a pressure canner and a tested process" in flat(ran.err)
    assert not (kitchen / "recipes" / "beans.toml").exists()
    assert not (kitchen / "beans.html").exists()
    assert "10 min" not in run("recipes", "list").out
    assert "snaps.toml" in run("recipes", "list").err


def test_a_low_acid_card_without_a_process_is_for_the_refrigerator(run: Run, kitchen: Path) -> None:
    card = kitchen / "beans.toml"
    card.write_text(BEANS.split("[[process]]")[0], encoding="utf-8")
    ran = run("forecast", "--recipe", str(card), "--as-bought", "4 lb")
    assert ran.code == 0, ran.err
    assert "No process, so these jars are for the refrigerator" in flat(ran.out)
