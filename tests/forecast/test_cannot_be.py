"""Readings in the middle of packing that cannot be: refused, and told how to mend."""

import re
from typing import Any

import pytest

from jarcast import Forecast, Habits, SoFar, habits_from
from jarcast.domain.jars import SHELF
from jarcast.errors import ForecastError

PINT_ML = SHELF["pint"].fill_volume_ml(0.5)


@pytest.fixture(scope="module")
def beginner() -> Habits:
    return habits_from([], whole_jars=False)


def ask(habits: Habits, so_far: SoFar, **values: Any) -> Forecast:
    asked: dict[str, Any] = {
        "produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 5000.0, "cure_hours": 0.0,
        "draws": 2000,
    }  # fmt: skip
    return habits.forecast(so_far=so_far, **{**asked, **values})


# --- next to nothing ------------------------------------------------------------------------------

# Three pints of carrot sticks hold about 750 to 800 g by the published density, 0.58 g/ml. Typed in
# another unit that is 0.78 kg, 1.7 lb or 27 oz; a decimal point gone twice makes it 7.8.
NEXT_TO_NOTHING = {
    "kilograms": (0.78, "0.78 g of produce", "kilograms typed as grams?"),
    "pounds": (1.7, "1.7 g of produce", "the wrong unit?"),
    "ounces": (27.0, "27 g of produce", "ounces typed as grams?"),
    "a decimal point": (9.0, "9 g of produce", "decimal point?"),
    "a speck": (1e-9, "1e-09 g of produce", "the wrong unit?"),
}


@pytest.mark.parametrize(("grams", "weight", "slip"), NEXT_TO_NOTHING.values(),
                         ids=NEXT_TO_NOTHING.keys())  # fmt: skip
def test_a_weight_in_the_wrong_unit_is_refused_and_ends_no_batch(
    beginner: Habits, grams: float, weight: str, slip: str
) -> None:
    with pytest.raises(ForecastError) as refusal:
        ask(beginner, SoFar(3, grams))
    said = str(refusal.value)
    assert said.startswith(f"so far: {weight} in 3 jars is next to nothing (about 7")
    assert said.endswith(f": {slip} Weigh again, or leave it out")


@pytest.mark.parametrize("habits_of", ["beginner", "habits"])
@pytest.mark.parametrize("steps", [{}, {"produce_step_g": 50.0}])
def test_it_is_refused_whatever_the_scale_and_whoever_packs(
    request: pytest.FixtureRequest, habits_of: str, steps: dict[str, float]
) -> None:
    who = request.getfixturevalue(habits_of)
    for grams in (0.9, 20.0):
        for left in (None, 4200.0):
            with pytest.raises(ForecastError, match="next to nothing"):
                ask(who, SoFar(3, grams, produce_left_g=left, **steps))


@pytest.mark.parametrize("left", [4990.0, 4999.0])
def test_what_is_left_may_say_the_same(beginner: Habits, left: float) -> None:
    with pytest.raises(ForecastError, match=rf"\(5000 g trimmed, {left:.0f} g left\) in 3 jars is"):
        ask(beginner, SoFar(3, produce_left_g=left))


@pytest.mark.parametrize(
    ("crop", "g_per_ml"),
    [
        # A cup (237 ml) of dill sprigs weighs 8.9 g, of grape leaves 14 g (USDA FoodData Central,
        # from memory); in a jar they stand closer.
        (("dill", "whole"), 8.9 / 237.0),
        (("grape leaf", "whole"), 14.0 / 237.0),
        # One big piece in each jar, and a few florets: a quarter of what is usual.
        (("cucumber", "whole"), 0.15),
        (("carrot", "pieces"), 0.15),
        (("cauliflower", "florets"), 0.12),
    ],
)
@pytest.mark.parametrize("jars", [1.0, 3.0, 3.5])
def test_loose_packs_are_packs(
    beginner: Habits, crop: tuple[str, str], g_per_ml: float, jars: float
) -> None:
    produce, cut = crop
    packed = g_per_ml * jars * PINT_ML
    found = ask(beginner, SoFar(jars, packed), produce=produce, cut=cut, trimmed_g=4.0 * packed)
    # There is three times as much to come: the jars to come are not nothing.
    assert found.jars_to_come.median > jars


def test_a_pack_of_ones_own_as_loose_as_a_herb_is_one(beginner: Habits) -> None:
    import datetime as dt

    from jarcast.domain.batch import Batch

    herbs = [
        Batch(
            batch=str(n), date=dt.date(2024, 7, 1 + n), produce="dill", cut="whole", pack="raw",
            jar=("pint",), jars=(10.0,), trimmed_g=0.03 * 10.0 * PINT_ML, cure_hours=0.0,
        )
        for n in range(12)
    ]  # fmt: skip
    own = habits_from(herbs, whole_jars=False)
    asked = {"produce": "dill", "cut": "whole", "trimmed_g": 120.0}
    packed = 0.012 * 3.0 * PINT_ML
    found = ask(own, SoFar(3, packed, produce_step_g=1.0), **asked)
    assert found.ready_g.median == pytest.approx(120.0, rel=0.05)
    with pytest.raises(ForecastError, match="next to nothing"):
        ask(beginner, SoFar(3, packed, produce_step_g=1.0), **asked)


# --- more than jars hold --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("so_far", "asked", "says"),
    [
        # Three pints hold 1312 ml by jarcast's own geometry; no tissue is heavier than 1.1 g/ml.
        (SoFar(3, 4500.0), {}, r"4500 g of produce in 3 jars is more than they hold \(1312 ml\)"),
        (SoFar(1, 600.0), {}, r"600 g of produce in 1 jar is more than it holds \(437 ml\)"),
        (SoFar(3, 1700.0, 100.0, 3000.0), {}, "1700 g of produce in 3 jars is more"),
        (SoFar(3, produce_left_g=2000.0), {}, r"3000 g \(5000 g trimmed, 2000 g left\) in 3 jars"),
        (SoFar(3, produce_left_g=0.0), {}, r"5000 g \(5000 g trimmed, 0 g left\) in 3 jars"),
        (SoFar(6, earlier=SoFar(3, 4500.0)), {}, "4500 g of produce in 3 jars"),
        # However much is trimmed off and salted out: 8 of 10 kg do not go into three pints.
        (
            SoFar(3, produce_left_g=2000.0),
            {"produce": "cucumber", "cut": "slices", "trimmed_g": None, "as_bought_g": 10_000.0},
            r"\(10000 g as bought, 2000 g left\) in 3 jars is more than they hold",
        ),
    ],
)
def test_produce_that_no_jar_can_hold_is_refused(
    beginner: Habits, so_far: SoFar, asked: dict[str, Any], says: str
) -> None:
    with pytest.raises(ForecastError, match=says):
        ask(beginner, so_far, **asked)


@pytest.mark.parametrize(
    ("so_far", "asked"),
    [
        (SoFar(3, 1300.0), {}),  # puréed, nearly
        (SoFar(0.5, 280.0), {}),  # a jar that is fuller than it was said to be
        # A spring scale of 500 g steps reads the 260 g in a 12-oz jar as 500.
        (SoFar(1, 500.0, produce_step_g=500.0), {"jar": "12-oz"}),
        (SoFar(3, produce_left_g=3500.0), {}),
    ],
)
def test_full_jars_are_taken(beginner: Habits, so_far: SoFar, asked: dict[str, Any]) -> None:
    assert ask(beginner, so_far, **asked).jars.median > so_far.jars


# --- more jars than produce, more brine than was made ---------------------------------------------


def test_more_jars_than_the_produce_can_fill_are_refused(beginner: Habits) -> None:
    # 5 kg in 600 pints are 8 g in each: a twentieth of a carrot.
    with pytest.raises(ForecastError, match=r"600 jars are more than trimmed \(5000 g\) can fill"):
        ask(beginner, SoFar(600))
    assert ask(beginner, SoFar(40)).jars.median >= 40.0


@pytest.mark.parametrize("jars", [0.0, 3.0])
def test_more_brine_left_than_was_made_is_refused(beginner: Habits, jars: float) -> None:
    with pytest.raises(ForecastError, match=re.escape("than was made (1000 ml); count every pot")):
        ask(beginner, SoFar(jars, pot_left_ml=2000.0, brine_made_ml=1000.0))


def test_a_full_pot_may_read_a_little_more_than_was_made(beginner: Habits) -> None:
    # 8 cups made are 1893 ml, read as 1.9 l in another jug.
    full = SoFar(0, pot_left_ml=1900.0, brine_made_ml=1893.0)
    assert ask(beginner, full).jars.median > 0.0
    with pytest.raises(ForecastError, match="than was made"):
        ask(beginner, SoFar(3, pot_left_ml=1900.0, brine_made_ml=1893.0))


def test_in_a_harvest_the_line_is_named(beginner: Habits) -> None:
    line = {"produce": "carrot", "cut": "sticks", "trimmed_g": 5000.0, "so_far": SoFar(3, 0.9)}
    with pytest.raises(ForecastError, match=r"^line 1: so far: 0\.9 g"):
        beginner.forecast_together([line])
