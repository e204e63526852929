"""Kraut in its own juice, mixtures by their parts, and a card's printed yield as one reading."""

import importlib
import math
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from jarcast import Habits, habits_from
from jarcast.domain.names import parts_of, produce_key
from jarcast.learning.model.beliefs import beliefs_from, load_beliefs, starting_beliefs
from jarcast.recipes import Recipe, load_card, shipped_recipes

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "models"))
builder = importlib.import_module("build_beliefs")
POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C


@pytest.fixture(scope="module")
def nobody() -> Habits:
    return habits_from([])


def card(name: str) -> Recipe:
    return load_card(ROOT / "models" / "recipes" / f"{name}.toml")


@pytest.mark.parametrize(
    "asked", [{"produce": "kraut"}, {"produce": "cabbage", "cut": "shredded", "cure_hours": 504.0}]
)
def test_twenty_five_pounds_of_cabbage_make_nine_quarts_of_kraut(
    nobody: Habits, asked: dict[str, object]
) -> None:
    # R35, USDA Complete Guide to Home Canning, Guide 6: 25 lb for nine quarts, in its own juice.
    found = nobody.forecast(**asked, jar="quart", as_bought_g=25 * POUND_G)  # type: ignore[arg-type]
    low, high = found.jars.interval(0.8)
    assert low <= 9.0 <= high
    assert found.jars.median < 12.0
    assert not found.brine_ml.draws.any()


def test_cabbage_salted_for_a_day_is_no_kraut(nobody: Habits) -> None:
    day = nobody.forecast(produce="cabbage", cut="shredded", cure_hours=24.0, trimmed_g=3000.0)
    assert day.brine_ml.median > 0.0


def test_parts_are_equal_unless_told() -> None:
    assert parts_of(produce_key("Carrots 2 + cauliflower 1")) == pytest.approx(
        {"carrot": 2 / 3, "cauliflower": 1 / 3}
    )
    assert parts_of(produce_key("turnip + carrot")) == {"carrot": 0.5, "turnip": 0.5}


def test_an_unpublished_mixture_is_the_mean_of_its_parts_and_wider() -> None:
    # By arithmetic done anew: shares by weight, volumes added.
    known = starting_beliefs()
    mixed = known.crop(produce_key("turnip 3 + carrot 1"), "sticks", "raw")
    turnip, carrot = (known.crop(name, "sticks", "raw") for name in ("turnip", "carrot"))
    assert mixed.known == "its parts"
    trimmed = 0.75 * turnip.trim_yield.centre + 0.25 * carrot.trim_yield.centre
    assert mixed.trim_yield.centre == pytest.approx(trimmed)
    room = 0.75 / turnip.density.centre + 0.25 / carrot.density.centre  # ml of jar a gram
    assert mixed.density.centre == pytest.approx(1.0 / room)
    assert mixed.density.spread > max(turnip.density.spread, carrot.density.spread)
    assert known.crop("skirret + oca").known == "nothing published"


def test_a_printed_yield_draws_a_first_forecast_towards_it(nobody: Habits) -> None:
    # Marinated mushrooms, 7 lb for nine half-pints (R18, the same guide): by the card the forecast
    # lies between what is believed without it and what is printed.
    recipe = card("marinated-mushrooms")
    by_card = nobody.forecast(recipe=recipe, as_bought_g=7 * POUND_G).jars
    alone = replace(
        starting_beliefs().crop("mushroom", "whole", "hot"), density=_unprinted("mushroom")
    )
    believed = habits_from([], replace(starting_beliefs(), crops={("mushroom", "", ""): alone}))
    without = believed.forecast(
        produce="mushroom", pack="hot", jar="half-pint", as_bought_g=7 * POUND_G
    ).jars
    assert 9.0 < by_card.median < without.median
    low, high = by_card.interval(0.8)
    assert low <= 9.0 <= high


def _unprinted(produce: str) -> object:
    return starting_beliefs().crop(produce, "whole", "hot").unprinted


def test_a_printed_yield_that_no_jar_holds_is_not_read() -> None:
    # Of somebody who has no smaller jar for the rest: which of these may be used, a card does say.
    nobody = habits_from([], last_jar="part")
    tight = card("pickled-beets")
    tight = replace(tight, tested=replace(tight.tested, jars=(3.0, 3.0)))  # 2.3 lb of beets a pint
    asked = {"produce": "beet", "cut": "slices", "pack": "hot", "headspace_in": 0.5}
    plain = nobody.forecast(**asked, as_bought_g=7 * POUND_G).jars.median  # type: ignore[arg-type]
    assert nobody.forecast(recipe=tight, as_bought_g=7 * POUND_G).jars.median == plain


def test_what_is_unprinted_has_not_read_the_recipe() -> None:
    # Built without R18 altogether the density comes out the same, but for the spreads' own search.
    row = builder.build(frozenset({"R18"}))
    alone = beliefs_from(row, "without R18").crop("mushroom", "whole", "hot").density
    found = starting_beliefs().crop("mushroom", "whole", "hot").unprinted
    assert found is not None
    assert math.log(found.centre / alone.centre) == pytest.approx(0.0, abs=0.03)


def test_a_beliefs_file_of_the_first_version_is_read(tmp_path: Path) -> None:
    import json

    raw = json.loads((ROOT / "models" / "starting-beliefs.json").read_text("utf-8"))
    raw["version"] = 1
    for row in raw["crops"]:
        row.pop("unprinted", None)
    path = tmp_path / "first.json"
    path.write_text(json.dumps(raw), "utf-8")
    old = load_beliefs(path).crop("mushroom", "whole", "hot")
    assert old.unprinted is None
    assert old.density == starting_beliefs().crop("mushroom", "whole", "hot").density


def test_a_card_of_a_ferment_says_by_itself_how_long_it_stands() -> None:
    # USDA Complete Guide, p. 6-8: 3 to 4 weeks at 70 to 75 F, 5 to 6 at 60 to 65; 25 lb: 9 qt.
    card = shipped_recipes()["sauerkraut"]
    assert card.safety is not None
    assert card.safety.ferment is not None
    assert card.safety.ferment.usual_hours == 4.5 * 7 * 24
    found = habits_from([]).forecast(recipe=card, as_bought_g=25 * 453.59237)
    assert found.request.produce == "sauerkraut"
    low, high = found.jars.interval(0.8)
    assert low < 9.0 < high
    assert found.jars.median < 12.0
    assert not found.has_brine
