"""Learning one block of links: the regression, and what sits around it.

A block is the links that some row ties together; its rows are solved as one regression. Around that
closed form the sizes of the noise and of the crops' spread are learned by expectation-maximisation
(EM) under inverse-gamma priors (MacKay 1992, Neural Computation 4; Bishop, Pattern Recognition and
Machine Learning, 2006, section 10.3); long tails and cases are taken in by ``sites``. A person's
effect may be a random walk: the block is fitted at a few step sizes, each weighted by its evidence.
"""

import math
from collections.abc import Callable, Mapping
from functools import cached_property

import numpy as np

from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.fit.design import Design
from jarcast.learning.fit.kernel import proper_posterior
from jarcast.learning.fit.leave_one_out import Groups
from jarcast.learning.fit.sites import FAINTEST, TAIL_PRIOR, find_sites, judge_cases, tail_shares
from jarcast.learning.fit.verdicts import verdicts_of
from jarcast.learning.model.effects import OWN_SHARES
from jarcast.learning.model.endings import KIND, SOME_MISSING
from jarcast.learning.posterior import Block, Component, Noise, RowVerdict

ITERATIONS = 6  # with a constant person effect, the first of them knowing nothing of the rows
FIRST_ITERATIONS = 3  # of a first look at how batches ended
WALK_ITERATIONS = 3  # with a random walk, which starts from the fit without one
REVISED_ITERATIONS = 3  # after each revision of the brine noise; before the first, NOISE_ONLY
MOST_REVISIONS = 5
# Each iteration takes so much longer a step, in logs, than EM would, and so needs fewer
# (Salakhutdinov and Roweis 2003, "Adaptive overrelaxed bound optimization methods", from memory).
# Not with ceilings or cases, whose targets move with each iteration.
OVERRELAXATION = 1.4
# First iterations, which learn the noise alone: slips are found before the crops' spread could grow
# to fit them, and noise is learned before it could pass for long tails, which shrink slowly.
NOISE_ONLY = 3
NOISE_DOF = 6.0  # batches the prior noise size is worth
SCATTER_DOF = 20.0  # batches of one cell the common noise is worth
SPREAD_DOF = 4.0  # effects the prior size of the crops' spread is worth
WIDEST = 5.0  # learned variance of the crops' effects over the prior's, at most

# Step sizes of the random walk: the sd of one step from a batch to the next, in units of the spread
# between people, and the prior chance of each. Zero is a constant effect.
STEPS = (0.0, 0.1, 0.25)
STEP_CHANCES = (0.72, 0.14, 0.14)


def fit_block(
    design: Design,
    prior_noise: Mapping[Link, float],
    revise: Callable[[Component], bool] | None = None,
    *,
    first_look: bool = False,
) -> Block:
    """Learn one block from its design; ``prior_noise`` is the prior noise variance of each link.

    A ``first_look`` tells how the batches ended: no hand walks, and there are no verdicts.
    ``revise`` gets the fit without a walk, sets the design's shares of noise anew, and returns
    whether they moved so far that it should be called again.
    """
    if not design.rows:
        believed = _believed(design, prior_noise)
        return Block(design.links, design.effects, design.segments, (believed,), (), {})
    rows, X, sizes = design.rows, design.basis.X, design.basis.sizes
    fits, groups = list[_Fit](), Groups(X, sizes)
    iterations = FIRST_ITERATIONS if first_look else ITERATIONS
    for own in OWN_SHARES if design.people else (None,):
        fit = _Fit(design, prior_noise, groups, 0.0, own)
        fit.iterate(iterations if revise is None else NOISE_ONLY, noise_only=NOISE_ONLY)
        fit.solve()
        if revise is not None:
            fit.revise_noise(revise)
        fits.append(fit)
    score = [fit.score() + math.log(STEP_CHANCES[0] / len(fits)) for fit in fits]
    constant = fits[int(np.argmax(score))]
    if not first_look and design.walking and len(rows) > 1:
        with_walk = Groups(np.hstack([X, design.walk]), [*sizes, design.walk.shape[1]])
        # A hand that walks is fitted at the likeliest share alone, and stands for all of them.
        others = float(np.logaddexp.reduce(score)) - constant.score() - math.log(STEP_CHANCES[0])
        for step, chance in zip(STEPS[1:], STEP_CHANCES[1:], strict=True):
            fit = _Fit(design, prior_noise, with_walk, step, constant.own)
            fit.start_from(constant)
            fit.iterate(WALK_ITERATIONS)
            fit.solve()
            score.append(fit.score() + math.log(chance) + others)
            fits.append(fit)
    weights = np.exp(np.array(score) - max(score))
    weights /= weights.sum()
    components = tuple(fit.component(float(w)) for fit, w in zip(fits, weights, strict=True))
    best = fits[int(weights.argmax())]
    return Block(
        design.links, design.effects, design.segments, components,
        () if first_look else best.verdicts(), best.cases_told(), best.people_told(),
    )  # fmt: skip


def _believed(design: Design, prior_noise: Mapping[Link, float]) -> Component:
    """What a block without rows has learned: nothing."""
    none = np.zeros(0)
    return Component(
        weight=1.0,
        mean=none,
        root=np.zeros((0, 0)),
        walk=none,
        walking=design.walking,
        noise={link: Noise(prior_noise[link], NOISE_DOF) for link in design.links},
        tails=TAIL_PRIOR,
        spread={},
        scatter={},
    )


class _Fit:
    """EM on one block at one step size of the random walk, 0 for none.

    ``own`` is the share of what lies between people that is each one's own, None in a kitchen of
    one. Its groups of coefficients: those whose prior variance stays, each link's crops, what
    people share and what is their own, and the walk.
    """

    def __init__(
        self,
        design: Design,
        prior_noise: Mapping[Link, float],
        groups: Groups,
        step: float,
        own: float | None,
    ) -> None:
        self.design, self.groups, self.step, self.own = design, groups, step, own
        self.prior = np.array([prior_noise[link] for link in design.links])
        self.size, self.dof = self.prior.copy(), np.full(len(design.links), NOISE_DOF)
        self.crop_spread = dict.fromkeys(design.links, 1.0)
        self.tails = TAIL_PRIOR
        self.relaxation = 1.0 if design.moving else OVERRELAXATION
        self.scatter = np.ones(len(design.cells))  # noise variance of each cell, relative
        # Nothing is known at first: each row is held against what was believed before any of them,
        # so that a slip stands out before it could pull the others after it.
        self.y, self.variance = design.y.copy(), FAINTEST * (self._noise() + design.reading)

    def start_from(self, other: "_Fit") -> None:
        """Start from another fit, but for the noise: part of that may be the walk."""
        self.tails = other.tails
        self.crop_spread = dict(other.crop_spread)
        self.y, self.variance = other.y.copy(), other.variance.copy()

    def _noise(self) -> Array:
        """Usual noise variance of each row, (n,)."""
        noise: Array = (self.design.shares2 @ self.size) * self.scatter[self.design.cell]
        return noise

    def _spread(self) -> list[float]:
        """Prior variance of each group's coefficients, but for the walk's."""
        people = [] if self.own is None else [1.0 - self.own, self.own]
        return [1.0, *(self.crop_spread[link] for link in self.design.spreading), *people]

    def iterate(self, iterations: int, noise_only: int = 0) -> None:
        """Iterate, with the first ``noise_only`` of the iterations learning the noise alone."""
        for number in range(iterations):
            self._iteration(noise_only=number < noise_only)

    def revise_noise(self, revise: Callable[[Component], bool]) -> None:
        """Revise the design's shares of noise and iterate, until they move little."""
        for _ in range(MOST_REVISIONS):
            moved = revise(self.component(1.0))
            self.iterate(REVISED_ITERATIONS)
            self.solve()
            if not moved:
                break

    def _iteration(self, *, noise_only: bool) -> None:
        """Forecast every row from the others, find the sites, and learn the sizes anew."""
        design, spread = self.design, self._spread()
        if self.step:
            spread.append(self.step**2)
        seen = self.groups.leave_one_out(self.y, self.variance, np.array(spread))
        forecast = self.y - seen.residual
        self.residual = design.y - forecast
        self.asked = forecast, seen.predictive, self._noise(), self.tails
        self.sites = find_sites(design.rows_seen, *self.asked)
        self.y, self.variance = self.sites.y, self.sites.variance
        self._learn_noise()
        if not noise_only:
            self.tails = tail_shares(self.sites.responsibilities)
            self._learn_spread(seen.squares)

    def solve(self) -> None:
        """Compute the posterior at the present sizes."""
        basis, spread = self.design.basis, np.array(self._spread())
        X, prior = basis.X, np.repeat(spread, basis.sizes)
        if self.step:
            X = np.hstack([X, self.step * self.design.walk])
            prior = np.append(prior, np.ones(self.design.walk.shape[1]))
        self.found = proper_posterior(X, self.y, self.variance, prior)
        self.mean, self.root = basis.expanded(self.found.mean, self.found.root, spread)

    def _learn_noise(self) -> None:
        """Learn the sizes of the links' noise, and then of each cell's about them.

        One after the other (Meng and Rubin 1993, Biometrika 80): at once, each would take up the
        whole of a change, and together overshoot.
        """
        design, sites = self.design, self.sites
        before = design.shares2 @ self.size
        part = design.shares2 * self.size / before[:, None]  # each link's part of a row's noise
        # In units of the present size; a row that a link has no part in says nothing of it.
        grown = design.link_rows + (sites.relative - 1.0) @ part
        size = (NOISE_DOF * self.prior + self.size * grown) / (NOISE_DOF + design.link_rows)
        self.size = self.size * (size / self.size) ** self.relaxation
        self.dof = NOISE_DOF + sites.known @ part**2
        cells, after = len(self.scatter), design.shares2 @ self.size
        seen = np.bincount(design.cell, weights=sites.relative * before / after, minlength=cells)
        scatter = (SCATTER_DOF + self.scatter * seen) / (SCATTER_DOF + design.cell_rows)
        self.scatter = self.scatter * (scatter / self.scatter) ** self.relaxation

    def _learn_spread(self, squares: Array) -> None:
        """Learn the spread of each link's crops; effects without rows count as believed."""
        for group, link in enumerate(self.design.spreading, start=1):
            count, unseen = len(self.design.crop[link]), self.design.basis.unseen[group]
            before = self.crop_spread[link]
            total = float(squares[group]) + unseen * before
            change = (SPREAD_DOF + total) / (SPREAD_DOF + count) / before
            self.crop_spread[link] = min(max(before * change**self.relaxation, 1 / WIDEST), WIDEST)

    def score(self) -> float:
        """Log evidence, with the priors of the sizes that were learned."""
        ratio = self.size / self.prior
        log_prior = -0.5 * NOISE_DOF * (np.log(ratio) + 1.0 / ratio).sum()
        spread = np.array(list(self.crop_spread.values()))
        log_prior -= 0.5 * SPREAD_DOF * (np.log(spread) + 1.0 / spread).sum()
        return float(log_prior + self.found.log_evidence + self.sites.evidence)

    def component(self, weight: float) -> Component:
        """The fit as a component of the mixture."""
        noise = zip(self.design.links, self.size.tolist(), self.dof.tolist(), strict=True)
        return Component(
            weight=weight,
            mean=self.mean,
            root=self.root,
            walk=self.step * self.design.walk_now if self.step else np.zeros(0),
            walking=self.design.walking,
            noise={link: Noise(variance, dof) for link, variance, dof in noise},
            tails=self.tails,
            spread=dict(self.crop_spread),
            scatter=dict(zip(self.design.cells, self.scatter.tolist(), strict=True)),
            own=self.own,
        )

    @cached_property
    def judged(self) -> tuple[Array, Array]:
        """The rows' cases by the last forecasts: chances and log likelihoods, (n, cases)."""
        return judge_cases(self.design.rows_seen, *self.asked)

    def verdicts(self) -> tuple[RowVerdict, ...]:
        """How each row fits its forecast from the others."""
        slips = self.sites.responsibilities[-1]
        return verdicts_of(self.design.rows, self.residual, slips, self._not_jarred())

    def _not_jarred(self) -> Array:
        """Chance of each row that a good part of its batch was not jarred, (n,)."""
        found, seen = np.zeros(len(self.design.rows)), self.design.with_cases
        if seen.size:
            found[seen] = self.judged[0][np.ix_(seen, KIND == SOME_MISSING)].sum(axis=1)
        return found

    def people_told(self) -> dict[int, dict[str, float]]:
        """What the rows say of who made batches that do not: log likelihoods by name.

        A row's site is held against what it would come to by each of them.
        """
        found: dict[int, dict[str, float]] = {}
        if not self.design.people:
            return found
        count = len(self.design.effects)
        mean, root = self.mean[:count], self.root[:count]
        for i, row in enumerate(self.design.rows):
            by_name = self.design.by_each(i)
            told = found.setdefault(row.time, {}) if by_name else {}
            for name, loads in by_name.items():
                spread = loads @ root
                variance = self.variance[i] + float(spread @ spread)
                off = self.y[i] - float(loads @ mean)
                log_like = -0.5 * (math.log(variance) + off**2 / variance)
                told[name] = told.get(name, 0.0) + log_like
        return found

    def cases_told(self) -> dict[int, Array]:
        """What the rows say of how their batches went: log likelihoods of the cases."""
        design = self.design
        if not design.with_cases.size:
            return {}
        times, place = np.unique(design.times[design.with_cases], return_inverse=True)
        found = np.zeros((len(times), design.log_fit.shape[1]))
        np.add.at(found, place, self.judged[1][design.with_cases] + design.log_fit)
        return dict(zip(times.tolist(), found, strict=True))
