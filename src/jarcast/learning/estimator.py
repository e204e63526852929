"""The conjugate regression as a scikit-learn estimator.

It is imported only on request: a forecast needs the kernel alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, Self, overload

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import _check_sample_weight, check_is_fitted, validate_data

from jarcast.learning.arrays import Array
from jarcast.learning.fit.kernel import Posterior, posterior


class ConjugateRegression(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Bayesian linear regression with a normal / inverse-gamma prior, solved in closed form.

    It adds no intercept unless asked: give X a column of ones, with its own prior, or set
    ``fit_intercept``, which a ``StandardScaler`` before it needs: that makes a column of ones zero.

    Where flat priors and the data leave coefficients open (fewer rows than columns, columns that
    depend on one another, a column that is always 0), they are those of least norm, the intercept
    among them. Nothing is known along such a direction: the scale of a forecast that reaches along
    it is inf, and so is ``covariance_`` for its coefficients. Other forecasts are not touched.

    Parameters
    ----------
    prior_mean : float or array of shape (n_features,), default 0
        Prior centre of each coefficient; ignored where the prior is flat.
    prior_scale : None, float or array or list of shape (n_features,), default None
        Prior standard deviation in units of the noise scale; None or inf is flat, for all or,
        as in [None, 1.0], for one of them.
    noise_scale : float or None, default None
        Prior guess of the noise scale, worth ``noise_dof`` observations.
    noise_dof : float, default 0
        Prior degrees of freedom of the noise; inf takes ``noise_scale`` as known.
    fit_intercept : bool, default False
        Whether to add an intercept, whose prior is flat. ``prior_mean`` and ``prior_scale`` are
        those of the features alone.

    Attributes
    ----------
    coef_ : ndarray of shape (n_features,)
    intercept_ : float
        0 where none is fitted.
    feature_names_in_ : ndarray of shape (n_features,)
        Names of the columns of X, where X is a DataFrame with texts for names.
    scale_ : float
        Noise scale; with a flat prior sqrt(RSS / (n - p)). inf where n <= p leaves it unknown.
    dof_ : float
        Degrees of freedom of the Student-t forecast; what is left open takes none.
    covariance_ : ndarray of shape (n_features, n_features)
        Scale matrix of the Student-t posterior of the coefficients, the intercept aside; inf or
        -inf where nothing is known of them.
    log_evidence_ : float
        Log marginal likelihood; nan where a flat prior leaves it undefined.

    Gelman et al., Bayesian Data Analysis, 3rd ed., chapter 14.
    """

    def __init__(
        self,
        prior_mean: ArrayLike = 0.0,
        prior_scale: ArrayLike | Sequence[float | None] | None = None,
        noise_scale: float | None = None,
        noise_dof: float = 0.0,
        fit_intercept: bool = False,
    ) -> None:
        """Store the settings as given; ``fit`` checks them."""
        self.prior_mean = prior_mean
        self.prior_scale = prior_scale
        self.noise_scale = noise_scale
        self.noise_dof = noise_dof
        self.fit_intercept = fit_intercept

    def fit(self, X: ArrayLike, y: ArrayLike, sample_weight: ArrayLike | None = None) -> Self:
        """Learn from X (n, p) and y (n,); weights (n,) are relative precisions, 0 to ignore a row.

        Raises ValueError when shapes, priors, weights or settings do not fit.
        """
        checked = validate_data(self, X, y, dtype=np.float64, y_numeric=True)
        rows: Array = checked[0]
        target = np.asarray(checked[1], dtype=np.float64)
        p = rows.shape[1]
        mean, scale = self._checked_settings(p)
        if self.fit_intercept:
            rows, mean, scale = _with_ones(rows), np.append(mean, 0.0), np.append(scale, np.inf)
        weights = None
        if sample_weight is not None:
            weights = _check_sample_weight(sample_weight, rows, dtype=np.float64)
            if (weights < 0).any():
                raise ValueError("sample_weight holds negative weights; a precision is 0 or more")
            kept = weights > 0
            rows, target, weights = rows[kept], target[kept], weights[kept]
        self._posterior: Posterior = posterior(
            rows,
            target,
            weights=weights,
            prior_mean=mean,
            prior_scale=scale,
            noise_scale=None if self.noise_scale is None else float(self.noise_scale),
            noise_dof=float(self.noise_dof),
        )
        self.coef_ = self._posterior.mean[:p]
        self.intercept_ = float(self._posterior.mean[p]) if self.fit_intercept else 0.0
        self.scale_ = self._posterior.scale
        self.dof_ = self._posterior.dof
        self.log_evidence_ = self._posterior.log_evidence
        self.covariance_ = self._posterior.covariance()[:p, :p]
        return self

    @overload
    def predict(self, X: ArrayLike, return_std: Literal[False] = False) -> Array: ...

    @overload
    def predict(self, X: ArrayLike, return_std: Literal[True]) -> tuple[Array, Array]: ...

    @overload
    def predict(self, X: ArrayLike, return_std: bool) -> Array | tuple[Array, Array]: ...

    def predict(self, X: ArrayLike, return_std: bool = False) -> Array | tuple[Array, Array]:
        """Location of the forecast at each row of X, shape (n,), and its Student-t scale if asked.

        The scale is that of a new observation of unit weight; its degrees of freedom are ``dof_``.
        """
        check_is_fitted(self)
        rows: Array = validate_data(self, X, dtype=np.float64, reset=False)
        if return_std:
            asked = _with_ones(rows) if self.fit_intercept else rows
            return self._posterior.predict(asked)
        location: Array = rows @ self.coef_ + self.intercept_
        return location

    def _checked_settings(self, p: int) -> tuple[Array, Array]:
        mean = _numbers("prior_mean", self.prior_mean)
        scale = _numbers("prior_scale", _flat_as_inf(self.prior_scale))
        for name, value in (("prior_mean", mean), ("prior_scale", scale)):
            if value.shape not in ((), (p,)):
                raise ValueError(f"{name} has shape {value.shape}; a scalar or ({p},) is due")
        if not np.isfinite(mean).all():
            raise ValueError("prior_mean must be finite")
        if not (scale > 0).all():
            raise ValueError("prior_scale must be positive (None or inf for a flat prior)")
        dof, noise = _number("noise_dof", self.noise_dof), 0.0
        if self.noise_scale is not None:
            noise = _number("noise_scale", self.noise_scale)
        if not dof >= 0 or (dof > 0 and not 0 < noise < np.inf):
            raise ValueError("noise_dof needs to be 0 or more, and a positive noise_scale with it")
        if not isinstance(self.fit_intercept, bool | np.bool_):
            raise ValueError(f"fit_intercept={self.fit_intercept!r}: give True or False")
        return np.broadcast_to(mean, (p,)), np.broadcast_to(scale, (p,))


def _flat_as_inf(given: Any) -> Any:
    """Prior scales in which None, for all or one of them, is inf."""
    if given is None:
        return np.inf
    flat = np.asarray(given, dtype=object)
    return np.where(flat == None, np.inf, flat)  # noqa: E711


def _numbers(name: str, given: Any) -> Array:
    """A setting as an array of numbers. Raises ValueError for what is none."""
    try:
        return np.asarray(given, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ValueError(f"{name}={given!r}: numbers are due ({error})") from error


def _number(name: str, given: Any) -> float:
    found = _numbers(name, given)
    if found.shape:
        raise ValueError(f"{name}={given!r}: one number is due")
    return float(found)


def _with_ones(rows: Array) -> Array:
    return np.column_stack([rows, np.ones(len(rows))])
