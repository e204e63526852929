"""Effects and their loadings: what a link's value moves with."""

import datetime as dt
import math
from pathlib import Path

import pytest

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.stages import Link
from jarcast.forecast.keywords import request_by
from jarcast.forecast.remaining import look_ahead
from jarcast.learning.learned import learn_batches
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.learning.model.circumstances import circumstances_of, usual_practice
from jarcast.learning.model.effects import COVARIATES, Covariate, brine_loadings, loadings
from jarcast.learning.model.links import Situation

BELIEFS = starting_beliefs()
MODEL = Path(__file__).parents[3] / "docs" / "explanation" / "model-for-a-statistician.md"


def situation(**values: float) -> Situation:
    return Situation(BELIEFS.crop("carrot", "sticks", "raw"), "carrot", "sticks", "raw", **values)


def test_effects_of_a_crop_make_up_its_spread() -> None:
    # Independent effects: their squares add up.
    at = situation()
    spreads = {Link.TRIM: at.crop.trim_yield.spread, Link.PACK: at.crop.density.spread}
    for link, spread in spreads.items():
        found = loadings(link, at, BELIEFS.people)
        others = ("person", "kitchen", "covariate")
        crop = [v for effect, v in found.items() if effect.group not in others]
        assert math.sqrt(sum(value**2 for value in crop)) == pytest.approx(spread)


def test_a_cure_that_has_hardly_begun_moves_with_nothing() -> None:
    found = loadings(Link.CURE, situation(cure=0.0, salt_share=0.05), BELIEFS.people)
    assert set(found.values()) == {0.0}


@pytest.mark.parametrize("share", [1e-9, 0.03, 50.0])
def test_any_amount_of_salt_gives_a_bounded_effect(share: float) -> None:
    found = loadings(Link.CURE, situation(salt_share=share), BELIEFS.people)
    salt = [value for effect, value in found.items() if effect.key == "salt"]
    assert len(salt) == 1
    assert abs(salt[0]) < 0.2


def test_brine_moves_with_the_weight_but_the_pot_loss_does_not() -> None:
    one, two = (brine_loadings(grams, situation(), BELIEFS.people) for grams in (1000.0, 2000.0))
    for effect, value in one.items():
        assert two[effect] == pytest.approx(value if effect.key == "loss" else 2 * value)


# --- covariates: a place forgotten for a new one fails here ---------------------------------------


@pytest.fixture(scope="module")
def telling() -> tuple[Situation, Situation]:
    """One batch in which nothing is as usual, by what was recorded and as it is forecast."""
    weights = {"trimmed_g": 9000.0, "salt_g": 700.0, "cure_hours": 20.0, "cured_g": 7500.0}
    batch = Batch(
        batch="1", date=dt.date(2024, 8, 31), produce="cabbage", cut="shredded", pack="raw",
        jar=("quart-wide",), jars=(11.0,), headspace_in=0.5, **weights,
    )  # fmt: skip
    recorded = circumstances_of(batch, BELIEFS, SHELF, usual_practice([batch])).situation
    request, _ = request_by(
        learn_batches([]), SHELF,
        {"produce": "cabbage", "cut": "shredded", "pack": "raw", "jar": "quart-wide",
         "headspace_in": 0.5, **weights}, 100, 0,
    )  # fmt: skip
    return recorded, look_ahead(learn_batches([]), request).at_jars[0]


@pytest.mark.parametrize("covariate", COVARIATES, ids=lambda one: one.name)
def test_each_covariate_is_read_off_batches_recorded_and_to_come_alike(
    covariate: Covariate, telling: tuple[Situation, Situation]
) -> None:
    recorded, to_come = (
        loadings(covariate.link, at, BELIEFS.people).get(covariate.effect) for at in telling
    )
    assert recorded
    assert to_come == pytest.approx(recorded)


@pytest.mark.parametrize("covariate", COVARIATES, ids=lambda one: one.name)
def test_each_covariate_is_explained_with_its_size(covariate: Covariate) -> None:
    said = " ".join(MODEL.read_text("utf-8").split("**Covariates**")[1].split("\n- ")[0].split())
    words = {"wide mouth": "wide mouths"}.get(covariate.name, covariate.name)
    assert f"{words} ({covariate.sd:g})" in said
