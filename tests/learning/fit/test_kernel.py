"""The kernel against certified data sets, exact arithmetic, textbook formulas and invariance."""

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import linalg, stats
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct
from sklearn.linear_model import Ridge

from jarcast.learning.fit.kernel import posterior, proper_posterior


def problem(seed: int = 0, n: int = 12, p: int = 4) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Design, response and weights of a made-up problem, none of them zero or one."""
    rng = np.random.default_rng(seed)
    X = rng.standard_normal((n, p)) * np.geomspace(0.3, 40.0, p)
    y = X @ rng.standard_normal(p) + 2.0 * rng.standard_normal(n) + 5.0
    return X, y, rng.uniform(0.2, 4.0, n)


# --- certified data and exact arithmetic ---------------------------------------------------------


@pytest.mark.parametrize("name", ["Norris", "Pontius", "NoInt1", "Longley"])
def test_standard_errors_are_the_certified_ones(name: str, strd: Callable[[str], Any]) -> None:
    # NIST/ITL Statistical Reference Datasets, linear regression: 'Standard Deviation of Estimate'.
    known = strd(name)
    found = posterior(known.X, known.y)
    sds = np.sqrt(np.diag(found.covariance()))
    assert_allclose(sds, known.sd_of_coefficients, rtol=1e-9)


def exact_solution(X: Sequence[Sequence[Fraction]], y: Sequence[Fraction]) -> list[Fraction]:
    """Least squares in rational arithmetic: normal equations and elimination, without rounding."""
    p = len(X[0])
    rows = [
        [sum((row[i] * row[j] for row in X), Fraction(0)) for j in range(p)]
        + [sum((row[i] * value for row, value in zip(X, y, strict=True)), Fraction(0))]
        for i in range(p)
    ]
    for i in range(p):
        rows[i] = [value / rows[i][i] for value in rows[i]]
        for r in range(p):
            if r != i:
                rows[r] = [a - rows[r][i] * b for a, b in zip(rows[r], rows[i], strict=True)]
    return [row[p] for row in rows]


def digits(found: np.ndarray, true: Sequence[Fraction]) -> float:
    """The least number of correct digits (NIST's log relative error)."""
    misses = [abs(Fraction(f) / t - 1) for f, t in zip(found.tolist(), true, strict=True)]
    return min(-math.log10(max(float(miss), 1e-17)) for miss in misses)


@pytest.mark.parametrize("noise", [0.0, 0.003, 0.3])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_badly_conditioned_polynomial_is_right_to_seven_digits(seed: int, noise: float) -> None:
    # Degree 10 on 82 points from -9 to -3, the shape of the worst conditioned of NIST's linear
    # data sets; the truth by exact rational arithmetic on the very numbers the kernel is given.
    rng = np.random.default_rng(seed)
    x = rng.uniform(-9.0, -3.0, 82)
    y = 0.8 + 0.05 * np.sin(3.0 * x) + noise * rng.standard_normal(82)
    X = np.column_stack([x**k for k in range(11)])
    assert np.linalg.cond(X) > 1e14
    rational = [[Fraction(value) for value in row] for row in X.tolist()]
    true = exact_solution(rational, [Fraction(value) for value in y.tolist()])
    assert digits(posterior(X, y).mean, true) >= 7


@pytest.mark.parametrize("scales", [(1e-6, 1.0, 1e6), (1e-3, 1e-3, 1e8), (1.0, 1e12, 1.0)])
def test_tight_and_loose_priors_together_keep_seven_digits(
    scales: tuple[float, float, float],
) -> None:
    # A held coefficient is one more row of data, prior_mean / prior_scale; exact arithmetic again.
    rng = np.random.default_rng(5)
    X = rng.standard_normal((12, 3)) * [1.0, 1e3, 1e-3]
    y = X @ [1.0, 2.0, 3.0] + rng.standard_normal(12)
    means = [0.25, 0.5, -2.0]
    rows = [[Fraction(value) for value in row] for row in X.tolist()]
    right = [Fraction(value) for value in y.tolist()]
    for i, (mean, scale) in enumerate(zip(means, scales, strict=True)):
        rows.append([1 / Fraction(scale) if i == j else Fraction(0) for j in range(3)])
        right.append(Fraction(mean) / Fraction(scale))
    found = posterior(X, y, prior_mean=np.array(means), prior_scale=np.array(scales))
    assert digits(found.mean, exact_solution(rows, right)) >= 7


# --- other people's implementations --------------------------------------------------------------


def test_known_noise_and_one_prior_give_ridge_regression() -> None:
    # Ridge with penalty 1 / t^2 about the prior mean is the posterior mean (Murphy, Machine
    # Learning: A Probabilistic Perspective, section 7.5.1); scikit-learn computes it.
    X, y, weights = problem()
    for scale, centre in ((0.5, 0.0), (3.0, -1.5)):
        ridge = Ridge(alpha=1.0 / scale**2, fit_intercept=False, solver="svd")
        ridge.fit(X, y - X @ np.full(4, centre), sample_weight=weights)
        found = posterior(X, y, weights=weights, prior_mean=centre, prior_scale=scale)
        assert_allclose(found.mean, centre + ridge.coef_, rtol=1e-9)


def test_known_noise_gives_a_gaussian_process_with_a_linear_kernel() -> None:
    # Mean and covariance of X b at new rows: Rasmussen & Williams, Gaussian Processes for Machine
    # Learning, section 2.1; scikit-learn computes it. DotProduct(1) is a column of ones.
    X, y, _ = problem(1)
    noise, scale = 1.7, 0.8
    kernel = ConstantKernel((noise * scale) ** 2, "fixed") * DotProduct(1.0, "fixed")
    process = GaussianProcessRegressor(kernel, alpha=noise**2).fit(X, y)
    ones = np.column_stack([np.ones(len(X)), X])
    found = posterior(ones, y, prior_scale=scale, noise_scale=noise, noise_dof=math.inf)
    new = np.random.default_rng(2).standard_normal((5, 4)) * 3.0
    at = np.column_stack([np.ones(5), new])
    mean, covariance = process.predict(new, return_cov=True)
    location, spread = found.predict(at)
    assert_allclose(location, mean, rtol=1e-8)
    assert_allclose(at @ found.covariance() @ at.T, covariance, rtol=1e-6, atol=1e-8)
    assert_allclose(spread**2, np.diag(covariance) + noise**2, rtol=1e-8)
    assert math.isinf(found.dof)
    assert found.scale == noise


def textbook(
    X: np.ndarray,
    y: np.ndarray,
    mean: np.ndarray,
    scale: np.ndarray,
    noise_scale: float,
    noise_dof: float,
) -> tuple[np.ndarray, np.ndarray, float, float]:
    """w_N, V_N, a_N, b_N by normal equations: Murphy, section 7.6.3, equations 7.69 to 7.72."""
    inverse_v0 = np.diag(1.0 / scale**2)
    a0, b0 = noise_dof / 2.0, noise_dof * noise_scale**2 / 2.0
    vn = np.linalg.inv(inverse_v0 + X.T @ X)
    wn = vn @ (inverse_v0 @ mean + X.T @ y)
    an = a0 + len(y) / 2.0
    bn = b0 + 0.5 * (mean @ inverse_v0 @ mean + y @ y - wn @ np.linalg.inv(vn) @ wn)
    return wn, vn, an, float(bn)


@pytest.mark.parametrize("seed", range(3))
def test_the_forecast_is_the_textbooks_student_t(seed: int) -> None:
    # Murphy, section 7.6.3: y ~ T(x w_N, b_N / a_N (1 + x V_N x'), 2 a_N).
    X, y, _ = problem(seed)
    rng = np.random.default_rng(100 + seed)
    mean, scale = rng.standard_normal(4), rng.uniform(0.2, 3.0, 4)
    wn, vn, an, bn = textbook(X, y, mean, scale, 1.3, 5.0)
    found = posterior(X, y, prior_mean=mean, prior_scale=scale, noise_scale=1.3, noise_dof=5.0)
    assert_allclose(found.mean, wn, rtol=1e-9)
    assert_allclose(found.covariance(), bn / an * vn, rtol=1e-9)
    assert found.dof == 2.0 * an
    x = rng.standard_normal((3, 4))
    expected = stats.t(2.0 * an, x @ wn, np.sqrt(bn / an * (1.0 + np.diag(x @ vn @ x.T))))
    ours = stats.t(found.dof, *found.predict(x))
    for p in (0.05, 0.5, 0.9):
        assert_allclose(ours.ppf(p), expected.ppf(p), rtol=1e-9)


def test_a_flat_prior_gives_the_classical_forecast() -> None:
    # Gelman et al., Bayesian Data Analysis, 3rd ed., section 14.2: Student-t with n - p degrees
    # of freedom about the least-squares line, scale s sqrt(1 + x V x').
    X, y, _ = problem(3)
    b, rss, *_ = np.linalg.lstsq(X, y, rcond=None)
    s2 = float(rss[0]) / (12 - 4)
    found = posterior(X, y)
    assert found.dof == 8
    assert found.scale == pytest.approx(math.sqrt(s2), rel=1e-10)
    x = np.array([[1.0, -2.0, 3.0, 0.5]])
    location, spread = found.predict(x)
    assert_allclose(location, x @ b, rtol=1e-9)
    assert_allclose(spread**2, s2 * (1.0 + x[0] @ np.linalg.inv(X.T @ X) @ x[0]), rtol=1e-9)
    assert math.isnan(found.log_evidence)


def test_the_evidence_with_known_noise_is_the_density_of_the_data() -> None:
    # y ~ N(X m, s^2 (W^-1 + X T X')), the marginal of the model itself; scipy gives the density.
    X, y, weights = problem(4)
    mean, scale, noise = np.arange(4.0), np.array([0.5, 1.0, 2.0, 0.1]), 1.4
    covariance = noise**2 * (np.diag(1.0 / weights) + X @ np.diag(scale**2) @ X.T)
    found = posterior(
        X, y, weights=weights, prior_mean=mean, prior_scale=scale, noise_scale=noise,
        noise_dof=math.inf,
    )  # fmt: skip
    expected = stats.multivariate_normal(X @ mean, covariance).logpdf(y)
    assert found.log_evidence == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("n", [1, 3, 12])
def test_the_evidence_with_unknown_noise_is_a_multivariate_student_t(n: int) -> None:
    # Murphy, section 7.6.3: y ~ T(X m, s0^2 (W^-1 + X T X'), nu0); scipy gives the density.
    X, y, weights = problem(5, n=n)
    mean, scale = np.arange(4.0), np.array([0.5, 1.0, 2.0, 0.1])
    shape = 1.4**2 * (np.diag(1.0 / weights) + X @ np.diag(scale**2) @ X.T)
    found = posterior(
        X, y, weights=weights, prior_mean=mean, prior_scale=scale, noise_scale=1.4, noise_dof=6.0
    )
    expected = stats.multivariate_t(X @ mean, shape, df=6.0).logpdf(y)
    assert found.log_evidence == pytest.approx(expected, rel=1e-10)


def test_evidence_of_rows_multiplies_along_the_chain() -> None:
    # p(y) = p(y1) p(y2 | y1): the forecast of a row and the evidence tell the same story.
    X, y, _ = problem(6)
    prior = {"prior_mean": 0.5, "prior_scale": 0.7, "noise_scale": 1.2, "noise_dof": 4.0}
    total = 0.0
    for i in range(len(y)):
        before = posterior(X[:i], y[:i], **prior)
        location, spread = before.predict(X[i : i + 1])
        total += float(stats.t(before.dof, location, spread).logpdf(y[i])[0])
    assert posterior(X, y, **prior).log_evidence == pytest.approx(total, rel=1e-10)


# --- few rows, dependent columns, no rows --------------------------------------------------------


@pytest.mark.parametrize(("n", "p"), [(1, 3), (3, 5), (4, 5)])
def test_fewer_rows_than_columns_give_the_solution_of_least_norm(n: int, p: int) -> None:
    # The pseudo-inverse gives it (Golub & Van Loan, Matrix Computations, section 5.5.2).
    X, y, _ = problem(7, n, p)
    found = posterior(X, y)
    assert_allclose(found.mean, np.linalg.pinv(X) @ y, rtol=1e-8)
    assert found.dof == 0
    assert math.isinf(found.scale)


def test_dependent_columns_give_the_solution_of_least_norm() -> None:
    X, y, _ = problem(8, 10, 3)
    X = np.column_stack([X, X[:, 0], np.zeros(10)])
    found = posterior(X, y)
    rss = float(np.sum((y - X @ found.mean) ** 2))
    assert_allclose(found.mean, np.linalg.pinv(X) @ y, rtol=1e-8, atol=1e-10)
    assert found.dof == 10 - 3  # as many as rows less the rank
    assert found.scale == pytest.approx(math.sqrt(rss / 7), rel=1e-10)


def test_a_flat_intercept_and_held_slopes_need_fewer_rows_than_columns() -> None:
    # The limit of ever wider priors on the intercept; normal equations with its precision at 0.
    X, y, _ = problem(9, 3, 6)
    X[:, 0] = 1.0
    precision = np.diag([0.0, *[4.0] * 5])
    expected = np.linalg.solve(precision + X.T @ X, X.T @ y + precision @ np.full(6, 0.3))
    found = posterior(X, y, prior_mean=0.3, prior_scale=np.array([np.inf, *[0.5] * 5]))
    assert_allclose(found.mean, expected, rtol=1e-9)
    assert found.dof == 2


def test_no_rows_leave_the_prior() -> None:
    mean, scale = np.array([1.0, -2.0]), np.array([0.5, 3.0])
    found = posterior(
        np.zeros((0, 2)), np.zeros(0), prior_mean=mean, prior_scale=scale, noise_scale=1.5,
        noise_dof=7.0,
    )  # fmt: skip
    assert_allclose(found.mean, mean)
    assert_allclose(found.covariance(), 1.5**2 * np.diag(scale**2))
    assert (found.dof, found.scale) == (7.0, 1.5)
    assert found.log_evidence == pytest.approx(0.0, abs=1e-12)  # the density of nothing is 1


def test_no_columns_leave_the_noise() -> None:
    y = np.array([1.0, -2.0, 3.0])
    found = posterior(np.zeros((3, 0)), y, prior_scale=1.0, noise_scale=2.0, noise_dof=4.0)
    # Scaled inverse chi-squared update, mean known: Bayesian Data Analysis, 3rd ed., section 2.6.
    assert found.dof == 7
    assert found.scale == pytest.approx(math.sqrt((4 * 2.0**2 + y @ y) / 7))
    expected = stats.multivariate_t(np.zeros(3), 4.0 * np.eye(3), df=4.0).logpdf(y)
    assert found.log_evidence == pytest.approx(expected)


# --- invariance ----------------------------------------------------------------------------------

PRIOR: dict[str, Any] = {
    "prior_mean": np.array([1.0, -1.0, 0.5, 0.0]),
    "prior_scale": np.array([0.5, 2.0, 1.0, 3.0]),
    "noise_scale": 1.3,
    "noise_dof": 5.0,
}


def test_the_unit_of_a_column_does_not_matter() -> None:
    X, y, _ = problem(10)
    factor = np.array([1e-6, 453.59237, 1.0, 1e9])
    scaled = {**PRIOR, "prior_mean": PRIOR["prior_mean"] / factor}
    scaled["prior_scale"] = PRIOR["prior_scale"] / factor
    one, other = posterior(X, y, **PRIOR), posterior(X * factor, y, **scaled)
    assert_allclose(other.mean * factor, one.mean, rtol=1e-9)
    assert_allclose(other.covariance() * np.outer(factor, factor), one.covariance(), rtol=1e-8)
    assert other.log_evidence == pytest.approx(one.log_evidence, rel=1e-10)
    flat, flat_scaled = posterior(X, y), posterior(X * factor, y)
    assert_allclose(flat_scaled.mean * factor, flat.mean, rtol=1e-9)


def test_the_unit_of_the_response_does_not_matter() -> None:
    X, y, _ = problem(11)
    grams = 453.59237
    scaled = {**PRIOR, "prior_mean": PRIOR["prior_mean"] * grams, "noise_scale": 1.3 * grams}
    one, other = posterior(X, y, **PRIOR), posterior(X, y * grams, **scaled)
    assert_allclose(other.mean, one.mean * grams, rtol=1e-10)
    assert other.scale == pytest.approx(one.scale * grams, rel=1e-10)
    # The density of y is per unit of y.
    assert other.log_evidence == pytest.approx(one.log_evidence - len(y) * math.log(grams))


def test_the_order_of_rows_and_columns_does_not_matter() -> None:
    X, y, weights = problem(12)
    rows, columns = np.random.default_rng(0).permutation(12), np.array([2, 0, 3, 1])
    one = posterior(X, y, weights=weights, **PRIOR)
    other = posterior(X[rows], y[rows], weights=weights[rows], **PRIOR)
    assert_allclose(other.mean, one.mean, rtol=1e-10)
    assert_allclose(other.covariance(), one.covariance(), rtol=1e-9)
    turned = {**PRIOR, "prior_mean": PRIOR["prior_mean"][columns]}
    turned["prior_scale"] = PRIOR["prior_scale"][columns]
    other = posterior(X[:, columns], y, weights=weights, **turned)
    assert_allclose(other.mean, one.mean[columns], rtol=1e-10)


def test_moving_prior_and_data_together_moves_the_answer_with_them() -> None:
    X, y, _ = problem(13)
    shift = np.array([3.0, -7.0, 0.1, 2.0])
    moved = {**PRIOR, "prior_mean": PRIOR["prior_mean"] + shift}
    one, other = posterior(X, y, **PRIOR), posterior(X, y + X @ shift, **moved)
    assert_allclose(other.mean, one.mean + shift, rtol=1e-9)
    assert other.scale == pytest.approx(one.scale, rel=1e-9)


def test_a_weight_is_so_many_rows() -> None:
    X, y, _ = problem(14)
    times = np.array([1, 2, 3, 1, 1, 4, 2, 1, 1, 1, 5, 2])
    known = {**PRIOR, "noise_dof": math.inf}
    one = posterior(X, y, weights=times.astype(float), **known)
    other = posterior(np.repeat(X, times, axis=0), np.repeat(y, times), **known)
    assert_allclose(one.mean, other.mean, rtol=1e-10)
    assert_allclose(one.covariance(), other.covariance(), rtol=1e-9)


def test_learning_in_two_sittings_is_learning_at_once() -> None:
    # Conjugacy: the first posterior is the second prior. An orthogonal design keeps it diagonal.
    rng = np.random.default_rng(15)
    Q, _ = np.linalg.qr(rng.standard_normal((8, 3)))
    y1, y2 = rng.standard_normal(8), rng.standard_normal(8) + 1.0
    first = posterior(Q, y1, prior_scale=0.9, noise_scale=1.1, noise_dof=4.0)
    second = posterior(
        Q, y2, prior_mean=first.mean, noise_scale=first.scale, noise_dof=first.dof,
        prior_scale=np.linalg.norm(first.root, axis=1),
    )  # fmt: skip
    both = posterior(
        np.vstack([Q, Q]), np.concatenate([y1, y2]), prior_scale=0.9, noise_scale=1.1, noise_dof=4.0
    )
    assert_allclose(second.mean, both.mean, rtol=1e-9)
    assert (second.dof, second.scale) == (both.dof, pytest.approx(both.scale, rel=1e-10))


# --- partial pooling -----------------------------------------------------------------------------

# Rubin (1981), Estimation in parallel randomized experiments; Bayesian Data Analysis, 3rd ed.,
# table 5.2: effect of coaching in each school, and its standard error.
EFFECTS = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
ERRORS = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])


def schools(tau: float) -> tuple[np.ndarray, np.ndarray]:
    """Mean and sd of each school's effect, by one regression: a flat mean and held distances."""
    at = np.column_stack([np.ones(8), np.eye(8)])
    scales = np.array([np.inf, *[tau] * 8])
    found = posterior(
        at, EFFECTS, weights=ERRORS**-2.0, prior_scale=scales, noise_scale=1.0, noise_dof=math.inf
    )
    return at @ found.mean, np.linalg.norm(at @ found.root, axis=1)


@pytest.mark.parametrize("tau", [0.5, 5.0, 10.0, 25.0])
def test_eight_schools_are_shrunken_as_the_book_says(tau: float) -> None:
    # Bayesian Data Analysis, 3rd ed., section 5.4, equations 5.17 and 5.20: with tau known, theta_j
    # is the precision-weighted mean of y_j and mu, and mu that of all y_j.
    mu_precision = np.sum(1.0 / (ERRORS**2 + tau**2))
    mu = np.sum(EFFECTS / (ERRORS**2 + tau**2)) / mu_precision
    own = ERRORS**-2.0 / (ERRORS**-2.0 + tau**-2.0)
    variance = 1.0 / (ERRORS**-2.0 + tau**-2.0) + (1.0 - own) ** 2 / mu_precision
    mean, sd = schools(tau)
    assert_allclose(mean, own * EFFECTS + (1.0 - own) * mu, rtol=1e-8)
    assert_allclose(sd, np.sqrt(variance), rtol=1e-8)


def test_eight_schools_pool_wholly_when_they_do_not_differ() -> None:
    # Pooled estimate 7.7, variance 16.6: Bayesian Data Analysis, 3rd ed., section 5.5, from memory.
    mean, sd = schools(1e-6)
    assert_allclose(mean, 7.7, atol=0.05)
    assert_allclose(sd**2, 16.6, atol=0.05)


def test_a_random_intercept_is_shrunken_as_by_mixed_models() -> None:
    # Grunfeld's investment data, shipped with statsmodels; its MixedLM gives REML variances, fixed
    # effects and predicted intercepts. With those variances as the prior, ours are the same.
    from statsmodels.datasets import grunfeld
    from statsmodels.regression.mixed_linear_model import MixedLM

    data = grunfeld.load_pandas().data
    fixed = np.column_stack([np.ones(len(data)), data["value"] / 1e3, data["capital"] / 1e3])
    mixed = MixedLM(data["invest"].to_numpy() / 1e2, fixed, groups=data["firm"]).fit(reml=True)
    firms = sorted(set(data["firm"]))
    member = np.array([[float(firm == one) for one in firms] for firm in data["firm"]])
    variance, noise = float(np.asarray(mixed.cov_re)[0, 0]), float(mixed.scale)
    scales = np.array([*[np.inf] * 3, *[math.sqrt(variance / noise)] * len(firms)])
    found = posterior(
        np.hstack([fixed, member]), data["invest"].to_numpy() / 1e2, prior_scale=scales,
        noise_scale=math.sqrt(noise), noise_dof=math.inf,
    )  # fmt: skip
    predicted = [float(np.asarray(mixed.random_effects[firm])[0]) for firm in firms]
    assert len(firms) >= 10
    assert_allclose(found.mean[:3], mixed.fe_params, rtol=1e-4)
    assert_allclose(found.mean[3:], predicted, rtol=1e-4)


@pytest.mark.parametrize("shape", [(0, 4), (5, 12), (40, 7), (30, 30)])
def test_the_quicker_posterior_of_proper_priors_is_the_same(shape: tuple[int, int]) -> None:
    # Against the QR of the stacked system, which the published digits check.
    rng = np.random.default_rng(3)
    X = rng.standard_normal(shape) * np.exp(rng.standard_normal(shape[1]))
    y = rng.standard_normal(shape[0])
    variance = np.exp(2.0 * rng.standard_normal(shape[0]))
    prior = np.exp(2.0 * rng.standard_normal(shape[1]))
    slow = posterior(
        X, y, weights=1.0 / variance, prior_scale=np.sqrt(prior), noise_scale=1.0,
        noise_dof=math.inf,
    )  # fmt: skip
    quick = proper_posterior(X, y, variance, prior)
    assert_allclose(quick.mean, slow.mean, rtol=1e-9, atol=1e-11)
    assert_allclose(quick.root @ quick.root.T, slow.root @ slow.root.T, rtol=1e-9, atol=1e-11)
    assert quick.log_evidence == pytest.approx(slow.log_evidence, rel=1e-10)


# --- what flat priors and the data leave open -----------------------------------------------------


def reachable(X: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Whether each row is a sum of the rows of X: then, and then only, a flat prior foretells it.

    Estimable functions: Searle, Linear Models, 1971, section 5.4.
    """
    rank = np.linalg.matrix_rank(X)
    return np.array([np.linalg.matrix_rank(np.vstack([X, row])) == rank for row in rows])


def dependent(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Ten columns of rank 7 or so: sums of others, equal ones, one of zeros, and an answer."""
    rng = np.random.default_rng(seed)
    free = rng.standard_normal((30, 6))
    sums = free @ rng.integers(-2, 3, (6, 2))
    X = np.column_stack([free, sums, free[:, 0], np.zeros(30)])[:, rng.permutation(10)]
    return X, X @ rng.standard_normal(10) + 0.3 * rng.standard_normal(30)


@pytest.mark.parametrize("seed", range(4))
def test_what_rows_do_not_reach_is_unknown_without_end_and_the_rest_is_not(seed: int) -> None:
    X, y = dependent(seed)
    rng = np.random.default_rng(50 + seed)
    rows = np.vstack([X[:5], rng.standard_normal((5, 10)), rng.standard_normal((5, 30)) @ X])
    found = posterior(X, y)
    location, scale = found.predict(rows)
    known = reachable(X, rows)
    assert known.tolist() == [True] * 5 + [False] * 5 + [True] * 5
    assert (np.isinf(scale) == ~known).all()
    # By columns that do not depend on one another, whichever they are: the classical forecast.
    rank = np.linalg.matrix_rank(X)
    some = X[:, scipy_pivots(X)[:rank]]
    classical = posterior(some, y)
    due, due_scale = classical.predict(rows[known][:, scipy_pivots(X)[:rank]])
    assert_allclose(location[known], due, rtol=1e-8, atol=1e-9)
    assert_allclose(scale[known], due_scale, rtol=1e-8)
    assert (found.dof, classical.dof) == (30 - rank, 30 - rank)
    assert_allclose(found.mean, np.linalg.pinv(X) @ y, rtol=1e-7, atol=1e-9)


def scipy_pivots(X: np.ndarray) -> np.ndarray:
    """Columns in an order in which the first so many do not depend on one another."""
    return np.asarray(linalg.qr(X, pivoting=True, mode="r")[1])


@pytest.mark.parametrize("seed", range(4))
def test_a_coefficient_is_unknown_where_its_column_depends_on_others(seed: int) -> None:
    X, y = dependent(seed)
    variances = np.diag(posterior(X, y).covariance())
    assert (np.isinf(variances) == ~reachable(X, np.eye(10))).all()


@pytest.mark.parametrize("power", [-12.0, 9.0, 15.0])
def test_the_unit_of_dependent_columns_does_not_matter(power: float) -> None:
    X, y = dependent(1)
    rng = np.random.default_rng(9)
    unit = 10.0 ** (power * rng.random(10))
    rows = np.vstack([X[:4], rng.standard_normal((3, 10))])
    one, other = posterior(X, y), posterior(X * unit, y)
    for mine, yours in zip(one.predict(rows), other.predict(rows * unit), strict=True):
        assert_allclose(mine[:4], yours[:4], rtol=1e-7)
    assert np.isinf(other.predict(rows * unit)[1][4:]).all()
    variances = (np.diag(found.covariance()) for found in (one, other))
    assert np.array_equal(*map(np.isinf, variances))
    assert other.dof == one.dof


@pytest.mark.parametrize("per_day", [86_400e6, 86_400e9])
def test_a_date_in_microseconds_hides_no_other_column(per_day: float) -> None:
    # int64 of numpy's datetimes, beside one column for each of four kinds and one of ones: the
    # kinds add up to the ones. With one kind left out nothing depends on anything.
    rng = np.random.default_rng(6)
    kinds = np.eye(4)[np.arange(40) % 4]
    days = 1.7e9 / 86_400 + np.arange(40.0)
    y = 0.05 * np.arange(40.0) + kinds @ [1.0, 2.0, 3.0, 4.0] + 0.08 * rng.standard_normal(40)
    full = np.column_stack([days * per_day, kinds, np.ones(40)])
    less = np.delete(full, 1, axis=1)
    one, other = posterior(full, y), posterior(less, y)
    assert (one.dof, other.dof) == (35, 35)
    assert one.scale == pytest.approx(other.scale, rel=1e-6)
    for mine, yours in zip(one.predict(full), other.predict(less), strict=True):
        assert_allclose(mine, yours, rtol=1e-6)
    unmet = np.array([[days[0] * per_day, 1.0, 1.0, 0.0, 0.0, 1.0]])  # of two kinds at once
    assert np.isinf(one.predict(unmet)[1]).all()


def test_a_flat_prior_is_the_end_of_ever_wider_ones() -> None:
    # Beside a column whose prior holds it, two equal flat ones: only their sum is known.
    X, y, _ = problem(20)
    X = np.column_stack([X[:, :2], X[:, 1]])
    held = np.array([0.7, np.inf, np.inf])
    found = posterior(X, y, prior_scale=held, prior_mean=0.2)
    wide = posterior(X, y, prior_scale=np.where(np.isinf(held), 1e7, held), prior_mean=[0.2, 0, 0])
    at = np.array([[1.0, 1.0, 1.0], [0.5, 2.0, -1.0 + 1.0]])
    assert_allclose(found.predict(X)[0], wide.predict(X)[0], rtol=1e-6)
    assert found.dof == 12 - 1  # of the two flat ones one is settled
    assert np.isfinite(found.predict(at[:1])[1]).all()
    assert np.isinf(found.predict(at[1:])[1]).all()
    covariance = found.covariance()
    assert (covariance[1:, 1:] == np.array([[np.inf, -np.inf], [-np.inf, np.inf]])).all()
    assert np.isfinite(covariance[0]).all()
