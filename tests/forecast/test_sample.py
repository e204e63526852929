"""One batch drawn through the chain: what is drawn, what is known, and how jars are filled."""

from typing import Any

import numpy as np
import pytest

from jarcast import Habits
from jarcast.domain.jars import SHELF
from jarcast.forecast.request import check_request
from jarcast.forecast.sample import Drawn, draw_batches


def draw(habits: Habits, stage: str = "trimmed_g", grams: float = 2700.0, **values: Any) -> Drawn:
    asked: dict[str, Any] = {
        "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint", "cure_hours": None,
        "salt_g": None, "headspace_in": None, "draws": 4000, "seed": 0, "shelf": SHELF,
        "weights": {stage: grams},
    }  # fmt: skip
    asked.update(values)
    request = check_request(**asked)
    return draw_batches(habits.learned, [request], request.draws, request.seed)[0]


def test_what_was_weighed_last_is_not_drawn_again(beginner: Habits) -> None:
    for stage in ("cured_g", "cooked_g"):
        assert (draw(beginner, stage).ready_g == 2700.0).all()
    assert (draw(beginner, cure_hours=0.0).ready_g == 2700.0).all()  # uncured: trimmed is ready
    assert (draw(beginner, "cooked_g", pack="hot").ready_g == 2700.0).all()


def test_every_stage_still_ahead_adds_to_the_doubt(beginner: Habits) -> None:
    stages = ("as_bought_g", "trimmed_g", "cured_g", "cooked_g")
    spreads = [
        np.log(draw(beginner, stage, pack="hot", cure_hours=6.0, produce="cucumber").ready_g).std()
        for stage in stages
    ]
    assert spreads[0] > spreads[1] > spreads[2] > 0.01
    assert spreads[3] == pytest.approx(0.0, abs=1e-12)


def test_trimming_only_ever_takes_away(habits: Habits) -> None:
    assert (draw(habits, "as_bought_g", cure_hours=0.0).ready_g <= 2700.0).all()


def test_a_hot_pack_is_cooked_and_a_raw_one_is_not(beginner: Habits) -> None:
    hot = draw(beginner, pack="hot", cure_hours=0.0)
    assert np.median(hot.ready_g) < 2700.0
    assert np.unique(hot.ready_g).size > 3900


def test_a_crop_that_is_sometimes_cured_is_drawn_both_ways(beginner: Habits) -> None:
    found = draw(beginner, produce="cauliflower", cut="florets")
    assert 0.1 < found.cured < 0.9
    uncured = found.ready_g == 2700.0
    assert uncured.mean() == pytest.approx(1.0 - found.cured, abs=1 / 4000)
    # Wherever one looks, a quarter of the draws has as many: binomial, four standard errors.
    quarters = uncured.reshape(4, 1000).mean(axis=1)
    assert quarters == pytest.approx(1.0 - found.cured, abs=4 * 0.5 / np.sqrt(1000))


def test_of_a_few_draws_as_many_are_cured_as_of_many(beginner: Habits) -> None:
    drawn = [
        draw(beginner, produce="cauliflower", cut="florets", draws=3, seed=seed)
        for seed in range(400)
    ]
    cured = np.mean([found.ready_g != 2700.0 for found in drawn])
    assert cured == pytest.approx(drawn[0].cured, abs=4 * 0.5 / np.sqrt(400))


@pytest.mark.parametrize(
    ("values", "cured"),
    [
        ({"cure_hours": 0.0}, 0.0),
        ({"salt_g": 0.0}, 0.0),
        ({"cure_hours": 12.0}, 1.0),
        ({"salt_g": 80.0}, 1.0),
        ({"salt_g": 0.0, "cure_hours": 12.0}, 1.0),  # a wet soak
    ],
)
def test_what_is_said_of_the_cure_is_believed(
    beginner: Habits, values: dict[str, float], cured: float
) -> None:
    assert draw(beginner, **values).cured == cured


def test_a_longer_cure_leaves_less(beginner: Habits) -> None:
    hours = [0.0, 1.0, 6.0, 24.0]
    medians = [np.median(draw(beginner, cure_hours=h).ready_g) for h in hours]
    assert medians == sorted(medians, reverse=True)
    assert medians[0] > medians[1] > medians[3]


def test_each_sort_of_jar_has_its_turn(habits: Habits) -> None:
    first, second = draw(habits, jar="4 pint-wide, then quart", cure_hours=0.0).jars
    assert (first <= 4.0).all()
    assert (second[first < 4.0] == 0.0).all()
    assert (second[first == 4.0] >= 0.0).all()
    assert (first == 4.0).mean() > 0.9


def test_a_list_of_one_sort_said_twice_is_that_sort(habits: Habits) -> None:
    # Jar-to-jar differences average out over each sort apart, so the medians are compared.
    one = draw(habits, cure_hours=0.0).jars
    two = draw(habits, jar="4 pint, then pint", cure_hours=0.0).jars
    assert np.median(two[0] + two[1]) == pytest.approx(np.median(one[0]), rel=0.02)


def test_no_jars_of_the_first_sort_leave_it_all_to_the_next(habits: Habits) -> None:
    none, pints = draw(habits, jar="0 quart, then pint", cure_hours=0.0).jars
    assert (none == 0.0).all()
    assert np.median(pints) == pytest.approx(
        np.median(draw(habits, cure_hours=0.0).jars[0]), rel=0.02
    )


def test_larger_jars_are_fewer_and_more_headspace_makes_more(habits: Habits) -> None:
    pint, quart = (np.median(draw(habits, jar=jar).jars[0]) for jar in ("pint", "quart"))
    ratio = SHELF["quart"].fill_volume_ml() / SHELF["pint"].fill_volume_ml()
    assert pint / quart == pytest.approx(ratio, rel=0.1)
    gap = draw(habits, headspace_in=1.0).jars[0]
    assert (gap >= draw(habits, headspace_in=0.25).jars[0]).all()


def test_what_stands_in_the_jars_takes_no_more_room_than_they_have(habits: Habits) -> None:
    # Tissue weighs at most about 1.1 g/ml (food-engineering handbooks, from memory).
    for pack in ("raw", "hot"):
        found = draw(habits, "cooked_g", pack=pack)
        density = found.ready_g / (found.jars[0] * SHELF["pint"].fill_volume_ml())
        assert (density > 0).all()
        assert np.quantile(density, 0.999) < 1.1 * 1.1


def test_looser_packing_is_more_jars_and_more_brine_in_each(
    habits: Habits, beginner: Habits
) -> None:
    for known in (habits, beginner):
        found = draw(known, cure_hours=0.0)
        in_each = found.brine_ml / found.jars[0]
        assert np.corrcoef(found.jars[0], in_each)[0, 1] > 0.3
        # So the total varies by more than the jars alone would have it.
        assert np.log(found.brine_ml).std() > np.log(found.jars[0]).std()


def test_brine_is_about_what_the_jars_hold_less_the_produce(beginner: Habits) -> None:
    # Archimedes: the space left is the volume less weight / density of the tissue.
    found = draw(beginner, cure_hours=0.0, draws=20_000)
    crop = beginner.learned.beliefs.crop("carrot", "sticks", "raw")
    volume = found.jars[0] * SHELF["pint"].fill_volume_ml()
    space = volume - found.ready_g / crop.tissue.centre
    loss = np.median(found.brine_ml - space)
    assert loss == pytest.approx(beginner.learned.beliefs.people.loss_ml, rel=0.2)


@pytest.mark.parametrize(
    "produce", ["cucumber relish", "kraut", "chutney", "Green tomato relishes"]
)
def test_what_makes_its_own_liquid_has_no_brine(habits: Habits, produce: str) -> None:
    found = draw(habits, produce=produce, cut="chopped")
    assert (found.brine_ml == 0.0).all()
    assert (found.jars[0] > 0.0).all()


@pytest.mark.parametrize("grams", [0.001, 5.0, 1e8])
def test_the_smallest_and_largest_weights_give_numbers(habits: Habits, grams: float) -> None:
    found = draw(habits, "as_bought_g", grams)
    for values in (*found.jars, found.brine_ml, found.ready_g):
        assert np.isfinite(values).all()
        assert (values >= 0.0).all()


def test_one_draw_is_enough_to_ask_for(habits: Habits) -> None:
    found = draw(habits, draws=1)
    assert found.jars[0].shape == found.brine_ml.shape == found.ready_g.shape == (1,)
