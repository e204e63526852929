"""The regression with a scikit-learn face: certified data, the estimator contract, bad input."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats
from sklearn.base import clone
from sklearn.linear_model import LinearRegression
from sklearn.model_selection import GridSearchCV, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import PolynomialFeatures, StandardScaler
from sklearn.utils.estimator_checks import parametrize_with_checks

import jarcast.learning
from jarcast.learning import ConjugateRegression

pytestmark = pytest.mark.contract

RNG = np.random.default_rng(0)
X = np.column_stack([np.ones(15), RNG.standard_normal((15, 2))])
Y = X @ [2.0, -1.0, 0.5] + 0.3 * RNG.standard_normal(15)


@pytest.mark.parametrize("name", ["Norris", "Pontius", "NoInt1", "Longley"])
def test_certified_values_are_met_to_nine_digits(name: str, strd: Callable[[str], Any]) -> None:
    # NIST/ITL Statistical Reference Datasets, linear regression.
    known = strd(name)
    found = ConjugateRegression().fit(known.X, known.y)
    assert_allclose(found.coef_, known.coefficients, rtol=1e-9)
    assert found.scale_ == pytest.approx(known.residual_sd, rel=1e-9)
    assert found.dof_ == len(known.y) - len(known.coefficients)


def test_certified_values_of_wampler1_are_met_to_eight_digits(strd: Callable[[str], Any]) -> None:
    # NIST/ITL Statistical Reference Datasets, Wampler1: an exact polynomial, residual sd 0.
    known = strd("Wampler1")
    found = ConjugateRegression().fit(known.X, known.y)
    assert_allclose(found.coef_, known.coefficients, rtol=1e-8)
    assert found.scale_ <= 1e-8 * known.y.std()


@parametrize_with_checks(
    [
        ConjugateRegression(),
        ConjugateRegression(prior_scale=1.0),
        ConjugateRegression(prior_mean=0.5, prior_scale=2.0, noise_scale=1.0, noise_dof=3.0),
        ConjugateRegression(prior_scale=10.0, noise_scale=1.0, noise_dof=math.inf),
        ConjugateRegression(prior_scale=10.0, fit_intercept=True),
    ]
)
def test_every_check_of_scikit_learn_passes(estimator: Any, check: Any) -> None:
    check(estimator)  # raises when the estimator breaks the contract


def test_the_estimator_is_reached_from_the_learning_package() -> None:
    from jarcast.learning.estimator import ConjugateRegression as Direct

    assert ConjugateRegression is Direct
    with pytest.raises(AttributeError, match="no attribute 'Conjugate'"):
        _ = jarcast.learning.Conjugate


def test_flat_and_scalar_is_what_nothing_said_means() -> None:
    assert ConjugateRegression().get_params() == {
        "prior_mean": 0.0, "prior_scale": None, "noise_scale": None, "noise_dof": 0.0,
        "fit_intercept": False,
    }  # fmt: skip
    plain = LinearRegression(fit_intercept=False).fit(X, Y)
    for flat in (None, math.inf, [math.inf] * 3):
        found = ConjugateRegression(prior_scale=flat).fit(X, Y)
        assert_allclose(found.coef_, plain.coef_, rtol=1e-10)
        rss = float(np.sum((Y - plain.predict(X)) ** 2))
        assert found.scale_ == pytest.approx(math.sqrt(rss / (15 - 3)), rel=1e-10)
        assert found.dof_ == 12
        assert math.isnan(found.log_evidence_)


def test_the_prior_mean_means_nothing_where_the_prior_is_flat() -> None:
    one = ConjugateRegression().fit(X, Y)
    other = ConjugateRegression(prior_mean=[1e6, -5.0, 3.0]).fit(X, Y)
    assert_array_equal(one.coef_, other.coef_)


def test_there_is_no_intercept_of_its_own() -> None:
    found = ConjugateRegression().fit(X, Y)
    assert found.coef_.shape == (3,)
    assert_array_equal(found.predict(np.zeros((2, 3))), [0.0, 0.0])


@pytest.mark.parametrize("name", ["Norris", "Pontius", "Longley"])
def test_an_intercept_that_is_asked_for_is_the_certified_one(
    name: str, strd: Callable[[str], Any]
) -> None:
    # NIST/ITL Statistical Reference Datasets; the first column of each is the one of ones.
    known = strd(name)
    assert (known.X[:, 0] == 1.0).all()
    found = ConjugateRegression(fit_intercept=True).fit(known.X[:, 1:], known.y)
    assert found.intercept_ == pytest.approx(known.coefficients[0], rel=1e-9)
    assert_allclose(found.coef_, known.coefficients[1:], rtol=1e-9)
    assert found.scale_ == pytest.approx(known.residual_sd, rel=1e-9)
    by_hand = ConjugateRegression().fit(known.X, known.y)
    for one, other in zip(
        found.predict(known.X[:3, 1:], return_std=True),
        by_hand.predict(known.X[:3], return_std=True),
        strict=True,
    ):
        assert_allclose(one, other, rtol=1e-9)
    assert_allclose(found.covariance_, by_hand.covariance_[1:, 1:], rtol=1e-8)


def test_a_flat_prior_for_one_column_is_said_as_none() -> None:
    asked = {"noise_scale": 1.0, "noise_dof": math.inf}
    one = ConjugateRegression(prior_scale=[None, 1.0, 1.0], **asked).fit(X, Y)
    # Bayesian Data Analysis, 3rd ed., section 14.8: a prior is a row of its own, a flat one none.
    precision = np.diag([0.0, 1.0, 1.0])
    assert_allclose(one.coef_, np.linalg.solve(precision + X.T @ X, X.T @ Y), rtol=1e-10)
    other = ConjugateRegression(prior_scale=1.0, fit_intercept=True, **asked).fit(X[:, 1:], Y)
    assert_allclose([other.intercept_, *other.coef_], one.coef_, rtol=1e-10)


def test_after_a_scaler_an_intercept_of_its_own_is_what_a_column_of_ones_was() -> None:
    pipe = make_pipeline(StandardScaler(), ConjugateRegression(fit_intercept=True))
    plain = LinearRegression().fit(X[:, 1:], Y)
    assert_allclose(pipe.fit(X[:, 1:], Y).predict(X[:, 1:]), plain.predict(X[:, 1:]), rtol=1e-10)


def test_fewer_rows_than_columns_give_the_solution_of_least_norm() -> None:
    # The pseudo-inverse gives it (Golub & Van Loan, Matrix Computations, section 5.5.2).
    found = ConjugateRegression().fit(X[:2], Y[:2])
    assert_allclose(found.coef_, np.linalg.pinv(X[:2]) @ Y[:2], rtol=1e-9)
    assert found.dof_ == 0
    assert math.isinf(found.scale_)
    assert np.isinf(found.covariance_).all()


def test_the_forecast_with_its_scale_is_a_student_t() -> None:
    # Bayesian Data Analysis, 3rd ed., section 14.2, by statistics of the ordinary line.
    found = ConjugateRegression().fit(X, Y)
    new = np.array([[1.0, 0.3, -2.0]])
    location, scale = found.predict(new, return_std=True)
    inverse = np.linalg.inv(X.T @ X)
    b = inverse @ X.T @ Y
    s = math.sqrt(float(np.sum((Y - X @ b) ** 2)) / 12)
    expected = stats.t(12, new @ b, s * math.sqrt(1.0 + float(new[0] @ inverse @ new[0])))
    assert_allclose(stats.t(found.dof_, location, scale).ppf(0.9), expected.ppf(0.9), rtol=1e-9)
    assert_array_equal(found.predict(new), location)
    assert_allclose(found.covariance_, s**2 * inverse, rtol=1e-9)


def test_prior_scale_is_in_units_of_the_noise() -> None:
    # The same prior in the data's unit: twice the noise, half the scale in its units.
    one = ConjugateRegression(prior_scale=1.0, noise_scale=1.0, noise_dof=math.inf).fit(X, Y)
    other = ConjugateRegression(prior_scale=0.5, noise_scale=2.0, noise_dof=math.inf).fit(X, Y)
    precision = np.diag(np.full(3, 1.0))
    assert_allclose(one.coef_, np.linalg.solve(precision + X.T @ X, X.T @ Y), rtol=1e-10)
    assert_allclose(other.coef_, np.linalg.solve(4 * precision + X.T @ X, X.T @ Y), rtol=1e-10)


def test_a_weight_of_zero_leaves_a_row_out() -> None:
    weights = np.ones(15)
    weights[[3, 7]] = 0.0
    kept = weights > 0
    one = ConjugateRegression().fit(X, Y, sample_weight=weights)
    other = ConjugateRegression().fit(X[kept], Y[kept])
    assert_allclose(one.coef_, other.coef_, rtol=1e-12)
    assert (one.dof_, one.scale_) == (10, pytest.approx(other.scale_, rel=1e-12))


def test_equal_weights_of_one_are_no_weights() -> None:
    one = ConjugateRegression(prior_scale=1.0, noise_scale=0.5, noise_dof=2.0)
    assert_array_equal(clone(one).fit(X, Y, sample_weight=np.ones(15)).coef_, one.fit(X, Y).coef_)


def test_it_works_inside_pipelines_searches_and_cross_validation() -> None:
    pipe = make_pipeline(PolynomialFeatures(2), ConjugateRegression(prior_scale=1.0))
    grid = {"conjugateregression__prior_scale": [1e-3, 1.0]}
    search = GridSearchCV(pipe, grid, cv=3).fit(X[:, 1:], Y)
    assert search.best_params_ == {"conjugateregression__prior_scale": 1.0}
    assert cross_val_predict(ConjugateRegression(), X, Y, cv=5).shape == (15,)


def test_names_of_columns_are_kept_and_held_to() -> None:
    frame = pd.DataFrame(X, columns=["hand", "crop", "salt"])
    found = ConjugateRegression().fit(frame, Y)
    assert list(found.feature_names_in_) == ["hand", "crop", "salt"]
    with pytest.raises(ValueError, match="feature names"):
        found.predict(frame[["salt", "crop", "hand"]])


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"prior_mean": [1.0, 2.0]}, r"prior_mean has shape \(2,\); a scalar or \(3,\) is due"),
        ({"prior_scale": [[1.0]]}, r"prior_scale has shape \(1, 1\); a scalar or \(3,\) is due"),
        ({"prior_mean": math.nan}, "prior_mean must be finite"),
        ({"prior_mean": [0.0, math.inf, 0.0]}, "prior_mean must be finite"),
        ({"prior_scale": 0.0}, "prior_scale must be positive"),
        ({"prior_scale": -1.0}, "prior_scale must be positive"),
        ({"prior_scale": [1.0, math.nan, 1.0]}, "prior_scale must be positive"),
        ({"noise_dof": -1.0, "noise_scale": 1.0}, "noise_dof needs to be 0 or more"),
        ({"noise_dof": 2.0}, "a positive noise_scale with it"),
        ({"noise_dof": 2.0, "noise_scale": 0.0}, "a positive noise_scale with it"),
        ({"noise_dof": math.inf}, "a positive noise_scale with it"),
    ],
)
def test_a_prior_that_cannot_be_is_refused(settings: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        ConjugateRegression(**settings).fit(X, Y)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((X, Y[:-1]), "inconsistent numbers of samples"),
        ((X[:, 0], Y), "Expected 2D array"),
        ((np.where(X == 1.0, np.nan, X), Y), "contains NaN"),
        ((X, np.full(15, np.inf)), "contains infinity"),
        ((X, Y, np.full(15, -1.0)), "sample_weight holds negative weights"),
        ((X, Y, np.full(15, np.nan)), "sample_weight contains NaN"),
        ((X, Y, np.ones(4)), "sample_weight.shape"),
    ],
)
def test_data_that_cannot_be_are_refused(arguments: tuple[Any, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        ConjugateRegression().fit(*arguments)


def test_another_number_of_columns_is_refused_when_forecasting() -> None:
    found = ConjugateRegression().fit(X, Y)
    with pytest.raises(ValueError, match="expecting 3 features"):
        found.predict(X[:, :2])


def test_what_was_never_seen_is_unknown_without_end() -> None:
    # A kind that no row was of. With a prior, however wide, it is as wide as that.
    x = np.arange(1.0, 21.0)
    y = 2.0 * x + 0.1 * np.random.default_rng(4).standard_normal(20)
    unmet = np.column_stack([x, np.zeros(20)])
    new = [[10.0, 0.0], [10.0, 1.0]]
    found = ConjugateRegression(fit_intercept=True).fit(unmet, y)
    alone = ConjugateRegression(fit_intercept=True).fit(unmet[:, :1], y)
    _, scale = found.predict(new, return_std=True)
    assert scale[0] == pytest.approx(alone.predict([[10.0]], return_std=True)[1][0], rel=1e-9)
    assert math.isinf(scale[1])
    assert found.covariance_[0, 0] == pytest.approx(alone.covariance_[0, 0], rel=1e-9)
    assert math.isinf(found.covariance_[1, 1])
    assert found.coef_[1] == 0.0
    wide = ConjugateRegression(prior_scale=[None, 1e6], fit_intercept=True).fit(unmet, y)
    assert wide.predict(new, return_std=True)[1][1] == pytest.approx(1e6 * wide.scale_, rel=1e-6)


def test_of_two_equal_columns_only_the_sum_is_known() -> None:
    x = np.arange(1.0, 21.0)
    found = ConjugateRegression(fit_intercept=True).fit(np.column_stack([x, x]), 2.0 * x + 1.0)
    assert_allclose(found.coef_, [1.0, 1.0], rtol=1e-9)  # the least norm of all that add up to 2
    _, scale = found.predict([[3.0, 5.0], [1000.0, -1000.0]], return_std=True)
    assert scale.tolist() == [math.inf, math.inf]
    assert np.isfinite(found.predict([[4.0, 4.0], [500.0, 500.0]], return_std=True)[1]).all()


def test_a_noise_that_is_known_tells_nothing_of_another_column() -> None:
    found = ConjugateRegression(noise_scale=1.0, noise_dof=math.inf).fit([[1.0, 0.0]], [3.0])
    location, scale = found.predict([[1.0, 0.0], [0.0, 1.0]], return_std=True)
    assert location.tolist() == [3.0, 0.0]
    # One reading of noise 1 and the next one's own: sqrt(1 + 1).
    assert scale.tolist() == [pytest.approx(math.sqrt(2.0)), math.inf]


def test_a_constant_column_beside_the_intercept_leaves_both_open() -> None:
    found = ConjugateRegression(fit_intercept=True).fit(np.full((20, 1), 2.0), np.full(20, 10.0))
    # 2 b + a = 10, of least norm: (b, a) in proportion to (2, 1).
    assert (found.coef_[0], found.intercept_) == (pytest.approx(4.0), pytest.approx(2.0))
    location, scale = found.predict([[2.0], [3.0]], return_std=True)
    assert location[0] == pytest.approx(10.0)
    assert (math.isfinite(scale[0]), math.isinf(scale[1])) == (True, True)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"fit_intercept": "no"}, "fit_intercept='no': give True or False"),
        ({"fit_intercept": 2}, "fit_intercept=2"),
        ({"noise_scale": "x"}, "noise_scale='x': numbers are due"),
        ({"noise_dof": "x"}, "noise_dof='x': numbers are due"),
        ({"noise_dof": [1.0, 2.0], "noise_scale": 1.0}, "one number is due"),
        ({"noise_dof": None}, "noise_dof"),
        ({"prior_mean": "x"}, "prior_mean='x': numbers are due"),
        ({"prior_scale": ["x", 1.0, 1.0]}, "prior_scale=.*numbers are due"),
    ],
)
def test_a_setting_of_another_kind_is_refused(settings: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        ConjugateRegression(**settings).fit(X, Y)
