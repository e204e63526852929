"""Empirical Bayes over households: how far crops lie from the books, and kitchens from each other.

On each link household h has a person effect ~ N(0, between_people) and, for each of its crops, a
value mu_c + e, e ~ N(0, apart * s_c^2), where s_c is the published spread. The mu_c are sums of
effects (common to all crops, produce, cut, the two together) with prior variance ``off``, in units
of s_c. What a household says of the mu_c is its likelihood with its own person effect, e and
covariates integrated out; these add up to one normal posterior of all effects. The variances
between_people, apart and off are learned by expectation-maximisation under inverse-gamma priors.
Method: Laird and Ware 1982, Biometrics 38, 963-974; Gelman et al., Bayesian Data Analysis,
3rd ed., chapters 5 and 15.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.model.beliefs import Beliefs
from jarcast.learning.model.effects import POT_LOSS, Effect
from jarcast.pooling.reduce import CROP, PERSON, Coordinate, Part, crop_loadings
from jarcast.pooling.stack import stack_parts

# Half of a published spread's variance is common to all kitchens and half lies between them,
# until the households say otherwise; common practice, no source.
HALF = 0.5
SIZE_DOF = 4.0  # effects, or households, that a prior size is worth
MOST_ITERATIONS = 200
CONVERGED = 1e-3  # relative change of every size in one iteration


class PopulationFit(Struct, frozen=True):
    """What households say of the crops on some links.

    ``mean`` (effects,) and ``covariance`` are of the effects that crops are made of, in units of
    the published spread; ``off`` and ``apart`` are variances in units of its square;
    ``between_people`` is the variance between people (for brine, of the pot loss in proportion).
    """

    effects: Mapping[Effect, int]
    mean: Array
    covariance: Array
    off: Mapping[Link, float]
    apart: Mapping[Link, float]
    between_people: Mapping[Link, float]

    def value(self, found: Mapping[Effect, float], link: Link) -> tuple[float, float]:
        """Mean of a sum of effects, and its sd in a kitchen outside the pool.

        Effects in no household keep their prior.
        """
        x = np.zeros(len(self.effects))
        unseen = 0.0
        for effect, loading in found.items():
            if effect in self.effects:
                x[self.effects[effect]] = loading
            else:
                unseen += self.off[link] * loading**2
        own = self.apart[link] * sum(loading**2 for loading in found.values())
        return float(x @ self.mean), float(np.sqrt(x @ self.covariance @ x + unseen + own))


def fit_population(
    parts: Sequence[Part], links: tuple[Link, ...], beliefs: Beliefs
) -> PopulationFit:
    """Fit what these parts say of these links; no parts leave what was believed."""
    population = _Population(parts, links, beliefs)
    for _ in range(MOST_ITERATIONS if parts else 0):
        if population.iterate() < CONVERGED:
            break
    return PopulationFit(
        population.effects,
        *population.posterior(),
        population.off,
        population.apart,
        population.between_people,
    )


class _Population:
    """EM over households; ``iterate`` is one iteration."""

    def __init__(self, parts: Sequence[Part], links: tuple[Link, ...], beliefs: Beliefs) -> None:
        self.links = links
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
        self.off, self.apart = dict.fromkeys(links, HALF), dict.fromkeys(links, HALF)
        self.believed = {link: _between_people(link, beliefs) ** 2 for link in links}
        self.between_people = dict(self.believed)
        of = [(c.kind, c.link) for c in coordinates]
        self.where = {
            (kind, link): [i for i, at in enumerate(of) if at == (kind, link)]
            for kind in (PERSON, CROP)
            for link in links
        }
        self.of_crops = {
            link: [i for e, i in self.effects.items() if e.link is link and e != POT_LOSS]
            for link in links
        }

    def _spread(self) -> Array:
        """Variance of each coordinate between households, shape (coordinates + 1,)."""
        found = np.ones(len(self.own))
        for link in self.links:
            found[self.where[PERSON, link]] = self.between_people[link]
            crops = self.where[CROP, link]
            found[crops] = self.apart[link] * self.own[crops]
        return found

    def posterior(self) -> tuple[Array, Array]:
        """Posterior mean and covariance of the effects at the present sizes."""
        information, vector = self.stack.combined(self._spread())
        off = np.array([HALF if e == POT_LOSS else self.off[e.link] for e in self.effects])
        precision = self.A.T @ information @ self.A + np.diag(1.0 / off)
        covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
        return covariance @ (self.A.T @ vector), covariance

    def iterate(self) -> float:
        """One iteration; returns the largest relative change of a size."""
        mean, covariance = self.posterior()
        squares, counts = self.stack.squares(
            self._spread(), self.A @ mean, self.A @ covariance @ self.A.T
        )
        effects = mean**2 + np.diag(covariance)
        sizes = (self.between_people, self.apart, self.off)
        before = [value for size in sizes for value in size.values()]
        for link in self.links:
            people, crops = self.where[PERSON, link], self.where[CROP, link]
            self.between_people[link] = _size(self.believed[link], squares[people], counts[people])
            relative = squares[crops] / self.own[crops]
            self.apart[link] = _size(HALF, relative, counts[crops])
            index = self.of_crops[link]
            self.off[link] = _size(HALF, effects[index], np.ones(len(index)))
        after = [value for size in sizes for value in size.values()]
        return max(abs(new / old - 1.0) for new, old in zip(after, before, strict=True))


def _between_people(link: Link, beliefs: Beliefs) -> float:
    people = beliefs.people
    if link is Link.BRINE:
        return people.loss_between_people
    spread = getattr(people, link.value)
    return math.hypot(spread.between_people, spread.kitchens)


def _mean_loadings(coordinate: Coordinate, beliefs: Beliefs) -> Mapping[Effect, float]:
    """Effects that make up a coordinate's mean over households; of people only the pot loss."""
    if coordinate.kind == CROP:
        return crop_loadings(beliefs, coordinate.link, coordinate.crop, beliefs.people)
    if (coordinate.kind, coordinate.link) == (PERSON, Link.BRINE):
        return {POT_LOSS: beliefs.people.loss_between_people}
    return {}


def _size(believed: float, squares: Array, counts: Array) -> float:
    """A variance: the mean of squares, the prior being worth SIZE_DOF of them."""
    return float((SIZE_DOF * believed + squares.sum()) / (SIZE_DOF + counts.sum()))
