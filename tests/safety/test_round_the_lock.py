"""Attempts to get round the tested recipe: each is refused, or answered with what it is.

Written as somebody would who wants his jars his way. The rules behind them: USDA Complete Guide to
Home Canning (AIB 539), revised 2015, Guides 1 and 6, and what models/rules.toml cites beside each.
"""

from pathlib import Path

import pytest

from jarcast.errors import RecipeError
from jarcast.files.shipped import shipped
from jarcast.recipes import add_card, card_shelf, read_card, shipped_recipes
from tests.cli.conftest import run_here as run

DILL = shipped("models", "recipes", "quick-fresh-pack-dill.toml").read_text("utf-8")
CARROTS = shipped("models", "recipes", "pickled-carrots.toml").read_text("utf-8")
FERMENT = """\
name = "Salted turnip"
produce = "turnip"
style = "ferment"
[source]
publication = "An invented bulletin"
edition = "2019"
page = "3"
[tested]
amount = "5 lb"
basis = "prepared"
jar = "quart"
jars = 2
[safety]
headspace_in = 0.5
jars = ["quart"]
ferment_salt_percent = 0.1
"""


@pytest.fixture(autouse=True)
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("JARCAST_LEDGER", str(tmp_path / "ledger.sqlite3"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def changed(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text


CANNOT_BE = {
    "vinegar of 0.1 %": (DILL, ("vinegar_percent = 5", "vinegar_percent = 0.1"), "vinegar"),
    "vinegar of 3.9 %": (DILL, ("vinegar_percent = 5", "vinegar_percent = 3.9"), "vinegar"),
    "3 in of headspace": (DILL, ("headspace_in = 0.5", "headspace_in = 3"), "headspace"),
    "a blink in the pot": (DILL, ('"0-1000" = 10', '"0-1000" = 0.01'), "process"),
    "the oven": (DILL, ('"boiling-water canner"', '"oven canning"'), "not a way to process"),
    "an open kettle": (DILL, ('"boiling-water canner"', '"open-kettle"'), "not a way to process"),
    "the dishwasher": (DILL, ('"boiling-water canner"', '"dishwasher"'), "not a way to process"),
    "a microwave": (DILL, ('"boiling-water canner"', '"microwave oven"'), "not a way to process"),
    "the sun": (DILL, ('"boiling-water canner"', '"a sunny sill"'), "is not a method known here"),
    "upside down": (DILL, ('"boiling-water canner"', '"inversion"'), "not a way to process"),
    "times that fall": (DILL, ('"1001-6000" = 15', '"1001-6000" = 9'), "falls from"),
    "a ferment hardly salted": (FERMENT, ("= 0.1", "= 0.1"), "salt"),
    "a tenth of the vinegar": (DILL, ('amount = "6 cups"', 'amount = "1/2 cup"'), "vinegar"),
    "vinegar named water": (DILL, ('kind = "vinegar"', 'kind = "water"'), "no vinegar"),
}  # fmt: skip


@pytest.mark.parametrize("attempt", sorted(CANNOT_BE))
def test_a_card_that_cannot_be_is_refused_by_check_add_and_use(attempt: str, kitchen: Path) -> None:
    text, pair, why = CANNOT_BE[attempt]
    (kitchen / "mine.toml").write_text(changed(text, pair), encoding="utf-8")
    for words in (
        ("recipes", "check", "mine.toml"),
        ("recipes", "add", "mine.toml"),
        ("forecast", "--recipe", "./mine.toml", "--as-bought", "8 lb", "--trimmed", "7 lb"),
    ):
        ran = run(*words)
        assert (ran.code, ran.out) == (1, ""), words
        assert why in ran.err, words


@pytest.mark.parametrize(
    ("pair", "why"),
    [
        (("vinegar_percent = 5", "vinegar_percent = 4.5"), "under 5 %"),
        (('"0-1000" = 10', '"0-1000" = 3'), "under 5 min"),
        (("headspace_in = 0.5", "headspace_in = 1"), "over 0.5 in"),
    ],
)
def test_what_no_published_recipe_has_is_pointed_out(
    pair: tuple[str, str], why: str, kitchen: Path
) -> None:
    (kitchen / "mine.toml").write_text(changed(DILL, pair), encoding="utf-8")
    ran = run("recipes", "check", "mine.toml")
    assert ran.code == 0
    said = " ".join(ran.out.split())
    assert "no published recipe has it" in said
    assert why in said


BY_CARD = ("forecast", "--recipe", "pickled-carrots", "--trimmed", "5 lb")


@pytest.mark.parametrize(
    "words",
    [
        (*BY_CARD, "--pack", "raw"),
        (*BY_CARD, "--pack", "Cold pack"),
        (*BY_CARD, "--jar", "quart"),
        (*BY_CARD, "--jar", "Quarts, wide mouth"),
        (*BY_CARD, "--jar", "pint, then quart"),
        (*BY_CARD, "--jar", "500 ml"),
        (*BY_CARD, "--headspace", "0"),
        (*BY_CARD, "--headspace", "3 in"),
        (*BY_CARD, "--produce", "beans"),
        ("begin", "--recipe", "pickled-carrots", "--pack", "raw", "--trimmed", "5 lb"),
        ("begin", "--recipe", "pickled-carrots", "--jar", "quart", "--trimmed", "5 lb"),
        ("recipes", "show", "pickled-carrots", "--pack", "raw"),
        ("recipes", "show", "pickled-carrots", "--jar", "quart"),
        ("recipes", "scale", "pickled-carrots", "--jars", "4 quarts"),
    ],
)  # fmt: skip
def test_another_pack_jar_headspace_or_produce_than_the_cards_is_refused(
    words: tuple[str, ...],
) -> None:
    ran = run(*words)
    assert (ran.code, ran.out) == (1, ""), words


def test_a_larger_jar_gets_no_time_quoted_and_a_smaller_one_only_quoted() -> None:
    # NCHFP blog, Jar Size Choices: smaller jars take the time of the next larger one listed, and
    # for larger ones there is none.
    smaller = run(*BY_CARD, "--jar", "half-pint")
    assert smaller.code == 1
    assert "half-pint takes the time of the next larger one listed, here pint" in smaller.err
    for jar in ("quart", "half gallon", "2 gallon", "a bucket"):
        larger = run(*BY_CARD, "--jar", jar)
        assert larger.code == 1
        assert "takes the time" not in larger.err
        assert "A jar larger than all that a card lists has no tested process" in larger.err


@pytest.mark.parametrize(
    "key",
    ["pickled-beets", "Pickled_Beets", "pick1ed-beets", "pickled-bеets", "PICKLED BEETS"],
)
def test_no_card_of_ones_own_takes_the_name_of_a_shipped_one(key: str, kitchen: Path) -> None:
    path = kitchen / f"{key}.toml"
    path.write_text(changed(DILL, ('"6 cups"', '"6 cups"')), encoding="utf-8")
    with pytest.raises(RecipeError, match="ships with jarcast"):
        add_card(path, kitchen / "recipes")


@pytest.mark.parametrize(
    "title", ["Pickled carrots", "pickled  CARROTS", "Picklеd carrots", "P1ckled carr0ts"]
)
def test_a_title_that_reads_like_another_cards_is_told(title: str, kitchen: Path) -> None:
    text = changed(CARROTS, ('name = "Pickled carrots"', f'name = "{title}"'))
    (kitchen / "mine.toml").write_text(text, encoding="utf-8")
    ran = run("recipes", "add", "mine.toml")
    assert ran.code == 0
    assert "reads like that of 'pickled-carrots'" in " ".join(ran.out.split())


def test_one_title_of_two_cards_is_asked_back(kitchen: Path) -> None:
    mine = read_card(CARROTS, "mine")
    assert mine.name == shipped_recipes()["pickled-carrots"].name
    (kitchen / "recipes").mkdir()
    (kitchen / "recipes" / "mine.toml").write_text(
        changed(CARROTS, ('name = "Pickled carrots"', 'name = "Dills of mine"')), encoding="utf-8"
    )
    (kitchen / "recipes" / "other.toml").write_text(
        changed(CARROTS, ('name = "Pickled carrots"', 'name = "Dills of mine"')), encoding="utf-8"
    )
    with pytest.raises(RecipeError, match="title of several cards"):
        card_shelf(kitchen / "recipes").find("Dills of mine")
    assert card_shelf(kitchen / "recipes").find("other").key == "other"


@pytest.mark.parametrize("altitude", ["-100 ft", "-1400 ft", "0", "1000 ft"])
def test_below_the_sea_the_lowest_band_holds(altitude: str) -> None:
    # AIB 539, Guide 6, quick fresh-pack dill, pints: 10 min up to 1,000 ft.
    ran = run("recipes", "show", "quick-fresh-pack-dill", "--altitude", altitude, "--jar", "pint")
    assert "pint, 0-1000 ft: 10 min" in ran.out


@pytest.mark.parametrize("weight", ["1 oz", "2 oz", "1/2 lb", "1 lb"])
@pytest.mark.parametrize("key", ["quick-fresh-pack-dill", "pickled-carrots", "pickled-beets"])
def test_nothing_is_ever_scaled_to_nothing(key: str, weight: str) -> None:
    ran = run("recipes", "scale", key, "--weight", weight, "--json")
    assert ran.code == 0
    assert all(part["text"][0] != "0" for part in ran.document["brine"])


def test_a_scaled_recipe_ends_with_the_numbers_that_stay() -> None:
    said = " ".join(run("recipes", "scale", "pickled-carrots", "--weight", "22 lb").out.split())
    for due in ("vinegar of 5 %", "headspace ½ in", "pint, hot pack, 15 min", "8 batches"):
        assert due in said


def test_garlic_in_oil_is_not_kept_for_two_weeks() -> None:
    said = " ".join(run("forecast", "--produce", "garlic in oil", "--trimmed", "1 lb").out.split())
    assert "eat it within 2 days" in said
    assert "within 2 weeks" not in said


def test_of_meat_no_time_is_given_and_no_source_of_other_food() -> None:
    for words in (("--trimmed", "1 lb"), ("--jars", "3 pint")):
        ran = run("forecast", "--produce", "pork", *words)
        said = " ".join(ran.out.split())
        assert "never kept at room temperature" in said, words
        assert "days" not in said, words
        assert "2 weeks" not in said, words


def test_a_ferments_card_that_gives_no_weeks_is_forecast_all_the_same(kitchen: Path) -> None:
    text = FERMENT.replace("ferment_salt_percent = 0.1", "ferment_salt_percent = 2.5")
    for extra in ("", '\n[ferment]\nsalt = "3 tbsp for each 5 lb"\n'):
        (kitchen / "mine.toml").write_text(text + extra, encoding="utf-8")
        assert run("recipes", "check", "mine.toml").code == 0
        ran = run("forecast", "--recipe", "mine.toml", "--trimmed", "5 lb")
        assert (ran.code, ran.err) == (0, ""), extra


def test_an_import_by_a_card_names_jars_and_packs_that_it_does_not_list(kitchen: Path) -> None:
    (kitchen / "b.csv").write_text(
        "batch,date,produce,pack,jar,jars,recipe\n"
        "a,2024-08-03,carrot,raw,quart,4,pickled-carrots\n",
        encoding="utf-8",
    )
    said = " ".join(run("import", "b.csv").err.split())
    assert "a raw pack, the card lists hot" in said
    assert "quart jars, the card lists pint" in said


def test_more_in_a_jar_than_the_card_is_told_though_the_recipe_is_named_last(
    kitchen: Path,
) -> None:
    grams = ("--trimmed", "4 lb", "--jar", "pint", "--jars", "4", "--pack", "hot")
    assert "Pack looser" not in run("record", "--produce", "carrot", *grams, "--batch", "c").err
    assert "Pack looser" in run("amend", "c", "recipe=pickled-carrots").err
