"""The worlds of the counter: what goes in comes out, and what is drawn is spread as stated."""

import ast
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scoringrules
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

sys.path.insert(0, str(Path(__file__).parent))

from accuracy.households import QUARTER_CUP_ML, make_household
from accuracy.scores import Figure
from accuracy.worlds import FULLEST, WORLDS
from counter import (
    ask,
    instruments,
    last_jar,
    narrowing,
    odd_batch,
    oddities,
    pots,
    tuning,
    two_sorts,
    unlike,
)
from counter.kitchens import POUND_G, Counter, frozen_crops, make_kitchen, read
from counter.oddities import EMPTY, UNWRITTEN, WRITTEN, draw_oddity, odd_history, swapped
from counter.packing import (
    EATEN,
    HABITS,
    PART,
    SMALLER,
    SQUEEZED,
    TIRING_SD,
    TOPPED,
    draw_hand,
    pack,
)
from counter.pots import LOAD
from counter.report import CRPS, IN80, PIT, SHORT, Results, lines, off_flat, pooled, scores_of
from counter.report import stored as read_results

from jarcast import Forecast, Outcome
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.errors import ForecastError

FOLDER = Path(__file__).parent / "counter"
SEED = 5
WORLD_OF = {
    world.name: world
    for world in (*last_jar.WORLDS, *instruments.WORLDS, Counter("tight", "", denser=0.22))
}


@pytest.mark.parametrize("world", WORLD_OF.values(), ids=WORLD_OF)
def test_produce_and_brine_in_are_produce_and_brine_out(world):
    for number in range(3):
        for one in make_kitchen(world, number, SEED).cooked:
            p = one.packing
            assert p.ready_g == pytest.approx(p.jarred_g + p.eaten_g + p.aside_g)
            # A jar's fill volume is produce and brine, and no more than 0.93 of it produce.
            assert p.jars * p.fill_ml == pytest.approx(p.jarred_g / p.tissue + p.brine_ml)
            assert p.jarred_g / p.tissue <= FULLEST * p.jars * p.fill_ml * (1 + 1e-9)
            assert sum(p.gone) == pytest.approx(1.0)
            assert p.full_g.sum() + p.rest_g == pytest.approx(p.ready_g - p.aside_g)
            jars = len(p.full_g)
            poured = [p.poured_ml(k) for k in range(jars + 2)]
            if p.habit != SQUEEZED:  # which presses some of it back into the pot
                assert poured == sorted(poured)
            assert poured[-1] == p.need_ml == pytest.approx(p.brine_ml + p.loss_ml)
            # Jar by jar: what is left in the bowl, what stands in the jars, what left the pot.
            for k in range(jars):
                grams, brine = p.stood(k)
                assert brine == pytest.approx(k * p.fill_ml - grams / p.tissue)
                assert brine <= p.poured_ml(k) <= brine + p.loss_ml


@pytest.mark.parametrize("habit", HABITS)
def test_a_last_jar_is_what_its_habit_makes_of_it(habit):
    seen = set()
    for number in range(12):
        for one in make_kitchen(Counter(habit, "", habit), number, SEED).cooked:
            p = one.packing
            full, part = len(p.full_g), p.jars - len(p.full_g)
            assert p.habit == habit
            assert p.jars > 0
            if habit == PART:
                # One more jar is begun and never full; its produce stands as close as in another.
                assert 0 < part < 1
                assert p.eaten_g == 0
                continue
            assert part in (0.0, 1.0)
            seen.add((part, p.eaten_g > 0))
            assert p.eaten_g in (0.0, p.rest_g)
            if habit == SQUEEZED:
                assert p.eaten_g == 0
                if part == 0:
                    assert p.rest_g <= 0.15 * p.full_g.sum()
            if part == 0 and habit != SQUEEZED:
                assert p.eaten_g == p.rest_g
                assert full >= 1
    expected = {
        PART: set(),
        TOPPED: {(1.0, False), (0.0, True)},
        SQUEEZED: {(1.0, False), (0.0, False)},
        EATEN: {(1.0, False), (0.0, True)},
    }
    assert seen == expected[habit]


@pytest.mark.parametrize("world", two_sorts.WORLDS, ids=lambda world: world.name)
def test_jars_of_two_sorts_are_written_as_they_were_filled(world):
    ends = set()
    for number in range(6):
        kitchen = make_kitchen(world, number, SEED)
        plain = make_kitchen(replace(world, first=0), number, SEED)
        for one, batch, alone in zip(
            kitchen.cooked, kitchen.history(34), plain.cooked, strict=True
        ):
            p = one.packing
            ends.add(p.jars % 1)
            fill = [SHELF[key].fill_volume_ml(0.5) for key in batch.jar]
            taken = p.jarred_g / p.tissue + p.brine_ml
            assert p.ready_g == pytest.approx(p.jarred_g + p.eaten_g)
            assert p.ready_g == alone.packing.ready_g
            if world.habit in (TOPPED, EATEN):
                assert np.dot(batch.jars, fill) == pytest.approx(taken)
            if world.first and sum(batch.jars) > world.first:
                assert (batch.jars[0], len(batch.jars)) == (world.first, 2)
                assert batch.jar[0] != batch.jar[1] == one.jar
                mouths = {key.endswith("-wide") for key in batch.jar}
                sizes = {key.removesuffix("-wide") for key in batch.jar}
                assert (len(mouths), len(sizes)) == {"mouth": (2, 1), "size": (1, 2)}[world.other]
            if world.habit == SMALLER:
                assert p.jars * p.fill_ml == pytest.approx(taken)
                named = len(batch.jar) > 1
                assert named == (world.named and p.jars % 1 > 0 and p.jars > 1)
                if named:  # half the size, but for the headspace that either has
                    assert 0.45 < fill[1] / fill[0] < 0.5
    due = {PART: None, TOPPED: {0.0}, EATEN: {0.0}, SMALLER: {0.0, 0.5}}[world.habit]
    assert due is None or ends == due


def test_habits_change_the_last_jar_and_nothing_before_it():
    kitchens = [make_kitchen(Counter(h, "", h), 3, SEED) for h in HABITS]
    for batches in zip(*(kitchen.cooked for kitchen in kitchens), strict=True):
        first = batches[0].packing
        for one in batches[1:]:
            assert np.array_equal(one.packing.full_g, first.full_g)
            assert (one.packing.rest_g, one.packing.loss_ml) == (first.rest_g, first.loss_ml)


def test_jars_differ_as_the_plain_world_says():
    # 7 % from batch to batch and 5 % from jar to jar, on the log scale; the textbook's analysis of
    # variance of equal groups, with its chi-squared quantiles, is the reference.
    world, rng = WORLDS["plain"], np.random.default_rng(9)
    household = make_household(world, 1, SEED, frozen_crops())
    habits = replace(household.habits[0], pack=math.log(0.5), tissue=0.0)
    hand = draw_hand(PART, 0.0, rng)
    jars, batches = 8, 1500
    logs = []
    while len(logs) < batches:
        packed = pack(world, habits, hand, 450.0, 450.0 * 0.5 * 14, rng)
        if len(packed.full_g) >= jars:
            logs.append(np.log(packed.full_g[:jars] / 450.0))
    found = np.array(logs)
    within = found.var(axis=1, ddof=1).mean()
    between = found.mean(axis=1).var(ddof=1)
    for value, expected, dof in (
        (within, 0.05**2, batches * (jars - 1)),
        (between, 0.07**2 + 0.05**2 / jars, batches - 1),
    ):
        low, high = expected * stats.chi2.ppf((1e-4, 1 - 1e-4), dof) / dof
        assert low < value < high
    assert found.mean() == pytest.approx(math.log(0.5), abs=4 * 0.0722 / math.sqrt(batches))


def test_a_packer_who_tires_slopes_by_so_much_a_jar():
    rng = np.random.default_rng(4)
    slopes = np.array([draw_hand(PART, TIRING_SD, rng).slope for _ in range(4000)])
    low, high = TIRING_SD**2 * stats.chi2.ppf((1e-4, 1 - 1e-4), 3999) / 3999
    assert low < slopes.var(ddof=1) < high
    # Least squares of log weight on the jar's number gives the slope back.
    world = WORLDS["plain"]
    household = make_household(world, 1, SEED, frozen_crops())
    habits = replace(household.habits[0], pack=math.log(0.5), tissue=0.0)
    hand = replace(draw_hand(PART, 0.0, rng), slope=-0.02)
    fits = []
    for _ in range(400):
        full = pack(world, habits, hand, 450.0, 450.0 * 0.5 * 12, rng).full_g
        fits.append(np.polyfit(np.arange(len(full)), np.log(full), 1)[0])
    assert np.mean(fits) == pytest.approx(-0.02, abs=4 * np.std(fits) / math.sqrt(400))


def test_a_pot_loses_what_the_plain_world_has_it_lose():
    # Logs with sd 0.4 between people and 0.3 between batches about 150 ml: the moments of sums.
    losses = np.array(
        [
            [
                math.log(one.packing.loss_ml)
                for one in make_kitchen(WORLD_OF["part full"], n, 8).cooked
            ]
            for n in range(80)
        ]
    )
    people, batches = losses.mean(axis=1), losses - losses.mean(axis=1, keepdims=True)
    wide = math.sqrt(0.4**2 + 0.3**2 / losses.shape[1])
    assert people.mean() == pytest.approx(math.log(150), abs=4 * wide / math.sqrt(80))
    assert people.std(ddof=1) == pytest.approx(wide, rel=4 / math.sqrt(2 * 79))
    freed = batches.size - len(losses)
    assert math.sqrt((batches**2).sum() / freed) == pytest.approx(0.3, rel=4 / math.sqrt(2 * freed))


@given(st.floats(0.0, 1e5), st.sampled_from([5.0, 50.0, POUND_G / 4, QUARTER_CUP_ML, 250.0]))
def test_a_reading_is_a_whole_multiple_within_half_a_step_and_never_nothing(value, step):
    shown = read(value, step)
    assert shown / step == pytest.approx(round(shown / step))
    assert shown >= step
    assert abs(shown - value) <= 0.5 * step * (1 + 1e-9) or value < 0.5 * step


@pytest.mark.parametrize("world", instruments.WORLDS, ids=lambda w: w.name)
def test_everything_is_written_in_steps_of_its_instrument(world):
    for number in (0, 1):
        kitchen = make_kitchen(world, number, SEED)
        steps = {kitchen.scale_g(i, 13) for i in range(14)}
        assert len(steps) == (2 if world.other_scale_g else 1)
        for i, batch in enumerate(kitchen.history(13)):
            scale, true = kitchen.scale_g(i, 13), kitchen.cooked[i].weights
            for stage, grams in true.items():
                step = max(scale, 10.0) if stage == "as_bought" else scale
                value = getattr(batch, f"{stage}_g")
                assert value / step == pytest.approx(round(value / step))
                assert abs(value - grams) <= step / 2 * (1 + 1e-9)
            for volume in (batch.brine_made_ml, batch.brine_left_ml):
                whole = volume / world.measure_ml
                assert whole == pytest.approx(round(whole))
        one = kitchen.coming(13)
        note = kitchen.note(one, 2, world.scale_g)
        left = one.packing.ready_g - one.packing.stood(2)[0]
        assert abs(note.produce_left_g - left) <= world.scale_g / 2
        pot = note.made_ml - one.packing.poured_ml(2)
        assert pot >= 0
        assert abs(note.pot_left_ml - pot) <= max(world.measure_ml / 2, world.measure_ml - pot)


def test_what_was_made_less_what_was_left_is_what_was_needed():
    # Wherever something was left, the pot's books balance to the measure.
    seen = 0
    for number in range(10):
        kitchen = make_kitchen(WORLD_OF["part full"], number, SEED)
        for one, batch in zip(kitchen.cooked, kitchen.history(34), strict=True):
            used = batch.brine_made_ml - batch.brine_left_ml
            if batch.brine_left_ml > QUARTER_CUP_ML:
                seen += 1
                assert abs(used - one.packing.need_ml) <= QUARTER_CUP_ML / 2 * (1 + 1e-9)
            if batch.brine_left_ml == 0:
                assert used < one.packing.need_ml
    assert seen > 200


def test_of_an_odd_batch_only_the_odd_value_is_wrong():
    kinds = set()
    for number in range(30):
        kitchen = make_kitchen(WORLD_OF["part full"], number, SEED)
        odd = draw_oddity(4, np.random.default_rng(number))
        clean, written = kitchen.history(4), odd_history(kitchen, 4, odd, WRITTEN)
        others = [i for i in range(4) if i != odd.place]
        assert [clean[i] for i in others] == [written[i] for i in others]
        changed = {
            name
            for name in Batch.__struct_fields__
            if getattr(clean[odd.place], name) != getattr(written[odd.place], name)
        }
        if odd.aside:
            assert 0.2 <= odd.aside <= 0.6
            assert changed <= {"jars", "brine_made_ml", "brine_left_ml"}
            packing = oddities.as_cooked(kitchen, odd).packing
            assert packing.aside_g == pytest.approx(odd.aside * packing.ready_g)
        else:
            assert len(changed) == 1
        kinds.add(bool(odd.aside))
        bare = odd_history(kitchen, 4, odd, UNWRITTEN)
        assert all(b.brine_made_ml is None and b.brine_left_ml is None for b in bare)
        last = odd_history(kitchen, 4, replace(odd, column=0.0), EMPTY)[odd.place]
        assert last.brine_left_ml == 0
        assert last.brine_made_ml > 0
    assert kinds == {True, False}


def test_odd_shares_are_spread_as_stated():
    drawn = [draw_oddity(3, np.random.default_rng([2, i])) for i in range(3000)]
    aside = np.array([odd.aside for odd in drawn if odd.aside])
    assert abs(len(aside) / 3000 - 0.5) < 4 * 0.5 / math.sqrt(3000)
    assert stats.kstest(aside, stats.uniform(0.2, 0.4).cdf).pvalue > 1e-4
    assert stats.chisquare(np.bincount([odd.place for odd in drawn])).pvalue > 1e-4


@pytest.mark.parametrize(
    ("value", "wrong"), [(2735.0, 7235.0), (1120.0, 1210.0), (2035.0, 2305.0), (9.5, 19.0)]
)
def test_figures_change_places(value, wrong):
    # By hand: the first two neighbours that differ, no nought in front; none there, it is doubled.
    assert swapped(value) == wrong


def _outcome(found: np.ndarray) -> Forecast:
    class Found:
        jars = brine_ml = Outcome(found)

    return Found()  # type: ignore[return-value]


def test_scores_are_those_of_known_draws():
    draws = np.arange(101.0)
    row = scores_of(_outcome(draws), (97.0, 97.0), (50.0, 50.0), 0.25)[0]
    assert list(row[[IN80, SHORT]]) == [0, 1]
    # scoringrules.crps_ensemble, 'nrg': the plain mean over all pairs of draws.
    assert row[CRPS] == pytest.approx(
        float(scoringrules.crps_ensemble(97.0, draws, estimator="nrg")) / 50.0
    )
    # 97 draws below, one equal: (97 + 0.25) / 101 by the definition of the randomised PIT.
    assert row[PIT] == pytest.approx(97.25 / 101)


def test_the_pit_of_right_forecasts_of_counts_is_flat_and_of_wrong_ones_is_not():
    rng = np.random.default_rng(11)
    rates = rng.uniform(4, 12, 1500)
    for shift, flat in ((0.0, True), (1.0, False)):
        pit = np.array(
            [
                scores_of(
                    _outcome(1.0 + rng.poisson(rate, 600)),
                    (1.0 + float(rng.poisson(rate)) + shift,) * 2,
                    (1.0, 1.0),
                    float(rng.random()),
                )[0, PIT]
                for rate in rates
            ]
        )
        found = off_flat(pit[:, None])
        assert (found.value < 2 * found.error) == flat
        # scipy's own Kolmogorov distance is the reference.
        assert found.value == pytest.approx(stats.kstest(pit, "uniform").statistic)


def test_the_band_of_a_pooled_mean_counts_households():
    # Values of one household that are all the same: the error is that of the households' means.
    rng = np.random.default_rng(6)
    own = rng.normal(size=400)
    rows = np.repeat(own[:, None], 4, axis=1)
    found = pooled(rows)
    assert found.value == pytest.approx(own.mean())
    assert found.error == pytest.approx(own.std(ddof=1) / math.sqrt(400), rel=1e-9)
    rows[rng.random(rows.shape) < 0.3] = np.nan
    rows[3] = np.nan
    assert pooled(rows).value == pytest.approx(np.nanmean(rows))


def test_both_ways_are_tuned_to_the_chance_that_root_finding_gives():
    # Needs spread evenly over 0 to 1 and an order of 1 - chance: the chance is then that of running
    # short, and what is left (1 - chance)^2 / 2 on the mean, the area of a triangle.
    need = (np.arange(4000) + 0.5) / 4000
    orders = np.repeat(1.0 - tuning.CHANCES[None], len(need), axis=0)

    def way(chance: float) -> tuple[np.ndarray, np.ndarray]:
        made = tuning.at(orders, chance)
        return need > made, np.maximum(made - need, 0.0)

    found = tuning.tuned(way, 0.05, 0.5)
    root = optimize.brentq(lambda c: way(c)[0].mean() - 0.0501, 0.001, 0.5)
    assert found.short == pytest.approx(0.05, abs=1 / 4000)
    assert found.chance == pytest.approx(root, abs=0.001)
    assert found.left == pytest.approx(0.5 * 0.95**2, abs=1e-3)
    (first, second), ratio, error = tuning.side_by_side((way, way), 0.05, 0.5)
    assert (first, ratio, error) == (second, 1.0, 0.0)


def test_a_first_load_takes_no_more_than_all_of_it():
    over = 0
    for number in range(6):
        for one in make_kitchen(WORLD_OF["part full"], number, SEED).cooked:
            first, need = one.packing.poured_ml(LOAD), one.packing.need_ml
            assert first <= need
            assert (first == need) == (one.packing.jars <= LOAD)
            over += one.packing.jars > LOAD
    assert 30 < over < 170


def test_results_are_read_back_as_they_were_saved(tmp_path):
    found = Results("pots", 3, 7, 512, 1.0)
    found.cells["over one load"] = {"short, %": Figure(0.25, 0.125), "left": Figure(2.0, math.nan)}
    found.paired("over one load", np.array([[[1.0]], [[2.0]], [[np.nan]]]))
    found.saved(tmp_path / "old.json")
    again = read_results(tmp_path / "old.json")
    assert again.cells["over one load"]["short, %"] == Figure(0.25, 0.125)
    assert math.isnan(again.cells["over one load"]["left"].error)
    # Both runs are one: no household's CRPS differs, so their ratio is 1 and certain.
    assert lines(found, again)[-1] == (
        "| over one load | 25.0 ± 25.0 → 25.0 ± 25.0 | 2.000 → 2.000 | 1.000 |"
    )
    found.paired("over one load", np.array([[[0.5]], [[1.0]], [[np.nan]]]))
    assert found.over(again, "over one load").value == pytest.approx(0.5)


@pytest.mark.parametrize("bench", [last_jar, instruments, two_sorts])
def test_every_forecast_there_can_be_is_scored(bench):
    for number, told in ((0, False), (1, True)):
        table = bench.score_household(number, SEED, 64, told)
        for w, world in enumerate(bench.WORLDS):
            kitchen = make_kitchen(world, number, SEED)
            for i, own in enumerate(bench.OWN):
                full = len(kitchen.coming(own).packing.full_g)
                for j, jars in enumerate(bench.JARS):
                    assert np.isfinite(table[w, i, j]).all() == (jars <= full)
                    assert np.isfinite(table[w, i, j]).any() == (jars <= full)
        held = table[..., IN80]
        assert set(held[np.isfinite(held)]) == {0.0, 1.0}


def test_whole_jar_habits_are_pooled_over_the_same_households():
    rng = np.random.default_rng(1)
    shape = (6, len(last_jar.WORLDS), len(last_jar.OWN), len(last_jar.JARS), 2, 5)
    table, found = rng.random(shape), Results("last jar", 6, SEED, 64)
    last_jar.whole_jars(found, table)
    # By hand: topped up, squeezed and eaten are the second to the fourth; brine after three jars.
    own = np.array([household[1:4, :, 2, 1, CRPS].mean() for household in table])
    cell = found.cells["whole jars, brine, 3 packed"]["CRPS"]
    assert cell.value == pytest.approx(own.mean())
    assert cell.error == pytest.approx(own.std(ddof=1) / math.sqrt(6))
    assert found.each["whole jars, brine, 3 packed"] == pytest.approx(own, abs=1e-5)


def test_questions_and_odd_histories_are_scored_where_they_can_be():
    table = narrowing.score_household(0, SEED, 64)
    weighed = table[:, :, narrowing.QUESTIONS.index("weigh trimmed")]
    assert np.isfinite(weighed[..., : narrowing.SAID]).all()
    for i, own in enumerate(narrowing.OWN):
        one = make_kitchen(narrowing.WORLDS[0], 0, SEED).coming(own)
        cured = table[0, i, narrowing.QUESTIONS.index("weigh cured"), :, narrowing.WAS]
        assert np.isfinite(cured).all() == ("cured" in one.weights)
    odd = odd_batch.score_odd(0, SEED, 64)
    assert np.isfinite(odd[:, :, 0]).all()
    # The same batch comes after each of these histories: only the forecast differs.
    assert len(np.unique(odd[0, :, 0, 0, odd_batch.ALL.index("not jarred")])) == 1
    assert np.isfinite(odd_batch.score_tight(0, SEED, 64)).all()
    assert np.isfinite(pots.score_household(0, SEED, 64)).all()


def test_no_two_kitchens_are_alike_and_each_is_as_it_says():
    drawn = [unlike.draw_world(number, SEED) for number in range(400)]
    jars = np.log([spreads.jar_to_jar for spreads, _ in drawn])
    # Even in logs from 2 to 12 %, and all that is picked is picked in turn.
    even = stats.uniform(math.log(0.02), math.log(6.0))
    assert stats.kstest(jars, even.cdf).pvalue > 0.001
    mixed = sum(counter.habit == "mixed" for _, counter in drawn)
    assert 0.25 < mixed / len(drawn) < 0.42
    assert {counter.scale_g for _, counter in drawn} == set(unlike._SCALES_G)
    assert {counter.notes for _, counter in drawn} == set(unlike._NOTES)

    # What its jars and its pot differ by is what was drawn, over a kitchen's batches.
    for number, (spreads, counter) in enumerate(drawn[:6]):
        kitchen = make_kitchen(counter, number, SEED, spreads)
        slope = kitchen.hand.slope
        packed = [one.packing for one in kitchen.cooked]
        logs = [np.log(p.full_g) - slope * np.arange(len(p.full_g)) for p in packed]
        within = [one - one.mean() for one in logs if len(one) > 1]
        sd = math.sqrt(sum((w**2).sum() for w in within) / sum(len(w) - 1 for w in within))
        # Near the fullest a jar can be they differ less.
        loose = max(p.full_g.max() / (p.fill_ml * p.tissue) for p in packed if len(p.full_g))
        assert sd < 1.25 * spreads.jar_to_jar
        assert sd > 0.75 * spreads.jar_to_jar or loose > 0.85 * FULLEST
        lost = np.log([p.loss_ml for p in packed])
        assert lost.std(ddof=1) == pytest.approx(spreads.loss_batches, rel=0.4)
        for p in packed:
            assert p.ready_g == pytest.approx(p.jarred_g + p.eaten_g)
            assert p.jars * p.fill_ml == pytest.approx(p.jarred_g / p.tissue + p.brine_ml)


def test_in_unlike_kitchens_every_forecast_is_scored_or_refused():
    for number in range(3):
        table = unlike.score_household(number, SEED, 64)
        spreads, counter = unlike.draw_world(number, SEED)
        kitchen = make_kitchen(counter, number, SEED, spreads)
        for i, own in enumerate(unlike.OWN):
            full = len(kitchen.coming(own).packing.full_g)
            for j, jars in enumerate(unlike.JARS):
                refused = table[i, j, :, -1]
                assert np.isfinite(refused).all() == (jars <= full)
                scored = np.isfinite(table[i, j, :, :-1]).all()
                assert scored == (jars <= full and not refused.any())


class _Pots:
    """A forecast of 14 jars and 1400 ml that answers pot by pot, or refuses to."""

    jars, brine_ml = Outcome(np.full(50, 14.0)), Outcome(np.full(50, 1400.0))

    def __init__(self, most: float) -> None:
        self.most = most

    def brine_for(self, jars: int, short_chance: float) -> float:
        if short_chance > self.most:
            raise ForecastError("too large a chance")
        return 100.0 * jars - 1000.0 * short_chance


def test_the_first_pot_is_what_is_answered_or_the_share_of_its_load():
    chances = np.array([0.01, 0.2])
    whole: Any = _outcome(np.full(50, 14.0))
    whole.brine_ml = Outcome(np.full(50, 1400.0))
    # Half of the jars take half of the brine; and all of them all of it.
    assert ask.first_pot_ml(whole, 7, chances) == pytest.approx([700.0, 700.0])
    assert ask.first_pot_ml(whole, 20, chances) == pytest.approx([1400.0, 1400.0])
    answered: Any = _Pots(0.05)
    found = ask.first_pot_ml(answered, 7, chances)
    assert found[0] == pytest.approx(690.0)
    assert math.isnan(found[1])
    assert tuning.largest_known(np.tile(np.where(tuning.CHANCES > 0.05, np.nan, 1.0), (3, 1))) == (
        tuning.CHANCES[tuning.CHANCES <= 0.05].max()
    )
    refused: Any = _Pots(0.0)
    assert ask.first_pot_ml(refused, 7, chances) == pytest.approx([1400.0, 1400.0])


def test_the_worlds_know_nothing_of_the_model():
    names = [
        (path.name, name)
        for path in sorted(FOLDER.glob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [str(node.module)]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    ]
    assert ("ask.py", "jarcast") in names
    public = ("jarcast", "jarcast.domain", "jarcast.errors")
    for file, name in names:
        # The draws behind a first pot that nobody may order: what is tuned goes beyond 0.05.
        if name.startswith("jarcast") and (file, name) != ("ask.py", "jarcast.forecast.pots"):
            assert name.startswith(public[1:]) or name == public[0], (file, name)
        if file in ("packing.py", "kitchens.py", "oddities.py"):
            assert name != "jarcast"
