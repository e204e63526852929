"""One block of links: its rows against closed forms, and what sits around the regression."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose
from scipy import integrate, stats

from jarcast.domain.stages import Link
from jarcast.learning.draws import draw_effects, draw_noise
from jarcast.learning.fit import em
from jarcast.learning.fit.design import Design
from jarcast.learning.fit.em import MOST_REVISIONS, fit_block
from jarcast.learning.model.effects import Effect, Loadings
from jarcast.learning.model.row import Row
from jarcast.learning.posterior import Block, Component

HAND = Effect(Link.PACK, "person", "")
CROP = Effect(Link.PACK, "crop", "carrot")
COOK_HAND = Effect(Link.COOK, "person", "")  # cooking does not walk
NOISE = 0.07**2


def row(target: float, time: int = 0, loadings: Loadings | None = None, **values: Any) -> Row:
    given: dict[str, Any] = {
        "shares": {Link.PACK: 1.0}, "reading": 1e-4, "slip": 1.0, "columns": ("ready", "jars"),
    }  # fmt: skip
    given.update(values)
    return Row(f"batch {time}", time, target, loadings or {HAND: 0.15}, **given)


def learned(rows: Sequence[Row], link: Link = Link.PACK, noise: float = NOISE) -> Block:
    return fit_block(Design(rows, (link,), len(rows)), {link: noise})


def estimate(block: Block, effects: Loadings, draws: int = 4000) -> tuple[float, float]:
    """Mean and sd of a sum of effects now."""
    found, _ = draw_effects(block, [effects], draws, np.random.default_rng(1))
    return float(found.mean()), float(found.std())


def test_no_rows_leave_the_beliefs() -> None:
    block = fit_block(Design([], (Link.PACK,), 0), {Link.PACK: NOISE})
    (component,) = block.components
    assert block.verdicts == ()
    assert component.weight == 1.0
    assert component.noise[Link.PACK].variance == pytest.approx(NOISE)
    mean, sd = estimate(block, {HAND: 0.15, CROP: 0.2})
    # Independent effects: the sd of a sum is the root of the sum of squares.
    assert abs(mean) < 3.0 * 0.25 / math.sqrt(4000)
    assert sd == pytest.approx(math.hypot(0.15, 0.2), rel=0.05)


def test_well_known_reading_errors_give_the_normal_posterior() -> None:
    # With noise and slips of no size the rows are y ~ N(b, reading): precisions add (Bayesian Data
    # Analysis, 3rd ed., equation 2.12).
    ys, reading = np.array([0.9, 1.4, 0.2, 1.1]), 0.5
    rows = [
        row(float(y), i, {COOK_HAND: 1.0}, shares={Link.COOK: 1.0}, reading=reading, slip=1e-9)
        for i, y in enumerate(ys)
    ]
    block = learned(rows, Link.COOK, noise=1e-8)
    precision = 1.0 + len(ys) / reading
    (component,) = block.components
    assert component.mean[0] == pytest.approx(ys.sum() / reading / precision, rel=1e-3)
    assert (component.root @ component.root.T)[0, 0] == pytest.approx(1.0 / precision, rel=1e-3)


@pytest.mark.parametrize("ceiling", [-1.5, 0.0, 0.6, 2.5])
def test_a_target_known_only_as_at_most_this_gives_the_exact_posterior(ceiling: float) -> None:
    # One such row among readings: the posterior is prior x normals x Phi((c - b) / sd), integrated
    # numerically here.
    ys, reading = np.array([0.9, 0.3]), 0.5
    common: dict[str, Any] = {"shares": {Link.COOK: 1.0}, "reading": reading, "slip": 1e-9}
    rows = [row(float(y), i, {COOK_HAND: 1.0}, **common) for i, y in enumerate(ys)]
    rows.append(row(ceiling, 2, {COOK_HAND: 1.0}, ceiling=True, **common))

    def density(b: float) -> float:
        likely = stats.norm.pdf(ys, b, math.sqrt(reading)).prod()
        below = stats.norm.cdf((ceiling - b) / math.sqrt(reading))
        return float(stats.norm.pdf(b) * likely * below)

    total, mean = (integrate.quad(lambda b, k=k: b**k * density(b), -8, 8)[0] for k in (0, 1))
    block = learned(rows, Link.COOK, noise=1e-8)
    assert block.components[0].mean[0] == pytest.approx(mean / total, abs=0.02)


def test_the_order_of_rows_does_not_matter() -> None:
    rng = np.random.default_rng(4)
    rows = [
        row(float(0.1 + 0.07 * rng.standard_normal()), i, {HAND: 0.15, CROP: 0.1 * (i % 3)})
        for i in range(15)
    ]
    one = learned(rows)
    other = learned([rows[i] for i in rng.permutation(15)])
    asked = {HAND: 0.15, CROP: 0.1}
    for a, b in zip(one.components, other.components, strict=True):
        assert b.weight == pytest.approx(a.weight, abs=1e-9)
        at_a = sum(asked[e] * a.mean[one.effects[e]] for e in asked)
        assert sum(asked[e] * b.mean[other.effects[e]] for e in asked) == pytest.approx(
            at_a, abs=1e-9
        )


@pytest.mark.parametrize("times", [0.4, 1.0, 2.5])
def test_the_size_of_the_noise_is_learned(times: float) -> None:
    # Averaged over 20 records of 150 normal batches, what is drawn for the next batch has the
    # middle 80 % where the batches have theirs: 1.2816 sd either side (normal tables).
    rng = np.random.default_rng(5)
    true, reach = times * math.sqrt(NOISE), []
    for _ in range(20):
        rows = [row(float(true * z), i) for i, z in enumerate(rng.standard_normal(150))]
        block = learned(rows)
        _, drawn_from = draw_effects(block, [{HAND: 0.15}], 4000, rng)
        low, high = np.quantile(draw_noise(block, Link.PACK, "", drawn_from, rng), [0.1, 0.9])
        reach.append((high - low) / 2)
    assert np.mean(reach) == pytest.approx(1.2816 * true, rel=0.2)


def test_much_noise_is_not_taken_for_long_tails() -> None:
    # Sixty normal batches that scatter 2.5 times as much as believed: 99 in 100 of the next are to
    # lie within 2.576 sd (normal tables), the mean over 8 records.
    rng = np.random.default_rng(13)
    true, reach = 2.5 * math.sqrt(NOISE), []
    for _ in range(8):
        rows = [row(float(true * z), i) for i, z in enumerate(rng.standard_normal(60))]
        block = learned(rows)
        _, drawn_from = draw_effects(block, [{HAND: 0.15}], 40_000, rng)
        noise = draw_noise(block, Link.PACK, "", drawn_from, rng)
        reach.append(float(np.quantile(np.abs(noise), 0.99)))
    assert np.mean(reach) == pytest.approx(2.576 * true, rel=0.15)


def test_a_walking_hand_settles_in_the_rounds_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    # A hand that drifts from the eighth batch on, half as noisy again as believed: its means within
    # a tenth of a posterior sd of where many rounds end, in the middle one of six records.
    rng = np.random.default_rng(14)
    records = [
        [row(float(0.02 * max(i - 8, 0) + 0.105 * z), i) for i, z in enumerate(own)]
        for own in rng.standard_normal((6, 34))
    ]
    few = [component for rows in records for component in learned(rows).components[1:]]
    monkeypatch.setattr(em, "WALK_ITERATIONS", 80)
    settled = [component for rows in records for component in learned(rows).components[1:]]
    off = [
        (np.abs(one.mean - due.mean) / np.sqrt((due.root**2).sum(axis=1))).max()
        for one, due in zip(few, settled, strict=True)
    ]
    assert np.median(off) < 0.1


@pytest.mark.parametrize("times", [0.3, 3.0])
def test_noise_and_scatter_of_one_crop_settle_in_the_rounds_there_are(
    times: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Of a household that puts up one crop its noise and the crop's scatter are one: many rounds end
    # where their product fits the rows, and few are to come near, not to swing about it.
    rng = np.random.default_rng(12)
    rows = [
        row(float(times * 0.07 * z), i, {COOK_HAND: 0.15}, shares={Link.COOK: 1.0})
        for i, z in enumerate(rng.standard_normal(40))
    ]

    def size() -> float:
        component = learned(rows, Link.COOK).components[0]
        return component.noise[Link.COOK].variance * component.scatter[""]

    few = size()
    monkeypatch.setattr(em, "ITERATIONS", 80)
    assert few == pytest.approx(size(), rel=0.1)


@pytest.mark.parametrize("moving", [True, False])
def test_noise_that_is_shared_out_anew_is_learned_anew(moving: bool) -> None:
    # Shares say how the noise is spread over the rows, not how large it is: three times the shares
    # are a ninth of the size, and the rows scatter as they did.
    rng = np.random.default_rng(11)
    rows = [
        row(
            float(0.05 * rng.standard_normal()),
            i,
            shares={Link.COOK: 1.0},
            loadings={COOK_HAND: 1},
        )
        for i in range(1000)
    ]
    wide = np.full((len(rows), 1), 3.0)
    asked = []

    def revise(component: Component) -> bool:
        asked.append(component.mean[0])
        design.set_shares(wide)
        return moving

    design = Design(rows, (Link.COOK,), len(rows))
    found, due = (
        block.components[0].noise[Link.COOK].variance * block.components[0].scatter[""]
        for block in (fit_block(design, {Link.COOK: NOISE}, revise), learned(rows, Link.COOK))
    )
    assert len(asked) == (MOST_REVISIONS if moving else 1)
    assert 9.0 * found == pytest.approx(due, rel=0.1 if moving else 0.3)
    fit_block(Design([], (Link.COOK,), 0), {Link.COOK: NOISE}, lambda _: pytest.fail("no rows"))


def test_crops_further_from_the_books_than_believed_widen_what_is_believed_of_others() -> None:
    rng = np.random.default_rng(6)

    def crops(spread: float) -> Block:
        rows = []
        for i in range(60):
            crop = Effect(Link.COOK, "crop", f"crop {i % 20}")
            target = spread * 0.1 * (1 if i % 2 else -1) + 0.01 * rng.standard_normal()
            rows.append(row(float(target), i, {crop: 0.1}, shares={Link.COOK: 1.0}))
        return learned(rows, Link.COOK, noise=0.01**2)

    new = {Effect(Link.COOK, "crop", "new"): 0.1}
    assert estimate(crops(3.0), new)[1] > 1.5 * estimate(crops(0.3), new)[1]


def test_a_gross_slip_is_named_and_hardly_bends_the_rest() -> None:
    rng = np.random.default_rng(7)
    rows = [row(float(0.1 + 0.05 * rng.standard_normal()), i) for i in range(12)]
    slipped = [replace(r, target=r.target + math.log(2.2)) if r.time == 5 else r for r in rows]
    without = [r for r in rows if r.time != 5]
    found = learned(slipped)
    chances = {verdict.batch: verdict.slip_chance for verdict in found.verdicts}
    assert chances.pop("batch 5") > 0.5
    assert max(chances.values()) < 0.1
    moved = estimate(found, {HAND: 0.15})[0] - estimate(learned(without), {HAND: 0.15})[0]
    assert abs(moved) < 0.02


def test_a_slip_in_the_only_row_of_a_crop_cannot_explain_itself() -> None:
    rng = np.random.default_rng(8)
    rows = [row(float(0.05 * rng.standard_normal()), i, {HAND: 0.15, CROP: 0.05}) for i in range(9)]
    lonely = row(math.log(10.0), 9, {HAND: 0.15, Effect(Link.PACK, "crop", "beet"): 0.2})
    verdict = learned([*rows, lonely]).verdicts[-1]
    assert verdict.slip_chance > 0.9
    assert math.log(verdict.factor) == pytest.approx(math.log(10.0), rel=0.1)


def drifting(seed: int, rate: float) -> tuple[list[Row], float]:
    """Twenty batches of a hand that is steady for eight and then drifts; where it stands now."""
    rng = np.random.default_rng(seed)
    path = 0.15 * rng.standard_normal() + rate * np.maximum(np.arange(20) - 8, 0)
    rows = [row(float(y), i) for i, y in enumerate(path + 0.07 * rng.standard_normal(20))]
    return rows, float(path[-1])


def errors(rate: float, seeds: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """Error of the hand as it is now, and that of a copy never told when each batch was made."""
    following, remembering = [], []
    for seed in range(seeds):
        rows, true = drifting(seed, rate)
        at_once = Design([replace(r, time=0) for r in rows], (Link.PACK,), 0)
        timeless = fit_block(at_once, {Link.PACK: NOISE})
        following.append(abs(estimate(learned(rows), {HAND: 0.15})[0] - true))
        remembering.append(abs(estimate(timeless, {HAND: 0.15})[0] - true))
    return np.array(following), np.array(remembering)


def test_a_drifting_hand_is_followed() -> None:
    following, remembering = errors(rate=0.03)
    gain = remembering - following
    assert gain.mean() > 3.0 * gain.std() / math.sqrt(len(gain))
    assert following.mean() < 0.7 * remembering.mean()


def test_following_costs_a_steady_hand_little() -> None:
    following, remembering = errors(rate=0.0)
    assert following.mean() < 1.3 * remembering.mean()


def test_a_steady_and_a_drifting_hand_are_told_apart() -> None:
    def steadiness(rate: float) -> float:
        blocks = [learned(drifting(seed, rate)[0]) for seed in range(20)]
        return float(np.mean([b.components[0].weight for b in blocks]))

    assert all(
        sum(component.weight for component in learned(drifting(seed, 0.02)[0]).components)
        == pytest.approx(1.0)
        for seed in range(3)
    )
    assert steadiness(0.0) > steadiness(0.05) + 0.3


def test_a_hand_that_may_walk_is_less_certain_than_one_that_does_not() -> None:
    # A walking hand widens the forecast as its record grows old: the same rows, with and without
    # thirty batches of other links since.
    rows, _ = drifting(3, 0.03)
    now = fit_block(Design(rows, (Link.PACK,), 20), {Link.PACK: NOISE})
    later = fit_block(Design(rows, (Link.PACK,), 50), {Link.PACK: NOISE})
    assert estimate(later, {HAND: 0.15})[1] > estimate(now, {HAND: 0.15})[1]
    assert_allclose(
        [component.weight for component in later.components],
        [component.weight for component in now.components],
        atol=0.2,
    )
