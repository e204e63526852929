"""Drawing from what was learned."""

import math
from collections.abc import Sequence

import numpy as np

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect, Loadings
from jarcast.learning.block import Block, Level
from jarcast.learning.design import walked
from jarcast.learning.learned import Learned
from jarcast.learning.regression import Array
from jarcast.learning.robust import WIDENING


def draw_effects(
    block: Block,
    wanted: Sequence[Loadings],
    draws: int,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Joint draws of sums of effects, shape (draws, len(wanted)), and the level each came from.

    Effects never seen keep their prior. The walking speeds take turns in proportion to their
    weights.
    """
    which = _levels(block, draws, rng)
    if len(block.levels) == 1:
        return _sums(block, block.levels[0], wanted, draws, rng), which
    out = np.empty((draws, len(wanted)))
    for number, level in enumerate(block.levels):
        chosen = which == number
        if chosen.any():
            out[chosen] = _sums(block, level, wanted, int(chosen.sum()), rng)
    return out, which


def _sums(
    block: Block, level: Level, wanted: Sequence[Loadings], draws: int, rng: np.random.Generator
) -> Array:
    """Joint draws of the wanted sums at one walking speed, shape (draws, len(wanted))."""
    mean, reach = _reach(block, level, wanted)
    # A root of the covariance: as it comes where that is the smaller one, else square.
    root = reach if reach.shape[1] <= len(wanted) else _square_root(reach @ reach.T)
    found: Array = mean + rng.standard_normal((draws, root.shape[1])) @ root.T
    return found


def _levels(block: Block, draws: int, rng: np.random.Generator) -> Array:
    if len(block.levels) == 1:
        return np.zeros(draws, dtype=int)
    ends = np.cumsum([level.weight for level in block.levels])
    even = (rng.permutation(draws) + 0.5) / draws
    return np.minimum(np.searchsorted(ends, even), len(ends) - 1)


def effect_moments(block: Block, level: Level, wanted: Sequence[Loadings]) -> tuple[Array, Array]:
    """Mean (r,) and covariance (r, r) of the wanted sums at one walking speed."""
    mean, reach = _reach(block, level, wanted)
    return mean, reach @ reach.T


def _reach(block: Block, level: Level, wanted: Sequence[Loadings]) -> tuple[Array, Array]:
    """Mean (r,) of the wanted sums and a root (r, k) of their covariance."""
    p = len(block.effects)
    seen = np.zeros((len(wanted), level.mean.size))
    fresh: dict[Effect, int] = {}
    for effects in wanted:
        for effect in effects:
            if effect not in block.effects:
                fresh.setdefault(effect, len(fresh))
    unseen = np.zeros((len(wanted), len(fresh)))
    for i, effects in enumerate(wanted):
        for effect, value in effects.items():
            if effect in block.effects:
                seen[i, block.effects[effect]] = value
            else:
                crop = effect.group == "crop"
                size = math.sqrt(level.spread.get(effect.arrow, 1.0)) if crop else 1.0
                unseen[i, fresh[effect]] = value * size
        for w, walker in enumerate(level.walkers if level.walked.size else ()):
            start = p + w * level.walked.size
            hand = effects.get(Effect(walker, "hand", ""), 0.0)
            seen[i, start : start + level.walked.size] = hand * level.walked
    return seen @ level.mean, np.hstack([seen @ level.root, unseen])


def _square_root(cov: Array) -> Array:
    """A lower root that changes smoothly with the covariance, as an eigenvector may not.

    Sums that are alike make it singular: a trifle on the diagonal lets it have a root all the same.
    """
    trifle = 1e-12 * float(np.trace(cov)) + 1e-30
    return np.asarray(np.linalg.cholesky(cov + trifle * np.eye(len(cov))), dtype=np.float64)


def draw_noise_variance(
    block: Block, arrow: Arrow, cell: str, which: Array, rng: np.random.Generator
) -> Array:
    """Draws of the variance of one batch's noise of an arrow, shape (draws,).

    It is uncertain, and wider for a batch of the long tails. ``cell`` is the produce and cut,
    whose scatter may be its own.
    """
    variance = np.empty(which.size)
    for number, level in enumerate(block.levels):
        chosen = which == number if len(block.levels) > 1 else slice(None)
        count = variance[chosen].size
        noise = level.noise[arrow]
        chi = rng.standard_gamma(0.5 * noise.dof, count) / (0.5 * noise.dof)
        usual_so_far, wide_so_far, _ = np.cumsum(level.tails)
        at = rng.random(count)
        kind = (at > usual_so_far).astype(int) + (at > wide_so_far)
        usual = noise.variance * level.scatter.get(cell, 1.0)
        variance[chosen] = (usual * WIDENING)[kind] / chi
    return variance


def draw_noise(
    block: Block, arrow: Arrow, cell: str, which: Array, rng: np.random.Generator
) -> Array:
    """Draws of one batch's noise of an arrow, shape (draws,); see ``draw_noise_variance``."""
    variance = draw_noise_variance(block, arrow, cell, which, rng)
    drawn: Array = rng.standard_normal(which.size) * np.sqrt(variance)
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
