"""Habits and forecasts as they are used: from a table of batches to jars and brine to make."""

import copy
import datetime as dt
import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from numpy.testing import assert_array_equal

import jarcast
from jarcast import Forecast, Habits, habits_from, learn
from jarcast.batchtable import frame_from_batches
from jarcast.domain.batch import Batch
from jarcast.domain.fields import COLUMNS
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError, ForecastError
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.measures import Units

pytestmark = pytest.mark.contract

CARROTS: dict[str, Any] = {"produce": "carrot", "cut": "sticks", "pack": "raw", "cure_hours": 0.0}
GRAMS_PER_LB = 453.59237  # exact: NIST Handbook 44, Appendix C


def assert_same(one: Forecast, other: Forecast) -> None:
    assert_array_equal(one.jars.draws, other.jars.draws)
    assert_array_equal(one.brine_ml.draws, other.brine_ml.draws)


def width(forecast: Forecast) -> float:
    low, high = forecast.jars.interval(0.8)
    return high / low


# --- a forecast -----------------------------------------------------------------------------------


def test_the_same_question_and_seed_give_the_same_draws(habits: Habits) -> None:
    one = habits.forecast(**CARROTS, trimmed_g=2700.0, seed=3)
    assert_same(one, habits.forecast(**CARROTS, trimmed_g=2700.0, seed=3))
    other = habits.forecast(**CARROTS, trimmed_g=2700.0, seed=4)
    assert (one.jars.draws != other.jars.draws).any()


def test_learning_again_gives_the_same_draws(habits: Habits, batches: list[Batch]) -> None:
    again = habits_from(list(batches))
    assert_same(
        again.forecast(**CARROTS, trimmed_g=2700.0), habits.forecast(**CARROTS, trimmed_g=2700.0)
    )


def test_two_seeds_tell_the_same_story(habits: Habits) -> None:
    one, other = (
        habits.forecast(**CARROTS, trimmed_g=2700.0, seed=seed, draws=20_000) for seed in (0, 1)
    )
    assert one.jars.median == pytest.approx(other.jars.median, rel=0.01)
    assert one.brine_ml.quantile(0.95) == pytest.approx(other.brine_ml.quantile(0.95), rel=0.03)


def test_draws_are_as_many_as_asked_for(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=2700.0)
    assert found.jars.draws.shape == found.brine_ml.draws.shape == (4096,)
    assert habits.forecast(**CARROTS, trimmed_g=2700.0, draws=10).jars.draws.shape == (10,)


def test_names_are_forgiven(habits: Habits) -> None:
    asked = {"cure_hours": 0.0, "trimmed_g": 2700.0}
    assert_same(
        habits.forecast(produce=" Carrots", cut="STICK ", pack="Raw", jar="Pints", **asked),
        habits.forecast(produce="carrot", cut="sticks", pack="raw", jar="pint", **asked),
    )


def test_a_mixture_is_the_same_in_any_order(beginner: Habits) -> None:
    assert_same(
        beginner.forecast(produce="cucumber + onion", trimmed_g=2700.0),
        beginner.forecast(produce="Onions and cucumbers", trimmed_g=2700.0),
    )


def test_the_latest_known_weight_counts(habits: Habits) -> None:
    one = habits.forecast(**CARROTS, trimmed_g=2700.0)
    assert_same(one, habits.forecast(**CARROTS, as_bought_g=9000.0, trimmed_g=2700.0))
    assert one.request.stage == "trimmed_g"


def test_a_later_weight_narrows_the_forecast(beginner: Habits) -> None:
    crop = beginner.learned.beliefs.crop("carrot", "sticks", "raw")
    early = beginner.forecast(**CARROTS, as_bought_g=2700.0 / crop.trim_yield.centre)
    late = beginner.forecast(**CARROTS, trimmed_g=2700.0)
    assert late.jars.draws.std() < early.jars.draws.std()
    assert late.brine_ml.draws.std() < early.brine_ml.draws.std()
    assert late.jars.median == pytest.approx(early.jars.median, rel=0.1)


def test_a_produce_nobody_published_works_with_a_wider_range(beginner: Habits) -> None:
    unknown = beginner.forecast(produce="oca", cut="slices", trimmed_g=2700.0)
    known = beginner.forecast(produce="carrot", cut="slices", trimmed_g=2700.0)
    assert unknown.rests_on.published == "nothing published"
    assert known.rests_on.published == "this cut"
    assert width(unknown) > width(known)


def test_jars_of_each_sort_add_up(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=4000.0, jar="5 pint-wide, then pint")
    wide, pint = found.jars_by_sort
    assert_array_equal(found.jars.draws, wide.draws + pint.draws)
    assert wide.quantile(1.0) == 5.0
    assert [turn.jar.key for turn in found.request.turns] == ["pint-wide", "pint"]


def test_a_jar_of_ones_own_can_be_asked_for(batches: list[Batch]) -> None:
    crock = replace(SHELF["quart"], key="crock", capacity_ml=2000.0)
    own = habits_from(batches, shelf={**SHELF, "crock": crock})
    asked = {**CARROTS, "trimmed_g": 9000.0}
    crocks, quarts = (own.forecast(**asked, jar=jar).jars.median for jar in ("crock", "quart"))
    assert crocks < 0.6 * quarts
    with pytest.raises(BatchError, match="there is no jar 'crock'"):
        habits_from(batches).forecast(**asked, jar="crock")


def test_a_forecast_without_a_weight_or_produce_is_an_error(habits: Habits) -> None:
    with pytest.raises(ForecastError, match="needs a weight"):
        habits.forecast(produce="carrot")
    with pytest.raises(ForecastError, match="needs a produce"):
        habits.forecast(produce=" ", trimmed_g=2700.0)
    with pytest.raises(BatchError, match="there is no jar 'bucket'"):
        habits.forecast(produce="carrot", trimmed_g=2700.0, jar="bucket")


TEXT = st.text(max_size=12)
GRAMS = st.floats(1e-3, 1e8)


@pytest.mark.filterwarnings("ignore::jarcast.errors.NearName")  # a text may be near a name
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    produce=st.sampled_from(["carrot", "cucumber + onion", "oca", "beet", "relish"]) | TEXT,
    cut=st.sampled_from(["", "slices", "whole"]) | TEXT,
    pack=st.sampled_from(["", "raw", "hot"]) | TEXT,
    jar=st.sampled_from([*SHELF, "3 quart, then half-pint", "2 1l, 4 500ml, then 250ml-wide"]),
    stage=st.sampled_from(["as_bought_g", "trimmed_g", "cured_g", "cooked_g"]),
    grams=GRAMS,
    cure_hours=st.none() | st.floats(0.0, 8760.0),
    salt_g=st.none() | st.floats(0.0, 1e8),
    headspace_in=st.none() | st.floats(0.0, 3.0),
    seed=st.integers(0, 2**40),
)
def test_any_question_gets_finite_amounts_that_nest(habits: Habits, **asked: Any) -> None:
    from jarcast.domain.names import produce_key

    assume(produce_key(asked["produce"]))
    stage, grams = asked.pop("stage"), asked.pop("grams")
    found = habits.forecast(**asked, **{stage: grams}, draws=64)
    for outcome in (found.jars, found.brine_ml, found.ready_g, *found.jars_by_sort):
        assert np.isfinite(outcome.draws).all()
        assert (outcome.draws >= 0).all()
        (l90, h90), (l80, h80), (l50, h50) = (outcome.interval(p) for p in (0.9, 0.8, 0.5))
        assert l90 <= l80 <= l50 <= outcome.median <= h50 <= h80 <= h90
    assert found.brine_to_make() >= found.brine_ml.quantile(0.95)


@settings(max_examples=40, deadline=None)
@given(grams=st.floats(10.0, 50_000.0), more=st.floats(1.0, 3.0), seed=st.integers(0, 1000))
@pytest.mark.parametrize("jar", ["pint", "3 quart, then half-pint"])
def test_more_produce_is_never_fewer_jars(
    habits: Habits, jar: str, grams: float, more: float, seed: int
) -> None:
    asked = {**CARROTS, "jar": jar, "draws": 64, "seed": seed}
    some = habits.forecast(**asked, trimmed_g=grams).jars.draws
    assert (habits.forecast(**asked, trimmed_g=more * grams).jars.draws >= some - 1e-9).all()


AMOUNT = st.none() | st.floats(0.01, 1e6)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    history=st.lists(
        st.builds(
            Batch,
            batch=st.just("1"),
            date=st.dates(dt.date(2000, 1, 1), dt.date(2030, 1, 1)),
            produce=st.sampled_from(["carrot", "cucumber", "oca", "beet"]),
            cut=st.sampled_from(["", "slices", "sticks"]),
            pack=st.sampled_from(["", "raw", "hot"]),
            jar=st.sampled_from(sorted(SHELF)).map(lambda key: (key,)),
            jars=st.floats(0.125, 1e4).map(lambda count: (count,)),
            as_bought_g=AMOUNT, trimmed_g=AMOUNT, cured_g=AMOUNT, cooked_g=AMOUNT,
            brine_made_ml=AMOUNT, brine_left_ml=AMOUNT,
            cure_hours=st.none() | st.floats(0.0, 100.0),
            salt_g=st.none() | st.floats(0.0, 1e6),
        ),
        max_size=6,
    ),
    stage=st.sampled_from(["as_bought_g", "cooked_g"]),
)  # fmt: skip
def test_whatever_was_written_down_learning_never_refuses(history: list[Batch], stage: str) -> None:
    found = habits_from(history).forecast(
        produce="carrot", cut="slices", pack="hot", draws=64, **{stage: 2700.0}
    )
    for outcome in (found.jars, found.brine_ml):
        assert np.isfinite(outcome.draws).all()
        assert (outcome.draws >= 0).all()


# --- what to make and what to have ready ----------------------------------------------------------


@pytest.mark.parametrize("short_chance", [0.05, 0.02, 0.01])
def test_brine_to_make_is_the_quantile_rounded_up_to_a_quarter_cup(
    habits: Habits, short_chance: float
) -> None:
    # A quarter cup is 59.147... ml (NIST Handbook 44, Appendix C).
    found = habits.forecast(**CARROTS, trimmed_g=2000.0)
    least = found.brine_ml.quantile(1.0 - short_chance)
    made = found.brine_to_make(short_chance)
    quarters = made / (236.5882365 / 4)
    assert made >= least
    assert quarters == pytest.approx(round(quarters))
    assert made - least < 2 * 236.5882365


def test_brine_to_make_is_short_one_time_in_twenty_unless_asked(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=2000.0)
    assert found.brine_to_make() == found.brine_to_make(0.05)
    assert found.brine_ml.chance_above(found.brine_to_make()) <= 0.05


def test_brine_to_make_in_metric_is_a_measure_of_a_metric_kitchen(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=2000.0)
    made = found.brine_to_make(units=Units.METRIC)
    assert made >= found.brine_ml.quantile(0.95)
    assert made % 50 == 0


def test_a_smaller_chance_of_running_short_is_no_less_to_make(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=2000.0)
    made = [found.brine_to_make(chance) for chance in (0.05, 0.04, 0.02, 0.01)]
    assert made == sorted(made)
    assert made[-1] > made[0]


@pytest.mark.parametrize("chance", [-0.1, 1.5, math.nan])
def test_a_chance_that_is_none_is_refused(habits: Habits, chance: float) -> None:
    with pytest.raises(ForecastError, match="a chance must be between 0 and 1"):
        habits.forecast(**CARROTS, trimmed_g=2000.0).brine_to_make(chance)


def test_without_a_card_no_larger_chance_of_running_short_is_taken(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=2000.0)
    for chance in (0.051, 0.2, 0.9, 1.0):
        with pytest.raises(ForecastError, match=r"no recipe is named.*ask for 0\.05 or less"):
            found.brine_to_make(chance)
    assert found.brine_to_make(0.05) > 0.0
    relish = habits.forecast(produce="corn relish", trimmed_g=2000.0)
    assert relish.brine_to_make(0.5) == 0.0  # there is none to run short of


def test_a_relish_needs_no_brine(habits: Habits) -> None:
    found = habits.forecast(produce="corn relish", trimmed_g=2000.0)
    assert not found.has_brine
    assert found.brine_to_make() == 0.0
    assert habits.forecast(**CARROTS, trimmed_g=2000.0).has_brine


def test_jars_to_have_ready_are_whole_and_seldom_too_few(habits: Habits) -> None:
    found = habits.forecast(**CARROTS, trimmed_g=2000.0)
    assert found.jars_to_have() == math.ceil(found.jars.quantile(0.95))
    assert found.jars.chance_above(found.jars_to_have()) <= 0.05
    assert found.jars_to_have(0.5) <= found.jars_to_have(0.01)


# --- what it rests on -----------------------------------------------------------------------------


def test_a_forecast_says_what_it_rests_on(habits: Habits) -> None:
    rests = habits.forecast(**CARROTS, trimmed_g=2000.0).rests_on
    assert (rests.this, rests.same_produce, rests.others) == (3, 0, 3)
    rests = habits.forecast(produce="carrot", cut="slices", trimmed_g=2000.0).rests_on
    assert (rests.this, rests.same_produce, rests.others) == (0, 3, 3)
    rests = habits.forecast(produce="beet", cut="slices", pack="raw", trimmed_g=2000.0).rests_on
    assert (rests.this, rests.same_produce, rests.others) == (0, 1, 5)
    rests = habits.forecast(produce="oca", trimmed_g=2000.0).rests_on
    assert (rests.this, rests.same_produce, rests.others) == (0, 0, 6)


def test_usual_ways_are_told(habits: Habits, beginner: Habits) -> None:
    assert habits.usual_jar == "pint"
    assert habits.usual_pack("Beets", "sliced") == "hot"
    assert habits.usual_pack("oca", "") == ""
    assert beginner.usual_jar == "pint"


def test_own_batches_narrow_the_forecast_and_move_it(habits: Habits, beginner: Habits) -> None:
    asked = {**CARROTS, "trimmed_g": 2485.0}
    before, after = beginner.forecast(**asked), habits.forecast(**asked)
    assert width(after) < width(before)
    assert after.jars.median == pytest.approx(9.5, rel=0.1)  # 28.5 jars of 7450 g in the record


def test_a_crop_this_person_always_cures_is_taken_to_be_cured(batches: list[Batch]) -> None:
    curing = [
        Batch(
            batch=str(n), date=dt.date(2024, 9, 1 + n), produce="carrot", cut="sticks",
            pack="raw", jar=("pint",), jars=(8.0,), trimmed_g=2500.0, cured_g=2100.0,
            cure_hours=24.0,
        )
        for n in range(20)
    ]  # fmt: skip
    asked = {"produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 2500.0}
    assert habits_from([]).forecast(**asked).cured == 0.0
    found = habits_from(curing).forecast(**asked)
    assert found.cured > 0.8
    assert found.jars.median == pytest.approx(8.0, rel=0.1)


# --- the batch table ------------------------------------------------------------------------------


def table(batches: list[Batch]) -> pd.DataFrame:
    return frame_from_batches(batches)


def test_a_table_teaches_what_its_batches_teach(batches: list[Batch], habits: Habits) -> None:
    asked = {**CARROTS, "trimmed_g": 2000.0}
    assert_same(learn(table(batches)).forecast(**asked), habits.forecast(**asked))


def test_an_empty_table_gives_the_starting_beliefs(beginner: Habits) -> None:
    asked = {**CARROTS, "trimmed_g": 2000.0}
    for empty in (pd.DataFrame(columns=list(COLUMNS)), table([])):
        assert_same(learn(empty).forecast(**asked), beginner.forecast(**asked))


def test_dates_may_be_text_or_datetimes_and_jars_numbers_or_text(batches: list[Batch]) -> None:
    frame = table(batches)
    asked = {**CARROTS, "trimmed_g": 2000.0}
    expected = learn(frame).forecast(**asked)
    text = frame.assign(date=frame["date"].dt.strftime("%Y-%m-%d"))
    numbers = frame.assign(jars=frame["jars"].astype(float))
    days = frame.assign(date=frame["date"].dt.date)
    for other in (text, numbers, days):
        assert_same(learn(other).forecast(**asked), expected)


def test_whole_jars_may_be_integers_and_only_the_needed_columns_be_there() -> None:
    frame = pd.DataFrame(
        {
            "batch": ["007", "008"], "date": ["2024-07-01", "2024-07-02"],
            "produce": ["carrots", "carrots"], "jar": ["pint", "pints"], "jars": [8, 9],
            "trimmed_g": [2000, 2250],
        }
    )  # fmt: skip
    habits = learn(frame)
    assert habits.learned.batches == 2
    assert {verdict.batch for verdict in habits.learned.verdicts()} == {"007", "008"}


def test_several_sorts_of_jar_stand_in_one_cell(beginner: Habits) -> None:
    frame = pd.DataFrame(
        {
            "batch": ["1"], "date": ["2024-07-01"], "produce": ["carrot"], "cut": ["sticks"],
            "pack": ["raw"], "jar": ["pint-wide + pint"], "jars": ["8 + 6.5"],
            "trimmed_g": [2500.0], "cure_hours": [0.0],
        }
    )  # fmt: skip
    found = learn(frame).forecast(**CARROTS, trimmed_g=2500.0)
    before = beginner.forecast(**CARROTS, trimmed_g=2500.0)
    assert abs(found.jars.median - 14.5) < abs(before.jars.median - 14.5)


def test_units_never_change_what_is_learned() -> None:
    common = {
        "batch": ["1", "2"], "date": ["2024-07-01", "2024-07-02"], "produce": ["carrot"] * 2,
        "cut": ["sticks"] * 2, "jar": ["pint"] * 2, "jars": ["9", "7.5"],
    }  # fmt: skip
    pounds = pd.DataFrame(
        {**common, "trimmed": ["5 lb 2 oz", "4.5 lb"], "brine_made": ["12 cups", "3 qt"]}
    )
    grams = pd.DataFrame(
        {
            **common,
            "trimmed_g": [5.125 * GRAMS_PER_LB, 4.5 * GRAMS_PER_LB],
            "brine_made_ml": [12 * 236.5882365] * 2,
        }
    )
    one, other = (learn(frame).forecast(**CARROTS, trimmed_g=2500.0) for frame in (pounds, grams))
    np.testing.assert_allclose(one.jars.draws, other.jars.draws, rtol=1e-9)
    np.testing.assert_allclose(one.brine_ml.draws, other.brine_ml.draws, rtol=1e-9)


def test_learning_leaves_the_table_alone(batches: list[Batch]) -> None:
    frame = table(batches)
    copy = frame.copy(deep=True)
    learn(frame)
    pd.testing.assert_frame_equal(frame, copy)


def test_a_contradiction_is_taken_in_and_a_value_that_cannot_be_is_refused(
    batches: list[Batch],
) -> None:
    heavy = replace(batches[0], trimmed_g=9000.0)
    assert learn(table([heavy])).learned.batches == 1
    frame = table(batches)
    frame.loc[1, "trimmed_g"] = -5.0
    with pytest.raises(BatchError, match="negative") as caught:
        learn(frame)
    assert "trimmed_g" in str(caught.value)


def test_a_table_lacking_a_needed_column_is_refused_by_name(batches: list[Batch]) -> None:
    with pytest.raises(BatchError, match="jars"):
        learn(table(batches).drop(columns="jars"))


def test_other_beliefs_may_be_given(batches: list[Batch], habits: Habits) -> None:
    asked = {**CARROTS, "trimmed_g": 2000.0}
    same = learn(table(batches), beliefs=starting_beliefs())
    assert_same(same.forecast(**asked), habits.forecast(**asked))
    beliefs = starting_beliefs()
    few = replace(beliefs, crops={})
    unlisted = learn(table([]), beliefs=few).forecast(**asked)
    assert unlisted.rests_on.published == "nothing published"


# --- the public names -----------------------------------------------------------------------------


def test_the_public_names_are_there() -> None:
    for name in jarcast.__all__:
        assert getattr(jarcast, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'forecasts'"):
        _ = jarcast.forecasts


def test_habits_and_forecasts_cannot_be_changed(habits: Habits) -> None:
    with pytest.raises(AttributeError):
        habits.learned = None  # type: ignore[misc, assignment]
    with pytest.raises(AttributeError):
        habits.forecast(**CARROTS, trimmed_g=2000.0).cured = 1.0  # type: ignore[misc]


def test_a_jar_of_ones_own_is_learned_from_a_table_too() -> None:
    shelf = {**SHELF, "tall": Jar("tall", 700.0, 60.0)}
    table = pd.DataFrame(
        {"batch": ["1"], "date": ["2024-07-01"], "produce": ["carrot"], "cut": ["sticks"],
         "jar": ["tall"], "jars": [4], "trimmed_g": [1700.0], "cure_hours": [0]}
    )  # fmt: skip
    with pytest.raises(BatchError, match="no jar 'tall'"):
        jarcast.learn(table)
    found = jarcast.learn(table, shelf=shelf).forecast(
        produce="carrot", cut="sticks", jar="tall", trimmed_g=1700.0, cure_hours=0.0
    )
    low, high = found.jars.interval(0.8)
    assert low < 4.0 < high


# --- a crop as people name it ---------------------------------------------------------------------


def test_produce_and_cut_in_one_are_forecast_as_both(habits: Habits) -> None:
    one = habits.forecast(produce="Carrot sticks", pack="raw", cure_hours=0.0, trimmed_g=2700.0)
    assert_same(one, habits.forecast(**CARROTS, trimmed_g=2700.0))
    with pytest.raises(ForecastError, match="says sticks, and cut says 'rings'"):
        habits.forecast(produce="carrot sticks", cut="rings", trimmed_g=2700.0)


def test_a_near_name_is_warned_of_and_forecast_as_it_stands(habits: Habits) -> None:
    with pytest.warns(jarcast.NearName, match="'califlower'.* did you mean 'cauliflower'"):
        found = habits.forecast(produce="califlower", trimmed_g=2700.0)
    assert found.request.produce == "califlower"
    assert found.rests_on.published == "nothing published"
    table = frame_from_batches(
        [Batch(batch="1", date=dt.date(2024, 8, 1), produce="carrott", jar=("pint",), jars=(6.0,))]
    )
    with pytest.warns(jarcast.NearName, match="'carrott'.* did you mean 'carrot'"):
        own = learn(table)
    own.forecast(produce="carrott", trimmed_g=2700.0)  # known now: any warning is an error here
    own.forecast(produce="sea bean", trimmed_g=2700.0)


@pytest.mark.parametrize("pack", ["raw", "Raw", "raw pack", "Raw-packed", "cold pack", ""])
def test_whether_a_crop_was_packed_is_asked_in_any_words(habits: Habits, pack: str) -> None:
    assert habits.has_packed("Carrots", "stick", pack)
    assert not habits.has_packed("carrot", "sticks", "boiled")


@pytest.mark.parametrize(("pack", "meant"), [("rwa", "raw"), ("hott", "hot"), ("coold", "raw")])
def test_a_misspelt_pack_is_warned_of_where_it_was_typed(
    habits: Habits, pack: str, meant: str
) -> None:
    asked: dict[str, Any] = {"produce": "beet", "cut": "slices", "trimmed_g": 2700.0, "pack": pack}
    table = frame_from_batches([
        Batch(batch="1", date=dt.date(2024, 8, 1), produce="beet", pack=pack, jar=("pint",),
              jars=(6.0,), trimmed_g=1800.0)
    ])  # fmt: skip
    for ask in (
        lambda: habits.forecast(**asked),
        lambda: habits.forecast_together([asked]),
        lambda: jarcast.plan_harvest(habits, [asked]),
        lambda: learn(table),
    ):
        with pytest.warns(jarcast.NearName, match=f"the pack '{pack}' is .*'{meant}'") as told:
            ask()
        assert [one.filename for one in told] == [__file__]
    with pytest.warns(jarcast.NearName):
        own = learn(table)
    own.forecast(**asked)  # one's own now: any warning is an error here


def test_a_misspelt_produce_in_a_harvest_is_warned_of_where_it_was_typed(habits: Habits) -> None:
    with pytest.warns(jarcast.NearName, match="'carot'") as told:
        jarcast.plan_harvest(habits, [{"produce": "carot", "trimmed_g": 2700.0}])
    assert [one.filename for one in told] == [__file__]


def test_habits_and_forecasts_equal_themselves_alone(habits: Habits) -> None:
    asked: dict[str, Any] = {"produce": "carrot", "trimmed_g": 2700.0}
    one, other = habits.forecast(**asked), habits.forecast(**asked)
    harvest = jarcast.plan_harvest(habits, [asked])
    again = copy.deepcopy(habits)
    for thing, like in ((one, other), (habits, again), (harvest, copy.deepcopy(harvest))):
        assert thing == thing
        assert thing != like
        assert len({thing, like, thing}) == 2
    assert np.array_equal(one.jars, other.jars)


def test_a_first_pot_is_no_way_round_the_least_amount_of_the_recipe(habits: Habits) -> None:
    found = habits.forecast(produce="carrot", cut="sticks", pack="raw", trimmed_g=2700.0)
    for ask in (found.first_pot_ml, found.brine_for, found.pots, found.formula_for):
        with pytest.raises(ForecastError, match=r"above 0\.05 the recipe's own least amount must"):
            ask(7, 0.5)
    for chance in (1.1, -0.1, "0.05", None, True):
        with pytest.raises(ForecastError, match="a chance"):
            found.first_pot_ml(7, chance)  # type: ignore[arg-type]
    assert 0.0 < found.first_pot_ml(7, 0.05) <= found.brine_for(7, 0.05)


@pytest.mark.parametrize("jars", [0, -1, 2.5, True, "3", None])
def test_what_narrows_a_forecast_is_asked_after_whole_jars(habits: Habits, jars: Any) -> None:
    found = habits.forecast(produce="carrot", cut="sticks", trimmed_g=2700.0)
    with pytest.raises(ForecastError, match="a number of jars is due, 1 or more"):
        found.would_narrow(jars)


def test_units_are_named_in_text_as_well(habits: Habits) -> None:
    found = habits.forecast(produce="carrot", cut="sticks", trimmed_g=2700.0)
    metric = jarcast.Units.METRIC
    assert found.brine_to_make(units="metric") == found.brine_to_make(units=metric)
    assert found.pots(7, units="metric") == found.pots(7, units=metric)
