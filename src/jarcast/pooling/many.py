"""Many households at once: sums by household and crop, and one small solve for each household.

The rows of an arrow are y = f * (hand + crop) + sum of z_j * own_j + noise: ``f`` is 1, for cure
the share of a full cure, for brine the space the produce takes; the z_j are what goes with salt,
jars or the pot. All that a row tells of its household's k crops, hand and own effects stands in
sums of products of f, z and y, each had in one pass (``numpy.bincount``); the households' normal
equations are then stacked and solved together. Cost and memory grow with the rows, and with
households times their most crops squared.

This is the steady kernel of the model: hands do not walk, and no row is judged a slip.
Gelman et al., Bayesian Data Analysis, 3rd ed., chapter 14.
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.learning.regression import Array
from jarcast.pooling.stack import summed

Codes = NDArray[np.int64]
NOISE_DOF = 6.0  # batches the noise believed beforehand is worth, as in learning one household


class Places(Struct, frozen=True):
    """Where the rows of a table go: ``pair`` (rows,) numbers household and crop together.

    ``household`` and ``crop`` (pairs,) tell what a pair is, ``seat`` (pairs,) which of its
    household's crops it is; ``households`` and ``crops`` how many there are, ``most`` the most
    crops of one household.
    """

    pair: Codes
    household: Codes
    crop: Codes
    seat: Codes
    households: int
    crops: int
    most: int

    def part(self, rows: slice) -> "Places":
        """The same pairs for some of the rows."""
        return replace(self, pair=self.pair[rows])


def places(household: Codes, crop: Codes, households: int, crops: int) -> Places:
    """Number the pairs that occur; codes count from 0. No sorting: a flag for each pair there
    could be.
    """
    key = household * crops + crop
    there = np.zeros(households * crops, dtype=bool)
    there[key] = True
    number = np.cumsum(there) - 1
    found = np.flatnonzero(there)
    owner = found // crops
    first = np.searchsorted(owner, np.arange(households))
    seat = np.arange(found.size) - first[owner]
    most = int(seat.max()) + 1 if found.size else 0
    return Places(number[key], owner, found % crops, seat, households, crops, most)


class Sums(Struct, frozen=True):
    """Sufficient statistics of one arrow, each (pairs,) or a list of such.

    ``rows`` counts; ``ff``, ``fy`` and ``yy`` are weighted sums of products; ``fz[j]``, ``zy[j]``
    and ``zz[j][k]`` (k <= j) those with the own effects.
    """

    rows: Array
    ff: Array
    fy: Array
    yy: Array
    fz: list[Array]
    zy: list[Array]
    zz: list[list[Array]]

    def __add__(self, other: "Sums") -> "Sums":
        """The sums of both their rows."""
        return Sums(
            self.rows + other.rows,
            self.ff + other.ff,
            self.fy + other.fy,
            self.yy + other.yy,
            [a + b for a, b in zip(self.fz, other.fz, strict=True)],
            [a + b for a, b in zip(self.zy, other.zy, strict=True)],
            [
                [a + b for a, b in zip(one, two, strict=True)]
                for one, two in zip(self.zz, other.zz, strict=True)
            ],
        )


def sums(
    at: Places,
    y: Array,
    *,
    f: Array | float = 1.0,
    z: Sequence[Array] = (),
    weight: Array | None = None,
) -> Sums:
    """Sufficient statistics of rows y (rows,), in as many passes as there are products.

    ``weight`` (rows,) is the inverse of a row's variance; a row without a value (NaN) or with
    weight 0 tells nothing.
    """
    n = at.household.size
    known = np.isfinite(y)
    whole = bool(known.all())
    here, y = (at.pair, y) if whole else (at.pair[known], y[known])
    z = [one if whole else one[known] for one in z]
    f = f if whole or np.isscalar(f) else np.asarray(f)[known]
    if weight is not None and not whole:
        weight = weight[known]

    def over(values: Array) -> Array:
        return summed(here, values, n)

    wf = f if weight is None else weight * f
    wy = y if weight is None else weight * y
    rows = np.bincount(here, minlength=n).astype(np.float64)
    unit = np.isscalar(wf)
    return Sums(
        rows=rows,
        ff=rows * (wf * f) if unit else over(np.asarray(wf * f)),
        fy=over(f * wy),
        yy=over(wy * y),
        fz=[over(one * wf) for one in z],
        zy=[over(one * wy) for one in z],
        zz=[[over(_weighted(z[j] * z[k], weight)) for k in range(j + 1)] for j in range(len(z))],
    )


def _weighted(values: Array, weight: Array | None) -> Array:
    return values if weight is None else values * weight


class Solved(Struct, frozen=True):
    """Each household's posterior: mean (households, p), covariance (households, p, p).

    The p places are the hand, the crops by seat (0 where a household has fewer), the own effects.
    ``noise`` (households,) multiplies the variance the weights were made with.
    """

    mean: Array
    covariance: Array
    noise: Array


def solve(
    at: Places,
    told: Sums,
    *,
    hand: float,
    crops: Array,
    own: Sequence[float] = (),
    rounds: int = 2,
) -> Solved:
    """Solve every household's regression at once.

    ``hand`` and ``own`` are prior variances; ``crops`` (crops, crops) is the prior covariance of
    the crops' values. The noise is learned over ``rounds`` by expectation-maximisation, what the
    weights were made with being worth NOISE_DOF batches.
    """
    J, v = _equations(at, told)
    D = _prior(at, hand, crops, own)
    rows = summed(at.household, told.rows, at.households)
    squares = summed(at.household, told.yy, at.households)
    noise = np.ones(at.households)
    eye = np.eye(J.shape[1])
    for turn in range(rounds):
        J1, v1 = J / noise[:, None, None], v / noise[:, None]
        both = np.linalg.solve(eye + D @ J1, np.concatenate([D, D @ v1[:, :, None]], axis=2))
        covariance, mean = both[:, :, :-1], both[:, :, -1]
        if turn == rounds - 1:
            break
        fitted = np.einsum("hi,hij,hj->h", mean, J, mean, optimize=True)
        missed = squares - 2.0 * np.einsum("hi,hi->h", mean, v) + fitted
        unsure = np.einsum("hij,hji->h", J, covariance)
        noise = (NOISE_DOF + missed + unsure) / (NOISE_DOF + rows)
    return Solved(mean, covariance, noise)


def _equations(at: Places, told: Sums) -> tuple[Array, Array]:
    """Normal equations of each household: J (households, p, p) and v (households, p)."""
    q = len(told.fz)
    p = 1 + at.most + q
    J, v = np.zeros((at.households, p, p)), np.zeros((at.households, p))
    h, seat = at.household, 1 + at.seat

    def over(values: Array) -> Array:
        return summed(h, values, at.households)

    J[:, 0, 0], v[:, 0] = over(told.ff), over(told.fy)
    J[h, seat, seat] = J[h, 0, seat] = J[h, seat, 0] = told.ff
    v[h, seat] = told.fy
    for j in range(q):
        place = 1 + at.most + j
        J[:, 0, place] = J[:, place, 0] = over(told.fz[j])
        J[h, seat, place] = J[h, place, seat] = told.fz[j]
        v[:, place] = over(told.zy[j])
        for k in range(j + 1):
            other = 1 + at.most + k
            J[:, place, other] = J[:, other, place] = over(told.zz[j][k])
    return J, v


def _prior(at: Places, hand: float, crops: Array, own: Sequence[float]) -> Array:
    """Prior covariance of each household's p places."""
    q = len(own)
    p = 1 + at.most + q
    seats = np.full((at.households, at.most), -1)
    seats[at.household, at.seat] = at.crop
    there = seats >= 0
    D = np.zeros((at.households, p, p))
    D[:, 0, 0] = hand
    between = crops[seats[:, :, None], seats[:, None, :]]
    D[:, 1 : 1 + at.most, 1 : 1 + at.most] = between * (there[:, :, None] & there[:, None, :])
    for j, variance in enumerate(own):
        D[:, 1 + at.most + j, 1 + at.most + j] = variance
    return D
