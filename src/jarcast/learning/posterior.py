"""What was learned of a block of links: a mixture of normal posteriors."""

from collections.abc import Mapping

import numpy as np
from msgspec import Struct

from jarcast.domain.read_only import ReadOnly
from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.model.effects import PERSONAL, Effect
from jarcast.learning.model.endings import CASES


class Noise(Struct, frozen=True):
    """A noise variance and its degrees of freedom."""

    variance: float
    dof: float


class Component(Struct, frozen=True):
    """One component of the mixture: a block fitted at one step size of the random walk.

    ``mean`` (p,) and ``root`` (p, k), with root @ root.T the covariance: first the block's effects,
    then the segments of the walk for each link of ``walking``. ``walk`` holds the loadings of the
    segments today for a person effect of unit size, and is empty without a walk. ``noise`` is the
    noise of each link in units of its rows' shares, ``tails`` (3,) the shares of the noise kinds,
    ``spread`` the variance of the crops' effects in units of the prior's, ``scatter`` the noise
    variance of each cell in units of its links'. ``own`` is the share of the variance between
    people that is each one's own; None in a kitchen of one.
    """

    weight: float
    mean: Array
    root: Array
    walk: Array
    walking: tuple[Link, ...]
    noise: Mapping[Link, Noise]
    tails: Array
    spread: Mapping[Link, float]
    scatter: Mapping[str, float]
    own: float | None = None

    def prior(self, effect: Effect) -> float:
        """Prior variance of an effect's coefficient."""
        if effect.group == "crop":
            return self.spread.get(effect.link, 1.0)
        if self.own is not None and effect.link in PERSONAL:
            return {"person": 1.0 - self.own, "own": self.own}.get(effect.group, 1.0)
        return 1.0


class RowVerdict(Struct, frozen=True):
    """How a row fits its forecast from all the other rows.

    ``factor`` says how many times larger than expected the later of the two ``columns`` is, given
    the earlier (for brine: the brine used).
    ``not_jarred`` is the chance that a good part of the batch never reached the jars.
    """

    batch: str
    columns: tuple[str, ...]
    factor: float
    slip_chance: float
    not_jarred: float = 0.0


class Block(Struct, frozen=True):
    """What was learned of the links of one block.

    ``effects`` gives each effect's place in a component; ``segments`` are the lengths of the
    walk's segments in batches, oldest first. ``cases_told`` holds, by the batch's number, what its
    rows say of how it went: log likelihoods (CASES,). ``people_told`` holds the same of who made
    it, by name, for batches that do not say.
    """

    links: tuple[Link, ...]
    effects: Mapping[Effect, int]
    segments: tuple[int, ...]
    components: tuple[Component, ...]
    verdicts: tuple[RowVerdict, ...]
    cases_told: Mapping[int, Array]
    people_told: Mapping[int, Mapping[str, float]] = ReadOnly({})

    def told(self, batches: int) -> Array:
        """Log likelihood of the cases of each batch (batches, CASES): 0 where no row tells."""
        found = np.zeros((batches, CASES))
        if self.cases_told:
            log_told = np.array([*self.cases_told.values()])
            found[[*self.cases_told]] = log_told - log_told.max(axis=1, keepdims=True)
        return found

    @property
    def heaviest(self) -> Component:
        """The component of the largest weight."""
        return max(self.components, key=lambda component: component.weight)
