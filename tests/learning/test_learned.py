"""What a history teaches, seen through the forecasts it gives."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose, assert_array_equal

from jarcast import Forecast, Outcome, habits_from
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.stages import Link
from jarcast.learning.brine_link import loss_so_far
from jarcast.learning.draws import ComponentDraws, draw_effects, draw_noise, person_change
from jarcast.learning.learned import Learned, learn_batches, tied_links
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.learning.model.effects import Effect, loadings
from jarcast.learning.model.links import Situation, centre
from jarcast.learning.model.row import Row

PINT_ML = SHELF["pint"].fill_volume_ml()
CARROTS: dict[str, Any] = {"produce": "carrot", "cut": "sticks", "pack": "raw", "cure_hours": 0.0}
BEETS: dict[str, Any] = {"produce": "beet", "cut": "slices", "pack": "hot"}
MAIN = ("batch", "date", "produce", "cut", "pack", "jar", "jars")


def forecast(history: Sequence[Batch], whole_jars: bool | None = None, **asked: Any) -> Forecast:
    return habits_from(history, whole_jars=whole_jars).forecast(**{**CARROTS, **asked})


def width(outcome: Outcome) -> float:
    """High over low of the 80 % range."""
    low, high = outcome.interval(0.8)
    return high / low


def keep(batch: Batch, *columns: str) -> Batch:
    """The batch with nothing recorded beyond what every batch needs and these columns."""
    return Batch(**{name: getattr(batch, name) for name in (*MAIN, *columns)})


def assert_same(one: Forecast, other: Forecast) -> None:
    assert_array_equal(one.jars.draws, other.jars.draws)
    assert_array_equal(one.brine_ml.draws, other.brine_ml.draws)


# --- nothing and little ---------------------------------------------------------------------------


def test_no_history_gives_the_starting_beliefs() -> None:
    learned = learn_batches([])
    assert learned.batches == 0
    assert learned.verdicts() == ()
    assert learned.usual_jar is None
    beliefs, at = starting_beliefs(), situation("carrot", "sticks", "raw")
    for link in (Link.TRIM, Link.CURE, Link.PACK):
        found = drawn(learned, link, at)
        people = getattr(beliefs.people, link.value)
        hand = math.hypot(people.between_people, people.kitchens)
        name = {Link.TRIM: "trim_yield", Link.CURE: "cure_keep", Link.PACK: "density"}[link]
        spread = math.hypot(hand, getattr(at.crop, name).spread)
        assert found.mean() == pytest.approx(centre(link, at), abs=4 * spread / math.sqrt(4000))
        assert found.std() == pytest.approx(spread, rel=0.06)


def test_a_first_batch_counts_at_once(household: Callable[..., Any], crops: Any) -> None:
    history = household(0).history(crops[:1])
    before, after = forecast([], trimmed_g=3000.0), forecast(history, trimmed_g=3000.0)
    true = 3000.0 * history[0].total_jars / history[0].trimmed_g
    assert abs(after.jars.median - true) < abs(before.jars.median - true)
    assert width(after.jars) < width(before.jars)


def test_learning_leaves_what_it_was_given_alone(household: Callable[..., Any], crops: Any) -> None:
    history = household(0).history(crops)
    copy = list(history)
    first = learn_batches(history)
    assert history == copy
    assert_array_equal(
        first.blocks[0].components[0].mean, learn_batches(history).blocks[0].components[0].mean
    )
    with pytest.raises(AttributeError):
        first.batches = 3  # type: ignore[misc]


def test_own_batches_are_counted_by_crop(household: Callable[..., Any], crops: Any) -> None:
    learned = learn_batches(household(1).history([*crops, *crops[:2]]))
    assert learned.batches == 7
    assert learned.cells["carrot", "sticks", "raw"] == 2
    assert learned.cells["beet", "slices", "hot"] == 1
    assert learned.usual_pack["beet", "slices"] == "hot"
    assert learned.usual_jar == "pint"


# --- order ----------------------------------------------------------------------------------------


def test_the_order_of_import_never_changes_what_is_learned(
    household: Callable[..., Any], crops: Any
) -> None:
    history = household(2).history(crops * 4)
    one = learn_batches(history)
    for seed in range(3):
        shuffled = [history[i] for i in np.random.default_rng(seed).permutation(len(history))]
        other = learn_batches(shuffled)
        for a, b in zip(one.blocks, other.blocks, strict=True):
            assert a.links == b.links
            assert list(a.effects) == list(b.effects)
            for component, same in zip(a.components, b.components, strict=True):
                assert_allclose(same.mean, component.mean, atol=1e-9)
                assert_allclose(
                    same.root @ same.root.T, component.root @ component.root.T, atol=1e-9
                )
                assert same.weight == pytest.approx(component.weight, abs=1e-9)
        a, b = forecast(history, trimmed_g=3000.0), forecast(shuffled, trimmed_g=3000.0)
        assert_allclose(b.jars.draws, a.jars.draws, rtol=1e-9)
        assert_allclose(b.brine_ml.draws, a.brine_ml.draws, rtol=1e-9)


# --- missing stages -------------------------------------------------------------------------------


def test_a_batch_with_no_weight_as_bought_teaches_density(
    household: Callable[..., Any], crops: Any
) -> None:
    history = [keep(b, "trimmed_g") for b in household(3).history(crops[:1] * 8)]
    assert width(forecast(history, trimmed_g=3000.0).jars) < 0.75 * width(
        forecast([], trimmed_g=3000.0).jars
    )
    # And nothing of the trim: the ready weight from as bought is as uncertain as before.
    before, after = (forecast(h, as_bought_g=3000.0).ready_g for h in ([], history))
    assert width(after) == pytest.approx(width(before), rel=0.02)


def test_a_record_of_weight_as_bought_and_jars_alone_narrows_the_forecast(
    household: Callable[..., Any], crops: Any
) -> None:
    for crop in crops:
        history = [keep(b, "as_bought_g") for b in household(4).history([crop] * 8)]
        asked = {"produce": crop.produce, "cut": crop.cut, "pack": crop.pack, "cure_hours": None}
        # The household counts its last jar by quarters, and has said so.
        before, after = (
            forecast(h, whole_jars=False, **asked, as_bought_g=3000.0).jars for h in ([], history)
        )
        assert width(after) < 0.75 * width(before)


def test_a_hot_pack_known_only_by_its_trimmed_weight_learns_the_whole_ratio(
    household: Callable[..., Any], crops: Any
) -> None:
    beet = crops[2]
    for seed in range(3):
        home = household(seed)
        history = [keep(b, "trimmed_g") for b in home.history([beet] * 8)]
        before, after = (forecast(h, **BEETS, trimmed_g=3000.0).jars for h in ([], history))
        assert width(after) < 0.75 * width(before)
        true = 3000.0 * home.typical(beet, "cook_keep") / home.typical(beet, "density") / PINT_ML
        assert after.median == pytest.approx(true, rel=0.1)


def test_brine_teaches_the_cooking_nobody_weighed(
    household: Callable[..., Any], crops: Any
) -> None:
    # Cook keep and density of a hot pack part only where brine used says what is in the jars.
    beet, gains = crops[2], []
    for seed in range(12):
        history = [replace(b, cooked_g=None) for b in household(seed).history([beet] * 10)]
        dry = [keep(b, "as_bought_g", "trimmed_g", "cure_hours") for b in history]
        with_brine, without = (
            forecast(h, **BEETS, trimmed_g=3000.0).ready_g for h in (history, dry)
        )
        gains.append(width(without) / width(with_brine))
    assert np.mean(gains) > 1.02


def test_the_hand_learned_on_other_crops_is_lent_to_a_new_one(
    household: Callable[..., Any], crops: Any
) -> None:
    history = household(5).history([crops[1], crops[4]] * 9)
    asked = {"trimmed_g": 3000.0}
    assert width(forecast(history, **asked).jars) < width(forecast([], **asked).jars)


def test_a_new_cut_of_a_known_crop_starts_closer_than_a_new_crop(
    household: Callable[..., Any], crops: Any
) -> None:
    gains = {}
    for produce in ("carrot", "turnip"):
        ratios = []
        for seed in range(4):
            history = household(seed).history(crops[:1] * 12)
            asked = {"produce": produce, "cut": "slices", "trimmed_g": 3000.0}
            ratios.append(
                width(forecast(history, **asked).jars) / width(forecast([], **asked).jars)
            )
        gains[produce] = np.mean(ratios)
    assert gains["carrot"] < gains["turnip"] < 1.0


def test_produce_nobody_published_is_learned_too(household: Callable[..., Any], crops: Any) -> None:
    history = [replace(b, produce="oca") for b in household(6).history(crops[:1] * 8)]
    asked = {"produce": "oca", "trimmed_g": 3000.0}
    before, after = forecast([], **asked), forecast(history, **asked)
    assert before.rests_on.published == "nothing published"
    assert width(before.jars) > width(forecast([], trimmed_g=3000.0).jars)
    assert width(after.jars) < 0.7 * width(before.jars)
    true = 3000.0 * sum(b.total_jars for b in history) / sum(b.trimmed_g for b in history)
    assert after.jars.median == pytest.approx(true, rel=0.1)


# --- slips and contradictions ---------------------------------------------------------------------


@pytest.mark.parametrize("column", ["as_bought_g", "trimmed_g", "jars", "brine_made_ml"])
@pytest.mark.parametrize("factor", [2.2, 1 / 2.2, 10.0])
def test_a_gross_slip_in_one_batch_of_twelve_hardly_moves_the_forecast(
    household: Callable[..., Any], crops: Any, column: str, factor: float
) -> None:
    brine = []
    for seed in range(6):
        history = household(seed).history(crops[:1] * 12)
        slipped = list(history)
        value: Any = getattr(history[5 + seed], column)
        value = tuple(factor * n for n in value) if column == "jars" else factor * value
        slipped[5 + seed] = replace(history[5 + seed], **{column: value})
        sound, bent = (forecast(h, as_bought_g=3500.0) for h in (history, slipped))
        assert bent.jars.median == pytest.approx(sound.jars.median, rel=0.03)
        brine.append(abs(bent.brine_ml.median / sound.brine_ml.median - 1.0))
    assert np.mean(brine) < 0.03


def test_a_gross_slip_is_named_and_sound_rows_are_not(
    household: Callable[..., Any], crops: Any
) -> None:
    sound, slips = [], []
    for seed in range(10):
        history = household(seed).history(crops[:1] * 12)
        history[7] = replace(history[7], trimmed_g=history[7].trimmed_g / 2.2)
        for verdict in learn_batches(history).verdicts():
            if verdict.batch == history[7].batch and "trimmed_g" in verdict.columns:
                slips.append(verdict.slip_chance)
            elif verdict.batch != history[7].batch:
                sound.append(verdict.slip_chance)
    assert np.mean(np.array(slips) > 0.5) >= 0.9
    assert np.mean(np.array(sound) > 0.5) <= 0.02


@pytest.mark.parametrize(
    "wrong",
    [
        {"trimmed_g": 9000.0},  # heavier than bought
        {"trimmed_g": 9000.0, "as_bought_g": None, "brine_made_ml": None},  # and than the jars hold
    ],
)
def test_a_contradiction_teaches_no_more_than_an_empty_row(
    household: Callable[..., Any], crops: Any, wrong: dict[str, Any]
) -> None:
    history = household(7).history(crops[:1] * 6)
    bad = replace(history[3], **wrong)
    taught = learn_batches([*history[:3], bad, *history[4:]]).verdicts()
    assert bad.batch not in {verdict.batch for verdict in taught}
    # What its brine was read to tells of the measure all the same.
    bad = replace(bad, brine_made_ml=None, brine_left_ml=None)
    empty = keep(bad, "cure_hours")
    for asked in ({"as_bought_g": 3000.0}, {"trimmed_g": 3000.0}):
        assert_same(
            forecast([*history[:3], bad, *history[4:]], **asked),
            forecast([*history[:3], empty, *history[4:]], **asked),
        )


def test_swapped_brine_teaches_all_but_brine(household: Callable[..., Any], crops: Any) -> None:
    history = household(8).history(crops[:1] * 6)
    one = history[2]
    swapped = replace(one, brine_made_ml=100.0, brine_left_ml=one.brine_made_ml)
    dry = replace(one, brine_made_ml=None, brine_left_ml=None)
    a, b = (
        forecast([*history[:2], other, *history[3:]], trimmed_g=3000.0) for other in (swapped, dry)
    )
    assert_same(a, b)


def test_more_sealed_than_filled_bends_nothing(household: Callable[..., Any], crops: Any) -> None:
    history = household(9).history(crops[:1] * 4)
    sealed = [replace(b, sealed=90.0) for b in history]
    assert_same(forecast(sealed, trimmed_g=3000.0), forecast(history, trimmed_g=3000.0))


# --- brine ----------------------------------------------------------------------------------------


def test_a_pot_that_ran_out_says_at_least_this_much(
    household: Callable[..., Any], crops: Any
) -> None:
    for seed in range(4):
        history = [
            replace(b, brine_made_ml=b.brine_used_ml, brine_left_ml=0.0)
            for b in household(seed).history(crops[:1] * 8)
        ]
        exact = [
            replace(b, brine_made_ml=b.brine_made_ml + 30.0, brine_left_ml=30.0) for b in history
        ]
        ran_out, left_over = (forecast(h, trimmed_g=3000.0).brine_ml for h in (history, exact))
        assert ran_out.median > left_over.median
        assert ran_out.quantile(0.95) > left_over.quantile(0.95)


def test_pot_loss_is_a_belief_until_brine_was_measured(
    household: Callable[..., Any], crops: Any
) -> None:
    people = starting_beliefs().people
    nothing = loss_so_far(
        learn_batches([]).block(Link.BRINE), people.loss_ml, people.loss_between_people
    )
    assert nothing == (people.loss_ml, people.loss_ml * people.loss_between_people)
    history = household(10).history(crops[:1] * 30)
    mean, sd = loss_so_far(
        learn_batches(history).block(Link.BRINE), people.loss_ml, people.loss_between_people
    )
    assert mean > 0
    assert sd < nothing[1]


def test_the_pot_loss_of_a_household_is_found(household: Callable[..., Any], crops: Any) -> None:
    # 40 batches of very different size part the loss from the produce's own volume.
    people, misses = starting_beliefs().people, []
    for seed in range(15):
        home = household(seed)
        sizes = 1000.0 * np.exp(np.random.default_rng(seed).uniform(0.0, 2.3, 40))
        history = [home.put_up(crops[0], i, grams=float(g))[0] for i, g in enumerate(sizes)]
        block = learn_batches(history).block(Link.BRINE)
        found, _ = loss_so_far(block, people.loss_ml, people.loss_between_people)
        misses.append((found - home.loss_ml, people.loss_ml - home.loss_ml))
    learned, believed = np.abs(np.array(misses)).mean(axis=0)
    assert learned < 0.7 * believed


# --- a household's own numbers --------------------------------------------------------------------


def situation(produce: str, cut: str, pack: str) -> Situation:
    crop = starting_beliefs().crop(produce, cut, pack)
    return Situation(crop=crop, produce=produce, cut=cut, pack=pack)


def drawn(learned: Learned, link: Link, at: Situation, draws: int = 4000) -> np.ndarray:
    """Draws of a typical batch of this household, without the batch's noise."""
    people = learned.beliefs.people
    sums, _ = draw_effects(
        learned.block(link), [loadings(link, at, people)], draws, np.random.default_rng(0)
    )
    return centre(link, at) + sums[:, 0]


def test_sixty_batches_recover_a_households_own_yields_and_density(
    household: Callable[..., Any], crops: Any
) -> None:
    # Simulation-based calibration (Cook, Gelman & Rubin 2006, J. Comput. Graph. Stat. 15): over
    # households, the distance from the truth in posterior sd has mean 0 and about the sd 1, and
    # 90 % ranges hold about 90 %. Households, not crops, are counted in the error of the mean.
    scores: dict[Link, list[list[float]]] = {Link.TRIM: [], Link.PACK: []}
    names = {Link.TRIM: "trim_yield", Link.PACK: "density"}
    for seed in range(30):
        home = household(seed)
        learned = learn_batches(home.history(crops * 12))
        for link, name in names.items():
            own = []
            for crop in crops:
                found = drawn(learned, link, situation(crop.produce, crop.cut, crop.pack), 1000)
                value = home.typical(crop, name)
                true = math.log(value / (1.0 - value)) if link is Link.TRIM else math.log(value)
                own.append(float((found.mean() - true) / found.std()))
            scores[link].append(own)
    for link, found in scores.items():
        by_home = np.array(found).mean(axis=1)
        error = by_home.std() / math.sqrt(len(by_home))
        assert abs(by_home.mean()) < 3.0 * error + 0.1, link
        holds = np.mean(np.abs(found) < 1.645)
        band = 3.0 * math.sqrt(0.9 * 0.1 / len(found))
        assert 0.9 - band <= holds <= 1.0, link


def test_a_hand_that_packs_ever_tighter_is_followed_by_the_dates(
    household: Callable[..., Any], crops: Any
) -> None:
    # The same batches with their dates shuffled hide the drift: what following it is worth.
    gains = []
    for seed in range(30):
        home = household(seed)
        history = [home.put_up(crops[0], i, tighter=0.025 * max(0, i - 6))[0] for i in range(17)]
        order = np.random.default_rng(seed).permutation(17)
        hidden = [replace(b, date=history[k].date) for b, k in zip(history, order, strict=True)]
        density = home.typical(crops[0], "density") * math.exp(0.025 * 11)
        true = 3000.0 / density / PINT_ML
        now, mixed = (
            abs(math.log(forecast(h, trimmed_g=3000.0).jars.median / true))
            for h in (history, hidden)
        )
        gains.append(mixed - now)
    assert np.mean(gains) > 3.0 * np.std(gains) / math.sqrt(len(gains))


def test_how_a_hand_has_changed_is_told(household: Callable[..., Any], crops: Any) -> None:
    def mixed(parts: Sequence[tuple[float, float, float]]) -> tuple[float, float]:
        """Mean and sd of a mixture of normals, by the law of total variance."""
        weights, means, sds = np.array(parts).T
        mean = float(weights @ means)
        return mean, math.sqrt(float(weights @ (means**2 + sds**2)) - mean**2)

    def change(seed: int, rate: float) -> tuple[float, float]:
        home = household(seed)
        history = [home.put_up(crops[0], i, tighter=rate * max(0, i - 8))[0] for i in range(24)]
        return mixed(person_change(learn_batches(history), Link.PACK, 8))

    assert mixed(person_change(learn_batches([]), Link.PACK, 0)) == (0.0, 0.0)
    tighter, steady, looser = (
        np.array([change(seed, rate) for seed in range(12)]) for rate in (0.03, 0.0, -0.03)
    )
    # The true change of log density is 15 steps of the rate, 0.45.
    assert 0.2 < tighter[:, 0].mean() < 0.5
    assert -0.5 < looser[:, 0].mean() < -0.2
    assert abs(steady[:, 0].mean()) < 0.05
    assert (tighter[:, 1] > 0).all()


def coverage(
    household: Callable[..., Any], crops: Any, homes: int, sizes: Sequence[int]
) -> dict[str, list[bool]]:
    """Whether the 80 % range held, for each household and number of own batches."""
    held: dict[str, list[bool]] = {f"{what} {n}": [] for what in ("jars", "brine") for n in sizes}
    for seed in range(homes):
        home, rng = household(seed), np.random.default_rng(10_000 + seed)
        puts_up = [crops[i] for i in rng.integers(0, len(crops), max(sizes) + 1)]
        history = home.history(puts_up)
        for n in sizes:
            batch, jars, brine = home.put_up(puts_up[n], n)
            stage = str(rng.choice(["as_bought_g", "trimmed_g"]))
            found = forecast(
                history[:n], produce=batch.produce, cut=batch.cut, pack=batch.pack,
                cure_hours=batch.cure_hours, draws=2000, seed=seed,
                **{stage: getattr(batch, stage)},
            )  # fmt: skip
            for what, outcome, true in (
                ("jars", found.jars, jars),
                ("brine", found.brine_ml, brine),
            ):
                low, high = outcome.interval(0.8)
                held[f"{what} {n}"].append(low <= true <= high)
    return held


def assert_held(held: dict[str, list[bool]], low: float, high: float) -> None:
    """Shares lie in a window widened by three binomial standard errors over households."""
    for name, hits in held.items():
        share = float(np.mean(hits))
        below, above = (3.0 * math.sqrt(p * (1.0 - p) / len(hits)) for p in (low, high))
        assert low - below <= share <= high + above, f"{name}: {share:.3f}"


def test_an_eighty_percent_range_holds_eighty_percent(
    household: Callable[..., Any], crops: Any
) -> None:
    assert_held(coverage(household, crops, 150, (0, 4, 12)), 0.74, 0.88)


@pytest.mark.slow
def test_an_eighty_percent_range_holds_eighty_percent_over_many_households(
    household: Callable[..., Any], crops: Any
) -> None:
    assert_held(coverage(household, crops, 1500, (0, 1, 2, 3, 5, 8, 13, 21, 34)), 0.76, 0.85)


# --- draws ----------------------------------------------------------------------------------------


def test_sums_of_the_same_effects_are_drawn_as_one() -> None:
    learned = learn_batches([])
    at = situation("carrot", "sticks", "raw")
    effects = loadings(Link.PACK, at, learned.beliefs.people)
    found, drawn_from = draw_effects(
        learned.block(Link.PACK), [effects, effects], 500, np.random.default_rng(0)
    )
    assert_allclose(found[:, 0], found[:, 1], atol=1e-5)
    assert drawn_from.of_each().shape == (500,)


def test_two_crops_of_one_hand_are_correlated_as_they_should_be() -> None:
    # Covariance of two sums of independent standard normals: the sum of the products of loadings.
    learned = learn_batches([])
    people = learned.beliefs.people
    one, other = (
        loadings(Link.PACK, situation(*crop, "raw"), people)
        for crop in (("carrot", "sticks"), ("green bean", "whole"))
    )
    found, _ = draw_effects(
        learned.block(Link.PACK), [one, other], 40_000, np.random.default_rng(0)
    )
    norms = [math.sqrt(sum(v * v for v in effects.values())) for effects in (one, other)]
    expected = sum(v * other.get(e, 0.0) for e, v in one.items()) / norms[0] / norms[1]
    assert 0.1 < expected < 0.9
    assert np.corrcoef(found.T)[0, 1] == pytest.approx(expected, abs=0.03)


def test_a_batchs_noise_is_centred_with_longer_tails_than_normal() -> None:
    block = learn_batches([]).block(Link.PACK)
    drawn_from = ComponentDraws(100_000, (slice(0, 50_000),))
    noise = draw_noise(block, Link.PACK, "", drawn_from, np.random.default_rng(0))
    usual = np.quantile(np.abs(noise), 0.5) / 0.6745  # sd of a normal with this middle half
    assert abs(np.median(noise)) < 0.02 * usual
    assert np.mean(np.abs(noise) > 4.0 * usual) > 10 * 6.33e-5  # two-sided normal tail at 4 sd


def test_links_that_a_row_ties_together_are_learned_together() -> None:
    def row(*links: Link) -> Row:
        shares = dict.fromkeys(links, 1.0)
        return Row("1", 0, 0.0, {Effect(links[0], "person", ""): 1.0}, shares, 0.1, 1.0, ("a", "b"))

    T, C, K, P = Link.TRIM, Link.CURE, Link.COOK, Link.PACK
    assert tied_links([]) == [(T,), (C,), (K,), (P,)]
    assert tied_links([row(T), row(P)]) == [(T,), (C,), (K,), (P,)]
    assert sorted(tied_links([row(C, P)])) == sorted([(T,), (K,), (C, P)])
    assert sorted(tied_links([row(T, C), row(C, P)])) == sorted([(K,), (T, C, P)])
    assert tied_links([row(T, C), row(K, P), row(C, K)]) == [(T, C, K, P)]


def test_other_beliefs_can_be_started_from() -> None:
    beliefs = starting_beliefs()
    tight = replace(beliefs, people=replace(beliefs.people, loss_ml=2 * beliefs.people.loss_ml))
    one = habits_from([]).forecast(**CARROTS, trimmed_g=3000.0)
    other = habits_from([], tight).forecast(**CARROTS, trimmed_g=3000.0)
    # The median pot takes about that much more.
    more = other.brine_ml.median - one.brine_ml.median
    assert more == pytest.approx(beliefs.people.loss_ml, rel=0.3)
