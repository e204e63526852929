"""A reduced basis for the crops: as few columns as the rows can tell apart.

A crop's distance from its centre is the sum of several effects, and most of their combinations
occur in no row. Independent coefficients of one variance stay independent, with the same variance,
under a rotation: rotated so that the combinations without rows get columns of zeros, the crops need
only the other columns, and nothing is lost. Combinations without rows keep their prior.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from jarcast.learning.arrays import Array

_NEGLIGIBLE = 1e-14  # of the largest eigenvalue: below it an eigenvalue is rounding


class ReducedBasis:
    """The columns of X (n, p) with each crop group rotated: X (n, q), q <= p.

    ``sizes`` are the numbers of columns of the groups, those in no crop group first; ``unseen``
    the numbers of columns that each group has lost.
    """

    def __init__(self, X: Array, crops: Sequence[NDArray[np.intp]]) -> None:
        """``crops`` are the groups: indices of columns whose coefficients share a variance."""
        p = X.shape[1]
        in_none = np.ones(p, dtype=bool)
        for crop in crops:
            in_none[crop] = False
        others = in_none.nonzero()[0]
        seen, unseen = [_embedded(np.eye(len(others)), others, p)], [np.zeros((p, 0))]
        for crop in crops:
            part = X[:, crop]
            values, rotation = np.linalg.eigh(part.T @ part)  # ascending
            none = int(np.searchsorted(values, _NEGLIGIBLE * values.max(initial=0.0), "right"))
            seen.append(_embedded(rotation[:, none:], crop, p))
            unseen.append(_embedded(rotation[:, :none], crop, p))
        self.sizes = [part.shape[1] for part in seen]
        self.unseen = [part.shape[1] for part in unseen]
        self._seen, self._unseen = np.hstack(seen), np.hstack(unseen)
        self.X = X @ self._seen

    def expanded(self, mean: Array, root: Array, prior: Array) -> tuple[Array, Array]:
        """Mean (p,) and root (p, p) of the original coefficients.

        ``mean`` (q,) and ``root`` (q, k) are those of the rotated ones, ``prior`` (g,) the variance
        of each group. Coefficients after the first q stay as they are.
        """
        (p, q), k = self._seen.shape, root.shape[1]
        found = np.zeros((p + len(mean) - q, k + self._unseen.shape[1]))
        found[:p, :k] = self._seen @ root[:q]
        found[:p, k:] = self._unseen * np.sqrt(np.repeat(prior, self.unseen))
        found[p:, :k] = root[q:]
        return np.concatenate([self._seen @ mean[:q], mean[q:]]), found


def _embedded(vectors: Array, rows: NDArray[np.intp], p: int) -> Array:
    """Vectors over some of the coefficients as vectors over all p."""
    found = np.zeros((p, vectors.shape[1]))
    found[rows] = vectors
    return found
