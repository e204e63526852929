"""Conjugate linear regression in plain numpy: the linear algebra under every link.

Model: y = X b + e, e_i ~ N(0, s^2 / w_i), b_j ~ N(m_j, (s t_j)^2) or flat, and s^2 known, or
inverse-gamma with ``noise_dof`` degrees of freedom about ``noise_scale``^2, or flat in log s.
Closed forms: Gelman et al., Bayesian Data Analysis, 3rd ed., chapter 14; Murphy, Machine Learning:
A Probabilistic Perspective, section 7.6.3.

In ``posterior`` the prior enters as rows below the data. The whole is solved by QR of scaled
columns, not by normal equations, and refined with residuals in extended precision (Björck,
Numerical Methods for Least Squares Problems, 1996, section 2.9). ``proper_posterior`` is for
learning, where every variance is known and every prior proper: it solves the normal equations in
units of the prior, by the Cholesky factor of X'X + I and its inverse.
"""

import math

import numpy as np
from msgspec import Struct

from jarcast.learning.arrays import Array

_EPS = float(np.finfo(np.float64).eps)
_LOG_2PI = math.log(2.0 * math.pi)


class Posterior(Struct, frozen=True):
    """What a regression has learned.

    ``mean`` (p,) of the coefficients; ``root`` (p, k) with root @ root.T their covariance in units
    of the squared noise scale; ``scale`` the posterior estimate of the noise scale; ``dof`` the
    degrees of freedom of the Student-t forecast (inf where the noise is known); ``log_evidence``
    the log marginal likelihood, nan where a flat prior leaves it undefined.
    """

    mean: Array
    root: Array
    scale: float
    dof: float
    log_evidence: float

    def covariance(self) -> Array:
        """Covariance scale of the coefficients, shape (p, p)."""
        return (self.root @ self.root.T) * self.scale**2

    def predict(self, X: Array) -> tuple[Array, Array]:
        """Location and scale of the Student-t forecast at each row of X, both shape (n,).

        The scale is that of a new observation of unit weight.
        """
        spread = X @ self.root
        return X @ self.mean, self.scale * np.sqrt(1.0 + np.einsum("ij,ij->i", spread, spread))


def posterior(
    X: Array,
    y: Array,
    *,
    weights: Array | None = None,
    prior_mean: Array | float = 0.0,
    prior_scale: Array | float | None = None,
    noise_scale: float | None = None,
    noise_dof: float = 0.0,
) -> Posterior:
    """Posterior of the regression of y (n,) on X (n, p).

    ``weights`` (n,) are relative precisions, positive; ``prior_mean`` and ``prior_scale`` are
    scalars or (p,), the scale in units of the noise scale, ``inf`` or None meaning flat.
    ``noise_dof=inf`` takes ``noise_scale`` as known. With fewer rows than flat coefficients the
    solution is the one of least norm.
    """
    n, p = X.shape
    mean0 = np.broadcast_to(np.asarray(prior_mean, dtype=float), (p,))
    scale0 = np.broadcast_to(
        np.asarray(np.inf if prior_scale is None else prior_scale, dtype=float), (p,)
    )
    held = np.isfinite(scale0)
    root_w = np.ones(n) if weights is None else np.sqrt(weights)
    A = np.vstack([X * root_w[:, None], np.diag(1.0 / scale0)[held]])
    b = np.concatenate([y * root_w, (mean0 / scale0)[held]])
    mean, root, log_det, rank = _least_squares(A, b, refine=not held.all())
    residual = b - A @ mean
    misfit = float(residual @ residual)
    flat = p - int(held.sum())
    dof, scale, squares = _noise(misfit, n, min(flat, rank), noise_scale, noise_dof)
    evidence = math.nan
    if not flat and (noise_dof > 0 or math.isinf(noise_dof)):
        log_ratio = -2.0 * float(np.log(scale0).sum()) - log_det  # log |prior| - log |posterior|
        log_weights = 2.0 * float(np.log(root_w).sum())
        evidence = _log_evidence(n, misfit, squares, log_ratio, log_weights, scale, noise_dof)
    return Posterior(mean, root, scale, dof, evidence)


def proper_posterior(X: Array, y: Array, variance: Array, prior_variance: Array) -> Posterior:
    """Posterior of the regression of y (n,) on X (n, p) where all variances are known.

    ``variance`` (n,) is that of the rows, ``prior_variance`` (p,) that of the coefficients about 0.
    In units of the prior the precision is the unit matrix plus a positive matrix, so its Cholesky
    factor is as accurate as the slower QR of ``posterior``.
    Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, section 2.1.
    """
    n, p = X.shape
    size = np.sqrt(prior_variance)
    scaled = X * size / np.sqrt(variance)[:, None]
    target = y / np.sqrt(variance)
    precision = scaled.T @ scaled
    precision.flat[:: p + 1] += 1.0
    lower = np.asarray(np.linalg.cholesky(precision), dtype=np.float64)
    root = np.linalg.inv(lower).T
    mean = root @ (root.T @ (scaled.T @ target))
    misfit = float(target @ (target - scaled @ mean))
    log_det = 2.0 * float(np.log(lower.diagonal()).sum()) + float(np.log(variance).sum())
    evidence = -0.5 * (n * _LOG_2PI + log_det + misfit)
    return Posterior(size * mean, size[:, None] * root, 1.0, math.inf, evidence)


def _noise(
    misfit: float, n: int, flat: int, noise_scale: float | None, noise_dof: float
) -> tuple[float, float, float]:
    """Degrees of freedom, noise scale and prior sum of squares."""
    if math.isinf(noise_dof):
        return math.inf, 1.0 if noise_scale is None else noise_scale, 0.0
    squares = noise_dof * (noise_scale or 0.0) ** 2
    dof = noise_dof + n - flat
    if dof <= 0:  # as many coefficients as rows and no prior: the noise cannot be estimated
        return 0.0, math.inf, squares
    return dof, math.sqrt((squares + misfit) / dof), squares


def _log_evidence(
    n: int,
    misfit: float,
    squares: float,
    log_ratio: float,
    log_weights: float,
    scale: float,
    noise_dof: float,
) -> float:
    half = 0.5 * (log_ratio + log_weights)
    if math.isinf(noise_dof):
        return half - 0.5 * (n * (_LOG_2PI + 2.0 * math.log(scale)) + misfit / scale**2)
    a0, a1 = 0.5 * noise_dof, 0.5 * (noise_dof + n)
    b0, b1 = 0.5 * squares, 0.5 * (squares + misfit)
    gammas = math.lgamma(a1) - math.lgamma(a0)
    return half - 0.5 * n * _LOG_2PI + gammas + a0 * math.log(b0) - a1 * math.log(b1)


def _least_squares(A: Array, b: Array, *, refine: bool) -> tuple[Array, Array, float, int]:
    """Solution, root of (A'A)^-1, log |A'A| and rank."""
    rows, p = A.shape
    size = np.sqrt(np.einsum("ij,ij->j", A, A))
    # Powers of two scale without rounding.
    unit = np.exp2(-np.round(np.log2(np.where(size > 0, size, 1.0))))
    if rows >= p:
        scaled = A * unit
        Q, R = np.linalg.qr(scaled)
        diagonal = np.abs(np.diag(R))
        if p == 0 or diagonal.min() > _EPS * max(rows, p) * diagonal.max():
            x = _back(R, Q.T @ b)
            if refine:
                x = _refined(scaled, b, Q, R, x)
            root = _back(R, np.eye(p)) * unit[:, None]
            log_det = 2.0 * float(np.log(diagonal).sum() - np.log(unit).sum())
            return x * unit, root, log_det, p
    U, s, Vt = np.linalg.svd(A, full_matrices=False)
    keep = s > _EPS * max(rows, p) * (s[0] if s.size else 0.0)
    root = np.asarray(Vt[keep].T / s[keep], dtype=np.float64)
    return root @ (U[:, keep].T @ b), root, math.nan, int(keep.sum())


def _back(R: Array, rhs: Array) -> Array:
    return np.asarray(np.linalg.solve(R, rhs)) if R.size else np.zeros((0, *rhs.shape[1:]))


def _refined(A: Array, b: Array, Q: Array, R: Array, x: Array) -> Array:
    """Björck's refinement, of the solution and the residual together."""
    exact_A, exact_b = A.astype(np.longdouble), b.astype(np.longdouble)
    xl = x.astype(np.longdouble)
    r = exact_b - exact_A @ xl
    for _ in range(3):
        f = (exact_b - r - exact_A @ xl).astype(np.float64)
        g = (-(exact_A.T @ r)).astype(np.float64)
        step = _back(R, Q.T @ f - np.linalg.solve(R.T, g))
        if not np.isfinite(step).all():
            break
        xl = xl + step
        r = r + (f - A @ step)
    refined: Array = xl.astype(np.float64)
    return refined
