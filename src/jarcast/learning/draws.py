"""Drawing from what was learned."""

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect, Loadings
from jarcast.learning.block import Block
from jarcast.learning.design import walked
from jarcast.learning.learned import Learned
from jarcast.learning.regression import Array
from jarcast.learning.robust import WIDENING

# Draws that share a noise size, which is slow to draw. The sd of quantiles from 0.1 to 0.9975 over
# 1,500 seeds is within 3 % of where none are shared; with 8 the far ones lose a tenth.
_SHARING = 4


class Speeds(Struct, frozen=True):
    """Which draws come from which of a block's walking speeds: so many from each, in a row.

    ``parts`` are their places, one a level of the block. ``order`` (draws,) says where they are put
    in the end, None for where they are.
    """

    parts: tuple[slice, ...]
    order: NDArray[np.intp] | None = None

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return int(self.parts[-1].stop)

    def placed(self, drawn: Array) -> Array:
        """Draws (..., draws) made in a row, where they are put in the end."""
        return drawn if self.order is None else drawn[..., self.order]

    def of_each(self) -> NDArray[np.intp]:
        """The number of each draw's level, shape (draws,)."""
        counts = [part.stop - part.start for part in self.parts]
        numbers = np.repeat(np.arange(len(counts)), counts)
        return numbers if self.order is None else numbers[self.order]


def draw_effects(
    block: Block,
    wanted: Sequence[Loadings],
    draws: int,
    rng: np.random.Generator,
    *,
    shuffled: bool = False,
) -> tuple[Array, Speeds]:
    """Joint draws of sums of effects, shape (draws, len(wanted)), and the speeds they come from.

    Effects never seen keep their prior. The walking speeds are drawn from in proportion to their
    weights, one after the other; of two blocks drawn together one is to be ``shuffled``.
    """
    speeds = _speeds(block, draws, rng if shuffled and len(block.levels) > 1 else None)
    # A root of the covariance: as it comes where that is the smaller one, else square.
    found = np.empty((len(wanted), draws))
    for part, (mean, reach) in zip(speeds.parts, _reaches(block, wanted), strict=True):
        root = reach if reach.shape[1] <= len(wanted) else _square_root(reach @ reach.T)
        normal = rng.standard_normal((root.shape[1], part.stop - part.start))
        np.add(root @ normal, mean[:, None], out=found[:, part])
    return speeds.placed(found).T, speeds


def _speeds(block: Block, draws: int, rng: np.random.Generator | None) -> Speeds:
    ends = [round(end * draws) for end in accumulate(level.weight for level in block.levels)]
    ends[-1] = draws
    order = None if rng is None else rng.permutation(draws)
    return Speeds(tuple(slice(*both) for both in pairwise([0, *ends])), order)


def effect_moments(block: Block, wanted: Sequence[Loadings]) -> Iterator[tuple[Array, Array]]:
    """Mean (r,) and covariance (r, r) of the wanted sums at each walking speed."""
    for mean, reach in _reaches(block, wanted):
        yield mean, reach @ reach.T


def _reaches(block: Block, wanted: Sequence[Loadings]) -> Iterator[tuple[Array, Array]]:
    """Mean (r,) of the wanted sums and a root (r, k) of their covariance, at each speed."""
    seen = np.zeros((len(wanted), len(block.effects)))
    fresh: dict[Effect, int] = {}
    unseen: list[tuple[int, int, float]] = []
    for i, effects in enumerate(wanted):
        for effect, value in effects.items():
            at = block.effects.get(effect)
            if at is None:
                unseen.append((i, fresh.setdefault(effect, len(fresh)), value))
            else:
                seen[i, at] = value
    own = np.zeros((len(wanted), len(fresh)))
    for i, at, value in unseen:
        own[i, at] = value
    walkers = [Effect(walker, "hand", "") for walker in block.levels[-1].walkers]
    hands = np.array([[effects.get(hand, 0.0) for hand in walkers] for effects in wanted])
    for level in block.levels:
        loads = seen
        if level.walked.size:
            walks = (hands[:, :, None] * level.walked).reshape(len(wanted), -1)
            loads = np.concatenate((seen, walks), axis=1)
        reach = loads @ level.root
        if fresh:
            sizes = [math.sqrt(level.spread.get(effect.arrow, 1.0)) if effect.group == "crop"
                     else 1.0 for effect in fresh]  # fmt: skip
            reach = np.concatenate((reach, own * sizes), axis=1)
        yield loads @ level.mean, reach


def _square_root(cov: Array) -> Array:
    """A lower root that changes smoothly with the covariance, as an eigenvector may not.

    Sums that are alike make it singular: a trifle on the diagonal lets it have a root all the same.
    It is put onto ``cov`` itself.
    """
    if cov.size == 1:
        return np.sqrt(cov)
    cov.flat[:: len(cov) + 1] += 1e-12 * float(np.trace(cov)) + 1e-30
    return np.asarray(np.linalg.cholesky(cov), dtype=np.float64)


def draw_noise_variance(
    block: Block, arrow: Arrow, cell: str, speeds: Speeds, rng: np.random.Generator
) -> Array:
    """Draws of the variance of one batch's noise of an arrow, shape (draws,).

    It is uncertain, and wider for a batch of the long tails. ``cell`` is the produce and cut,
    whose scatter may be its own.
    """
    found = np.empty(speeds.draws)
    for level, part in zip(block.levels, speeds.parts, strict=True):
        noise = level.noise[arrow]
        usual = noise.variance * level.scatter.get(cell, 1.0)
        sizes = noise_sizes(noise.dof, part.stop - part.start, rng)
        np.multiply(usual, sizes, out=found[part])
    kind = rng.random(speeds.draws)
    for level, part in zip(block.levels, speeds.parts, strict=True):
        usually, wide, _ = level.tails.tolist()
        odd = (kind[part] > usually).nonzero()[0] + part.start
        found[odd] *= WIDENING[1 + (kind[odd] > usually + wide)]
    return speeds.placed(found)


def noise_sizes(dof: float, draws: int, rng: np.random.Generator) -> Array:
    """Draws of a noise variance known by so many degrees of freedom, in units of its estimate.

    Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.2: dof over chi-squared. A few draws
    share one, which leaves each of them its law.
    """
    few = rng.standard_gamma(0.5 * dof, -(-draws // _SHARING))
    np.divide(0.5 * dof, few, out=few)
    return np.concatenate([few] * _SHARING)[:draws]


def draw_noise(
    block: Block, arrow: Arrow, cell: str, speeds: Speeds, rng: np.random.Generator
) -> Array:
    """Draws of one batch's noise of an arrow, shape (draws,); see ``draw_noise_variance``."""
    variance = draw_noise_variance(block, arrow, cell, speeds, rng)
    drawn: Array = rng.standard_normal(variance.size) * np.sqrt(variance)
    return drawn


def hand_change(learned: Learned, arrow: Arrow, since: int) -> tuple[float, float]:
    """Mean and sd of how an arrow's hand moved on its scale since batch number ``since``.

    The walking speeds are mixed by their weights; a steady hand has not moved at all.
    """
    block = learned.block(arrow)
    before = walked(block.stretches, np.array([float(since)]))[0]
    size = getattr(learned.beliefs.people, arrow.value).hand
    means, squares = [0.0], [0.0]
    for level in block.levels:
        if arrow not in level.walkers or not level.walked.size:
            continue
        start = len(block.effects) + level.walkers.index(arrow) * level.walked.size
        speed = level.walked[-1] / math.sqrt(block.stretches[-1])
        moved = size * (level.walked - speed * before)
        part = slice(start, start + level.walked.size)
        mean = float(moved @ level.mean[part])
        reach = moved @ level.root[part]
        means.append(level.weight * mean)
        squares.append(level.weight * (mean**2 + float(reach @ reach)))
    mean = math.fsum(means)
    return mean, math.sqrt(max(math.fsum(squares) - mean**2, 0.0))
