"""How jars of one batch differ from one another, and slope, learned from notes while packing."""

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose
from scipy import stats

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.packing import SoFar
from jarcast.learning.fit.within_batch import (
    PRIOR_DOF,
    SLOPE_MEAN,
    SLOPE_SD,
    STEADY,
    Mark,
    Stretch,
    WithinBatch,
    stretches,
)
from jarcast.learning.learned import learn_batches
from jarcast.learning.model.weight_rows import SCALE_SHARE
from jarcast.learning.posterior import Noise

PINT_ML = SHELF["pint"].fill_volume_ml(0.5)
USUAL = 0.05  # the shipped belief; models/sources/people.csv
EVERY_OTHER = tuple(range(2, 12, 2))


def packed(
    spread: float,
    number: int,
    rng: np.random.Generator,
    slope: float = 0.0,
    step: float = 1.0,
    noted: Sequence[int] = EVERY_OTHER,
) -> tuple[Batch, tuple[SoFar, ...]]:
    """A batch of 12 pints of its own density, noted after every second jar on a kitchen scale.

    The log density of jar i is the batch's, ``slope`` times i, and ``spread`` times a normal.
    """
    density = 0.6 * math.exp(0.2 * rng.standard_normal())
    log_density = slope * np.arange(1.0, 13.0) + spread * rng.standard_normal(12)
    jars = PINT_ML * density * np.exp(log_density)
    batch = Batch(
        batch=str(number), date=dt.date(2024, 7, 1) + dt.timedelta(days=number), produce="carrot",
        cut="sticks", pack="raw", jar=("pint",), jars=(12.0,), headspace_in=0.5, cure_hours=0.0,
        trimmed_g=round(float(jars.sum()) / step) * step,
    )  # fmt: skip
    return batch, tuple(SoFar(k, round(float(jars[:k].sum()) / step) * step) for k in noted)


def learned_from(
    spread: float, count: int, seed: int = 0, slope: float = 0.0, step: float = 1.0
) -> WithinBatch:
    rng = np.random.default_rng(seed)
    both = [packed(spread, number, rng, slope, step) for number in range(count)]
    notes = {batch.batch: notes for batch, notes in both}
    # The last jar of these is a full one: its notes alone would leave that open.
    return learn_batches([batch for batch, _ in both], packed=notes).within


# --- noise ----------------------------------------------------------------------------------------


def test_without_notes_it_is_the_published_spread_and_the_usual_slope() -> None:
    found = learn_batches([]).within
    assert found.noise.variance == pytest.approx(USUAL**2)
    assert found.noise.dof == PRIOR_DOF
    assert (found.slope, found.slope_sd) == (SLOPE_MEAN, SLOPE_SD)


@pytest.mark.parametrize("spread", [0.02, 0.05, 0.1])
def test_many_notes_find_the_spread_whatever_the_batches_differ_by(spread: float) -> None:
    found = learned_from(spread, 60).noise
    # Five notes make five stretches that are known well and a last one that may end in a jar not
    # full: four degrees of freedom, or little more, and less where the scale hides the jars.
    assert PRIOR_DOF + 60 * 3 < found.dof < PRIOR_DOF + 60 * 4.5
    # The inverse gamma posterior's scale: prior and squares, each by its degrees of freedom. A sd
    # from 240 of them is known to 5 %.
    due = math.sqrt((PRIOR_DOF * USUAL**2 + 240 * spread**2) / (PRIOR_DOF + 240))
    assert math.sqrt(found.variance) == pytest.approx(due, rel=0.12)


def test_one_batch_moves_it_only_so_far() -> None:
    found = learned_from(0.1, 1).noise
    assert USUAL**2 < found.variance < 0.1**2


@pytest.mark.parametrize("step", [50.0, 113.4])
def test_a_coarse_scale_is_not_taken_for_jars_that_differ(step: float) -> None:
    # Notes read to the step: two readings, each within half of it, are off by step / sqrt(6), in a
    # stretch of two jars of 0.6 g/ml as much again as the jars themselves or more.
    off = step / math.sqrt(6.0) / (2.0 * 0.6 * PINT_ML)
    naive = math.hypot(0.02, math.sqrt(2.0) * off)
    found = math.sqrt(learned_from(0.02, 60, step=step).noise.variance)
    assert found < 0.75 * naive


def test_a_slip_in_a_note_teaches_little() -> None:
    batch, notes = packed(0.05, 1, np.random.default_rng(1))
    slipped = (notes[0], SoFar(4, 10.0 * (notes[1].produce_g or 0.0)), *notes[2:])
    sound, found = (
        learn_batches([batch], packed={"1": each}).within.noise.variance
        for each in (notes, slipped)
    )
    assert found < sound + 3 * 9 * USUAL**2 / (PRIOR_DOF + 3)


def test_what_is_left_tells_as_much_as_what_is_packed() -> None:
    batch, notes = packed(0.05, 1, np.random.default_rng(2))
    all_of_it = batch.trimmed_g or 0.0
    left = tuple(
        SoFar(note.jars, produce_left_g=all_of_it - (note.produce_g or 0.0)) for note in notes
    )
    one, two = (learn_batches([batch], packed={"1": each}).within for each in (notes, left))
    # The steps of the scale are judged by other readings, so not quite the same.
    assert two.noise.variance == pytest.approx(one.noise.variance, rel=0.02)
    assert two.slope == pytest.approx(one.slope, abs=0.1 * SLOPE_SD)


def test_notes_of_a_batch_that_is_not_there_teach_nothing() -> None:
    gone = {"gone": (SoFar(3, 700.0), SoFar(5, 1300.0))}
    assert learn_batches([], packed=gone).within.noise.dof == PRIOR_DOF


# --- slope ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("slope", [-0.02, 0.0, 0.015])
def test_many_notes_find_how_jars_change_along_a_batch(slope: float) -> None:
    # By least squares 60 batches of six stretches of two jars, their middles 2 apart, tell the
    # slope to spread / sqrt(2) / sqrt(60 * 70): the prior counts for little beside it.
    own = 0.04 / math.sqrt(2.0) / math.sqrt(60 * 70)
    found = learned_from(0.04, 60, slope=slope)
    assert found.slope == pytest.approx(slope, abs=4.0 * own + 0.1 * abs(slope - SLOPE_MEAN))
    assert found.slope_sd == pytest.approx(own, rel=0.5)


def test_one_batch_moves_the_slope_part_of_the_way() -> None:
    found = learned_from(0.02, 1, slope=-0.02)
    assert -0.02 < found.slope < SLOPE_MEAN
    assert found.slope_sd < SLOPE_SD


def test_the_slope_is_normal_theory_with_the_batch_s_density_unknown() -> None:
    # Given the spread: weighted least squares of log density on the jars' number, with a constant
    # of the batch's own (Bayesian Data Analysis, 3rd ed., section 14.2), beside a normal prior.
    rng = np.random.default_rng(5)
    jars, middle = np.array([1.0, 2.0, 3.0, 1.0, 2.0]), np.array([1.0, 2.5, 5.0, 7.0, 8.5])
    reading = np.array([1e-3, 2e-4, 1e-4, 1e-3, 4e-4])
    variance = USUAL**2 / jars + reading
    y = -0.4 - 0.004 * middle + np.sqrt(variance) * rng.standard_normal(5)
    seen = [Stretch(*map(float, one)) for one in zip(y, jars, middle, reading, strict=True)]
    X = np.column_stack((np.ones(5), middle))
    precision = (X.T / variance) @ X + np.diag([0.0, 1.0 / SLOPE_SD**2])
    due = np.linalg.solve(precision, (X.T / variance) @ y + [0.0, SLOPE_MEAN / SLOPE_SD**2])
    usual = WithinBatch(Noise(USUAL**2, PRIOR_DOF), SLOPE_MEAN, SLOPE_SD)
    found = usual.given(seen)
    assert found.slope == pytest.approx(due[1], rel=1e-9)
    assert found.slope_sd == pytest.approx(math.sqrt(np.linalg.inv(precision)[1, 1]), rel=1e-9)
    assert found.noise == usual.noise


@pytest.mark.parametrize("slope", [0.0, -0.02])
def test_whether_jars_stay_as_they_are_is_bayes_rule(slope: float) -> None:
    # The two laws written out: log densities about a constant that may be anything, with a slope
    # that is 0, or normal. Their densities by scipy.
    rng = np.random.default_rng(6)
    jars, middle = np.array([1.0, 2.0, 3.0, 3.0]), np.array([1.0, 2.5, 5.0, 8.0])
    reading = np.array([1e-3, 2e-4, 1e-4, 1e-4])
    variance = USUAL**2 / jars + reading
    y = -0.4 + slope * middle + 0.3 * np.sqrt(variance) * rng.standard_normal(4)
    seen = [Stretch(*map(float, one)) for one in zip(y, jars, middle, reading, strict=True)]
    open_constant = 1e4 + np.diag(variance)
    steady = stats.multivariate_normal(np.zeros(4), open_constant).logpdf(y)
    sloping = stats.multivariate_normal(
        SLOPE_MEAN * middle, open_constant + SLOPE_SD**2 * np.outer(middle, middle)
    ).logpdf(y)
    odds = STEADY / (1.0 - STEADY) * math.exp(steady - sloping)
    usual = WithinBatch(Noise(USUAL**2, PRIOR_DOF), SLOPE_MEAN, SLOPE_SD, STEADY)
    assert usual.given(seen).steady == pytest.approx(odds / (1.0 + odds), rel=1e-3)


def test_notes_tell_who_tires_from_who_does_not() -> None:
    assert learn_batches([]).within.steady == STEADY
    assert learned_from(0.04, 60, slope=-0.02).steady < 0.01
    assert learned_from(0.04, 60).steady > STEADY


def test_draws_of_the_slope_are_0_as_often_as_jars_stay_as_they_are() -> None:
    within = WithinBatch(Noise(USUAL**2, PRIOR_DOF), -0.01, 0.002, 0.3)
    drawn = within.draw_slope(20_000, np.random.default_rng(7))
    # A binomial share of 20,000: sd 0.0032.
    assert np.mean(drawn == 0.0) == pytest.approx(0.3, abs=0.013)
    moved = drawn[drawn != 0.0]
    assert (moved.mean(), moved.std()) == pytest.approx((-0.01, 0.002), rel=0.05)


def test_one_stretch_says_nothing_of_the_slope() -> None:
    # Its density may be the batch's own.
    usual = learn_batches([]).within
    assert usual.given([Stretch(-0.2, 3.0, 2.0, 1e-4)]) == usual
    assert usual.given([]) == usual


# --- stretches ------------------------------------------------------------------------------------


def test_a_stretch_is_what_was_packed_between_two_marks() -> None:
    marks = [Mark(0.0, 0.0, 0.0), Mark(2.0, 560.0, 4.0), Mark(5.0, 1460.0, 4.0)]
    first, second = stretches(marks, lambda jars: 470.0 * jars)
    assert_allclose([first.log_density, second.log_density],
                    [math.log(560.0 / 940.0), math.log(900.0 / 1410.0)])  # fmt: skip
    assert (first.jars, second.jars) == (2.0, 3.0)
    assert (first.middle, second.middle) == (1.5, 4.0)  # jars 1 and 2; jars 3, 4 and 5
    # A difference carries the doubt of both its ends, in proportion to what it is.
    assert second.reading == pytest.approx(8.0 / 900.0**2 + 2.0 * SCALE_SHARE**2)
    assert first.reading == pytest.approx(4.0 / 560.0**2 + 2.0 * SCALE_SHARE**2)


def test_a_part_full_last_jar_is_in_doubt_by_its_share_of_the_stretch() -> None:
    marks = [Mark(4.0, 1100.0, 0.0), Mark(6.5, 1800.0, 0.0, jars_sd=0.15)]
    whole = [marks[0], replace(marks[1], jars_sd=0.0)]
    one, two = (stretches(each, lambda jars: 470.0 * jars)[0] for each in (marks, whole))
    assert one.reading - two.reading == pytest.approx((0.15 / 2.5) ** 2)


@pytest.mark.parametrize(
    "marks",
    [
        [Mark(3.0, 800.0, 1.0), Mark(3.0, 820.0, 1.0)],  # weighed again, nothing filled
        [Mark(3.0, 800.0, 1.0), Mark(4.0, 800.0, 1.0)],  # filled, and nothing in it
        [Mark(3.0, 800.0, 1.0), Mark(5.0, 700.0, 1.0)],  # less than before
    ],
)
def test_a_stretch_without_jars_or_produce_tells_nothing(marks: list[Mark]) -> None:
    assert stretches(marks, lambda jars: 470.0 * jars) == []
