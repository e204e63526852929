"""The likelihoods of all households side by side, as stacked small matrices."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.learning.regression import Array
from jarcast.pooling.reduce import Coordinate, Part


class Stack(Struct, frozen=True):
    """n likelihoods of at most p coordinates each; ``size`` is how many coordinates there are.

    ``place`` (n, p) tells which coordinate stands where, ``size`` for padding; ``information``
    (n, p, p) and ``vector`` (n, p), 0 in the padding.
    """

    place: NDArray[np.int64]
    information: Array
    vector: Array
    size: int

    def told(self, spread: Array) -> tuple[Array, Array]:
        """What all tell of the coordinates' means: information and vector, summed.

        ``spread`` (size + 1,) are variances between households. With D its diagonal and J the
        information of one of them, it tells (I + J D)^-1 J of its mean: its own deviation is
        integrated out.
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
        """Expected squares of the households' deviations from the means, summed, and their number.

        ``mean`` (size + 1,) and ``covariance`` are the posterior of the means. Both (size + 1,).
        """
        kept = self._kept(spread)
        gain = spread[self.place][:, :, None] * kept  # D (I + J D)^-1, the posterior covariance
        here = mean[self.place]
        missed = self.vector - np.einsum("nij,nj->ni", self.information, here)
        off = np.einsum("nij,nj->ni", gain, missed)
        left = np.einsum("nii->ni", gain)
        moved = gain @ self.information
        doubt = covariance[self.place[:, :, None], self.place[:, None, :]]
        unsure = np.einsum("nij,njk,nik->ni", moved, doubt, moved, optimize=True)
        n = self.size + 1
        total = summed(self.place, off**2 + left + unsure, n)
        return total, summed(self.place, np.ones(self.place.shape), n)

    def _kept(self, spread: Array) -> Array:
        """(I + J D)^-1, shape (n, p, p)."""
        p = self.place.shape[1]
        system = np.eye(p) + self.information * spread[self.place][:, None, :]
        return np.asarray(np.linalg.inv(system), dtype=np.float64)


def summed(place: NDArray[np.int64], values: Array, size: int) -> Array:
    """Sums of the values that belong to each place from 0, shape (size,)."""
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
