"""Cautions: each where it matters, with a source, and not where it does not."""

import ast
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import jarcast.recipes
from jarcast.domain.rules import limit, rules
from jarcast.errors import RecipeError
from jarcast.measures import Units
from jarcast.recipes import (
    CLOSING,
    Recipe,
    SaltShare,
    Situation,
    cautions_for,
    cook_line,
    read_card,
    shipped_recipes,
)
from jarcast.recipes.cautions import ALWAYS, MOST_NOW, PRESSING, cautions_now

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


def test_a_missing_band_points_to_the_source() -> None:
    top = read_card(STEAMED.replace(', "above 6000" = 50', ""), "turnip")
    known = {"recipe": top, "jar": "pint", "altitude_ft": 9000.0}
    assert keys(**known) == ["vinegar", "no thinning", "see the source"]


def test_a_card_without_a_process_is_for_the_refrigerator() -> None:
    recipe = read_card(STEAMED.split("[[process]]")[0], "turnip")
    assert keys(recipe=recipe, jar="pint") == [
        "vinegar",
        "no thinning",
        "no process",
        "refrigerator",
    ]
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
def test_steam_is_told_only_where_there_is_such_a_canner_or_all_is_asked_for(key: str) -> None:
    recipe = RECIPES[key]
    assert recipe.safety is not None
    known = {"recipe": recipe, "jar": recipe.safety.jars[0], "altitude_ft": 100.0}
    assert "steam" not in keys(**known)
    assert "steam" in keys(**known, steam=True)
    assert "steam" in keys(**known, whole_list=True)


@pytest.mark.parametrize(
    ("altitude", "says"),
    # 45 minutes at most, altitude included: National Center for Home Food Preservation, Burning
    # Issue: Using Atmospheric Steam Canners.
    [(None, "but not for 50 min (pint, above 6000 ft)"), (500.0, "40 min (pint, 0-1000 ft)"),
     (3000.0, "45 min (pint, 1001-6000 ft)"), (7000.0, "Not in an atmospheric steam canner")],
)  # fmt: skip
def test_steam_comes_with_its_limit_where_the_card_allows_it(
    altitude: float | None, says: str
) -> None:
    assert limit("steam_minutes").refuse == 45
    recipe = read_card(STEAMED, "turnip")
    assert says in text_of("steam", recipe=recipe, jar="pint", altitude_ft=altitude, steam=True)


@pytest.mark.parametrize(
    ("key", "known", "says"),
    # AIB 539, Guide 6, up to 1000 ft: p. 6-9, sauerkraut in quarts, hot 15 min and raw 25; p. 6-12,
    # quick sweet pickles in pints, hot 5 min and raw 10.
    [
        (
            "sauerkraut",
            {"jar": "quart", "altitude_ft": 500.0},
            "hot pack 15 min (quart, 0-1000 ft); raw pack 25 min (quart, 0-1000 ft)",
        ),
        (
            "quick-sweet",
            {"jar": "pint", "altitude_ft": 500.0},
            "hot pack 5 min (pint, 0-1000 ft); raw pack 10 min (pint, 0-1000 ft)",
        ),
        ("quick-sweet", {"jar": "pint", "altitude_ft": 500.0, "pack": "raw"},
         "for the same time, 10 min (pint, 0-1000 ft); 45"),
    ],
)  # fmt: skip
def test_steam_gives_each_pack_its_own_time(key: str, known: dict[str, object], says: str) -> None:
    assert says in text_of("steam", recipe=RECIPES[key], steam=True, **known)


@pytest.mark.parametrize("key", sorted(RECIPES))
def test_steam_gives_no_jar_two_times_at_one_altitude(key: str) -> None:
    text = text_of("steam", recipe=RECIPES[key], whole_list=True)
    for pack in re.split(r"(?:hot|raw) pack ", text):
        places = re.findall(r"[\w-]+, (?:above )?[\d-]+ ft", pack)
        assert len(places) == len(set(places)), pack


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
    found = keys(recipe=read_card(FERMENT, "turnip"), jar="pint", salt=SaltShare(share))
    assert [name for name in found if name.startswith("salt")] == ([key] if key else [])


def test_salt_share_says_nothing_of_a_cover_brine() -> None:
    assert keys(recipe=DILL, salt=SaltShare(0.9)) == keys(recipe=DILL)


def test_without_a_recipe_or_a_source_the_jars_are_for_the_refrigerator() -> None:
    unsourced = read_card(
        'name = "Kohlrabi"\nproduce = "kohlrabi"\nstyle = "cover brine"\n'
        '[tested]\namount = "2 kg"\nbasis = "as bought"\njar = "pint"\njars = 5\n',
        "kohlrabi",
    )
    for recipe, key in ((None, "no recipe"), (unsourced, "no source")):
        assert keys(recipe=recipe) == [key, "refrigerator"]
        text = text_of(key, recipe=recipe)
        assert "for the refrigerator, unless you have a tested process" in text


def test_a_jar_outside_the_card_is_refused_here_too() -> None:
    with pytest.raises(RecipeError, match="listed: pint, quart"):
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
                  carried_brine=carried, unsealed=unsealed,
                  salt=None if share is None else SaltShare(share))
    )  # fmt: skip
    assert len({caution.key for caution in found}) == len(found)
    assert all(caution.text and caution.source for caution in found)
    assert not any("tight" in caution.text for caution in found)


def test_the_closing_line_defers_to_recipe_guidance_and_licensed_practice() -> None:
    for words in ("tested recipe", "local food-safety guidance", "licensed practice"):
        assert words in CLOSING


def test_the_regulation_is_cited_and_no_acidity_is_computed() -> None:
    # 21 CFR 114.3(b), copy read: finished equilibrium pH 4.6 or below.
    assert "21 CFR 114.3(b)" in rules().sources["acidified"]
    source = next(c.source for c in cautions_for(Situation(recipe=DILL)) if c.key == "no thinning")
    assert rules().sources["acidified"] in source
    for path in Path(jarcast.recipes.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            assert not (isinstance(node, ast.Constant) and node.value == 4.6), path.name
            name = getattr(node, "id", getattr(node, "name", getattr(node, "arg", "")))
            assert str(name).casefold() not in ("ph", "log10"), path.name


# The published rules, by what was read of each.


@pytest.mark.parametrize(
    ("minutes", "due"),
    # AIB 539, Guide 1, p. 1-14 (2015): sterile jars where the process is under 10 minutes.
    [(9, True), (10, False), (40, False)],
)
def test_jars_are_sterilised_where_the_process_is_under_ten_minutes(
    minutes: int, due: bool
) -> None:
    recipe = read_card(STEAMED.replace("= 40", f"= {minutes}"), "turnip")
    known = {"recipe": recipe, "jar": "pint", "altitude_ft": 100.0}
    assert ("sterile jars" in keys(**known)) == due
    # Higher up the time reaches 10 minutes: the card's jars are sterilised all the same.
    assert ("sterile jars" in keys(**{**known, "altitude_ft": 7000.0})) == due
    assert ("sterile jars" in cook_line(recipe, ["pint"])) == due


def test_in_the_refrigerator_it_is_said_how_long_and_what_is_not_kept_so() -> None:
    # New Mexico State Univ. Extension, Guide E-318: fresh-packed, not cooked, within 2 weeks.
    assert "within 2 weeks" in text_of("refrigerator", recipe=None)
    # Univ. of Missouri Extension: herbs and garlic in oil, refrigerated, 2 to 3 days.
    for produce in ("garlic in oil", "peppers in oil", "tuna fish in oil"):
        assert "within 2 days" in text_of("not to be kept", recipe=None, produce=produce)
    # Of meat no publication was read, so no figure is given.
    for produce in ("meat", "pork + cabbage", "Fish", "pigs and beef"):
        said = text_of("not to be kept", recipe=None, produce=produce)
        assert "see your tested recipe" in said
        assert not any(sign.isdigit() for sign in said)
    for produce in ("garlic", "carrot", "boiled onion", "hamburg parsley"):
        assert "not to be kept" not in keys(recipe=None, produce=produce)


def test_beside_a_forecast_stand_at_most_three_that_the_cooks_line_does_not_say() -> None:
    at = Situation(
        recipe=DILL, jar="pint", pack="raw", altitude_ft=500.0, part_jar=True, short=True,
        carried_brine=True, kept_brine=True, unsealed=1, steam=True, times=5.0,
    )  # fmt: skip
    now = cautions_now(at)
    assert len(now) == MOST_NOW
    assert not {"vinegar", "process", "no thinning"} & {one.key for one in now}


def test_more_than_was_tested_is_said_however_many_others_there_are() -> None:
    at = Situation(
        recipe=DILL, jar="pint", pack="raw", altitude_ft=500.0, part_jar=True, short=True,
        carried_brine=True, kept_brine=True, unsealed=1, steam=True, times=14.0, cut="spears",
    )  # fmt: skip
    now = [one.key for one in cautions_now(at)]
    assert "beyond a batch" in now
    assert "steam" in now  # a canner that may boil dry: 45 min at the most
    assert "other cut" in now
    every = [one.key for one in cautions_for(at)]
    assert now == [key for key in every if key in now]  # in the order of the table


def test_each_caution_that_may_stand_beside_an_answer_has_its_rank() -> None:
    keys = {rule.key for rule in rules().rule}
    assert set(PRESSING) | set(ALWAYS) <= keys
    assert len(set(PRESSING)) == len(PRESSING)


@pytest.mark.parametrize(
    ("key", "due"),
    # AIB 539, Guide 6, p. 6-9, 6-13: lime as a variation; p. 6-23: in the soak of jalapeno rings;
    # of squash the card says that it is not for it. None of the others has any.
    [
        (key, key in ("bread-and-butter", "quick-sweet", "jalapeno-rings"))
        for key in sorted(RECIPES)
    ],
)
def test_lime_is_advised_on_where_the_card_has_it_and_not_where_it_forbids_it(
    key: str, due: bool
) -> None:
    assert ("firming" in keys(recipe=RECIPES[key], whole_list=True)) == due


@pytest.mark.parametrize(
    ("note", "due"),
    [
        ("Pickling lime may be used.", True),
        ("Lime juice is something else.", False),
        ("The pickling lime variation is not for turnip.", False),
        ("Use no alum.", False),
        ("Never with pickling lime.", False),
        ("Don't soak in pickling lime.", False),
        ("Crisp without alum or pickling lime.", False),
        # What limits its use does not forbid it.
        ("Soak in pickling lime, but never unrinsed.", True),
        ("Use food-grade pickling lime, not garden lime.", True),
        ("Soak not longer than 24 hours in pickling lime.", True),
        ("Pickling lime may be used, not for more than 24 hours.", True),
        ("Alum is never used here.", False),
    ],
)
def test_a_note_that_forbids_lime_or_alum_brings_no_advice_on_it(note: str, due: bool) -> None:
    recipe = read_card(f'notes = ["{note}"]\n{STEAMED}', "turnip")
    assert ("firming" in keys(recipe=recipe, whole_list=True)) == due


@pytest.mark.parametrize(("times", "batches"), [(2.0, None), (2.1, "3"), (9.0, "9")])
def test_more_than_twice_the_printed_recipe_is_divided(times: float, batches: str | None) -> None:
    known = {"recipe": DILL, "jar": "pint", "times": times}
    assert ("beyond a batch" in keys(**known)) == (batches is not None)
    if batches is not None:
        assert f"make {batches} batches" in text_of("beyond a batch", **known)


def test_pots_are_held_to_twice_the_printed_recipe_each_and_the_batch_no_more() -> None:
    # 2.8 times in all, in pots of 2 and 0.8, of 2.1 and 0.7, and of 2.1 twice.
    known = {"recipe": DILL, "jar": "pint", "times": 2.8}
    assert "beyond a batch" not in keys(**known, pots=(("a", 2.0), ("b", 0.8)))
    one = text_of("beyond a batch", **known, pots=(("a", 0.7), ("b", 2.1)))
    assert "divide b, and heat one pot after the other, none over twice it, unless your" in one
    both = text_of("beyond a batch", **known, pots=(("a", 2.1), ("b", 2.1)))
    assert "divide a and b, and" in both


@pytest.mark.parametrize(("made", "due"), [(2.0, False), (2.0 + 1e-12, False), (2.1, True)])
def test_a_pot_that_was_made_is_held_to_the_same(made: float, due: bool) -> None:
    assert ("beyond a batch" in keys(recipe=DILL, jar="pint", pot_made=made)) == due


def test_in_a_metric_kitchen_a_band_of_altitude_has_its_metres() -> None:
    # A foot is 0.3048 m (NIST Handbook 44): 1000 ft are 304.8 m, 6000 ft 1828.8 m.
    known = {"recipe": DILL, "jar": "pint", "altitude_ft": 3000.0, "steam": True}
    for key in ("process", "steam"):
        assert "1001-6000 ft (305-1828 m)" in text_of(key, **known, units=Units.METRIC)
        assert " m)" not in text_of(key, **known)


def test_every_rule_names_a_source_of_the_table() -> None:
    table = rules()
    for rule in table.rule:
        assert {rule.source, rule.more or "practice"} <= set(table.sources)
    assert "memory" not in " ".join(table.sources.values())


# The reason of a caution is true for the jar, the pack and the altitude that it is said for.

SHORT = STEAMED.replace('"0-1000" = 40, "1001-6000" = 45, "above 6000" = 50',
                        '"0-1000" = 5, "1001-6000" = 10, "above 6000" = 15')  # fmt: skip
ASKING = SHORT.replace("minutes =", "sterile_jars = true\nminutes =")
LONG_AND_ASKING = STEAMED.replace("minutes =", "sterile_jars = true\nminutes =")


@pytest.mark.parametrize("altitude", [None, 500.0, 2500.0, 7000.0])
@pytest.mark.parametrize("card", [ASKING, LONG_AND_ASKING])
def test_a_card_that_asks_for_sterile_jars_is_the_reason_for_them_at_every_altitude(
    card: str, altitude: float | None
) -> None:
    recipe = read_card(card, "turnip")
    known = {"recipe": recipe, "jar": "pint", "altitude_ft": altitude}
    said = text_of("sterile jars", **known)
    assert said.startswith("The card asks for sterile jars: empty, boiled 10 min")
    assert "under 10 min" not in said
    # How they are made sterile stands in AIB 539, Guide 1, p. 1-14, not on the card.
    source = next(c.source for c in cautions_for(Situation(**known)) if c.key == "sterile jars")
    assert source.startswith("An invented bulletin")
    assert source.endswith("Guide 1; p. 1-14")


@pytest.mark.parametrize(
    ("altitude", "says"),
    [
        (500.0, "The process is under 10 min, so fill sterile jars:"),
        (2500.0, "The process (0-1000 ft) is under 10 min, so fill sterile jars, at every"),
        (None, "The process (0-1000 ft) is under 10 min, so fill sterile jars, at every"),
    ],
)
def test_a_short_time_is_the_reason_only_where_it_is_short(
    altitude: float | None, says: str
) -> None:
    recipe = read_card(SHORT, "turnip")
    assert says in text_of("sterile jars", recipe=recipe, jar="pint", altitude_ft=altitude)


@pytest.mark.parametrize(
    ("card", "known", "which"),
    # AIB 539, Guide 6: of quick sweet pickles the hot pack goes into sterile jars, the raw pack
    # into hot ones; of mixed vegetables pints are sterile, quarts hot. Dilled beans have one way.
    [
        ("quick-sweet", {"jar": "pint"}, " (hot pack)"),
        ("quick-sweet", {"jar": "pint", "altitude_ft": 2500.0}, " (hot pack)"),
        ("quick-sweet", {"jar": "pint", "pack": "hot"}, ""),
        ("mixed-vegetables", {"jar": "pint", "altitude_ft": 2500.0}, ""),
        ("mixed-vegetables", {"jar": "pint", "altitude_ft": 500.0, "whole_list": True}, " (pint)"),
        ("mixed-vegetables", {"jar": "quart", "whole_list": True}, " (pint)"),
        ("mixed-vegetables", {}, " (pint)"),
        ("dilled-beans", {"jar": "pint", "whole_list": True}, ""),
    ],
)
def test_it_is_said_for_which_jars_or_pack_a_card_asks_for_sterile_ones(
    card: str, known: dict[str, object], which: str
) -> None:
    said = text_of("sterile jars", recipe=RECIPES[card], **known)
    assert said.startswith(f"The card asks for sterile jars{which}: empty")


@pytest.mark.parametrize("key", sorted(RECIPES))
@pytest.mark.parametrize("altitude", [None, 0.0, 2500.0, 7000.0, 9000.0])
def test_no_shipped_card_gives_a_short_time_as_a_reason_that_it_does_not_have(
    key: str, altitude: float | None
) -> None:
    recipe = RECIPES[key]
    assert recipe.safety is not None
    for jar in ("", *recipe.safety.jars):
        for pack in ("", *recipe.packs):
            at = Situation(recipe=recipe, jar=jar, pack=pack, altitude_ft=altitude)
            said = [c.text for c in cautions_for(at) if c.key == "sterile jars"]
            rows = [r for r in recipe.safety.process if r.jar == (jar or r.jar)]
            rows = [r for r in rows if not jar or not pack or r.pack == pack]
            asked = any(r.sterile for r in rows)
            assert len(said) == (asked or any(r.minutes < 10 for r in rows))
            assert not asked or said[0].startswith("The card asks for sterile jars")


def test_a_time_is_said_of_its_own_size_of_jar() -> None:
    # AIB 539, Guide 6, mixed vegetables, 0-1000 ft: pints 5 min, quarts 10 min.
    known = {"recipe": RECIPES["mixed-vegetables"], "altitude_ft": 500.0, "whole_list": True}
    assert "Process every pint jar for 5 min" in text_of("process", jar="pint", **known)
    assert "Process every quart jar for 10 min" in text_of("process", jar="quart", **known)


def test_two_methods_with_bands_of_their_own_give_each() -> None:
    other = """\
[[process]]
method = "dial-gauge pressure canner"
jar = "pint"
pressure_psi = { "0-2000" = 11, "above 2000" = 12 }
minutes = { "0-2000" = 20, "above 2000" = 20 }
"""
    recipe = read_card(STEAMED + other, "turnip")
    said = text_of("process", recipe=recipe, jar="pint", altitude_ft=1500.0)
    assert "45 min (boiling-water canner, packed as the source directs)" in said
    assert "(1001-6000 ft or 0-2000 ft)" in said


def test_steam_names_the_pack_where_a_jar_has_a_time_for_each() -> None:
    # AIB 539, Guide 6, quick sweet pickles, pints, 0-1000 ft: hot 5 min, raw 10 min.
    said = text_of("steam", recipe=RECIPES["quick-sweet"], jar="pint", altitude_ft=0.0, steam=True)
    assert "hot pack 5 min (pint, 0-1000 ft); raw pack 10 min (pint, 0-1000 ft)" in said


@pytest.mark.parametrize(
    ("minutes", "pressure", "method", "grows"),
    # AIB 539, Guide 1: in boiling water the time grows with altitude, in a pressure canner the
    # pressure; Guide 6, p. 6-5: 180 to 185 F for 30 minutes, whatever the altitude.
    [
        ('{ "0-1000" = 40, "1001-6000" = 45 }', "", "boiling-water canner", True),
        ('{ "0-2000" = 20, "2001-4000" = 20 }', '{ "0-2000" = 11, "2001-4000" = 12 }',
         "dial-gauge pressure canner", False),
        ('{ "0-30000" = 30 }', "", "low-temperature pasteurization", False),
    ],
)  # fmt: skip
def test_a_time_is_said_to_grow_with_altitude_only_in_boiling_water(
    minutes: str, pressure: str, method: str, grows: bool
) -> None:
    psi = f"pressure_psi = {pressure}\n" if pressure else ""
    table = f'[[process]]\nmethod = "{method}"\njar = "pint"\n{psi}minutes = {minutes}\n'
    recipe = read_card(STEAMED.split("[[process]]")[0] + table, "turnip")
    assert ("grows" in text_of("process", recipe=recipe, jar="pint")) == grows


@pytest.mark.parametrize(
    ("recipe", "jar", "says"),
    # The cards list: dilled beans pints alone, dill pickles pints and quarts (AIB 539, Guide 6).
    [
        (DILL, "quart", "in a smaller jar that the card lists"),
        (DILL, "", "in a smaller jar that the card lists"),
        (DILL, "pint", "the card lists no smaller jar"),
        (RECIPES["dilled-beans"], "pint", "the card lists no smaller jar"),
        (None, "", "in a smaller jar that your tested recipe lists"),
    ],
)
def test_a_part_full_jar_goes_into_a_smaller_one_only_where_there_is_one(
    recipe: Recipe | None, jar: str, says: str
) -> None:
    said = text_of("part jar", recipe=recipe, jar=jar, part_jar=True)
    assert says in said
    assert "goes in the refrigerator" in said
    assert "not in the canner with too much headspace" in said
