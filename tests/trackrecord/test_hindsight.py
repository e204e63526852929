"""The track record: never looking forward, scored by the book, beside the running average."""

import datetime as dt
import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import integrate, stats

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.errors import ForecastError
from jarcast.forecast.habits import Habits, habits_from
from jarcast.forecast.outcome import Outcome
from jarcast.trackrecord import replay as replay_module
from jarcast.trackrecord.average import jars_of
from jarcast.trackrecord.hindsight import (
    LATEST,
    Hindsight,
    Kept,
    Scored,
    Tally,
    TrackRecord,
    Why,
    look_back,
    score_kept,
)
from jarcast.trackrecord.replay import (
    DRAWS,
    Entered,
    Replayed,
    as_one_import,
    forecast_again,
    known_before,
    learned_by_then,
    replay,
)
from jarcast.trackrecord.scoring import RANGES, Frequency, crps, mark
from jarcast.trackrecord.stored import (
    LEVELS,
    StoredForecast,
    Turn,
    answer_document,
    at_levels,
    known_document,
    stored_from,
    stored_from_documents,
)

DAY = dt.date(2024, 8, 1)


def carrots(name: str, day: int, **values: Any) -> Batch:
    """A plain batch of carrot sticks so many days after the first of August."""
    plain = {
        "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": ("pint",), "jars": (9.0,),
        "trimmed_g": 2300.0, "cure_hours": 0.0, "brine_made_ml": 3000.0, "brine_left_ml": 700.0,
    }  # fmt: skip
    return Batch(batch=name, date=DAY + dt.timedelta(days=day), **{**plain, **values})


def written(replayed: Sequence[Replayed]) -> dict[tuple[str, str], str]:
    """Every forecast as text, to the last bit, by batch and stage; the average's answer too."""
    return {
        (one.stored.batch, one.stored.stage): json.dumps(
            [known_document(one.stored), answer_document(one.stored), repr(one.average)]
        )
        for one in replayed
    }


def only(record: TrackRecord) -> Scored:
    (scored,) = record.scored
    return scored


def normal(mean: float, sd: float) -> Outcome:
    """A normal outcome as evenly spread draws."""
    levels = (np.arange(20_000) + 0.5) / 20_000
    return Outcome(np.asarray(stats.norm.ppf(levels, mean, sd)))


# Scores


@pytest.mark.parametrize("was", [6.0, 9.0, 10.0, 10.7, 14.0])
def test_the_crps_of_a_normal_is_its_closed_form(was: float) -> None:
    # Gneiting and Raftery (2007), JASA 102, 359-378, section 4.2:
    # sd (z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi)).
    z = (was - 10.0) / 1.5
    closed = 1.5 * (z * (2 * stats.norm.cdf(z) - 1) + 2 * stats.norm.pdf(z) - math.pi**-0.5)
    # 101 levels stand for the whole: within half a hundredth of the spread.
    assert crps(normal(10.0, 1.5), was) == pytest.approx(closed, abs=0.005 * 1.5)


@pytest.mark.parametrize("was", [0.3, 2.0, 9.0])
def test_the_crps_of_lopsided_draws_is_the_reference_library_s(was: float) -> None:
    import scoringrules

    draws = np.random.default_rng(4).lognormal(0.7, 0.6, 4096)
    reference = float(scoringrules.crps_ensemble(was, draws))
    assert crps(Outcome(draws), was) == pytest.approx(reference, rel=0.01)


@pytest.mark.parametrize("least", [8.0, 10.0, 12.5])
def test_an_outcome_known_only_as_at_least_is_scored_by_what_the_forecast_says_below(
    least: float,
) -> None:
    # Avati et al. (2019), Countdown regression, UAI: the integral of F squared up to the point of
    # censoring; here by quadrature.
    below = integrate.quad(lambda x: stats.norm.cdf(x, 10.0, 1.5) ** 2, 0.0, least)[0]
    assert crps(normal(10.0, 1.5), least, at_least=True) == pytest.approx(below, abs=0.0075)


def test_a_range_holds_up_to_its_ends_and_no_further() -> None:
    # Of 0, 1, ... 100 the central ranges are 25-75, 10-90 and 5-95 (type 7 quantiles).
    outcome = Outcome(np.arange(101.0))
    assert RANGES == (0.5, 0.8, 0.9)
    for was, held in [
        (50.0, (True, True, True)),
        (75.0, (True, True, True)),
        (24.9, (False, True, True)),
        (90.1, (False, False, True)),
        (95.1, (False, False, False)),
        (4.9, (False, False, False)),
    ]:
        assert mark(outcome, was, None).held == held, was
    assert mark(outcome, 60.0, None).miss == 10.0
    assert mark(outcome, 95.0, None).short is False
    assert mark(outcome, 95.1, None).short is True


def test_an_outcome_of_at_least_so_much_fails_a_range_only_by_passing_it() -> None:
    outcome = Outcome(np.arange(101.0))
    low = mark(outcome, 2.0, None, at_least=True)
    assert (low.held, low.miss) == ((True, True, True), 0.0)
    high = mark(outcome, 92.0, None, at_least=True)
    assert (high.held, high.miss) == ((False, False, True), 42.0)


@pytest.mark.parametrize("of", [1, 2, 7, 40, 1000])
@pytest.mark.parametrize("chance", [0.05, 0.5, 0.8, 0.9])
def test_how_often_by_chance_alone_is_the_central_binomial_range(of: int, chance: float) -> None:
    low, high = stats.binom.interval(0.95, of, chance)
    assert Frequency(chance, 0, of).by_chance == (int(low), int(high))


@pytest.mark.parametrize(("times", "of"), [(0, 1), (1, 1), (33, 40), (0, 12), (812, 1000)])
def test_the_band_of_a_share_is_wilson_s(times: int, of: int) -> None:
    from statsmodels.stats.proportion import proportion_confint

    assert Frequency(0.8, times, of).band == pytest.approx(
        proportion_confint(times, of, method="wilson"), abs=1e-12
    )


# A forecast as it was made


def test_a_past_forecast_says_what_the_forecast_said(batches: list[Batch]) -> None:
    forecast = habits_from(batches).forecast(
        produce="carrot", cut="sticks", pack="raw", jar="5 pint-wide, then pint", trimmed_g=2345.6
    )
    stored = stored_from("next", forecast)
    assert isinstance(stored.jars, Outcome)
    assert stored.brine_ml is not None
    for ours, theirs in [(stored.jars, forecast.jars), (stored.brine_ml, forecast.brine_ml)]:
        for level in LEVELS:
            assert ours.quantile(level) == pytest.approx(theirs.quantile(level), rel=1e-12)
        assert ours.interval(0.9) == pytest.approx(theirs.interval(0.9), rel=1e-12)
    assert stored.own_batches == len(batches)


def test_a_past_forecast_survives_as_json_to_the_last_bit(batches: list[Batch]) -> None:
    for produce in ("carrot", "carrot relish"):
        forecast = habits_from(batches).forecast(
            produce=produce, jar="5 pint-wide, then pint", as_bought_g=0.1 + 0.2 + 2000
        )
        stored = stored_from("next", forecast)
        known, answer = (
            json.loads(json.dumps(document, allow_nan=False))
            for document in (known_document(stored), answer_document(stored))
        )
        again = stored_from_documents("next", known, answer)
        assert known_document(again) == known_document(stored)
        assert answer_document(again) == answer_document(stored)
        assert again.turns == (
            Turn("pint-wide", 5.0, SHELF["pint-wide"].fill_volume_ml()),
            Turn("pint", math.inf, SHELF["pint"].fill_volume_ml()),
        )
        assert (again.brine_ml is None) == (produce == "carrot relish")  # it makes its own


@pytest.mark.parametrize("draws", [1, 2, 101, 4096])
def test_what_is_kept_of_an_outcome_are_its_quantiles_by_numpy(draws: int) -> None:
    # numpy.quantile's way unless told otherwise is Hyndman and Fan's type 7.
    drawn = np.random.default_rng(draws).gamma(3.0, size=draws)
    due = np.quantile(drawn, np.arange(101) / 100)
    np.testing.assert_allclose(at_levels(Outcome(drawn)), due, rtol=1e-12)


def test_documents_that_are_no_forecast_are_refused_with_the_batch_s_name(
    batches: list[Batch],
) -> None:
    stored = stored_from("next", habits_from(batches).forecast(produce="carrot", trimmed_g=2000))
    known, answer = known_document(stored), answer_document(stored)
    with pytest.raises(ForecastError, match="'next' was written by a newer jarcast"):
        stored_from_documents("next", {**known, "version": 2}, answer)
    for broken in ({**answer, "jars": [1.0]}, {**answer, "jars": None}, {"version": 1}):
        with pytest.raises(ForecastError, match="'next' cannot be read"):
            stored_from_documents("next", known, broken)
    turn = {"jar": "pint", "count": None, "fill_ml": "437"}
    for odd in ({"grams": "lb"}, {"cut": 1}, {"own_batches": 1.5}, {"turns": [turn]}):
        with pytest.raises(ForecastError, match="'next' cannot be read"):
            stored_from_documents("next", {**known, **odd}, answer)


# Never looking forward


def test_each_batch_is_forecast_from_the_batches_of_earlier_dates_alone(
    batches: list[Batch],
) -> None:
    found = replay(as_one_import(batches))
    ordered = sorted(batches, key=lambda batch: batch.date)
    assert list(dict.fromkeys(one.stored.batch for one in found)) == [b.batch for b in ordered]
    for number, batch in enumerate(ordered):
        habits = habits_from(ordered[:number])
        for stage in ("as_bought_g", "trimmed_g", "cured_g"):
            grams = getattr(batch, stage)
            if grams is None:
                continue
            forecast = habits.forecast(
                produce=batch.produce, cut=batch.cut, pack=batch.pack, jar=batch.jar[0],
                cure_hours=batch.cure_hours, draws=DRAWS, **{stage: grams},
            )  # fmt: skip
            (stored,) = [
                one.stored
                for one in found
                if (one.stored.batch, one.stored.stage) == (batch.batch, stage)
            ]
            assert stored.own_batches == number
            assert answer_document(stored) == answer_document(stored_from(batch.batch, forecast))


def test_one_forecast_a_stage_a_batch(batches: list[Batch]) -> None:
    asked = [(one.stored.batch, one.stored.stage) for one in replay(as_one_import(batches))]
    assert len(asked) == len(set(asked))
    assert asked == [
        ("0", "as_bought_g"), ("0", "trimmed_g"), ("1", "as_bought_g"), ("1", "trimmed_g"),
        ("2", "as_bought_g"), ("2", "trimmed_g"), ("c0", "trimmed_g"), ("c0", "cured_g"),
        ("c1", "trimmed_g"), ("c1", "cured_g"), ("b", "as_bought_g"),
    ]  # fmt: skip


def test_a_future_batch_or_a_later_correction_changes_no_past_forecast(
    batches: list[Batch],
) -> None:
    record = as_one_import(batches[:4])
    before = written(replay(record))
    later = [
        Entered(replace(batches[0], jars=(5.0,)), 1),  # corrections
        Entered(replace(batches[1], trimmed_g=4000.0, date=dt.date(2020, 1, 1)), 2),
        Entered(carrots("forgotten", -50, jars=(4.0,)), 3),  # entered late, of an earlier date
        Entered(batches[4], 4),  # batches to come
        Entered(batches[5], 5),
        Entered(replace(batches[3], produce="beet"), 6),
    ]
    for upto in range(1, len(later) + 1):
        after = written(replay([*record, *later[:upto]]))
        assert {key: after[key] for key in before} == before


def test_a_correction_counts_for_the_batches_entered_after_it() -> None:
    first, second = carrots("1", 0), carrots("2", 10)
    mended = replace(first, jars=(6.0,))
    entered_after = [Entered(first, 0), Entered(mended, 1), Entered(second, 2)]
    entered_before = [Entered(first, 0), Entered(second, 1), Entered(mended, 2)]
    assert known_before(entered_after, entered_after[2]) == [mended]
    assert known_before(entered_before, entered_before[1]) == [first]
    from_the_start = written(replay(as_one_import([mended, second])))["2", "trimmed_g"]
    assert written(replay(entered_after))["2", "trimmed_g"] == from_the_start
    assert written(replay(entered_before))["2", "trimmed_g"] != from_the_start


def test_a_withdrawal_changes_no_past_forecast_and_counts_from_there_on() -> None:
    first, second, third = carrots("1", 0, jars=(5.0,)), carrots("2", 10), carrots("3", 20)
    before = [Entered(first, 0), Entered(second, 1)]
    out, back = Entered(first, 2, withdrawn=True), Entered(first, 4)
    stored = written(replay(before))
    record = [*before, out, Entered(third, 3)]
    after = written(replay(record))
    assert after["2", "trimmed_g"] == stored["2", "trimmed_g"]
    # The third is forecast as if the first had never been, and the first no more.
    assert after["3", "trimmed_g"] == written(replay([before[1], record[3]]))["3", "trimmed_g"]
    assert {name for name, _ in after} == {"2", "3"}
    assert known_before(record, record[1]) == [first]
    assert known_before(record, record[3]) == [second]
    # Taken back in, it counts again, and its own forecast is what it was.
    again = written(replay([*record, back]))
    assert {key: again[key] for key in after} == after
    assert again["1", "trimmed_g"] == stored["1", "trimmed_g"]
    fourth = Entered(carrots("4", 30), 5)
    assert known_before([*record, back, fourth], fourth) == [first, second, third]


def test_a_withdrawn_batch_is_neither_counted_nor_scored() -> None:
    record = [Entered(carrots(str(number), number), number) for number in range(3)]
    found = look_back([*record, Entered(record[1].batch, 3, withdrawn=True)])
    assert found.batches == 2
    assert {one.stored.batch for one in found.replayed.scored} == {"0", "2"}
    assert (found.replayed.waiting, found.replayed.set_aside) == ((), ())


def test_rows_of_one_import_stand_at_once_and_only_earlier_dates_come_before() -> None:
    rows = [carrots("c", 5), carrots("a", 0), carrots("b", 5), carrots("d", 9)]
    record = as_one_import(rows)
    assert [b.batch for b in known_before(record, record[2])] == ["a"]
    assert [b.batch for b in known_before(record, record[3])] == ["c", "a", "b"]


def test_of_one_day_what_was_entered_earlier_comes_before() -> None:
    record = [Entered(carrots("morning", 0), 0), Entered(carrots("evening", 0), 1)]
    assert known_before(record, record[0]) == []
    assert known_before(record, record[1]) == [record[0].batch]


def test_a_batch_written_down_late_knows_nothing_of_later_dates() -> None:
    record = [Entered(carrots("summer", 30), 0), Entered(carrots("spring", 0), 1)]
    assert known_before(record, record[1]) == []
    assert known_before(record, record[0]) == []


def test_a_batch_in_several_sorts_is_asked_with_the_part_full_one_last() -> None:
    batch = carrots("1", 0, jar=("pint", "pint-wide", "quart"), jars=(4.5, 5.0, 0.0))
    (one,) = replay(as_one_import([batch]))
    assert [(turn.jar, turn.count) for turn in one.stored.turns] == [
        ("pint-wide", 5.0),
        ("pint", math.inf),
    ]


def test_several_cores_give_the_same_forecasts(monkeypatch: pytest.MonkeyPatch) -> None:
    record = as_one_import(
        [carrots(str(day), day, jars=(8.0 + day % 3 / 2,), trimmed_g=2000.0 + 90 * (day % 5))
         for day in range(20)]
    )  # fmt: skip
    told: list[tuple[int, int]] = []
    alone = replay(record)
    monkeypatch.setattr(replay_module, "LONG", 10)
    spread = replay(record, jobs=2, tell=lambda done, all_of_them: told.append((done, all_of_them)))
    assert told == [(8, 20), (16, 20), (20, 20)]
    assert [one.stored.batch for one in spread] == [one.stored.batch for one in alone]
    for here, there in zip(spread, alone, strict=True):
        # Two processes may add in another order: the same to all but the last digits.
        assert here.stored.jars.draws == pytest.approx(there.stored.jars.draws, rel=1e-9)
        assert here.average == there.average


def long_record() -> list[Batch]:
    """450 batches, one a day: carrots, and every ninetieth time beets."""
    return [
        carrots(str(day), day, produce="beet" if day % 90 == 89 else "carrot") for day in range(450)
    ]


@pytest.mark.parametrize("count", [0, 1, 40, 200])
def test_up_to_two_hundred_batches_all_that_went_before_is_learned_from(count: int) -> None:
    before = long_record()[:count]
    assert learned_by_then(before) == before


def test_of_a_long_record_one_in_twenty_may_wait_and_none_of_a_seldom_crop() -> None:
    record = long_record()
    sizes = []
    for count in range(200, 451):
        learned = learned_by_then(record[:count])
        assert learned == record[: len(learned)]
        waiting = record[len(learned) : count]
        assert len(waiting) <= len(learned) / 20
        # Beets were put up two to five times: one batch more of them tells a good deal.
        assert all(batch.produce == "carrot" for batch in waiting)
        sizes.append(len(learned))
    # Learned again not for each of 251 batches, but a few times for each doubling.
    assert len(set(sizes)) < 60


def test_what_waits_goes_by_date_whatever_came_in_first() -> None:
    record = long_record()[:215]
    # Written down late, of an early date: it is not among the latest few.
    late = record[:50] + record[51:] + [record[50]]
    assert learned_by_then(late) == learned_by_then(record)


def test_a_batch_of_a_long_record_is_forecast_from_what_is_learned_by_then() -> None:
    rng = np.random.default_rng(5)
    record = [
        carrots(str(day), day, jars=(float(round(2 * rng.normal(9.0, 0.6)) / 2),))
        for day in range(213)
    ]
    (found,) = replay(as_one_import(record), latest=1)
    habits = habits_from(learned_by_then(record[:-1]))
    alone = forecast_again(habits, record[-1], "trimmed_g")
    assert alone is not None
    assert answer_document(found.stored) == answer_document(alone)
    # Hardly another forecast than by all of them: the middle within a twentieth of its range.
    by_all = forecast_again(habits_from(record[:-1]), record[-1], "trimmed_g")
    assert by_all is not None
    low, high = by_all.jars.interval(0.8)
    assert abs(alone.jars.median - by_all.jars.median) < 0.05 * (high - low)


def three_days() -> list[Batch]:
    """Twelve batches, four on each of three days."""
    return [
        carrots(f"{day}-{turn}", day, jars=(8.0 + turn / 2,), trimmed_g=2000.0 + 90 * turn)
        for day in range(3)
        for turn in range(4)
    ]


def test_batches_that_the_same_ones_went_before_are_learned_for_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    learned: list[int] = []
    learn = replay_module.habits_from

    def counting(batches: list[Batch], *rest: object) -> Habits:
        learned.append(len(batches))
        return learn(batches, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(replay_module, "habits_from", counting)
    replay(as_one_import(three_days()))
    assert learned == [0, 4, 8]  # what went before each day; one import tells no order in a day


def test_a_forecast_shared_by_a_day_is_that_of_learning_for_each_batch_anew() -> None:
    batches = three_days()
    found = {one.stored.batch: one.stored for one in replay(as_one_import(batches))}
    for batch in batches:
        before = [other for other in batches if other.date < batch.date]
        alone = habits_from(before).forecast(
            produce="carrot", cut="sticks", pack="raw", jar="pint", cure_hours=batch.cure_hours,
            trimmed_g=batch.trimmed_g, draws=DRAWS,
        )  # fmt: skip
        assert found[batch.batch].jars.median == pytest.approx(alone.jars.median, rel=1e-9)


def test_the_latest_batches_are_forecast_as_in_the_whole_record() -> None:
    record = as_one_import(three_days())
    whole, latest = replay(record), replay(record, latest=5)
    assert [one.stored.batch for one in latest] == ["1-3", "2-0", "2-1", "2-2", "2-3"]
    for here, there in zip(latest, whole[-5:], strict=True):
        assert here.stored.jars.draws == pytest.approx(there.stored.jars.draws, rel=1e-9)
        assert here.average == there.average
    found = look_back(record, latest=5)
    assert (found.batches, found.looked_at) == (12, 5)
    assert look_back(record, latest=99).looked_at == 12
    with pytest.raises(ForecastError, match="latest=0"):
        replay(record, latest=0)


# The running average


def test_the_running_average_is_that_of_the_ratios_worked_by_hand(batches: list[Batch]) -> None:
    found = replay(as_one_import(batches))
    averages = {(one.stored.batch, one.stored.stage): one.average for one in found}
    assert averages["0", "trimmed_g"] is None
    third = averages["2", "trimmed_g"]
    assert third is not None
    # Jars a kilogram 9 / 2.3 and 7.5 / 2.0, of 3.15 kg; brine a jar 2300 / 9 and 2000 / 7.5 ml.
    jars = (9 / 2.3 + 7.5 / 2.0) / 2 * 3.15
    assert third.jars == pytest.approx(jars, rel=1e-12)
    assert third.brine_ml == pytest.approx((2300 / 9 + 2000 / 7.5) / 2 * jars, rel=1e-12)
    assert averages["b", "as_bought_g"] is None  # no beets before
    cucumbers = averages["c1", "cured_g"]
    assert cucumbers is not None
    assert cucumbers.brine_ml is None  # none written down
    assert cucumbers.jars == pytest.approx(4.0 / (0.85 * 2.6) * (0.85 * 3.5), rel=1e-12)


def test_jars_count_by_what_they_hold_in_the_average() -> None:
    pints = carrots("1", 0, jars=(8.0,), trimmed_g=2000.0, brine_made_ml=None)
    pint, quart = (SHELF[key].fill_volume_ml() for key in ("pint", "quart"))
    (_, second) = replay(as_one_import([pints, carrots("2", 1, jar=("quart",), trimmed_g=3000.0)]))
    assert second.average is not None
    assert second.average.jars == pytest.approx(8.0 * pint * 1.5 / quart, rel=1e-12)


def test_a_volume_fills_jar_after_jar() -> None:
    turns = (Turn("pint-wide", 5.0, 400.0), Turn("pint", math.inf, 500.0))
    assert jars_of(1000.0, turns) == pytest.approx(2.5)
    assert jars_of(3250.0, turns) == pytest.approx(5.0 + 2.5)


def test_a_batch_that_contradicts_itself_is_in_no_average() -> None:
    wrong = carrots("1", 0, as_bought_g=1000.0)  # trimmed 2300 g
    record = as_one_import([wrong, carrots("2", 1)])
    assert [one.average for one in replay(record) if one.stored.batch == "2"] == [None]


# The record


def test_an_empty_record_has_nothing_to_tell() -> None:
    empty = TrackRecord((), (), (), ())
    assert look_back([]) == Hindsight(batches=0, looked_at=0, kept=empty, replayed=empty)


def test_a_first_batch_is_scored_against_the_published_yields_alone() -> None:
    batch = carrots("1", 0)
    found = look_back(as_one_import([batch]))
    assert found.batches == 1
    one = only(found.replayed)
    beginner = habits_from([]).forecast(
        produce="carrot", cut="sticks", pack="raw", trimmed_g=2300.0, cure_hours=0.0
    )
    assert one.stored.own_batches == 0
    assert one.jars.was == 9.0
    assert one.jars.miss == pytest.approx(9.0 - beginner.jars.median, rel=1e-12)
    assert one.jars.average is None
    assert one.brine is not None
    assert one.brine.was == 2300.0
    assert [group.stage for group in found.replayed.groups] == [LATEST, "trimmed_g"]
    (held50, held80, _) = found.replayed.groups[0].jars.held
    assert (held50.of, held80.of, held80.chance) == (1, 1, 0.8)
    assert found.replayed.groups[0].jars.beside is None


def test_the_latest_group_holds_each_batch_once_from_its_last_weight(
    batches: list[Batch],
) -> None:
    found = look_back(as_one_import(batches)).replayed
    by_stage = {group.stage: group for group in found.groups}
    assert list(by_stage) == [LATEST, "as_bought_g", "trimmed_g", "cured_g"]
    assert by_stage[LATEST].jars.scored == 6
    assert by_stage["trimmed_g"].jars.scored == 5
    assert by_stage["cured_g"].jars.scored == 2
    latest = {
        "0": "trimmed_g", "1": "trimmed_g", "2": "trimmed_g", "c0": "cured_g", "c1": "cured_g",
        "b": "as_bought_g",
    }  # fmt: skip
    misses = sorted(
        abs(one.jars.miss) for one in found.scored if latest[one.stored.batch] == one.stored.stage
    )
    assert by_stage[LATEST].jars.miss == pytest.approx((misses[2] + misses[3]) / 2)


def tally_of(record: Sequence[Entered], outcome: str) -> Tally:
    tally = getattr(look_back(record).replayed.groups[0], outcome)
    assert isinstance(tally, Tally)
    return tally


def test_the_misses_beside_the_average_s_are_those_on_the_same_batches(
    batches: list[Batch],
) -> None:
    found = look_back(as_one_import(batches[:3])).replayed
    beside = found.groups[0].jars.beside
    assert beside is not None
    assert beside.batches == 2  # the first had none before it
    ours = [abs(s.jars.miss) for s in found.scored if s.stored.stage == "trimmed_g"][1:]
    assert beside.own_miss == pytest.approx(sum(ours) / 2)
    # By hand: 9 / 2.3 of 2.0 kg against 7.5 jars, and as above of 3.15 kg against 12.
    second, third = 9 / 2.3 * 2.0 - 7.5, (9 / 2.3 + 7.5 / 2.0) / 2 * 3.15 - 12.0
    assert beside.average_miss == pytest.approx((abs(second) + abs(third)) / 2, rel=1e-12)


def test_a_batch_that_contradicts_itself_is_set_aside_with_the_reason() -> None:
    good = carrots("1", 0)
    wrong = carrots("2", 1, as_bought_g=1000.0)  # trimmed heavier than as bought
    found = look_back(as_one_import([good, wrong])).replayed
    assert [one.stored.batch for one in found.scored] == ["1"]
    assert {(one.stored.stage, one.why) for one in found.set_aside} == {
        ("as_bought_g", Why.CONTRADICTS),
        ("trimmed_g", Why.CONTRADICTS),
    }


@pytest.mark.parametrize(
    "wrong",
    [
        {"brine_left_ml": 3500.0},  # more left than made
        {"brine_made_ml": 30_000.0},  # more than the jars could take
    ],
)
def test_a_contradiction_in_the_brine_leaves_the_jars_to_be_scored(wrong: dict[str, Any]) -> None:
    one = only(look_back(as_one_import([carrots("1", 0, **wrong)])).replayed)
    assert one.jars.was == 9.0
    assert one.brine is None


def test_more_in_the_jars_than_they_hold_leaves_nothing_to_be_scored() -> None:
    wrong = carrots("1", 0, jars=(3.0,))
    found = look_back(as_one_import([wrong])).replayed
    assert [one.why for one in found.set_aside] == [Why.CONTRADICTS]


def test_jars_that_did_not_seal_are_no_reason_to_set_a_batch_aside() -> None:
    odd = carrots("1", 0, sealed=12.0)  # more sealed than filled: touches nothing learned
    assert only(look_back(as_one_import([odd])).replayed).jars.was == 9.0


def test_a_corrected_outcome_is_what_a_past_forecast_is_scored_against() -> None:
    batch = carrots("1", 0)
    mended = replace(batch, jars=(8.0,), brine_left_ml=900.0)
    one = only(look_back([Entered(batch, 0), Entered(mended, 1)]).replayed)
    assert one.jars.was == 8.0
    assert one.brine is not None
    assert one.brine.was == 2100.0


def test_a_forecast_from_a_weight_corrected_since_is_set_aside() -> None:
    batch = carrots("1", 0, trimmed_g=5070.6)  # pounds taken for kilograms
    mended = replace(batch, trimmed_g=2300.0)
    found = look_back([Entered(batch, 0), Entered(mended, 1)]).replayed
    assert [one.why for one in found.set_aside] == [Why.OTHER_WEIGHT]
    assert found.scored == ()


def test_brine_that_ran_out_is_counted_apart() -> None:
    record = as_one_import(
        [carrots("1", 0), carrots("2", 1, brine_made_ml=2300.0, brine_left_ml=0.0),
         carrots("3", 2, brine_made_ml=9000.0, brine_left_ml=0.0, jars=(20.0,), trimmed_g=5100.0),
         carrots("4", 3, brine_left_ml=None)]
    )  # fmt: skip
    tally = tally_of(record, "brine_ml")
    assert (tally.scored, tally.ran_out, tally.passed) == (1, 2, 1)
    assert (tally.short.times, tally.short.of) == (1, 2)  # 9 litres passed any order
    assert tally_of(record, "jars").scored == 4


def test_what_makes_its_own_brine_has_no_brine_to_score() -> None:
    kraut = carrots("1", 0, produce="sauerkraut", cut="shredded")
    assert only(look_back(as_one_import([kraut])).replayed).brine is None


# Forecasts that were kept


def kept_from(name: str, action: int, **asked: Any) -> Kept:
    plain = {"produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 2300.0}
    forecast = habits_from([]).forecast(**{**plain, **asked})
    return Kept(stored_from(name, forecast), action)


def test_a_kept_forecast_is_scored_once_its_batch_is_written_down() -> None:
    kept = kept_from("2", 1)
    first = Entered(carrots("1", 0), 0)
    waiting = score_kept([first], [kept])
    assert (waiting.scored, waiting.waiting) == ((), ("2",))
    one = only(score_kept([first, Entered(carrots("2", 5), 2)], [kept]))
    assert one.stored is kept.stored
    assert one.jars == mark(kept.stored.jars, 9.0, 9.0)  # 9 / 2.3 of 2.3 kg
    assert one.brine is not None
    assert one.brine.average == pytest.approx(2300.0)


def test_a_forecast_kept_after_its_batch_was_written_down_counts_for_nothing() -> None:
    record = [Entered(carrots("1", 0), 1)]
    early, late = kept_from("1", 0), kept_from("1", 2)
    assert only(score_kept(record, [early, late])).stored is early.stored
    assert score_kept(record, [late]) == TrackRecord((), (), (), ())


def test_of_several_forecasts_kept_from_one_stage_the_last_counts() -> None:
    record = [Entered(carrots("1", 0, as_bought_g=2900.0), 9)]
    forecasts = [
        kept_from("1", 0, as_bought_g=2900.0, trimmed_g=None),
        kept_from("1", 1, jar="quart"),
        kept_from("1", 2),
    ]
    found = score_kept(record, forecasts)
    assert [one.stored for one in found.scored] == [forecasts[0].stored, forecasts[2].stored]
    assert found.groups[0].jars.scored == 1


def test_the_average_beside_a_kept_forecast_is_that_of_the_day_it_was_kept() -> None:
    before = Entered(carrots("1", 0), 0)
    after = Entered(carrots("2", 1, jars=(4.0,)), 2)
    mended = Entered(carrots("1", 0, jars=(5.0,)), 3)
    record = [before, after, mended, Entered(carrots("3", 2), 4)]
    assert only(score_kept(record, [kept_from("3", 1)])).jars.average == pytest.approx(9.0)


@pytest.mark.parametrize(
    ("done", "why"),
    [
        ({"produce": "beet"}, Why.OTHER_CROP),
        ({"cut": "slices"}, Why.OTHER_CROP),
        ({"pack": "hot"}, Why.OTHER_CROP),
        ({"trimmed_g": 2400.0}, Why.OTHER_WEIGHT),
        ({"cure_hours": 12.0}, Why.OTHER_CURE),
    ],
)
def test_a_forecast_of_something_else_than_was_put_up_is_set_aside(
    done: dict[str, Any], why: Why
) -> None:
    kept = kept_from("1", 0, cure_hours=0.0)
    found = score_kept([Entered(carrots("1", 0, **done), 1)], [kept])
    assert [one.why for one in found.set_aside] == [why]


@pytest.mark.parametrize(
    "done", [{"trimmed_g": 2310.0}, {"trimmed_g": None}, {"cut": ""}, {"pack": ""}]
)
def test_a_forecast_of_much_the_same_or_of_what_was_not_written_down_is_scored(
    done: dict[str, Any],
) -> None:
    kept = kept_from("1", 0)
    assert only(score_kept([Entered(carrots("1", 0, **done), 1)], [kept])).jars.was == 9.0


def test_jars_of_another_sort_are_counted_by_what_they_hold() -> None:
    pint, half = (SHELF[key].fill_volume_ml() for key in ("pint", "half-pint"))
    batch = carrots("1", 0, jar=("pint", "half-pint"), jars=(8.0, 1.0))
    one = only(score_kept([Entered(batch, 1)], [kept_from("1", 0)]))
    assert one.jars.was == pytest.approx(8.0 + half / pint)


def test_a_past_forecast_is_frozen() -> None:
    stored = kept_from("1", 0).stored
    assert isinstance(stored, StoredForecast)
    with pytest.raises(AttributeError):
        stored.grams = 1.0  # type: ignore[misc]
