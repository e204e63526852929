"""The likelihoods of all households side by side, as stacked small matrices."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.learning.arrays import Array
from jarcast.pooling.reduce import Coordinate, Part


class Stack(Struct, frozen=True):
    """n likelihoods of at most p coordinates each, out of ``size`` coordinates in all.

    ``place`` (n, p) says which coordinate stands where, ``size`` meaning padding; ``information``
    (n, p, p) and ``vector`` (n, p) are 0 in the padding.
    """

    place: NDArray[np.int64]
    information: Array
    vector: Array
    size: int

    def combined(self, spread: Array) -> tuple[Array, Array]:
        """What all households say of the coordinates' means: information and vector, summed.

        ``spread`` (size + 1,) holds variances between households. With D a diagonal matrix of them
        and J a household's information, that household contributes (I + J D)^-1 J: its own
        deviation from the means is integrated out.
        """
        kept = self._kept(spread)
        information = kept @ self.information
        information = 0.5 * (information + information.transpose(0, 2, 1))
        vector = np.einsum("nij,nj->ni", kept, self.vector)
        n = self.size + 1
        flat = self.place[:, :, None] * n + self.place[:, None, :]
        together = summed(flat, information, n * n).reshape(n, n)
        return together, summed(self.place, vector, n)

    def squares(self, spread: Array, mean: Array, covariance: Array) -> tuple[Array, Array]:
        """Expected squared deviations of households from the means, summed, and their number.

        ``mean`` (size + 1,) and ``covariance`` are the posterior of the means. Returns two arrays
        (size + 1,).
        """
        kept = self._kept(spread)
        gain = spread[self.place][:, :, None] * kept  # D (I + J D)^-1, the posterior covariance
        here = mean[self.place]
        residual = self.vector - np.einsum("nij,nj->ni", self.information, here)
        off = np.einsum("nij,nj->ni", gain, residual)
        left = np.einsum("nii->ni", gain)
        moved = gain @ self.information
        unknown = covariance[self.place[:, :, None], self.place[:, None, :]]
        unsure = np.einsum("nij,njk,nik->ni", moved, unknown, moved, optimize=True)
        n = self.size + 1
        total = summed(self.place, off**2 + left + unsure, n)
        return total, summed(self.place, np.ones(self.place.shape), n)

    def _kept(self, spread: Array) -> Array:
        """(I + J D)^-1, shape (n, p, p)."""
        p = self.place.shape[1]
        system = np.eye(p) + self.information * spread[self.place][:, None, :]
        return np.asarray(np.linalg.inv(system), dtype=np.float64)


def summed(place: NDArray[np.int64], values: Array, size: int) -> Array:
    """Sums of the values at each place, places counting from 0, shape (size,)."""
    return np.bincount(place.ravel(), values.ravel(), size).astype(np.float64)


def stack_parts(parts: Sequence[Part], coordinates: Sequence[Coordinate]) -> Stack:
    """Stack parts over these coordinates."""
    index = {coordinate: i for i, coordinate in enumerate(coordinates)}
    n, p = len(parts), max((len(part.coordinates) for part in parts), default=0)
    place = np.full((n, p), len(coordinates), dtype=np.int64)
    information, vector = np.zeros((n, p, p)), np.zeros((n, p))
    for i, part in enumerate(parts):
        size = len(part.coordinates)
        place[i, :size] = [index[coordinate] for coordinate in part.coordinates]
        information[i, :size, :size] = part.information
        vector[i, :size] = part.vector
    return Stack(place, information, vector, len(coordinates))
