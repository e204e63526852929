"""Readings at the counter: what was there, within half a step of what was read."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from jarcast import Habits, SoFar
from jarcast.domain.jars import SHELF
from jarcast.forecast.request import Request, check_request
from jarcast.forecast.weighing import Weighing, weighing_by
from jarcast.learning.model.scales import Instruments, exactly, usual_cups, usual_weights

DRAWS = 200_000
POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C


def weighing(step_g: float = 50.0, step_ml: float = 60.0) -> Weighing:
    return Weighing(np.full(DRAWS, step_g), np.full(DRAWS, step_ml), np.random.default_rng(1))


def request(grams: float, so_far: SoFar | None = None, spread: float = 0.0) -> Request:
    return check_request(
        produce="carrot", cut="sticks", pack="raw", jar="pint", cure_hours=0.0, salt_g=None,
        headspace_in=None, draws=DRAWS, seed=0, shelf=SHELF, so_far=so_far,
        weights={"trimmed_g": (0.9 * grams, 1.1 * grams) if spread else grams},
    )  # fmt: skip


KITCHEN = Instruments(usual_weights(), usual_cups(), {})


def by(so_far: SoFar, grams: float = 2703.0, spread: float = 0.0) -> Weighing:
    found = request(grams, so_far, spread)
    return weighing_by(KITCHEN, found, so_far, DRAWS, np.random.default_rng(2))


# --- what a reading stands for --------------------------------------------------------------------


@pytest.mark.parametrize("step", [1.0, 5.0, 50.0, POUND_G / 4.0])
def test_a_weight_lies_evenly_within_half_a_step_of_its_reading(step: float) -> None:
    # A twelfth of the step squared, and what clings to the bowl, a few grams.
    found = weighing(step)
    drawn = found.read(2000.0)
    assert drawn.mean() == pytest.approx(2000.0, abs=5.0 * drawn.std() / np.sqrt(DRAWS))
    assert drawn.var() == pytest.approx(found.variance, rel=0.02)
    assert found.variance >= step**2 / 12.0
    assert found.variance <= step**2 / 12.0 + 5.0**2
    assert np.abs(drawn - 2000.0).max() < 0.5 * step + 5.0 * 5.0


@pytest.mark.parametrize("step", [5.0, 59.147, 236.588])
def test_a_measure_of_brine_lies_evenly_within_half_a_step(step: float) -> None:
    found = weighing(step_ml=step)
    off = found.pot_error()
    assert found.pot_variance == pytest.approx(step**2 / 12.0)
    assert off.var() == pytest.approx(found.pot_variance, rel=0.02)
    assert np.abs(off).max() <= 0.5 * step


def test_a_difference_carries_both_its_ends() -> None:
    # Two readings are off apart: their variances add up.
    found = weighing()
    difference = found.read(2000.0) - found.read(1200.0)
    assert difference.var() == pytest.approx(2.0 * found.variance, rel=0.02)


def test_nothing_weighs_less_than_nothing_and_an_empty_bowl_holds_nothing() -> None:
    assert (weighing().read(5.0) >= 0.0).all()
    assert (weighing().read(0.0) == 0.0).all()


# --- by what is it read ---------------------------------------------------------------------------


def test_a_step_that_is_told_is_taken() -> None:
    found = by(SoFar(3, 760.0, produce_step_g=20.0, brine_step_ml=30.0))
    bowl = weighing(0.0).variance
    assert found.variance - bowl == pytest.approx(20.0**2 / 12.0)
    assert found.pot_variance == pytest.approx(30.0**2 / 12.0)


def test_of_several_readings_the_newest_step_told_counts() -> None:
    first = SoFar(2, 500.0, produce_step_g=100.0)
    found = by(SoFar(3, 760.0, produce_step_g=20.0, earlier=first))
    assert found.variance == pytest.approx(by(SoFar(3, 760.0, produce_step_g=20.0)).variance)
    told_before = by(SoFar(3, 760.0, earlier=first))
    assert told_before.variance == pytest.approx(by(SoFar(3, 1.0, produce_step_g=100.0)).variance)


def test_readings_on_a_coarse_grid_count_as_read_to_it() -> None:
    # Half pounds: 2 lb of 6 lb, and 2 1/2 lb; against the same on a fine scale.
    coarse = by(SoFar(3, 2.5 * POUND_G, earlier=SoFar(2, 1.5 * POUND_G)), 6.5 * POUND_G)
    fine = by(SoFar(3, 1131.0, earlier=SoFar(2, 683.0)), 2951.0)
    assert coarse.variance > 0.5 * (POUND_G / 2.0) ** 2 / 12.0
    assert fine.variance < 0.1 * coarse.variance


def test_a_weight_told_as_a_range_was_read_by_no_scale() -> None:
    so_far = SoFar(3, 761.0)
    in_range, read = by(so_far, 2700.0, spread=0.1), by(so_far, 2700.0)
    alone = KITCHEN.produce.given([761.0])
    bowl = weighing(0.0).variance
    assert in_range.variance == pytest.approx(alone.variance + bowl, rel=0.05)
    assert read.variance != in_range.variance


def test_what_the_kitchen_read_before_counts_where_nothing_is_told() -> None:
    so_far = SoFar(3, 800.0)
    rng = np.random.default_rng(2)
    coarse = Instruments(exactly(100.0), exactly(236.588), {})
    found = weighing_by(coarse, request(2700.0, so_far), so_far, DRAWS, rng)
    assert found.variance == pytest.approx(100.0**2 / 12.0 + weighing(0.0).variance)
    assert found.pot_variance == pytest.approx(236.588**2 / 12.0)


# --- in a forecast --------------------------------------------------------------------------------


def test_a_coarser_scale_leaves_the_jars_more_in_doubt(beginner: Habits) -> None:
    spreads = []
    for step in (1.0, 50.0, POUND_G / 2.0):
        so_far = SoFar(3, 760.0, produce_step_g=step)
        jars = beginner.forecast(
            produce="carrot", cut="sticks", trimmed_g=2700.0, cure_hours=0.0, so_far=so_far
        ).jars
        low, high = jars.interval(0.8)
        spreads.append(high - low)
    assert spreads[0] <= spreads[1] < spreads[2]


def test_the_same_draw_of_a_weight_counts_for_what_is_packed_and_what_is_left(
    beginner: Habits,
) -> None:
    # What there was, less what is packed, is left: no draw has more in the jars than there was.
    found = beginner.forecast(
        produce="carrot", cut="sticks", trimmed_g=2700.0, cure_hours=0.0, pack="raw",
        so_far=SoFar(9, 2600.0, produce_step_g=100.0),
    )  # fmt: skip
    assert (found.jars_to_come.draws >= 0.0).all()
    assert_allclose(found.jars.draws, 9.0 + found.jars_to_come.draws)
    assert found.ready_g.draws.std() == pytest.approx(100.0 / np.sqrt(12.0), rel=0.3)
