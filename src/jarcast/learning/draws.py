"""Drawing from what was learned.

Draws come in mirrored pairs, draw j and draw j + half of them: both from the same component of the
mixture and with the same noise sizes, but with normals of opposite sign (antithetic variates:
Hammersley and Morton 1956, Proceedings of the Cambridge Philosophical Society 52). Each draw by
itself has the right law, and quantiles of what rises or falls with the normals vary less from seed
to seed.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.fit.design import walk_loads
from jarcast.learning.fit.sites import WIDENING
from jarcast.learning.learned import Learned
from jarcast.learning.model.effects import Effect, Loadings, common_to_all
from jarcast.learning.posterior import Block, Noise

_WIDER = np.sqrt(WIDENING[1:])  # sd of the wide and very wide noise, in units of the usual one's


class ComponentDraws(Struct, frozen=True):
    """Which pairs of draws come from which component of a block's mixture.

    ``parts`` are the components' places, side by side. ``order`` (pairs,) shuffles the pairs
    afterwards, None for not. ``draws`` is twice the number of pairs, or one less.
    """

    draws: int
    parts: tuple[slice, ...]
    order: NDArray[np.intp] | None = None

    @property
    def pairs(self) -> int:
        """How many pairs there are."""
        return pairs_of(self.draws)

    def placed(self, drawn: Array) -> Array:
        """Values of pairs (..., pairs), made component by component, in their final order."""
        return drawn if self.order is None else drawn[..., self.order]

    def of_each(self) -> NDArray[np.intp]:
        """The number of each draw's component, shape (draws,)."""
        counts = [part.stop - part.start for part in self.parts]
        numbers = np.repeat(np.arange(len(counts)), counts)
        return np.tile(numbers if self.order is None else numbers[self.order], 2)[: self.draws]


def pairs_of(draws: int) -> int:
    """The number of pairs that hold so many draws; of an odd number the last is not used."""
    return (draws + 1) // 2


def alike(pairs: Array, draws: int) -> Array:
    """Draws (draws,) in which both of a pair have its value (pairs,)."""
    return np.concatenate((pairs, pairs))[:draws]


def mirrored(pairs: Array, draws: int) -> Array:
    """Draws (draws,) in which one of a pair has its value (pairs,), the other its negative."""
    return np.concatenate((pairs, -pairs))[:draws]


def normals(draws: int, rng: np.random.Generator) -> Array:
    """Standard normals in mirrored pairs, shape (draws,)."""
    return mirrored(rng.standard_normal(pairs_of(draws)), draws)


def draw_effects(
    block: Block,
    wanted: Sequence[Loadings],
    draws: int,
    rng: np.random.Generator,
    *,
    shuffled: bool = False,
) -> tuple[Array, ComponentDraws]:
    """Joint draws of sums of effects, shape (draws, len(wanted)), and their components.

    Effects without rows keep their prior. Each component gets draws in proportion to its weight,
    side by side; of two blocks drawn together, one must be ``shuffled`` to be independent.
    """
    shuffle = shuffled and len(block.components) > 1
    drawn_from = _component_draws(block, draws, rng if shuffle else None)
    means, roots = _moments(block, wanted)
    middle, off = np.empty((2, len(wanted), drawn_from.pairs))
    smaller = _square_roots(roots)
    normal = rng.standard_normal((max(root.shape[1] for root in smaller), drawn_from.pairs))
    for part, mean, root in zip(drawn_from.parts, means, smaller, strict=True):
        middle[:, part] = mean[:, None]
        off[:, part] = root @ normal[: root.shape[1], part]
    middle, off = drawn_from.placed(middle), drawn_from.placed(off)
    found = np.concatenate((middle + off, middle - off), axis=1)
    return found[:, :draws].T, drawn_from


def _component_draws(block: Block, draws: int, rng: np.random.Generator | None) -> ComponentDraws:
    pairs = pairs_of(draws)
    weights = accumulate(component.weight for component in block.components)
    ends = [round(weight * pairs) for weight in weights]
    ends[-1] = pairs
    order = None if rng is None else rng.permutation(pairs)
    return ComponentDraws(draws, tuple(slice(*both) for both in pairwise([0, *ends])), order)


def effect_moments(block: Block, wanted: Sequence[Loadings]) -> Iterator[tuple[Array, Array]]:
    """Mean (r,) and covariance (r, r) of the wanted sums in each component."""
    for mean, root in zip(*_moments(block, wanted), strict=True):
        yield mean, root @ root.T


def _moments(block: Block, wanted: Sequence[Loadings]) -> tuple[list[Array], list[Array]]:
    """Mean (r,) of the wanted sums and a root (r, k) of their covariance, in each component."""
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
    walking = [common_to_all(link) for link in block.components[-1].walking]
    people = np.array([[effects.get(person, 0.0) for person in walking] for effects in wanted])
    means, roots = [], []
    for component in block.components:
        loads = seen
        if component.walk.size:
            walk = (people[:, :, None] * component.walk).reshape(len(wanted), -1)
            loads = np.concatenate((seen, walk), axis=1)
        root = loads @ component.root
        if fresh:
            spread = [component.prior(effect) for effect in fresh]
            root = np.concatenate((root, own * np.sqrt(spread)), axis=1)
        means.append(loads @ component.mean)
        roots.append(root)
    return means, roots


def _square_roots(roots: Sequence[Array]) -> Sequence[Array]:
    """Lower roots (r, r) of the covariances of which these are roots, (r, k) each.

    Unlike eigenvectors they change smoothly with the covariance. Two sums of the same effects make
    it singular: a trifle on its diagonal lets it have a root all the same. Of many sums, as of a
    long plan, that would be no smaller a root, and they stay as they are.
    """
    if min(root.shape[1] for root in roots) <= len(roots[0]):
        return roots
    cov = np.array([root @ root.T for root in roots])
    diagonal = np.einsum("cii->ci", cov)  # a view
    diagonal += 1e-12 * diagonal.sum(axis=1, keepdims=True) + 1e-30
    return [*np.asarray(np.linalg.cholesky(cov), dtype=np.float64)]


def draw_noise_sd(
    block: Block, link: Link, cell: str, drawn_from: ComponentDraws, rng: np.random.Generator
) -> Array:
    """Draws of the sd of one batch's noise on a link, one a pair, shape (pairs,).

    The sd is uncertain, and wider for a batch from the long tails. ``cell`` is the produce and
    cut, whose scatter may be its own.
    """
    found, usual, wide = np.empty((3, drawn_from.pairs))
    for component, part in zip(block.components, drawn_from.parts, strict=True):
        noise = component.noise[link]
        noise = Noise(noise.variance * component.scatter.get(cell, 1.0), noise.dof)
        found[part] = noise_sds(noise, part.stop - part.start, rng)
        usual[part], wide[part] = component.tails[0], component.tails[1]
    kind = rng.random(drawn_from.pairs)
    odd = (kind > usual).nonzero()[0]
    found[odd] *= _WIDER[(kind[odd] > usual[odd] + wide[odd]).astype(int)]
    return drawn_from.placed(found)


def noise_sds(noise: Noise, pairs: int, rng: np.random.Generator) -> Array:
    """Draws of a noise's sd, one a pair, shape (pairs,).

    Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.2: its variance is the estimate times
    dof over chi-squared, so in the mean dof / (dof - 2) times the estimate: before any batch
    (6 degrees of freedom) the noise is drawn 1.22 times as large as the beliefs state it.
    """
    return np.sqrt(noise.variance * noise.dof / rng.chisquare(noise.dof, pairs))


def draw_noise(
    block: Block, link: Link, cell: str, drawn_from: ComponentDraws, rng: np.random.Generator
) -> Array:
    """Draws of one batch's noise on a link, shape (draws,); see ``draw_noise_sd``."""
    sd = draw_noise_sd(block, link, cell, drawn_from, rng)
    return mirrored(sd * rng.standard_normal(sd.size), drawn_from.draws)


def person_change(learned: Learned, link: Link, since: int) -> list[tuple[float, float, float]]:
    """Weight, mean and sd of the change of a link's person effect since batch number ``since``.

    On the link's scale, component by component; without a walk the change is exactly 0.
    """
    block = learned.block(link)
    before = walk_loads(block.segments, np.array([float(since)]))[0]
    size = getattr(learned.beliefs.people, link.value).between_people
    found = []
    for component in block.components:
        mean = sd = 0.0
        if link in component.walking and component.walk.size:
            start = len(block.effects) + component.walking.index(link) * component.walk.size
            step = component.walk[-1] / math.sqrt(block.segments[-1])
            moved = size * (component.walk - step * before)
            part = slice(start, start + component.walk.size)
            root = moved @ component.root[part]
            mean, sd = float(moved @ component.mean[part]), math.sqrt(float(root @ root))
        found.append((component.weight, mean, sd))
    return found
