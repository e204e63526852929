"""Draws of a block: the mixture of its steps, and the law of its noise sizes."""

import math
from collections.abc import Mapping

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from jarcast.domain.jars import SHELF
from jarcast.domain.stages import Link
from jarcast.forecast.keywords import request_by
from jarcast.forecast.remaining import look_ahead
from jarcast.forecast.values import draw_values
from jarcast.learning.draws import (
    alike,
    draw_effects,
    draw_noise_sd,
    effect_moments,
    mirrored,
    noise_sds,
)
from jarcast.learning.learned import learn_batches
from jarcast.learning.model.effects import Effect
from jarcast.learning.posterior import Block, Component, Noise

HAND = Effect(Link.PACK, "person", "")
CROP = Effect(Link.PACK, "crop", "carrot")
NEW = Effect(Link.PACK, "crop", "beet")  # no row speaks of it
WIDE = {HAND: 0.5, CROP: 1.0}
WANTED = [WIDE, {HAND: 0.5, NEW: 2.0}]


def component(weight: float, mean: float, noise: float, walk: tuple[float, ...] = ()) -> Component:
    p = 2 + len(walk)
    return Component(
        weight=weight,
        mean=np.full(p, mean),
        root=np.tril(np.full((p, p), 0.2)) + 0.3 * np.eye(p),
        walk=np.array(walk),
        walking=(Link.PACK,),
        noise={Link.PACK: Noise(noise, 1e6)},
        tails=np.array([1.0, 0.0, 0.0]),
        spread={Link.PACK: 1.7},
        scatter={},
    )


def block() -> Block:
    """A steady hand, and one that has walked two segments."""
    components = (component(0.65, 0.4, 1.0), component(0.35, -0.8, 100.0, (0.1, 0.6)))
    return Block((Link.PACK,), {HAND: 0, CROP: 1}, (1, 2), components, (), {})


def test_moments_are_those_of_the_coefficients_a_sum_is_made_of() -> None:
    # Mean and covariance of a linear map of normals, written out with every coefficient.
    found = list(effect_moments(block(), WANTED))
    fresh = 2.0 * math.sqrt(1.7)
    maps = [np.array([[0.5, 1.0, 0.0], [0.5, 0.0, fresh]]),
            np.array([[0.5, 1.0, 0.05, 0.3, 0.0], [0.5, 0.0, 0.05, 0.3, fresh]])]  # fmt: skip
    for (mean, cov), one, to in zip(found, block().components, maps, strict=True):
        every = np.zeros((len(to.T), len(to.T)))
        every[:-1, :-1] = one.root @ one.root.T
        every[-1, -1] = 1.0
        assert_allclose(mean, to[:, :-1] @ one.mean)
        assert_allclose(cov, to @ every @ to.T)


def test_many_sums_of_few_effects_are_drawn_from_so_many_normals() -> None:
    # Linear maps of three coefficients and a walk of two: however many, they span no more. Solved
    # as so many unknowns of their own, a plan of thousands of lines would take minutes.
    sums = [{HAND: 0.5 + 0.01 * n, CROP: 1.0 - 0.02 * n, NEW: 0.3 * n} for n in range(40)]
    drawn, _ = draw_effects(block(), sums, 400, np.random.default_rng(5))
    steady = drawn[:130] - drawn[:130].mean(axis=0)  # of one component, the first of a pair
    assert np.linalg.matrix_rank(steady) <= 3


@pytest.mark.parametrize("shuffled", [False, True])
def test_draws_are_the_mixture_of_the_walking_speeds(shuffled: bool) -> None:
    # Law of total covariance: the drawn_from' own, and that of their means.
    draws = 400_000
    found, drawn_from = draw_effects(
        block(), WANTED, draws, np.random.default_rng(2), shuffled=shuffled
    )
    assert found.shape == (draws, 2)
    assert_array_equal(np.bincount(drawn_from.of_each()), [0.65 * draws, 0.35 * draws])
    moments = list(effect_moments(block(), WANTED))
    weights = np.array([0.65, 0.35])
    means = np.array([mean for mean, _ in moments])
    middle = weights @ means
    cov = sum(w * c for w, (_, c) in zip(weights, moments, strict=True))
    cov = cov + (means - middle).T @ np.diag(weights) @ (means - middle)
    error = 4.0 * math.sqrt(2.0 / draws)
    assert_allclose(found.mean(axis=0), middle, atol=error * math.sqrt(cov.max()))
    assert_allclose(np.cov(found.T), cov, rtol=2 * error, atol=error * cov.max())


@pytest.mark.parametrize("shuffled", [False, True])
def test_each_draw_has_the_noise_of_the_speed_it_comes_from(shuffled: bool) -> None:
    rng = np.random.default_rng(3)
    found, drawn_from = draw_effects(block(), [WIDE], 2_000, rng, shuffled=shuffled)
    sd = alike(draw_noise_sd(block(), Link.PACK, "", drawn_from, rng), 2_000)
    assert_array_equal(sd > 3.0, drawn_from.of_each() == 1)
    means = [found[drawn_from.of_each() == number].mean() for number in (0, 1)]
    due = [mean[0] for mean, _ in effect_moments(block(), [WIDE])]
    assert_allclose(means, due, atol=0.2)
    assert (np.diff(drawn_from.of_each()[: drawn_from.pairs]) < 0).any() == shuffled


def test_speeds_of_two_blocks_drawn_together_are_independent() -> None:
    rng = np.random.default_rng(4)
    draws = 40_000
    each = [
        draw_effects(block(), [WIDE], draws, rng, shuffled=shuffled)[1].of_each()
        for shuffled in (False, True)
    ]
    assert abs(np.corrcoef(*each)[0, 1]) < 4.0 / math.sqrt(draws)


@pytest.mark.parametrize("dof", [3.0, 6.0, 40.0])
@pytest.mark.parametrize("pairs", [1, 7, 40_003])
def test_a_noise_variance_is_its_estimate_times_dof_over_chi_squared(
    dof: float, pairs: int
) -> None:
    found = noise_sds(Noise(0.3, dof), pairs, np.random.default_rng(5))
    assert found.shape == (pairs,)
    assert np.unique(found).size == pairs  # each pair has its own
    assert stats.kstest(0.3 * dof / found**2, stats.chi2(dof).cdf).pvalue > 1e-4


@pytest.mark.parametrize("shuffled", [False, True])
@pytest.mark.parametrize("draws", [1, 2, 7, 1_000])
def test_draws_come_in_mirrored_pairs_of_one_speed(draws: int, shuffled: bool) -> None:
    found, drawn_from = draw_effects(
        block(), WANTED, draws, np.random.default_rng(9), shuffled=shuffled
    )
    assert found.shape == (draws, 2)
    component_of = drawn_from.of_each()
    assert component_of.shape == (draws,)
    second = draws - drawn_from.pairs  # how many pairs have their second draw
    assert_array_equal(component_of[:second], component_of[drawn_from.pairs :])
    means = np.array([mean for mean, _ in effect_moments(block(), WANTED)])[component_of[:second]]
    assert_allclose(found[:second] - means, means - found[drawn_from.pairs :], atol=1e-12)


def test_what_rises_with_the_normals_has_a_steady_median() -> None:
    # Hammersley and Morton 1956: the two of a pair err to opposite sides. The sd of a median of
    # independent draws is sqrt(pi / 2n) of theirs.
    one = replace(block(), components=(component(1.0, 0.4, 0.04),))
    medians = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        found, _ = draw_effects(one, [WIDE], 1_000, rng)
        medians.append(np.median(np.exp(found[:, 0])))
    (mean, cov) = next(effect_moments(one, [WIDE]))
    independent = math.exp(mean[0]) * math.sqrt(cov[0, 0] * math.pi / 2_000)
    assert np.std(medians) < 0.2 * independent


def test_a_pair_is_alike_or_mirrored() -> None:
    pairs = np.array([1.0, -2.0])
    assert_array_equal(alike(pairs, 4), [1.0, -2.0, 1.0, -2.0])
    assert_array_equal(mirrored(pairs, 4), [1.0, -2.0, -1.0, 2.0])
    assert_array_equal(mirrored(pairs, 3), [1.0, -2.0, -1.0])


def test_wide_batches_come_as_often_as_the_tails_say() -> None:
    tails: Mapping[float, float] = {1.0: 0.9, 5.0: 0.08, 25.0: 0.02}
    one = replace(component(1.0, 0.0, 1.0), tails=np.array(list(tails.values())))
    wide = replace(block(), components=(one,))
    rng = np.random.default_rng(6)
    _, drawn_from = draw_effects(wide, [WIDE], 100_000, rng)
    sd = draw_noise_sd(wide, Link.PACK, "", drawn_from, rng)
    for size, share in tails.items():
        seen = np.mean(np.abs(sd**2 / size - 1.0) < 0.1)
        assert seen == pytest.approx(share, abs=4.0 * math.sqrt(share / sd.size))


def test_a_batch_has_independent_speeds_of_links_that_no_row_ties_together() -> None:
    # Two drawn_from of one half each, far apart: their links would be one another's copies.
    def apart(link: Link) -> Block:
        hand = Effect(link, "person", "")
        components = tuple(
            replace(
                component(0.5, 0.0, 1e-6), mean=np.array([mean]), root=np.eye(1), walking=(link,),
                noise={link: Noise(1e-6, 1e6)},
            )
            for mean in (-1e3, 1e3)
        )  # fmt: skip
        return Block((link,), {hand: 0}, (1,), components, (), {})

    learned = learn_batches([])
    tied = {Link.TRIM: apart(Link.TRIM), Link.PACK: apart(Link.PACK)}
    blocks = tuple(tied.get(block.links[0], block) for block in learned.blocks)
    learned = replace(learned, blocks=blocks)
    request, _ = request_by(
        learned, SHELF,
        {"produce": "carrot", "cut": "sticks", "as_bought_g": 3000.0, "cure_hours": 0.0}, 1, 0,
    )  # fmt: skip
    draws = 20_000
    (found,) = draw_values(learned, [look_ahead(learned, request)], draws, np.random.default_rng(7))
    seen = np.corrcoef(found.ahead[Link.TRIM], found.pack[:, 0])[0, 1]
    assert abs(seen) < 4.0 / math.sqrt(draws)
