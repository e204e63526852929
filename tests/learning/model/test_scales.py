"""The step of a scale and of a measure: Bayes' rule by hand, and readings made on known grids."""

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from jarcast.domain.batch import Batch
from jarcast.domain.packing import SoFar
from jarcast.learning.model.scales import (
    Instruments,
    Scale,
    exactly,
    instruments_of,
    read_side_by_side,
    usual_cups,
    usual_weights,
)

OUNCE_G = 28.349523125  # exact: NIST Handbook 44, Appendix C
CUP_ML = 236.5882365  # exact: NIST Handbook 44, Appendix C
POUND_G = 16.0 * OUNCE_G


def on_grid(step: float, count: int, rng: np.random.Generator) -> list[float]:
    """Weights of 1 to 8 kg as a scale of this step shows them, recorded in whole grams."""
    return [round(round(x / step) * step) for x in rng.uniform(1000.0, 8000.0, count)]


def chance_of(scale: Scale, step: float) -> float:
    return float(scale.chances[np.isclose(scale.steps, step)].sum())


# --- one scale ------------------------------------------------------------------------------------


def test_what_is_usual_is_a_law_over_steps() -> None:
    for scale in (usual_weights(), usual_cups()):
        assert scale.chances.sum() == pytest.approx(1.0)
        assert np.unique(scale.steps).size == scale.steps.size
    assert chance_of(usual_weights(), OUNCE_G) > 0.0
    assert chance_of(usual_cups(), CUP_ML / 4.0) > 0.0


def test_the_variance_of_a_reading_is_that_of_an_even_spread_over_its_step() -> None:
    # A twelfth of the step squared, averaged over the steps it may be.
    assert exactly(50.0).variance == pytest.approx(50.0**2 / 12.0)
    either = Scale(np.array([5.0, 50.0]), np.array([0.25, 0.75]))
    rng = np.random.default_rng(0)
    step = either.draw(400_000, rng)
    off = step * (rng.random(step.size) - 0.5)
    assert either.variance == pytest.approx(off.var(), rel=0.01)


def test_a_reading_speaks_for_a_step_by_how_many_others_it_leaves_out() -> None:
    # By hand: 1250 g is a multiple of 5 and of 50; of ten multiples of 5 one is of 50, so read to
    # 50 it is ten times as likely. 1255 g is none of 50: only as a misreading, 1 in 50.
    prior = Scale(np.array([5.0, 50.0]), np.array([0.5, 0.5]))
    told = prior.given([1250.0])
    odds = (0.98 * 50.0 + 0.02) / (0.98 * 5.0 + 0.02)
    assert told.chances[1] / told.chances[0] == pytest.approx(odds)
    not_fifty = prior.given([1255.0])
    assert not_fifty.chances[1] / not_fifty.chances[0] == pytest.approx(0.02 / (0.98 * 5.0 + 0.02))
    both = prior.given([1250.0, 1255.0])
    assert both.chances[1] / both.chances[0] == pytest.approx(odds * 0.02 / (0.98 * 5.0 + 0.02))


def test_nothing_read_leaves_it_as_believed() -> None:
    usual = usual_weights()
    for nothing in ((), (None,), (0.0,), (None, 0.0)):
        assert_allclose(usual.given(nothing).chances, usual.chances)


@pytest.mark.parametrize("step", [1.0, 5.0, 10.0, 50.0, 100.0, 4.0 * OUNCE_G, 8.0 * OUNCE_G])
def test_eight_readings_find_the_step_of_their_scale(step: float) -> None:
    found = usual_weights().given(on_grid(step, 8, np.random.default_rng(1)))
    assert chance_of(found, step) > 0.9


def test_three_readings_to_the_quarter_pound_tell_nearly_enough() -> None:
    # 1 3/4, 2 1/2 and 4 1/4 lb in whole grams.
    found = usual_weights().given([794.0, 1134.0, 1928.0])
    assert chance_of(found, POUND_G / 4.0) > 0.8


def test_a_whole_multiple_of_a_coarse_step_counts_as_more_coarsely_read_than_another() -> None:
    coarse, fine = usual_weights().given([3000.0]), usual_weights().given([3001.0])
    assert coarse.variance > fine.variance
    assert chance_of(coarse, 50.0) + chance_of(coarse, 100.0) > 0.5


@pytest.mark.parametrize("part", [0.25, 0.5])
def test_cups_are_told_by_what_was_poured(part: float) -> None:
    rng = np.random.default_rng(2)
    poured = [float(k) * part * CUP_ML for k in rng.integers(3, 30, 12)]
    assert chance_of(usual_cups().given(poured), part * CUP_ML) > 0.8


# --- one after another ----------------------------------------------------------------------------


def chain_by_hand(usual: Scale, readings: Sequence[float], changed: float) -> np.ndarray:
    """Chance of the step at each reading, every run of steps gone through one by one."""
    states = range(usual.steps.size)

    def likelihood(step: float, reading: float) -> float:
        nearest = max(round(reading / step), 1) * step
        return 0.98 * step * (abs(reading - nearest) <= 0.51) + 0.02

    weights: dict[tuple[int, ...], float] = {
        (s,): usual.chances[s] * likelihood(usual.steps[s], readings[0]) for s in states
    }
    for reading in readings[1:]:
        weights = {
            (*run, s): weight
            * ((1.0 - changed) * (run[-1] == s) + changed * usual.chances[s])
            * likelihood(usual.steps[s], reading)
            for run, weight in weights.items()
            for s in states
        }
    found = np.zeros((len(readings), usual.steps.size))
    for run, weight in weights.items():
        for i, s in enumerate(run):
            found[i, s] += weight
    return found / found.sum(axis=1, keepdims=True)


def read_by(
    usual: Scale, readings: list[float], times: list[int] | None = None
) -> tuple[Scale, np.ndarray]:
    """One instrument alone; without times each reading is apart."""
    each = list(range(len(readings))) if times is None else times
    return read_side_by_side([(usual, readings, each)])[0]


def test_readings_one_after_another_are_judged_together_both_ways_in_time() -> None:
    # Rabiner 1989: the forward and backward pass gives what going through every run of steps does.
    usual = Scale(np.array([2.0, 10.0, 50.0]), np.array([0.5, 0.3, 0.2]))
    readings = [1500.0, 1250.0, 1372.0, 1404.0, 1300.0, 1450.0]
    due = chain_by_hand(usual, readings, 0.03)
    now, variance = read_by(usual, readings)
    assert_allclose(variance, due @ usual.steps**2 / 12.0, rtol=1e-9)
    # Before the next reading the scale may have been changed once more.
    assert_allclose(now.chances, 0.97 * due[-1] + 0.03 * usual.chances, rtol=1e-9)


def test_readings_of_one_batch_are_by_one_scale() -> None:
    usual = usual_weights()
    readings = [1250.0, 1100.0, 1372.0]
    now, variance = read_by(usual, readings, [4, 4, 4])
    together = usual.given(readings)
    assert_allclose(variance, together.variance)
    assert_allclose(now.chances, 0.97 * together.chances + 0.03 * usual.chances)


def test_a_change_of_scale_is_followed() -> None:
    rng = np.random.default_rng(3)
    readings = on_grid(50.0, 12, rng) + on_grid(5.0, 12, rng)
    now, variance = read_by(usual_weights(), readings)
    assert chance_of(now, 5.0) > 0.9
    assert_allclose(variance[:11], 50.0**2 / 12.0, rtol=0.2)
    # A reading of the new scale that is a multiple of 50 g may be the last of the old one.
    assert np.median(variance[12:]) == pytest.approx(5.0**2 / 12.0, rel=0.3)


def test_one_odd_reading_does_not_change_the_scale_for_good() -> None:
    readings = on_grid(50.0, 20, np.random.default_rng(4))
    readings[10] = 1237.0
    now, variance = read_by(usual_weights(), readings)
    assert chance_of(now, 50.0) > 0.9
    assert np.median(variance) == pytest.approx(50.0**2 / 12.0, rel=0.2)


# --- a kitchen ------------------------------------------------------------------------------------


def batch(number: int, **values: Any) -> Batch:
    given: dict[str, Any] = {
        "batch": str(number), "date": dt.date(2024, 7, 1) + dt.timedelta(days=number),
        "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": ("pint",), "jars": (8.0,),
        "cure_hours": 0.0,
    }  # fmt: skip
    return Batch(**given | values)


def kitchen(
    batches: Sequence[Batch],
    packed: dict[str, tuple[SoFar, ...]] | None = None,
    doubted: Sequence[frozenset[str]] | None = None,
) -> Instruments:
    return instruments_of(batches, packed or {}, doubted or [frozenset()] * len(batches))


def test_what_is_bought_and_what_is_trimmed_may_be_read_by_different_scales() -> None:
    rng = np.random.default_rng(5)
    bought, ready = on_grid(POUND_G / 2.0, 10, rng), on_grid(5.0, 10, rng)
    batches = [
        batch(i, as_bought_g=float(one), trimmed_g=float(two))
        for i, (one, two) in enumerate(zip(bought, ready, strict=True))
    ]
    found = kitchen(batches)
    assert chance_of(found.produce, 5.0) > 0.9
    assert found.of(9, "as_bought_g") == pytest.approx((POUND_G / 2.0) ** 2 / 12.0, rel=0.2)
    assert found.of(9, "trimmed_g") == pytest.approx(25.0 / 12.0, rel=0.3)


def test_notes_made_while_packing_are_readings_too() -> None:
    notes = (SoFar(2, 550.0, brine_ml=300.0), SoFar(4, 1100.0), SoFar(6, produce_left_g=650.0))
    one = batch(1, trimmed_g=2300.0)
    alone, noted = kitchen([one]), kitchen([one], {"1": notes})
    assert chance_of(noted.produce, 50.0) > chance_of(alone.produce, 50.0)
    assert noted.of(0, "note 0 produce_g") > 0.0
    assert noted.of(0, "note 2 produce_left_g") > 0.0
    assert chance_of(noted.brine, 100.0) > chance_of(alone.brine, 100.0)


def test_an_empty_pot_tells_nothing_of_the_cup() -> None:
    cups = [batch(i, brine_made_ml=8.0 * CUP_ML, brine_left_ml=0.0) for i in range(3)]
    found = kitchen(cups)
    made = kitchen([batch(i, brine_made_ml=8.0 * CUP_ML) for i in range(3)])
    assert_allclose(found.brine.chances, made.brine.chances)
    assert found.of(2, "brine_left_ml") == pytest.approx(found.brine.variance)


def test_a_doubted_value_tells_nothing_of_the_scale() -> None:
    odd = batch(1, trimmed_g=20_001.0)
    doubted = kitchen([odd], doubted=[frozenset({"trimmed_g"})])
    assert_allclose(doubted.produce.chances, kitchen([batch(1)]).produce.chances)


def test_with_no_batches_it_is_what_is_usual() -> None:
    found = kitchen([])
    assert_allclose(found.produce.chances, usual_weights().chances)
    assert_allclose(found.brine.chances, usual_cups().chances)
    assert math.isfinite(found.produce.variance)
