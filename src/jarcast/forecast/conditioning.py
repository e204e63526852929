"""Draws of a batch brought into line with what its first jars showed.

The batch's own density and the differences from jar to jar are apart: k jars show the batch's mean
log density with the variance of jar to jar over k. Given the noise size and the walking speed of a
draw everything is normal, so each draw is weighed by how well it foretold the jars, and moved by
the exact conditional (Matheron's rule: Doucet 2010, "A note on efficient conditional simulation of
Gaussian distributions"), which needs no draw to have come near them.
"""

import numpy as np
from msgspec.structs import replace

from jarcast.domain.stages import Link
from jarcast.forecast.remaining import Ahead
from jarcast.forecast.values import Places, Values, wanted
from jarcast.learning.arrays import Array
from jarcast.learning.draws import effect_moments
from jarcast.learning.fit.outliers import WIDENING
from jarcast.learning.learned import Learned
from jarcast.learning.model.links import centre


def resampled(log_weight: Array, rng: np.random.Generator) -> Places:
    """Places of draws taken in proportion to their weights (systematic: Kitagawa 1996)."""
    weight = np.exp(log_weight - log_weight.max())
    ends = np.cumsum(weight)
    at = (np.arange(weight.size) + rng.random()) / weight.size * ends[-1]
    found: Places = np.minimum(np.searchsorted(ends, at), weight.size - 1)
    return found


def settle_density(
    learned: Learned,
    ahead: Ahead,
    values: Values,
    shares: Array,
    seen: Array,
    reading: Array,
    rng: np.random.Generator,
    log_prior: Array | float = 0.0,
) -> tuple[Values, Places]:
    """Bring the pack link into line with the density seen; gives the places kept as well.

    ``shares`` (sorts,) of the volume filled so far; ``seen`` (draws,) log density of it on the pack
    link's scale, ``reading`` (draws,) its variance about the batch's own; ``log_prior`` (draws,)
    what else weighs the draws.
    """
    block, people = learned.block(Link.PACK), learned.beliefs.people
    needs = wanted(ahead, block, people)
    towards = np.zeros(len(needs))
    towards[len(needs) - len(shares) :] = shares
    middle = sum(
        share * centre(Link.PACK, at) for share, at in zip(shares, ahead.at_jars, strict=True)
    )
    expected, doubt = np.empty(seen.size), np.empty(seen.size)
    reach = np.empty((seen.size, len(needs)))  # covariance of what is wanted with what was seen
    moments = effect_moments(block, [effects for _, _, effects in needs])
    for number, (mean, cov) in enumerate(moments):
        chosen = values.pack_component == number
        expected[chosen] = middle + mean @ towards
        doubt[chosen] = towards @ cov @ towards
        reach[chosen] = cov @ towards
    total = doubt + values.pack_variance + reading
    pull = _pull(values, shares, seen, reading, total, rng)
    sorts = len(shares)
    moved = dict(values.ahead)
    for column, (link, _, _) in enumerate(needs[: len(needs) - sorts]):
        moved[link] = moved[link] + pull[:, 0] * reach[:, column]
    pack = values.pack + pull * (reach[:, len(needs) - sorts :] + values.pack_variance[:, None])
    index = resampled(log_prior + _log_density(seen, expected, total), rng)
    return replace(values, ahead=moved, pack=pack).weights_picked(index), index


def _pull(
    values: Values,
    shares: Array,
    seen: Array,
    reading: Array,
    total: Array,
    rng: np.random.Generator,
) -> Array:
    """How far each draw lay from what was seen, in units of the variance of that; (draws, 1)."""
    would_be = values.pack @ shares + np.sqrt(reading) * rng.standard_normal(seen.size)
    return ((seen - would_be) / total)[:, None]


def _log_density(seen: Array, expected: Array, total: Array) -> Array:
    """Normal log density of what was seen, up to a constant."""
    found: Array = -0.5 * (np.log(total) + (seen - expected) ** 2 / total)
    return found


def settle_given_ahead(
    learned: Learned,
    ahead: Ahead,
    values: Values,
    shares: Array,
    seen: Array,
    reading: Array,
    rng: np.random.Generator,
    log_prior: Array | float = 0.0,
) -> tuple[Values, Places]:
    """The same where what was seen rests on what lies ahead, as drawn: that stays as it is.

    A link ahead that some row ties to the pack link tells of it: the forecast of each draw is
    that given its own values of those links.
    """
    block, people = learned.block(Link.PACK), learned.beliefs.people
    needs = wanted(ahead, block, people)
    sorts = len(shares)
    tied = [link for link, _, _ in needs[: len(needs) - sorts]]
    if not tied:
        return settle_density(learned, ahead, values, shares, seen, reading, rng, log_prior)
    at = np.column_stack(
        [values.ahead[link] - centre(link, where) for link, where, _ in needs[: len(tied)]]
    )
    middle = sum(
        share * centre(Link.PACK, where) for share, where in zip(shares, ahead.at_jars, strict=True)
    )
    expected, doubt = np.empty(seen.size), np.empty(seen.size)
    reach = np.empty((seen.size, sorts))
    moments = effect_moments(block, [effects for _, _, effects in needs])
    for number, (component, (mean, cov)) in enumerate(zip(block.components, moments, strict=True)):
        chosen = values.pack_component == number
        own = len(tied)
        noise = [
            component.noise[link].variance * float(component.tails @ WIDENING) for link in tied
        ]
        gain = np.linalg.solve(cov[:own, :own] + np.diag(noise), cov[:own, own:]).T
        left = cov[own:, own:] - gain @ cov[:own, own:]
        told = (at[chosen] - mean[:own]) @ gain.T
        expected[chosen] = middle + mean[own:] @ shares + told @ shares
        doubt[chosen] = shares @ left @ shares
        reach[chosen] = left @ shares
    total = doubt + values.pack_variance + reading
    pull = _pull(values, shares, seen, reading, total, rng)
    moved = values.pack + pull * (reach + values.pack_variance[:, None])
    index = resampled(log_prior + _log_density(seen, expected, total), rng)
    return replace(values, pack=moved).weights_picked(index), index


def settle_normal(
    drawn: Array, seen: Array, reading: Array, rng: np.random.Generator, spread: float
) -> Array:
    """Draws of a normal quantity of this spread (sd), given a reading of it of this sd."""
    gain = spread**2 / (spread**2 + reading**2)
    moved: Array = drawn + gain * (seen - drawn - reading * rng.standard_normal(drawn.size))
    return moved
