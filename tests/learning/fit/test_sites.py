"""What a row says as one normal reading: moments and evidence by quadrature, Bayes' rule by scipy.

The law behind a row is written out here once more, from the words of the model: a latent forecast,
normal; noise of one of four kinds; one of several cases, each with its shift and error of reading.
"""

import math
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose
from scipy import integrate, stats

from jarcast.learning.fit.sites import (
    FAINTEST,
    NO_SLIP,
    SLIP_CHANCE,
    TAIL_PRIOR,
    WIDENING,
    Rows,
    Sites,
    find_sites,
    judge_cases,
    tail_shares,
    usual_variance,
)

TAILS = np.array([0.9, 0.08, 0.02])
CHANCES = np.append(TAILS * (1.0 - SLIP_CHANCE), SLIP_CHANCE)
SLIP = 100.0
ONE_CASE = ((0.0, 0.2, 1.0),)
# Shift, variance of reading and chance of each case.
CASES = ((0.0, 0.2, 0.5), (-1.4, 0.05, 0.3), (2.5, 0.6, 0.2))


def rows(
    y: Any, cases: Any = ONE_CASE, *, sure: bool = False, ceiling: bool = False, slip: float = SLIP
) -> Rows:
    y = np.atleast_1d(np.asarray(y, dtype=float))
    shift, reading, chance = (np.tile(part, (y.size, 1)) for part in np.array(cases).T)
    slipped = NO_SLIP if sure else SLIP_CHANCE
    return Rows(
        y=y,
        shift=shift,
        reading=reading,
        log_case=np.log(chance),
        slip=np.full(y.size, slip),
        log_slipped=np.log(np.repeat([[1.0 - slipped], [slipped]], y.size, axis=1)),
        ceiling=np.full(y.size, ceiling),
        seldom=np.zeros(shift.shape[1], dtype=bool),
    )


def sites(
    found: Rows,
    forecast: float = 0.0,
    predictive: float = 0.3,
    noise: float = 1.0,
    tails: np.ndarray = TAILS,
) -> Sites:
    each = (np.full(found.y.size, value) for value in (forecast, predictive, noise))
    return find_sites(found, *each, tails)


def judged(found: Rows) -> tuple[np.ndarray, np.ndarray]:
    each = (np.full(found.y.size, value) for value in (0.0, 0.3, 1.0))
    return judge_cases(found, *each, TAILS)


def variances(predictive: float, noise: float = 1.0, reading: float = 0.2) -> np.ndarray:
    """Variance of a row about its forecast, of each kind."""
    return np.append(noise * WIDENING, noise + SLIP) + reading + predictive


def likelihood(
    y: float, latent: np.ndarray, cases: Any, ceiling: bool = False, seldom: int | None = None
) -> np.ndarray:
    """The mixture's density at ``y`` (of a ceiling: the chance to lie below) given the latent.

    The case number ``seldom`` comes with the first kind of noise alone.
    """
    total = np.zeros_like(latent)
    for kind, (chance, noise) in enumerate(zip(CHANCES, variances(0.0, reading=0.0), strict=True)):
        for number, (shift, reading, likely) in enumerate(cases):
            if kind and number == seldom:
                continue
            law = stats.norm(latent, math.sqrt(noise + reading))
            total += chance * likely * (law.cdf if ceiling else law.pdf)(y + shift)
    return total


def integrated(
    y: float,
    forecast: float,
    predictive: float,
    cases: Any,
    ceiling: bool = False,
    seldom: int | None = None,
) -> tuple[float, float, float]:
    """Evidence, mean and variance of the latent by quadrature: prior times likelihood."""
    sd = math.sqrt(predictive)
    latent = np.linspace(forecast - 10.0 * sd, forecast + 10.0 * sd, 4001)
    density = stats.norm.pdf(latent, forecast, sd) * likelihood(y, latent, cases, ceiling, seldom)
    mass, first, second = (integrate.simpson(latent**k * density, x=latent) for k in range(3))
    mean = first / mass
    return float(mass), float(mean), float(second / mass - mean**2)


# --- moments and evidence -------------------------------------------------------------------------


@pytest.mark.parametrize("cases", [ONE_CASE, CASES])
@pytest.mark.parametrize("ceiling", [False, True])
@pytest.mark.parametrize(
    ("y", "forecast", "predictive"),
    [(0.4, 0.1, 0.3), (-2.0, 0.5, 1.5), (1.6, 0.0, 0.05), (0.9, 1.0, 4.0)],
)
def test_with_its_forecast_a_site_has_the_mean_and_variance_of_the_mixture(
    y: float, forecast: float, predictive: float, cases: Any, ceiling: bool
) -> None:
    # Rasmussen and Williams 2006, section 3.6: the two normals multiplied, precisions added, are to
    # have the moments of prior times likelihood. And their evidence with what is added is its own.
    mass, mean, variance = integrated(y, forecast, predictive, cases, ceiling)
    assert variance < 0.999 * predictive  # else no site of finite variance has these moments
    found = sites(rows(y, cases, ceiling=ceiling), forecast, predictive)
    precision = 1.0 / predictive + 1.0 / found.variance[0]
    assert 1.0 / precision == pytest.approx(variance, rel=1e-6)
    middle = (forecast / predictive + found.y[0] / found.variance[0]) / precision
    assert middle == pytest.approx(mean, abs=1e-6)
    sd = math.sqrt(predictive + found.variance[0])
    assert stats.norm.logpdf(found.y[0], forecast, sd) + found.evidence == pytest.approx(
        math.log(mass), abs=1e-6
    )


@pytest.mark.parametrize("ceiling", [False, True])
@pytest.mark.parametrize("y", [0.4, -2.0])
def test_a_case_that_is_seldom_goes_with_the_usual_noise_alone(y: float, ceiling: bool) -> None:
    found = rows(y, CASES, ceiling=ceiling)
    found = replace(found, seldom=np.array([False, False, True]))
    mass, mean, variance = integrated(y, 0.5, 1.5, CASES, ceiling, seldom=2)
    site = sites(found, 0.5, 1.5)
    precision = 1.0 / 1.5 + 1.0 / site.variance[0]
    assert 1.0 / precision == pytest.approx(variance, rel=1e-6)
    middle = (0.5 / 1.5 + site.y[0] / site.variance[0]) / precision
    assert middle == pytest.approx(mean, abs=1e-6)
    sd = math.sqrt(1.5 + site.variance[0])
    assert stats.norm.logpdf(site.y[0], 0.5, sd) + site.evidence == pytest.approx(
        math.log(mass), abs=1e-6
    )
    # The chance of each case by Bayes' rule: its own part of the evidence.
    each = [
        integrated(y, 0.0, 0.3, (case,), ceiling, seldom=0 if number == 2 else None)[0]
        for number, case in enumerate(CASES)
    ]
    assert_allclose(judged(found)[0][0], np.array(each) / sum(each), rtol=1e-5)


def test_with_one_kind_and_one_case_a_site_is_the_reading_itself() -> None:
    # A normal likelihood needs no normal in its place: its mean and variance stay.
    found = sites(rows([0.7, -3.0], sure=True), tails=np.array([1.0, 1e-300, 1e-300]))
    assert_allclose(found.y, [0.7, -3.0], rtol=1e-6)
    assert_allclose(found.variance, 1.2, rtol=1e-6)
    assert found.evidence == pytest.approx(0.0, abs=1e-6)


def test_cases_that_say_the_same_are_one_case() -> None:
    one = sites(rows([0.3, 2.5]))
    split = sites(rows([0.3, 2.5], ((0.0, 0.2, 0.7), (0.0, 0.2, 0.3))))
    assert_allclose(split.y, one.y)
    assert_allclose(split.variance, one.variance)
    chances, _ = judged(rows([0.3, 2.5], ((0.0, 0.2, 0.7), (0.0, 0.2, 0.3))))
    assert_allclose(chances, np.tile([0.7, 0.3], (2, 1)))


@pytest.mark.parametrize("at", [-2.0, -0.3, 0.4, 3.0])
@pytest.mark.parametrize("predictive", [0.2, 2.0])
def test_a_ceiling_gives_the_moments_of_a_truncated_normal(at: float, predictive: float) -> None:
    # Of one kind, what is below the ceiling is normal, cut off there: scipy.stats.truncnorm. The
    # latent goes along with it by regression on it.
    total = predictive + 1.2
    cut = stats.truncnorm(-np.inf, at / math.sqrt(total), scale=math.sqrt(total))
    slope = predictive / total
    mean, variance = slope * cut.mean(), predictive * (1.0 - slope) + slope**2 * cut.var()
    found = sites(
        rows(at, sure=True, ceiling=True),
        predictive=predictive,
        tails=np.array([1.0, 1e-300, 1e-300]),
    )
    precision = 1.0 / predictive + 1.0 / found.variance[0]
    assert found.y[0] / found.variance[0] / precision == pytest.approx(mean, rel=1e-5)
    assert 1.0 / precision == pytest.approx(variance, rel=1e-5)
    # Its squared distance from the forecast, in units of its variance, is what it tells of noise.
    square = (cut.var() + cut.mean() ** 2) / total
    assert found.relative[0] == pytest.approx(1.0 + (square - 1.0) / total, rel=1e-5)


def test_a_row_whose_cases_disagree_says_little() -> None:
    # Two cases that move the target far to either side: the latent may be here or there, and is no
    # better known than before, so the site is as faint as any may be.
    apart = sites(rows(0.0, ((-2.0, 0.2, 0.5), (2.0, 0.2, 0.5))), predictive=4.0)
    alike = sites(rows(0.0), predictive=4.0)
    assert apart.variance[0] > 10.0 * alike.variance[0]
    bimodal = sites(rows(0.0, ((-4.0, 0.2, 0.5), (4.0, 0.2, 0.5))), predictive=9.0)
    assert bimodal.variance[0] == pytest.approx(FAINTEST * (9.0 + 1.2))


# --- chances --------------------------------------------------------------------------------------


@pytest.mark.parametrize("residual", [0.0, 0.7, -2.5, 4.0, 11.0, -40.0])
@pytest.mark.parametrize("predictive", [0.0, 0.3, 5.0])
def test_shares_are_bayes_rule(residual: float, predictive: float) -> None:
    # The chance of each kind is prior times normal density, shared out; scipy gives the density.
    weight = CHANCES * stats.norm.pdf(residual, scale=np.sqrt(variances(predictive)))
    found = sites(rows(residual), predictive=predictive)
    assert_allclose(found.responsibilities[:, 0], weight / weight.sum(), rtol=1e-10)


@pytest.mark.parametrize("residual", [0.0, -1.6, 2.0, 9.0])
def test_cases_are_judged_by_bayes_rule_over_all_kinds_of_noise(residual: float) -> None:
    like = np.array([
        CHANCES @ stats.norm.pdf(residual + shift, scale=np.sqrt(variances(0.3, reading=reading)))
        for shift, reading, _ in CASES
    ])  # fmt: skip
    weight = like * [chance for _, _, chance in CASES]
    found = sites(rows(residual, CASES))
    chances, told = judged(rows(residual, CASES))
    assert_allclose(chances[0], weight / weight.sum(), rtol=1e-10)
    assert_allclose(told[0], np.log(like), rtol=1e-10)
    assert found.responsibilities[:, 0].sum() == pytest.approx(1.0)


def test_a_case_that_cannot_be_has_no_share() -> None:
    found = sites(rows(-1.4, ((0.0, 0.2, 1.0), (1.4, 0.2, 1e-300))))
    chances, _ = judged(rows(-1.4, ((0.0, 0.2, 1.0), (1.4, 0.2, 1e-300))))
    assert_allclose(chances[0], [1.0, 0.0], atol=1e-12)
    assert_allclose(found.y, sites(rows(-1.4)).y)


def test_a_case_that_is_impossible_is_as_if_it_were_not_there() -> None:
    # Bayes' rule: no chance beforehand, none afterwards. What the row says of it is told all the
    # same, by its likelihood.
    found = rows([-1.4, 0.3], CASES)
    impossible = found.log_case.copy()
    impossible[0, 1] = -np.inf
    with_it = replace(found, log_case=impossible)
    without = rows(-1.4, (CASES[0], CASES[2]))
    assert_allclose(sites(with_it).y[0], sites(without).y[0], rtol=1e-12)
    assert_allclose(sites(with_it).variance[0], sites(without).variance[0], rtol=1e-12)
    chances, told = judged(with_it)
    assert chances[0, 1] == 0.0
    assert_allclose(chances[0, [0, 2]], judged(without)[0][0], rtol=1e-12)
    assert_allclose(told, judged(found)[1], rtol=1e-12)


@pytest.mark.parametrize("cases", [ONE_CASE, CASES])
def test_a_row_s_site_is_the_same_among_many_rows_as_alone(cases: Any) -> None:
    # Sites are found row by row: the other rows count by the forecast alone.
    rng = np.random.default_rng(5)
    y, forecast, predictive, noise = rng.standard_normal((4, 1000))
    asked = forecast, predictive**2, noise**2
    many = replace(rows(y, cases), ceiling=rng.random(1000) < 0.2)
    together, of_cases = find_sites(many, *asked, TAILS), judge_cases(many, *asked, TAILS)
    for at in (0, 255, 256, 700, 999):
        alone = rows(y[at], cases, ceiling=bool(many.ceiling[at]))
        of_one = [value[[at]] for value in asked]
        found = find_sites(alone, *of_one, TAILS)
        for name in ("y", "variance", "relative", "known"):
            assert_allclose(getattr(together, name)[at], getattr(found, name)[0], rtol=1e-9)
        assert_allclose(together.responsibilities[:, at], found.responsibilities[:, 0], rtol=1e-9)
        for here, there in zip(of_cases, judge_cases(alone, *of_one, TAILS), strict=True):
            assert_allclose(here[at], there[0], rtol=1e-9)


def test_a_row_the_user_stands_by_is_no_slip_however_odd() -> None:
    # The other kinds share it out as if there were no slips: Bayes' rule over those alone.
    weight = TAILS * stats.norm.pdf(25.0, scale=np.sqrt(variances(0.3)[:3]))
    shares = sites(rows(25.0, sure=True)).responsibilities[:, 0]
    assert shares[-1] < 1e-6
    assert_allclose(shares[:3], weight / weight.sum(), rtol=1e-6)


def test_a_gross_slip_is_told_from_a_usual_row() -> None:
    usual, wide, gross = sites(rows([0.5, 3.5, 25.0])).responsibilities.T
    assert usual[-1] < 0.01
    assert usual[0] > 0.8
    assert wide[1] + wide[2] > usual[1] + usual[2]
    assert gross[-1] > 0.9


def test_a_row_far_off_pulls_no_further_than_one_less_far() -> None:
    # One normal would pull in proportion. A slip says next to nothing of the batch.
    near, far, farthest = (
        float(found.y[0] / found.variance[0])
        for found in (sites(rows(y)) for y in (2.0, 12.0, 60.0))
    )
    assert 0.0 < far < near
    assert 0.0 < farthest < near
    assert sites(rows(0.0)).variance[0] >= 1.2  # never better than noise and reading allow


def test_the_sign_of_a_surprise_does_not_matter() -> None:
    one, other = sites(rows([1.0, 5.0, 20.0])), sites(rows([-1.0, -5.0, -20.0]))
    assert_allclose(one.responsibilities, other.responsibilities)
    assert_allclose(one.variance, other.variance)
    assert_allclose(one.y, -other.y)


def test_in_a_poorly_known_crop_a_surprise_is_no_proof_of_a_slip() -> None:
    poorly, well = (sites(rows(6.0), predictive=known) for known in (30.0, 0.1))
    assert poorly.responsibilities[-1, 0] < well.responsibilities[-1, 0]


def test_a_row_nobody_could_read_teaches_nothing_of_the_noise() -> None:
    assert sites(rows(1.0, ((0.0, 1e6, 1.0),))).known[0] < 0.01
    assert sites(rows(1.0, ((0.0, 1e-9, 1.0),)), predictive=0.0).known[0] > 0.9


def test_far_surprises_give_numbers_all_the_same() -> None:
    for ceiling in (False, True):
        found = sites(rows([1e6, -1e8, 0.0], CASES, ceiling=ceiling))
        for values in (
            found.responsibilities,
            found.y,
            found.variance,
            found.relative,
            found.known,
        ):
            assert np.isfinite(values).all()
        assert (found.variance > 0.0).all()
        assert np.isfinite(found.evidence)


def test_over_the_models_own_rows_everything_averages_to_its_prior() -> None:
    # Law of total expectation: shares of kinds and of cases average to their prior chances, the
    # expected squared noise to the noise, the mean to the forecast. 200,000 rows; three Monte Carlo
    # standard errors.
    rng = np.random.default_rng(3)
    size = 200_000
    shift, reading, chance = np.array(CASES).T
    case = rng.choice(3, size, p=chance)
    kind = rng.choice(4, size, p=CHANCES)
    variance = variances(0.3, reading=0.0)[kind] + reading[case]
    made = rows(rng.standard_normal(size) * np.sqrt(variance) - shift[case], CASES)
    found = sites(made)
    for values, due in (
        (found.responsibilities.T, CHANCES),
        (judged(made)[0], chance),
        (found.relative[:, None], 1.0),
        ((0.3 * found.y / (0.3 + found.variance))[:, None], 0.0),
    ):
        error = 3.0 * values.std(axis=0) / math.sqrt(size)
        assert (np.abs(values.mean(axis=0) - due) <= error).all()


# --- tails ----------------------------------------------------------------------------------------


def test_the_noise_over_all_kinds_is_what_was_asked_for() -> None:
    # Law of total variance, the kinds' means being equal.
    assert float(TAIL_PRIOR @ (usual_variance(0.3) * WIDENING)) == pytest.approx(0.09)


def test_no_rows_leave_the_tails_as_believed() -> None:
    assert_allclose(tail_shares(np.zeros((4, 0))), TAIL_PRIOR)
    assert tail_shares(np.zeros((4, 0))).sum() == pytest.approx(1.0)


def test_tails_are_learned_from_rows_that_are_no_slips() -> None:
    wide = np.tile([[0.0], [1.0], [0.0], [0.0]], 5_000)
    assert tail_shares(wide)[1] > 0.95
    slips = np.tile([[0.0], [0.0], [0.0], [1.0]], 5_000)
    assert_allclose(tail_shares(slips), TAIL_PRIOR)
