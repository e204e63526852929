"""Conjugate linear regression in plain numpy: the linear algebra under every link.

Model: y = X b + e, e_i ~ N(0, s^2 / w_i), b_j ~ N(m_j, (s t_j)^2) or flat, and s^2 known, or
inverse-gamma with ``noise_dof`` degrees of freedom about ``noise_scale``^2, or flat in log s.
Closed forms: Gelman et al., Bayesian Data Analysis, 3rd ed., chapter 14; Murphy, Machine Learning:
A Probabilistic Perspective, section 7.6.3.

In ``posterior`` the prior enters as rows below the data. The whole is solved by QR of scaled
columns, not by normal equations, and refined with residuals in extended precision (Björck,
Numerical Methods for Least Squares Problems, 1996, section 2.9). Where columns depend on one
another, scaled columns tell which, whatever their units. ``proper_posterior`` is for
learning, where every variance is known and every prior proper: it solves the normal equations in
units of the prior, by the Cholesky factor of X'X + I and its inverse.
"""

import math

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.learning.arrays import Array

_EPS = float(np.finfo(np.float64).eps)
_LOG_2PI = math.log(2.0 * math.pi)
_FAR_APART = 1024.0  # times that columns may differ in size before their units hide one another


class Unseen(Struct, frozen=True):
    """Directions of which data and prior say nothing: what they hold is unknown without end.

    ``basis`` (p, k) of the directions, orthonormal in columns times ``unit`` (p,); ``never`` (p,)
    the columns that hold nothing but 0; ``least`` the share of a row along these directions from
    which on it is more than rounding.
    """

    basis: Array
    unit: Array
    never: NDArray[np.bool_]
    least: float

    def along(self, X: Array) -> NDArray[np.bool_]:
        """Whether each row of X (n, p) reaches along one of the directions, shape (n,)."""
        scaled = X * self.unit
        part = np.linalg.norm(scaled @ self.basis, axis=1)
        far = part > self.least * np.linalg.norm(scaled, axis=1)
        return np.asarray(far | (X[:, self.never] != 0.0).any(axis=1))

    def covariance(self) -> Array:
        """inf or -inf where nothing is known of a variance or a covariance, 0 elsewhere, (p, p)."""
        found = self.basis @ self.basis.T
        found[np.ix_(self.never, self.never)] += np.eye(int(self.never.sum()))
        return np.where(np.abs(found) > self.least, np.copysign(np.inf, found), 0.0)


class Posterior(Struct, frozen=True):
    """What a regression has learned.

    ``mean`` (p,) of the coefficients; ``root`` (p, k) with root @ root.T their covariance in units
    of the squared noise scale; ``scale`` the posterior estimate of the noise scale; ``dof`` the
    degrees of freedom of the Student-t forecast (inf where the noise is known); ``log_evidence``
    the log marginal likelihood, nan where a flat prior leaves it undefined; ``unseen`` what flat
    priors and the data leave wholly open, None where there is nothing.
    """

    mean: Array
    root: Array
    scale: float
    dof: float
    log_evidence: float
    unseen: Unseen | None = None

    def covariance(self) -> Array:
        """Covariance scale of the coefficients, shape (p, p); inf where nothing is known."""
        if math.isinf(self.scale):
            return np.full((self.mean.size,) * 2, np.inf)
        known = (self.root @ self.root.T) * self.scale**2
        return known if self.unseen is None else known + self.unseen.covariance()

    def predict(self, X: Array) -> tuple[Array, Array]:
        """Location and scale of the Student-t forecast at each row of X, both shape (n,).

        The scale is that of a new observation of unit weight: inf along what was never seen.
        """
        spread = X @ self.root
        scale = self.scale * np.sqrt(1.0 + np.einsum("ij,ij->i", spread, spread))
        if self.unseen is not None:
            scale = np.where(self.unseen.along(X), np.inf, scale)
        return X @ self.mean, scale


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
    ``noise_dof=inf`` takes ``noise_scale`` as known. Where rows and priors do not settle all
    coefficients, as with fewer rows than flat ones, ``mean`` is the solution of least norm and
    ``unseen`` tells what is open.
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
    mean, root, log_det, unseen = _least_squares(A, b, refine=not held.all())
    residual = b - A @ mean
    misfit = float(residual @ residual)
    flat = p - int(held.sum())
    settled = flat if unseen is None else flat - unseen.basis.shape[1] - int(unseen.never.sum())
    dof, scale, squares = _noise(misfit, n, settled, noise_scale, noise_dof)
    evidence = math.nan
    if not flat and (noise_dof > 0 or math.isinf(noise_dof)):
        log_ratio = -2.0 * float(np.log(scale0).sum()) - log_det  # log |prior| - log |posterior|
        log_weights = 2.0 * float(np.log(root_w).sum())
        evidence = _log_evidence(n, misfit, squares, log_ratio, log_weights, scale, noise_dof)
    return Posterior(mean, root, scale, dof, evidence, unseen)


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


def _least_squares(
    A: Array, b: Array, *, refine: bool
) -> tuple[Array, Array, float, Unseen | None]:
    """Solution, root of (A'A)^-1, log |A'A|, and what is left open."""
    rows, p = A.shape
    size = np.sqrt(np.einsum("ij,ij->j", A, A))
    # Powers of two scale without rounding.
    unit = np.exp2(-np.round(np.log2(np.where(size > 0, size, 1.0))))
    scaled = A * unit
    if rows >= p:
        Q, R = np.linalg.qr(scaled)
        diagonal = np.abs(np.diag(R))
        if p == 0 or diagonal.min() > _EPS * max(rows, p) * diagonal.max():
            x = _back(R, Q.T @ b)
            if refine:
                x = _refined(scaled, b, Q, R, x)
            root = _back(R, np.eye(p)) * unit[:, None]
            log_det = 2.0 * float(np.log(diagonal).sum() - np.log(unit).sum())
            return x * unit, root, log_det, None
    x, root, unseen = _least_norm(scaled, b, unit)
    return x, root, math.nan, unseen


def _least_norm(scaled: Array, b: Array, unit: Array) -> tuple[Array, Array, Unseen | None]:
    """The solution of least norm where columns depend on one another, its root, what is open.

    ``scaled`` are the columns times ``unit``. Their singular values tell the directions that are
    open; what the solution has along them, in the columns' own units, is taken off it.
    """
    rows, p = scaled.shape
    never = ~scaled.any(axis=0)
    Q, R = np.linalg.qr(scaled[:, ~never])
    U, s, Vt = np.linalg.svd(R, full_matrices=True)
    V = np.zeros((p, Vt.shape[0]))
    V[~never] = Vt.T
    rounding = _EPS * max(rows, p)
    rank = int((s > rounding * s.max(initial=0.0)).sum())
    root = np.asarray(V[:, :rank] / s[:rank] * unit[:, None], dtype=np.float64)
    inverse = root @ (Q @ U[:, :rank]).T
    if rank == p:
        return inverse @ b, root, None
    least = max(math.sqrt(_EPS), 8.0 * rounding * s[0] / s[rank - 1] if rank else 0.0)
    open_ = _in_units(V[:, rank:], unit, least)
    x = np.zeros(p)
    for _ in range(3):  # what the first round leaves by rounding, the others mend
        x = x + inverse @ (b - scaled @ (x / unit))
        x = x - open_ @ (open_.T @ x)
    return x, root, Unseen(V[:, rank:], unit, np.asarray(never), least)


def _in_units(basis: Array, unit: Array, least: float) -> Array:
    """The directions ``basis`` * ``unit``, each column in its own unit, as an orthonormal basis.

    Directions of units far apart would hide one another: they are first told apart by elimination,
    and what is rounding in them is made 0.
    """
    if unit.max() > _FAR_APART * unit.min():
        basis = basis.copy()
        for place in range(basis.shape[1]):
            row, column = divmod(int(np.abs(basis[:, place:]).argmax()), basis.shape[1] - place)
            basis[:, [place, place + column]] = basis[:, [place + column, place]]
            pivot = basis[:, place] / basis[row, place]
            basis -= np.outer(pivot, basis[row])
            basis[:, place] = pivot
        basis[np.abs(basis) < least] = 0.0
    return np.asarray(np.linalg.qr(basis * unit[:, None])[0])


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
