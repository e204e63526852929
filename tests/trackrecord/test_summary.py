"""Habits to be read: what changed since earlier seasons, where that is sure."""

import datetime as dt
import math

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from jarcast.domain.batch import Batch
from jarcast.domain.stages import Link
from jarcast.forecast.habits import habits_from
from jarcast.trackrecord.summary import HabitSummary, Trend, _Change, summarise

SEASON = 8  # batches in each of three summers


def summers(seed: int, tighter: float = 0.0, keener: float = 0.0, years: int = 3) -> list[Batch]:
    """Carrots of a hand that is steady for a summer, and then changes from batch to batch.

    ``tighter`` is added to the log density with each batch, ``keener`` to the logit of the trim
    yield; batches scatter by 4 % and by 0.1.
    """
    rng = np.random.default_rng(seed)
    found = []
    for number in range(SEASON * years):
        moved = max(0, number - SEASON)
        odds = 4.0 * math.exp(keener * moved + 0.1 * rng.standard_normal())
        bought = 3500.0 * math.exp(0.2 * rng.standard_normal())
        trimmed = bought * odds / (1.0 + odds)
        density = 0.5 * math.exp(tighter * moved + 0.04 * rng.standard_normal())
        found.append(
            Batch(
                batch=str(number), produce="carrot", cut="sticks", pack="raw", jar=("quart",),
                date=dt.date(2022 + number // SEASON, 7, 1 + 3 * (number % SEASON)),
                jars=(round(trimmed / (density * 900.0), 2),), as_bought_g=bought,
                trimmed_g=trimmed, cure_hours=0.0,
            )
        )  # fmt: skip
    return found


def summary(batches: list[Batch], since: dt.date | None = None) -> HabitSummary:
    return summarise(habits_from(batches), batches, since)


def since_years(trends: tuple[Trend, ...]) -> set[tuple[Link, str]]:
    return {(trend.link, trend.since) for trend in trends}


def test_a_change_is_told_since_the_first_batch_of_each_earlier_year() -> None:
    found = summary(summers(1, tighter=0.03))
    # The last batches are of 2024, which is no earlier year.
    assert since_years(found.trends) == {(Link.PACK, "2022-07-01"), (Link.PACK, "2023-07-01")}


@pytest.mark.parametrize("rate", [0.03, -0.03])
def test_the_change_is_the_one_that_happened(rate: float) -> None:
    # By construction: from the ninth batch on the density moves by the rate, 15 times in all.
    true = math.expm1(15 * rate)
    held = 0
    for seed in range(10):
        (trend,) = summary(summers(seed, tighter=rate), dt.date(2023, 1, 1)).trends
        assert (trend.link, trend.since) == (Link.PACK, "2023-07-01")
        assert trend.sure > 0.99
        assert trend.change.low <= trend.change.middle <= trend.change.high
        assert math.copysign(1.0, trend.change.middle) == math.copysign(1.0, rate)
        held += trend.change.low <= true <= trend.change.high
    assert held >= 5  # an 8-in-10 range; fewer than 5 of 10 come once in 160 (binomial)


def test_a_change_of_the_trim_is_of_what_is_kept_for_each_gram_trimmed_away() -> None:
    # The odds of the yield are kept over trimmed away: by construction exp(15 x 0.08) times.
    (trend,) = summary(summers(3, keener=0.08), dt.date(2023, 1, 1)).trends
    assert trend.link is Link.TRIM
    assert trend.change.middle == pytest.approx(math.expm1(15 * 0.08), rel=0.4)


def test_a_steady_hand_is_seldom_said_to_have_changed() -> None:
    # Sure means 9 in 10, so a steady hand may be told as changed now and then, not often.
    told = [len(summary(summers(seed)).trends) for seed in range(20)]
    assert sum(count > 0 for count in told) <= 2


def test_since_a_day_means_since_the_first_batch_from_then_on() -> None:
    batches = summers(1, tighter=0.03)
    for day in (dt.date(2023, 7, 1), dt.date(2022, 8, 1), dt.date(2023, 1, 1)):
        assert since_years(summary(batches, day).trends) == {(Link.PACK, "2023-07-01")}
    between = summary(batches, dt.date(2023, 7, 5)).trends
    assert since_years(between) == {(Link.PACK, "2023-07-07")}


def test_since_after_the_last_batch_nothing_is_told() -> None:
    assert summary(summers(1, tighter=0.03), dt.date(2025, 1, 1)).trends == ()


def test_within_one_year_the_change_is_told_since_its_first_batch() -> None:
    batches = summers(1, tighter=0.05, years=2)
    one_year = [
        Batch(**{**_fields(batch), "date": dt.date(2024, 7, 1) + dt.timedelta(days=3 * number)})
        for number, batch in enumerate(batches)
    ]
    assert since_years(summary(one_year).trends) == {(Link.PACK, "2024-07-01")}


def _fields(batch: Batch) -> dict[str, object]:
    return {name: getattr(batch, name) for name in Batch.__struct_fields__}


def test_the_order_in_which_batches_come_does_not_matter() -> None:
    batches = summers(1, tighter=0.03)
    assert summary(batches[::-1]).trends == summary(batches).trends


def test_without_batches_or_with_one_nothing_has_changed() -> None:
    assert summary([]).trends == ()
    assert summary(summers(1)[:1]).trends == ()


# How sure, and how far: a mixture over walking drawn_from


def test_the_mixture_is_that_of_the_walking_speeds_each_a_normal() -> None:
    learned = habits_from(summers(4, tighter=0.01)).learned
    change = _Change(learned, Link.PACK, SEASON)
    weights = np.array([weight for weight, _, _ in change.parts])
    means = np.array([mean for _, mean, _ in change.parts])
    sds = np.array([sd for _, _, sd in change.parts])
    assert weights.sum() == pytest.approx(1.0)
    assert len(weights) > 1
    # A hand that is steady has not moved; one that walks got tighter, and nobody knows how far.
    assert [mean for mean, sd in zip(means, sds, strict=True) if sd == 0.0] == [0.0]
    assert (means[sds > 0] > 0).all()
    # By scipy's normal: the chance of each direction, a steady hand counting for neither.
    moving = sds > 0
    up = weights[moving] @ stats.norm.cdf(means[moving] / sds[moving])
    down = weights[moving].sum() - up
    assert change.sure == pytest.approx(max(up, down))
    for p in (0.1, 0.5, 0.9):
        at = change.quantile(p)
        parts = np.where(moving, stats.norm.cdf((at - means) / np.where(moving, sds, 1.0)), at >= 0)
        step = weights[~moving].sum() if abs(at) < 1e-9 else 0.0
        assert p - 1e-6 <= weights @ parts <= p + step + 1e-6


def test_a_hand_that_may_well_be_steady_is_not_sure_to_have_changed() -> None:
    change = _Change(habits_from(summers(2)).learned, Link.PACK, 0)
    steady = sum(weight for weight, _, sd in change.parts if sd == 0.0)
    assert steady > 0.3
    assert change.sure <= 1.0 - steady + 1e-12


def cabbage(name: str, pack: str) -> Batch:
    return Batch(
        batch=name, date=dt.date(2024, 9, int(name)), produce="cabbage", cut="shredded", pack=pack,
        jar=("quart",), jars=(4.0,), trimmed_g=2400.0,
    )  # fmt: skip


def test_a_pack_left_out_once_is_the_usual_one_of_its_crop() -> None:
    found = summary([cabbage("1", ""), cabbage("2", "raw"), cabbage("3", "raw pack")])
    assert [(c.cut, c.pack, c.batches) for c in found.crops] == [("shredded", "raw", 3)]


def test_a_pack_never_written_down_stays_unsaid() -> None:
    found = summary([cabbage("1", ""), cabbage("2", "")])
    assert [(c.cut, c.pack, c.batches) for c in found.crops] == [("shredded", "", 2)]


def test_the_people_of_a_kitchen_stand_side_by_side() -> None:
    # Two thirds of the batches hold 240 g a pint, one third 320 g, and each says whose it is.
    def made(number: int) -> Batch:
        who, grams = ("Ben", 320.0) if number % 3 == 0 else ("Ada", 240.0)
        jars = 6.5 + number % 4
        return Batch(
            batch=str(number), date=dt.date(2024, 6, 1) + dt.timedelta(days=number),
            produce="carrot", cut="sticks", pack="raw", jar=("pint",), jars=(jars,),
            trimmed_g=grams * jars, cure_hours=0.0, person=who,
        )  # fmt: skip

    batches = [made(number) for number in range(15)]
    found = summary(batches).people
    assert [(one.name, one.batches) for one in found] == [("Ada", 10), ("Ben", 5)]
    for one, grams in zip(found, (240.0, 320.0), strict=True):
        known = one.crop.jars[0].produce_g
        assert known.low < grams < known.high or known.middle == pytest.approx(grams, rel=0.02)
    # Of nobody in particular it may be each of them: as wide as from one to the other.
    (crop,) = summary(batches).crops
    either = crop.jars[0].produce_g
    assert either.low < 255.0
    assert either.high > 305.0
    alone = [replace(one, person="Ada") for one in batches]
    assert summary(alone).people == ()
