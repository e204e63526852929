"""Empirical Bayes over households: how far crops lie from the books, and kitchens from another.

Household h has a hand ~ N(0, hand) on each arrow, and for each of its crops a value mu_c + e,
e ~ N(0, apart * s_c^2), where s_c is the published spread. The mu_c are sums of effects (common to
all crops, produce, cut, the two together) with prior variance ``off``, in units of s_c. What a
household tells of its mu is its likelihood with its own hand, e and covariates integrated out;
these add up to one normal posterior of all effects. The variances hand, apart and off are learned
by expectation-maximisation under inverse-gamma priors.
Method: Laird and Ware 1982, Biometrics 38, 963-974; Gelman et al., Bayesian Data Analysis,
3rd ed., chapters 5 and 15.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect
from jarcast.learning.beliefs import Beliefs
from jarcast.learning.regression import Array
from jarcast.pooling.reduce import CROP, HAND, LOSS, Coordinate, Part, crop_loadings
from jarcast.pooling.stack import stack_parts

# Half of a published spread's variance is common to all kitchens and half lies between them,
# until the households tell; common practice, no source.
HALF = 0.5
SIZE_DOF = 4.0  # effects, or households, that the size believed beforehand is worth
MOST_ROUNDS = 200
SETTLED = 1e-3  # relative change of every size in a round


class Settled(Struct, frozen=True):
    """What households tell of the crops on some arrows.

    ``mean`` (effects,) and ``covariance`` are of the effects that crops are made of, in units of
    the published spread; ``off`` and ``apart`` variances in units of its square; ``hand`` the
    variance between people (for brine that of the pot loss over the usual one).
    """

    effects: Mapping[Effect, int]
    mean: Array
    covariance: Array
    off: Mapping[Arrow, float]
    apart: Mapping[Arrow, float]
    hand: Mapping[Arrow, float]

    def value(self, found: Mapping[Effect, float], arrow: Arrow) -> tuple[float, float]:
        """Mean of a sum of effects, and its sd in a kitchen not met yet; effects never seen keep
        their prior.
        """
        x = np.zeros(len(self.effects))
        unseen = 0.0
        for effect, loading in found.items():
            if effect in self.effects:
                x[self.effects[effect]] = loading
            else:
                unseen += self.off[arrow] * loading**2
        own = self.apart[arrow] * sum(loading**2 for loading in found.values())
        return float(x @ self.mean), float(np.sqrt(x @ self.covariance @ x + unseen + own))


def settle(parts: Sequence[Part], arrows: tuple[Arrow, ...], beliefs: Beliefs) -> Settled:
    """Settle what these parts tell of these arrows; nothing leaves what was believed."""
    population = _Population(parts, arrows, beliefs)
    for _ in range(MOST_ROUNDS if parts else 0):
        if population.turn() < SETTLED:
            break
    return Settled(
        population.effects,
        *population.posterior(),
        population.off,
        population.apart,
        population.hand,
    )


class _Population:
    """Expectation-maximisation over households; ``turn`` is one round."""

    def __init__(self, parts: Sequence[Part], arrows: tuple[Arrow, ...], beliefs: Beliefs) -> None:
        self.arrows = arrows
        coordinates = sorted({c for part in parts for c in part.coordinates})
        loads = [_mean_loadings(c, beliefs) for c in coordinates]
        names = dict.fromkeys(effect for found in loads for effect in found)
        self.effects = {effect: i for i, effect in enumerate(names)}
        self.stack = stack_parts(parts, coordinates)
        self.A = np.zeros((len(coordinates) + 1, len(self.effects)))  # the last row is padding
        for i, found in enumerate(loads):
            for effect, value in found.items():
                self.A[i, self.effects[effect]] = value
        self.own = np.einsum("ij,ij->i", self.A, self.A)  # s_c^2 of the crops
        self.off, self.apart = dict.fromkeys(arrows, HALF), dict.fromkeys(arrows, HALF)
        self.believed = {arrow: _hand(arrow, beliefs) ** 2 for arrow in arrows}
        self.hand = dict(self.believed)
        of = [(c.kind, c.arrow) for c in coordinates]
        self.where = {
            (kind, arrow): [i for i, at in enumerate(of) if at == (kind, arrow)]
            for kind in (HAND, CROP)
            for arrow in arrows
        }
        self.of_crops = {
            arrow: [i for e, i in self.effects.items() if e.arrow is arrow and e != LOSS]
            for arrow in arrows
        }

    def _spread(self) -> Array:
        """Variance of each coordinate between households, shape (coordinates + 1,)."""
        found = np.ones(len(self.own))
        for arrow in self.arrows:
            found[self.where[HAND, arrow]] = self.hand[arrow]
            crops = self.where[CROP, arrow]
            found[crops] = self.apart[arrow] * self.own[crops]
        return found

    def posterior(self) -> tuple[Array, Array]:
        """Posterior mean and covariance of the effects at the present sizes."""
        information, vector = self.stack.told(self._spread())
        off = np.array([HALF if e == LOSS else self.off[e.arrow] for e in self.effects])
        precision = self.A.T @ information @ self.A + np.diag(1.0 / off)
        covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
        return covariance @ (self.A.T @ vector), covariance

    def turn(self) -> float:
        """One round; gives the largest relative change of a size."""
        mean, covariance = self.posterior()
        squares, counts = self.stack.squares(
            self._spread(), self.A @ mean, self.A @ covariance @ self.A.T
        )
        effects = mean**2 + np.diag(covariance)
        sizes = (self.hand, self.apart, self.off)
        before = [value for size in sizes for value in size.values()]
        for arrow in self.arrows:
            hands, crops = self.where[HAND, arrow], self.where[CROP, arrow]
            self.hand[arrow] = _size(self.believed[arrow], squares[hands], counts[hands])
            relative = squares[crops] / self.own[crops]
            self.apart[arrow] = _size(HALF, relative, counts[crops])
            index = self.of_crops[arrow]
            self.off[arrow] = _size(HALF, effects[index], np.ones(len(index)))
        after = [value for size in sizes for value in size.values()]
        return max(abs(new / old - 1.0) for new, old in zip(after, before, strict=True))


def _hand(arrow: Arrow, beliefs: Beliefs) -> float:
    people = beliefs.people
    if arrow is Arrow.BRINE:
        return people.loss_between_people
    return float(getattr(people, arrow.value).hand)


def _mean_loadings(coordinate: Coordinate, beliefs: Beliefs) -> Mapping[Effect, float]:
    """Effects that a coordinate's mean over households is made of; none for hands but the loss."""
    if coordinate.kind == CROP:
        return crop_loadings(beliefs, coordinate.arrow, coordinate.crop, beliefs.people)
    if (coordinate.kind, coordinate.arrow) == (HAND, Arrow.BRINE):
        return {LOSS: beliefs.people.loss_between_people}
    return {}


def _size(believed: float, squares: Array, counts: Array) -> float:
    """A variance: the mean of squares, with what was believed worth SIZE_DOF of them."""
    return float((SIZE_DOF * believed + squares.sum()) / (SIZE_DOF + counts.sum()))
