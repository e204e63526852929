"""The day: loads of full jars only, minutes only from the card, times only from one's own."""

import math
from contextlib import suppress
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.errors import ForecastError, RecipeError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.day import (
    NO_ALTITUDE,
    NO_RECIPE,
    REFRIGERATOR,
    SEE_SOURCE,
    Canner,
    plan_day,
    process_of,
)
from jarcast.harvest.pace import OwnTimes, Timed
from jarcast.recipes import Recipe, shipped_recipes

CANNER = Canner({"quart": 7, "pint": 8})
STEADY = tuple(Timed(100.0, 1.0) for _ in range(3))  # a hundred grams a minute, always


@pytest.fixture(scope="module")
def beets() -> Recipe:
    return shipped_recipes()["pickled-beets"]


def drawn(habits: Habits, jars: list[float], **asked: Any) -> Forecast:
    """A forecast whose draws of jars are these."""
    asked = {"produce": "carrot", "cut": "sticks", "as_bought_g": 3000.0, **asked}
    asked = {k: v for k, v in asked.items() if v is not None}
    forecast = habits.forecast(**asked, cure_hours=0, draws=len(jars))
    outcome = Outcome(np.array(jars))
    return replace(forecast, jars=outcome, jars_by_sort=(outcome,), jars_to_come=outcome)


def test_only_full_jars_go_in_and_each_batch_is_on_its_own(beginner: Habits) -> None:
    batches = [drawn(beginner, [7.9, 8.0, 16.5]), drawn(beginner, [9.0, 0.5, 8.9])]
    day = plan_day(batches, canner=CANNER)
    assert [list(run.full.draws) for run in day.runs] == [[7, 8, 16], [9, 0, 8]]
    assert [list(run.loads.draws) for run in day.runs if run.loads] == [[1, 1, 2], [2, 0, 1]]
    assert day.loads is not None
    assert list(day.loads.draws) == [3, 1, 3]  # 16 + 9 jars would be 4 loads in one heap, 1 + 2 not


def test_a_load_has_one_size_of_jar_and_mouths_go_together(beginner: Habits) -> None:
    forecast = beginner.forecast(
        produce="carrot", trimmed_g=9000.0, jar="3 quart-wide, 4 quart, then pint", draws=2
    )
    sorts = tuple(Outcome(np.full(2, count)) for count in (3.0, 4.0, 9.5))
    day = plan_day([replace(forecast, jars_by_sort=sorts)], canner=CANNER)
    assert [(run.size, run.full.median) for run in day.runs] == [("quart", 7.0), ("pint", 9.0)]
    assert [(load.size, load.jars) for load in day.schedule] == [
        ("quart", 7), ("pint", 8), ("pint", 1),
    ]  # fmt: skip
    assert [load.number for load in day.schedule] == [1, 2, 3]


def test_without_a_canner_or_its_room_no_load_is_made_up(beginner: Habits) -> None:
    batch = drawn(beginner, [8.0, 8.0], jar="half-pint")
    assert plan_day([batch]).loads is None
    day = plan_day([batch], canner=CANNER)
    assert day.loads is None
    assert any("half-pint" in reason for reason in day.left_out)


@pytest.mark.parametrize(
    ("altitude_ft", "minutes"),
    # USDA Complete Guide to Home Canning (AIB 539), Guide 6, pickled beets, pints: 30 minutes up
    # to 1000 ft, 35 to 3000, 40 to 6000, 45 above.
    [(0.0, 30.0), (1000.0, 30.0), (1001.0, 35.0), (3000.0, 35.0), (4500.0, 40.0), (7000.0, 45.0)],
)
def test_minutes_are_the_cards_for_the_altitude(
    beginner: Habits, beets: Recipe, altitude_ft: float, minutes: float
) -> None:
    batch = drawn(beginner, [8.0], recipe=beets, produce=None, cut=None)
    assert process_of(batch, "pint", altitude_ft).minutes == minutes
    assert process_of(batch, "pint", altitude_ft).method == "boiling-water canner"


def test_minutes_that_the_card_does_not_have_are_left_open(beginner: Habits, beets: Recipe) -> None:
    batch = drawn(beginner, [8.0], recipe=beets, produce=None, cut=None)
    found = process_of(batch, "pint", None)
    assert (found.minutes, found.why) == (None, NO_ALTITUDE)
    found = process_of(drawn(beginner, [8.0]), "pint", 500.0)
    assert (found.minutes, found.why, found.canned) == (None, NO_RECIPE, True)
    assert beets.safety is not None
    low = tuple(row for row in beets.safety.process if row.to_ft == 1000)
    gap = replace(beets, safety=replace(beets.safety, process=low))
    found = process_of(replace(batch, recipe=gap), "pint", 2000.0)
    assert (found.minutes, found.why) == (None, SEE_SOURCE)


def test_what_has_no_process_goes_in_the_refrigerator_and_in_no_load(
    beginner: Habits, beets: Recipe
) -> None:
    assert beets.safety is not None
    for safety in (None, replace(beets.safety, process=())):
        batch = drawn(beginner, [9.0], recipe=beets, produce=None, cut=None)
        day = plan_day([replace(batch, recipe=replace(beets, safety=safety))], canner=CANNER)
        assert day.runs[0].process.why == REFRIGERATOR
        assert day.runs[0].loads is None
        assert day.schedule == ()


def test_without_times_of_ones_own_there_are_no_hours_and_that_is_said(beginner: Habits) -> None:
    day = plan_day([drawn(beginner, [8.0] * 4)], canner=CANNER)
    assert day.hours is None
    assert day.work[0].trim_hours is None
    assert day.work[0].pack_hours is None
    assert all(load.after_hours is None for load in day.schedule)
    assert any("how fast you pack" in reason for reason in day.left_out)
    assert any("how fast you trim" in reason for reason in day.left_out)


def test_hours_add_up_for_one_pair_of_hands_and_one_canner(beginner: Habits, beets: Recipe) -> None:
    # Worked by hand. 100 g a minute trims 6000 g in 60 min; 0.2 jars a minute packs 16 jars in
    # 80 min, so its loads of 8 are packed at 100 and 140 min. 30 min each (up to 1000 ft, see
    # above): the first runs from 100 to 130, the second from 140 to 170.
    batch = drawn(beginner, [16.0] * 3, recipe=beets, produce=None, cut=None, as_bought_g=6000.0)
    times = OwnTimes(STEADY, tuple(Timed(2.0, 10.0) for _ in range(3)))
    day = plan_day([batch], canner=CANNER, altitude_ft=500.0, times=times)
    assert day.hours is not None
    assert day.hours.median == pytest.approx(170 / 60)
    assert [load.after_hours for load in day.schedule] == pytest.approx([100 / 60, 140 / 60])
    assert any("heating the canner" in reason for reason in day.left_out)


def test_a_load_waits_for_the_one_before(beginner: Habits, beets: Recipe) -> None:
    # Packed in no time to speak of, the loads follow one another: 2 x 30 min after 60 of trimming.
    batch = drawn(beginner, [16.0] * 3, recipe=beets, produce=None, cut=None, as_bought_g=6000.0)
    times = OwnTimes(STEADY, tuple(Timed(1e9, 1.0) for _ in range(3)))
    day = plan_day([batch], canner=CANNER, altitude_ft=500.0, times=times)
    assert day.hours is not None
    assert day.hours.median == pytest.approx(2.0)


def test_a_cure_is_told_by_its_hours_and_not_counted_as_work(beginner: Habits) -> None:
    forecast = beginner.forecast(produce="cucumber", trimmed_g=3000.0, cure_hours=12.0)
    day = plan_day([forecast], times=OwnTimes((), STEADY))
    assert day.work[0].cures
    assert day.work[0].cure_hours == (12.0, 12.0)
    assert not day.work[0].trims
    assert "the hours in salt" in day.left_out


def test_uncertain_rates_widen_the_hours(beginner: Habits) -> None:
    batch = drawn(beginner, [16.0] * 4000)
    wide = tuple(Timed(2.0 * math.exp(e), 10.0) for e in (-0.5, 0.0, 0.5, -0.2, 0.2))
    day = plan_day([batch], times=OwnTimes(STEADY, wide))
    assert day.hours is not None
    low, high = day.hours.interval(0.8)
    assert high > 1.5 * low


def test_batches_of_one_process_share_a_load(beginner: Habits, beets: Recipe) -> None:
    """5 + 3 pints are one load of 8, 7 + 7 are two, 4 + 4 + 4 two: counted by hand."""
    jars = ([5.5, 7.0, 4.0], [3.0, 7.0, 4.9], [0.5, 0.0, 4.0])
    batches = [drawn(beginner, own, recipe=beets, produce=None, cut=None) for own in jars]
    day = plan_day(batches, canner=CANNER, altitude_ft=500.0)
    assert day.loads is not None
    assert list(day.loads.draws) == [1, 2, 2]
    # Each by itself, a batch makes as many as before.
    assert [list(run.loads.draws) for run in day.runs if run.loads] == [
        [1, 1, 1], [1, 1, 1], [0, 0, 1],
    ]  # fmt: skip
    assert [load.parts for load in day.schedule] == [((0, 5), (1, 3)), ((1, 1),)]
    assert [load.jars for load in day.schedule] == [8, 1]
    assert all(load.process.minutes == 30.0 for load in day.schedule)  # the Guide's, to 1,000 ft


def test_two_processes_never_share_a_load(beginner: Habits, beets: Recipe) -> None:
    def beet(jars: float, **more: Any) -> Forecast:
        return drawn(beginner, [jars], recipe=beets, produce=None, cut=None, **more)

    batches = []
    for recipe in shipped_recipes().values():
        with suppress(ForecastError, RecipeError):  # pints are not tested, or it goes by the cup
            batches.append(
                drawn(beginner, [3.0], recipe=recipe, produce=None, cut=None, jar="pint")
            )
    assert len(batches) > 10
    day = plan_day(batches, canner=CANNER, altitude_ft=500.0)
    assert any(len(load.parts) > 1 for load in day.schedule)
    own = {run.line: (run.process.minutes, run.process.method, run.pack) for run in day.runs}
    for load in day.schedule:
        assert len({own[line] for line, _ in load.parts}) == 1
    # Beets between which something else comes, of other days, by an unknown altitude, or of no
    # card at all stay apart.
    for apart in (
        plan_day([beet(5.0), drawn(beginner, [3.0]), beet(3.0)], canner=CANNER, altitude_ft=500.0),
        plan_day([beet(5.0), beet(3.0)], canner=CANNER, altitude_ft=500.0, days=["a", "b"]),
        plan_day([beet(5.0), beet(3.0)], canner=CANNER),
        plan_day([drawn(beginner, [5.0]), drawn(beginner, [3.0])], canner=CANNER),
        plan_day([beet(5.0, jar="quart"), beet(3.0, jar="pint")], canner=CANNER, altitude_ft=0.0),
    ):
        assert all(len(load.parts) == 1 for load in apart.schedule)


def test_a_shared_load_starts_once_the_last_of_its_jars_is_packed(
    beginner: Habits, beets: Recipe
) -> None:
    """Jars a minute: 5 pints and 3 pints are packed after 8 minutes, and the load takes 30."""
    batches = [drawn(beginner, [own], recipe=beets, produce=None, cut=None) for own in (5.0, 3.0)]
    batches = [replace(one, request=replace(one.request, so_far=None)) for one in batches]
    pace = tuple(Timed(1.0, 1.0) for _ in range(3))
    day = plan_day(
        batches, canner=CANNER, altitude_ft=500.0, times=OwnTimes(packed=pace, trimmed=STEADY)
    )
    trimmed = 2 * 3000.0 / 100.0 / 60.0
    (load,) = day.schedule
    assert load.after_hours == pytest.approx(trimmed + 8 / 60.0, rel=1e-6)
    assert day.hours is not None
    assert day.hours.median == pytest.approx(trimmed + 38 / 60.0, rel=1e-6)
