"""Scales and limits of the arrows."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.special import logit as scipy_logit

from jarcast.batch import Arrow
from jarcast.learning.arrows import (
    Situation,
    brine_loadings,
    centre,
    cure_strength,
    density_limit,
    limited,
    loadings,
    logit,
    unlimited,
)
from jarcast.learning.beliefs import starting_beliefs

BELIEFS = starting_beliefs()


def situation(
    produce: str = "carrot", cut: str = "sticks", pack: str = "raw", **values: float
) -> Situation:
    return Situation(BELIEFS.crop(produce, cut, pack), produce, cut, pack, **values)


@given(st.floats(1e-6, 1 - 1e-6))
def test_the_logit_is_the_logit(share: float) -> None:
    assert logit(share) == pytest.approx(float(scipy_logit(share)), abs=1e-12)


@given(st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_a_longer_cure_shrinks_no_less_and_levels_off(hours: float, more: float) -> None:
    assert 0.0 <= cure_strength(hours) <= cure_strength(hours + more) < 1.05


def test_a_cure_is_none_at_once_and_full_after_a_day() -> None:
    assert cure_strength(0.0) == 0.0
    assert cure_strength(24.0) == pytest.approx(1.0)
    # Most of the water leaves in the first hours: common practice, no source.
    assert cure_strength(6.0) > 0.5
    assert cure_strength(8760.0) - cure_strength(24.0) < 0.02


def test_hours_nobody_wrote_down_are_the_usual_ones() -> None:
    assert cure_strength(None, 3.0) == cure_strength(3.0)


@given(st.floats(1e-4, 50.0), st.floats(0.5, 1.5))
def test_no_pack_is_denser_than_its_limit(density: float, limit: float) -> None:
    (bent,) = limited(np.array([density]), limit)
    assert 0.0 < bent <= min(density, limit * (1 + 1e-12))


def test_far_below_the_limit_nothing_changes() -> None:
    loose = np.array([0.1, 0.4, 0.6])
    assert_allclose(limited(loose, 1.0), loose, rtol=1e-3)


def test_near_the_limit_the_order_is_kept() -> None:
    rising = np.linspace(0.5, 1.5, 200)
    assert (np.diff(limited(rising, 1.0)) > 0).all()


@given(st.floats(1e-3, 0.98))
def test_a_reading_is_unbent_by_the_inverse(density: float) -> None:
    (back,) = limited(np.array([unlimited(density, 1.0)]), 1.0)
    assert back == pytest.approx(density, rel=1e-9)


@pytest.mark.parametrize("reading", [1.0, 1.4, 20.0])
def test_a_reading_past_the_limit_is_taken_just_under_it(reading: float) -> None:
    assert math.isfinite(unlimited(reading, 1.0))
    assert unlimited(reading, 1.0) == unlimited(1.0, 1.0)


def test_a_centre_is_the_published_number_on_its_scale() -> None:
    at = situation(cure=1.0)
    share = centre(Arrow.TRIM, at)
    assert 1.0 / (1.0 + math.exp(-share)) == pytest.approx(at.crop.trim_yield.centre)
    assert math.exp(centre(Arrow.CURE, at)) == pytest.approx(at.crop.cure_keep.centre)
    assert math.exp(centre(Arrow.COOK, at)) == pytest.approx(at.crop.cook_keep.centre)
    (density,) = limited(np.array([math.exp(centre(Arrow.PACK, at))]), density_limit(at.crop))
    assert density == pytest.approx(at.crop.density.centre)
    assert centre(Arrow.CURE, situation(cure=0.0)) == 0.0


def test_effects_of_a_crop_make_up_its_spread() -> None:
    # Independent effects: their squares add up.
    at = situation()
    spreads = {Arrow.TRIM: at.crop.trim_yield.spread, Arrow.PACK: at.crop.density.spread}
    for arrow, spread in spreads.items():
        found = loadings(arrow, at, BELIEFS.people)
        crop = [v for effect, v in found.items() if effect.group not in ("hand", "covariate")]
        assert math.sqrt(sum(value**2 for value in crop)) == pytest.approx(spread)


def test_a_cure_that_has_hardly_begun_moves_with_nothing() -> None:
    found = loadings(Arrow.CURE, situation(cure=0.0, salt_share=0.05), BELIEFS.people)
    assert set(found.values()) == {0.0}


@pytest.mark.parametrize("share", [1e-9, 0.03, 50.0])
def test_any_amount_of_salt_gives_a_bounded_effect(share: float) -> None:
    found = loadings(Arrow.CURE, situation(salt_share=share), BELIEFS.people)
    salt = [value for effect, value in found.items() if effect.key == "salt"]
    assert len(salt) == 1
    assert abs(salt[0]) < 0.2


def test_brine_moves_with_the_weight_but_the_pot_loss_does_not() -> None:
    one, two = (brine_loadings(grams, situation(), BELIEFS.people) for grams in (1000.0, 2000.0))
    for effect, value in one.items():
        assert two[effect] == pytest.approx(value if effect.key == "loss" else 2 * value)
