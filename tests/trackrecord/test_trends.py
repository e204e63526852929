"""Habits over time: each batch's own ratios by hand, and what was learned when by learning it."""

import datetime as dt
from typing import Any

import pytest

from jarcast.domain.batch import Batch
from jarcast.forecast.habits import habits_from
from jarcast.trackrecord.summary import summarise
from jarcast.trackrecord.trends import CropInTime, habits_in_time, values_of

DAY = dt.date(2024, 6, 1)


def batch(number: int, **more: Any) -> Batch:
    given = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": ("pint",), "jars": (8.0,),
             "as_bought_g": 3000.0, "trimmed_g": 2400.0, "cure_hours": 0.0, **more}  # fmt: skip
    return Batch(batch=str(number), date=DAY + dt.timedelta(days=number), **given)


def in_time(batches: list[Batch], **more: Any) -> tuple[CropInTime, ...]:
    habits = habits_from(batches)
    return habits_in_time(habits, batches, summarise(habits, batches), **more)


def test_a_batch_s_ratios_are_those_of_its_own_weights() -> None:
    one = batch(1)
    found = values_of(one, habits_from([one]))
    assert found["trim yield"] == (0.8, ("as_bought_g", "trimmed_g"))
    assert found["density"][0] == pytest.approx(2400.0 / one.fill_volume_ml())
    assert set(found) == {"trim yield", "density"}


def test_cured_and_cooked_batches_are_weighed_where_they_go_into_the_jars() -> None:
    cured = batch(1, cure_hours=12.0, cured_g=1800.0)
    found = values_of(cured, habits_from([cured]))
    assert found["cure keep"][0] == 0.75
    assert found["density"] == (1800.0 / cured.fill_volume_ml(), ("cured_g", "jars"))
    cooked = batch(1, pack="hot", cooked_g=2160.0)
    found = values_of(cooked, habits_from([cooked]))
    assert found["cook keep"][0] == 0.9
    assert found["density"] == (2160.0 / cooked.fill_volume_ml(), ("cooked_g", "jars"))


def test_values_that_contradict_one_another_show_nothing() -> None:
    # Trimmed heavier than bought: neither the trim nor what follows from it can be told.
    found = values_of(batch(1, trimmed_g=4000.0), habits_from([]))
    assert "trim yield" not in found


def test_what_was_learned_by_a_date_is_what_the_batches_up_to_it_teach() -> None:
    batches = [batch(n, trimmed_g=2400.0 - 10.0 * n) for n in range(6)]
    (crop,) = in_time(batches)
    (trim,) = (habit for habit in crop.habits if habit.name == "trim yield")
    date, known = trim.learned[2]
    early = [one for one in batches if one.date <= date]
    due = summarise(habits_from(early), early).crops[0].habits[0]
    assert (due.name, due.own) == ("trim yield", known)
    assert trim.learned[-1][0] == batches[-1].date


def test_the_crops_put_up_most_come_first_and_no_more_than_asked() -> None:
    batches = [batch(n) for n in range(3)] + [batch(9, produce="okra", cut="whole")]
    assert [crop.produce for crop in in_time(batches)] == ["carrot", "okra"]
    assert [crop.produce for crop in in_time(batches, most=1)] == ["carrot"]
    assert [crop.produce for crop in in_time(batches, produce="Okra")] == ["okra"]
    assert in_time(batches, produce="fennel") == ()
    assert in_time([]) == ()


def test_an_odd_value_is_marked_where_it_stands() -> None:
    (crop,) = in_time([batch(1), batch(2)], odd={("2", "as_bought_g")})
    odd = {habit.name: [seen.odd for seen in habit.seen] for habit in crop.habits}
    assert odd == {"trim yield": [False, True], "density": [False, False]}


def test_a_pack_left_out_once_is_drawn_with_the_usual_one() -> None:
    day = dt.date(2024, 9, 1)
    batches = [
        Batch(
            batch=str(n), date=day + dt.timedelta(n), produce="cabbage", cut="shredded",
            pack="" if n == 0 else "raw", jar=("quart",), jars=(4.0,), trimmed_g=2400.0,
            cure_hours=0.0,
        )
        for n in range(4)
    ]  # fmt: skip
    habits = habits_from(batches)
    [crop] = habits_in_time(habits, batches, summarise(habits, batches))
    assert (crop.pack, crop.batches) == ("raw", 4)
