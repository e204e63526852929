"""Draws of a batch brought into line with what its first jars showed.

The batch's own density and the differences from jar to jar are apart: k jars show the batch's mean
log density with the variance of jar to jar over k. Given a draw's noise size and the step size of
its random walk, everything is normal: each draw is weighed by how well it foretold the jars, and
moved by the exact conditional (Matheron's rule: Doucet 2010, "A note on efficient conditional
simulation of Gaussian distributions"), which needs no draw to have come near them.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.domain.stages import Link
from jarcast.forecast.remaining import Ahead
from jarcast.forecast.values import Needs, Places, Values, wanted
from jarcast.learning.arrays import Array
from jarcast.learning.draws import effect_moments
from jarcast.learning.fit.sites import WIDENING
from jarcast.learning.learned import Learned
from jarcast.learning.model.links import centre
from jarcast.learning.posterior import Component


def resampled(log_weight: Array, rng: np.random.Generator) -> Places:
    """Places of draws taken in proportion to their weights (systematic: Kitagawa 1996)."""
    weight = np.exp(log_weight - log_weight.max())
    ends = np.cumsum(weight)
    at = (np.arange(weight.size) + rng.random()) / weight.size * ends[-1]
    found: Places = np.minimum(np.searchsorted(ends, at), weight.size - 1)
    return found


class Seen(Struct, frozen=True):
    """What the jars filled so far showed.

    ``shares`` (sorts,) of their volume; ``log_density`` (draws,) of it on the pack link's scale,
    and ``noise`` (draws,) the variance of that about the batch's own.
    """

    shares: Array
    log_density: Array
    noise: Array


def condition(
    learned: Learned,
    ahead: Ahead,
    values: Values,
    seen: Seen,
    rng: np.random.Generator,
    log_prior: Array | float = 0.0,
    *,
    given_ahead: bool = False,
) -> tuple[Values, Places, float]:
    """Bring the pack link into line with the density seen.

    Gives the places kept as well, and the likelihood of what was seen, by the weights of all draws.
    ``log_prior`` (draws,) is what else weighs the draws. With ``given_ahead`` what was seen rests
    on what lies ahead, as drawn, and that stays as it is.
    """
    needs = wanted(ahead, learned.block(Link.PACK), learned.beliefs.people)
    links = [link for link, _, _ in needs[0][: len(needs[0]) - len(seen.shares)]]
    given = given_ahead and bool(links)
    foretold = (_foretold_given if given else _foretold)(learned, needs, values, seen.shares)
    expected = _centre(ahead, seen.shares) + foretold.expected
    total = foretold.variance + seen.noise + values.pack_variance
    noise = np.sqrt(seen.noise) * rng.standard_normal(total.size)
    would_be = values.pack @ seen.shares + noise
    pull = ((seen.log_density - would_be) / total)[:, None]
    moved = dict(values.ahead)
    first = 0 if given else len(links)  # sort of jar among what is moved
    for column, link in enumerate(links[:first]):
        moved[link] = moved[link] + pull[:, 0] * foretold.reach[:, column]
    pack = values.pack + pull * (foretold.reach[:, first:] + values.pack_variance[:, None])
    log_density = -0.5 * (np.log(total) + (seen.log_density - expected) ** 2 / total)
    log_weight = log_prior + log_density
    likelihood = float(np.exp(log_weight).mean()) / math.sqrt(2.0 * math.pi)
    index = resampled(log_weight, rng)
    return replace(values, ahead=moved, pack=pack).weights_picked(index), index, likelihood


def condition_normal(
    drawn: Array, seen: Array, sd: Array, rng: np.random.Generator, spread: float
) -> Array:
    """Draws of a normal quantity of this spread (sd), given what was seen of it, off by ``sd``."""
    gain = spread**2 / (spread**2 + sd**2)
    moved: Array = drawn + gain * (seen - drawn - sd * rng.standard_normal(drawn.size))
    return moved


class _Foretold(Struct, frozen=True):
    """What each draw's component foretold of the log density, all noise apart.

    ``expected``, from the scale's centre, and ``variance`` (draws,); ``reach`` (draws, links moved
    and sorts) is its covariance with what is to be moved.
    """

    expected: Array
    variance: Array
    reach: Array


def _foretold(learned: Learned, needs: Sequence[Needs], values: Values, shares: Array) -> _Foretold:
    """By the component alone; the links ahead are moved along with the sorts of jar."""
    draws = values.pack_component.size
    count = len(needs[0])
    towards = np.zeros(count)
    towards[count - len(shares) :] = shares
    found = _Foretold(np.empty(draws), np.empty(draws), np.empty((draws, count)))
    for chosen, _, mean, cov in _components(learned, needs, values):
        found.expected[chosen] = mean @ towards
        found.variance[chosen] = towards @ cov @ towards
        found.reach[chosen] = cov @ towards
    return found


def _foretold_given(
    learned: Learned, needs: Sequence[Needs], values: Values, shares: Array
) -> _Foretold:
    """By the component and the draw's own values of the links ahead.

    A link ahead that some row ties to the pack link tells of it.
    """
    draws, own = values.pack_component.size, len(needs[0]) - len(shares)
    tied = [(link, values.ahead[link] - centre(link, where)) for link, where, _ in needs[0][:own]]
    at = np.column_stack([off for _, off in tied])
    found = _Foretold(np.empty(draws), np.empty(draws), np.empty((draws, len(shares))))
    for chosen, component, mean, cov in _components(learned, needs, values):
        wide = float(component.tails @ WIDENING)
        noise = [component.noise[link].variance * wide for link, _ in tied]
        gain = np.linalg.solve(cov[:own, :own] + np.diag(noise), cov[:own, own:]).T
        left = cov[own:, own:] - gain @ cov[:own, own:]
        found.expected[chosen] = (mean[own:] + (at[chosen] - mean[:own]) @ gain.T) @ shares
        found.variance[chosen] = shares @ left @ shares
        found.reach[chosen] = left @ shares
    return found


def _components(
    learned: Learned, needs: Sequence[Needs], values: Values
) -> Iterator[tuple[NDArray[np.bool_], Component, Array, Array]]:
    """Each mixture component and person: whose draws are of it, itself, mean and covariance of the
    needs."""
    block = learned.block(Link.PACK)
    for person, own in enumerate(needs):
        moments = effect_moments(block, [effects for _, _, effects in own])
        parts = enumerate(zip(block.components, moments, strict=True))
        for number, (component, (mean, cov)) in parts:
            chosen = (values.pack_component == number) & (values.who == person)
            yield chosen, component, mean, cov


def _centre(ahead: Ahead, shares: Array) -> float:
    """Where the pack link's scale has its middle for these sorts of jar."""
    places = zip(shares, ahead.at_jars, strict=True)
    return float(sum(share * centre(Link.PACK, at) for share, at in places))
