"""Crops in as few columns as the rows tell apart.

A crop's distance from its centre is the sum of several effects, and most of their combinations no
row speaks of. Independent coefficients of one variance stay so when they are turned: turned so that
those combinations get columns of zeros, the crops need the other columns alone, and nothing is
lost. What no row speaks of keeps its prior.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from jarcast.learning.regression import Array

_NEGLIGIBLE = 1e-14  # of the largest eigenvalue: rounding, no direction of its own


class Thinned:
    """The columns of X (n, p), each crop group turned: X (n, q) with q <= p.

    ``sizes`` are the columns of each group, those in no crop group first, and ``unseen`` how many
    each group has lost.
    """

    def __init__(self, X: Array, crops: Sequence[NDArray[np.intp]]) -> None:
        """``crops`` are the groups: indices of columns whose coefficients share a variance."""
        p = X.shape[1]
        in_none = np.ones(p, dtype=bool)
        for crop in crops:
            in_none[crop] = False
        others = in_none.nonzero()[0]
        seen, unseen = [_placed(np.eye(len(others)), others, p)], [np.zeros((p, 0))]
        for crop in crops:
            part = X[:, crop]
            values, turn = np.linalg.eigh(part.T @ part)  # ascending
            none = int(np.searchsorted(values, _NEGLIGIBLE * values.max(initial=0.0), "right"))
            seen.append(_placed(turn[:, none:], crop, p))
            unseen.append(_placed(turn[:, :none], crop, p))
        self.sizes = [part.shape[1] for part in seen]
        self.unseen = [part.shape[1] for part in unseen]
        self._seen, self._unseen = np.hstack(seen), np.hstack(unseen)
        self.X = X @ self._seen

    def turned_back(self, mean: Array, root: Array, prior: Array) -> tuple[Array, Array]:
        """Mean (p,) and root (p, p) of the coefficients themselves.

        ``mean`` (q,) and ``root`` (q, k) are those of the turned ones, ``prior`` (g,) the variance
        of each group. Coefficients after the q stay as they are.
        """
        (p, q), k = self._seen.shape, root.shape[1]
        found = np.zeros((p + len(mean) - q, k + self._unseen.shape[1]))
        found[:p, :k] = self._seen @ root[:q]
        found[:p, k:] = self._unseen * np.sqrt(np.repeat(prior, self.unseen))
        found[p:, :k] = root[q:]
        return np.concatenate([self._seen @ mean[:q], mean[q:]]), found


def _placed(turn: Array, rows: NDArray[np.intp], p: int) -> Array:
    """A turn of some coefficients among all p."""
    found = np.zeros((p, turn.shape[1]))
    found[rows] = turn
    return found
