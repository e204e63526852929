"""Scales and limits of the links."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.special import logit as scipy_logit

from jarcast.domain.stages import Link
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.learning.model.links import (
    Situation,
    centre,
    cure_strength,
    density_limit,
    limited,
    logit,
    unlimited,
)

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
    share = centre(Link.TRIM, at)
    assert 1.0 / (1.0 + math.exp(-share)) == pytest.approx(at.crop.trim_yield.centre)
    assert math.exp(centre(Link.CURE, at)) == pytest.approx(at.crop.cure_keep.centre)
    assert math.exp(centre(Link.COOK, at)) == pytest.approx(at.crop.cook_keep.centre)
    (density,) = limited(np.array([math.exp(centre(Link.PACK, at))]), density_limit(at.crop))
    assert density == pytest.approx(at.crop.density.centre)
    assert centre(Link.CURE, situation(cure=0.0)) == 0.0
