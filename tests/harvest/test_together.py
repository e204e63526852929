"""Many batches drawn together, and the forecast asked backwards."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

import jarcast
from jarcast import Habits, habits_from, plan_harvest
from jarcast.errors import BatchError, ForecastError, RecipeError
from jarcast.harvest.stock import from_stock
from jarcast.harvest.to_buy import how_much
from jarcast.recipes.shelf import shipped_recipes

CARROTS: dict[str, Any] = {
    "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint", "trimmed_g": 2700.0,
    "cure_hours": 0.0,
}  # fmt: skip
BEETS: dict[str, Any] = {
    "produce": "beet", "cut": "slices", "pack": "hot", "jar": "quart", "as_bought_g": 4000.0,
}  # fmt: skip


def log_jars(line: jarcast.Forecast) -> np.ndarray:
    return np.log(line.jars.draws)


def test_totals_are_the_lines_added_up_draw_by_draw(habits: Habits) -> None:
    found = plan_harvest(habits, [CARROTS, BEETS, CARROTS])
    assert_allclose(found.jars.draws, sum(line.jars.draws for line in found.lines))
    assert_allclose(found.brine_ml.draws, sum(line.brine_ml.draws for line in found.lines))


def test_a_line_of_a_harvest_is_forecast_as_it_would_be_alone(habits: Habits) -> None:
    alone = habits.forecast(**BEETS, draws=20_000)
    among = plan_harvest(habits, [CARROTS, BEETS], draws=20_000).lines[1]
    assert_allclose(among.jars.interval(0.8), alone.jars.interval(0.8), rtol=0.02)
    assert_allclose(among.brine_ml.median, alone.brine_ml.median, rtol=0.02)


def test_a_harvest_shows_its_totals_and_tells_its_lines_as_a_table(habits: Habits) -> None:
    turns = {**CARROTS, "jar": "5 pint-wide, then pint"}
    relish = {"produce": "cucumber", "cut": "relish", "jar": "pint", "trimmed_g": 3000.0}
    found = plan_harvest(habits, [turns, BEETS, relish])
    jars, brine = found.jars, found.brine_ml
    assert repr(found) == f"Harvest(3 lines: jars {jars:.4g}, brine_ml {brine:.4g})"
    assert len(repr(plan_harvest(habits, [CARROTS]))) < 100
    assert "3 lines" in found._repr_html_()
    assert f"<td>{jars.median:.4g}</td>" in found._repr_html_()
    table = found.to_frame()
    assert table["jar"].tolist() == ["5 pint-wide, then pint", "quart", "pint"]
    assert table["stage"].tolist() == ["trimmed_g", "as_bought_g", "trimmed_g"]
    assert table["grams"].tolist() == [2700.0, 4000.0, 3000.0]
    assert table["brine_ml"].isna().tolist() == [False, False, True]  # a relish makes its own
    for row, line in zip(table.itertuples(), found.lines, strict=True):
        assert (row.jars_low, row.jars_high) == line.jars.interval(0.8)
        assert row.jars == line.jars.median


def test_the_same_crop_twice_shares_hand_and_crop_but_not_the_batch() -> None:
    # Jars with their parts: how a last jar is made a whole one is each batch's own.
    beginner = habits_from([], whole_jars=False)
    one, two = plan_harvest(beginner, [CARROTS, CARROTS], draws=20_000).lines
    people = beginner.learned.beliefs.people.pack
    spread = beginner.learned.beliefs.crop("carrot", "sticks", "raw").density.spread
    shared = people.between_people**2 + spread**2
    # Correlation of a sum of shared and own parts, by the published spreads.
    due = shared / (shared + people.noise**2)
    found = float(np.corrcoef(log_jars(one), log_jars(two))[0, 1])
    assert found == pytest.approx(due, abs=0.05)


def test_another_crop_shares_the_hand_alone(beginner: Habits) -> None:
    one, two = plan_harvest(
        beginner, [CARROTS, {**BEETS, "as_bought_g": None, "cooked_g": 3000.0}], draws=20_000
    ).lines
    found = float(np.corrcoef(log_jars(one), log_jars(two))[0, 1])
    assert 0.3 < found < 0.8


def test_the_total_is_surer_than_the_lines_ends_added_and_less_than_unrelated_lines(
    habits: Habits,
) -> None:
    lines = [CARROTS] * 4 + [BEETS] * 4
    found = plan_harvest(habits, lines)
    low, high = found.jars.interval(0.8)
    ends = np.sum([line.jars.interval(0.8) for line in found.lines], axis=0)
    rng = np.random.default_rng(0)
    unrelated = sum(rng.permutation(line.jars.draws) for line in found.lines)
    apart = np.quantile(unrelated, [0.1, 0.9])
    assert apart[1] - apart[0] < high - low < ends[1] - ends[0]


def test_a_weight_may_be_a_range_that_holds_eight_times_in_ten(beginner: Habits) -> None:
    asked = {**CARROTS, "trimmed_g": (2000.0, 3645.0)}
    (line,) = plan_harvest(beginner, [asked], draws=20_000).lines
    # sqrt(2000 x 3645) = 2700: the middle is that of 2.7 kg, the spread a lognormal's on top.
    exact = beginner.forecast(**CARROTS, draws=20_000)
    assert line.jars.median == pytest.approx(exact.jars.median, rel=0.02)
    own = np.log(3645.0 / 2000.0) / (2 * 1.2815515655)
    due = np.hypot(log_jars(exact).std(), own)
    assert log_jars(line).std() == pytest.approx(due, rel=0.03)
    assert float(np.mean((line.ready_g.draws > 2000) & (line.ready_g.draws < 3645))) == (
        pytest.approx(0.8, abs=0.01)
    )


def test_the_same_lines_and_seed_give_the_same_draws(habits: Habits) -> None:
    one, two = (plan_harvest(habits, [CARROTS, BEETS], seed=4) for _ in range(2))
    assert (one.jars.draws == two.jars.draws).all()
    assert (one.jars.draws != plan_harvest(habits, [CARROTS, BEETS], seed=5).jars.draws).any()


@pytest.mark.parametrize(
    ("lines", "error", "says"),
    [
        ([], ForecastError, "at least one line"),
        ([CARROTS, {"produce": "beet"}], ForecastError, "line 2: a forecast needs a weight"),
        (
            [{**CARROTS, "weight": 3.0}],
            ForecastError,
            "line 1: 'weight' is not something a forecast goes by",
        ),
        ([{**CARROTS, "jar": "bucket"}], BatchError, "line 1: there is no jar 'bucket'"),
        ([{**CARROTS, "trimmed_g": (3.0, 2.0)}], ForecastError, "put the low end first"),
        ([{**CARROTS, "trimmed_g": (1.0, 2.0, 3.0)}], ForecastError, "is not a range"),
        ([{**CARROTS, "trimmed_g": (-1.0, 2.0)}], ForecastError, "more than 0"),
    ],
)
def test_a_line_that_cannot_be_is_refused_by_its_number(
    habits: Habits, lines: list[dict[str, Any]], error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=says):
        plan_harvest(habits, lines)


@pytest.mark.parametrize("chance", [0.5, 0.9, 0.97])
@pytest.mark.parametrize("times", [1, 3])
def test_what_is_bought_gives_the_jars_as_often_as_asked(
    habits: Habits, chance: float, times: int
) -> None:
    line = {key: value for key, value in CARROTS.items() if key != "trimmed_g"}
    found = how_much(habits, line, jars=24, chance=chance, batches=times)
    again = plan_harvest(
        habits, [{**line, "as_bought_g": found.grams / times}] * times, draws=40_000, seed=9
    )
    # Forward of backward, on other draws: three standard errors of 4,096 draws.
    # So many jars or more: they may come to 24 exactly.
    held = float(np.mean(again.jars.draws >= 24.0 - 1e-9))
    assert held == pytest.approx(chance, abs=3 * np.sqrt(chance * (1 - chance) / 4096) + 0.002)


def test_more_jars_or_more_certainty_never_takes_less(habits: Habits) -> None:
    line = {key: value for key, value in CARROTS.items() if key != "trimmed_g"}
    by_jars = [how_much(habits, line, jars=n).grams for n in (1, 6, 7, 24, 200)]
    by_chance = [how_much(habits, line, jars=24, chance=c).grams for c in (0.1, 0.5, 0.9, 0.99)]
    assert by_jars == sorted(by_jars)
    assert by_chance == sorted(by_chance)


def test_more_produce_never_gives_fewer_jars_at_the_same_seed(habits: Habits) -> None:
    before = np.zeros(4096)
    for grams in np.geomspace(100.0, 50_000.0, 40):
        asked = {**BEETS, "as_bought_g": float(grams), "jar": "3 pint, then quart"}
        now = habits.forecast(**asked).jars.draws
        assert (now >= before - 1e-9).all()
        before = now


@pytest.mark.parametrize(
    "wrong", [{"jars": 0}, {"jars": float("nan")}, {"chance": 1.0}, {"batches": 0},
              {"stage": "peeled_g"}, {"jars": 1e9}],
)  # fmt: skip
def test_what_cannot_be_bought_for_is_refused(habits: Habits, wrong: dict[str, Any]) -> None:
    with pytest.raises(ForecastError):
        how_much(habits, {"produce": "carrot"}, **{"jars": 24, **wrong})


def test_lines_go_into_the_jars_they_were_planned_for_where_there_are_enough(
    habits: Habits,
) -> None:
    found = from_stock(habits, [CARROTS, BEETS], {"pint": 40, "quart": 30})
    assert [place.jar for place in found.places] == ["pint", "quart"]
    assert all(place.planned for place in found.places)
    assert found.enough > 0.99


def test_what_does_not_fit_goes_on_into_other_jars(habits: Habits) -> None:
    found = from_stock(habits, [CARROTS], {"pint": 5, "quart": 9})
    (place,) = found.places
    assert place.jar == "quart" or place.jar.startswith("5 pint, then quart")
    assert found.enough > 0.9
    held = found.sorts["quart"]
    assert_allclose(held.left.draws, np.maximum(9 - held.taken.draws, 0.0))


def test_jars_left_over_are_used_before_a_sort_falls_short(habits: Habits) -> None:
    lines = [CARROTS] * 4
    needed = plan_harvest(habits, lines).jars
    have = round(needed.median) + 3  # as many as are expected, and hardly more
    alone = from_stock(habits, lines, {"pint": have})
    assert alone.enough < 0.8
    found = from_stock(habits, lines, {"pint": have, "pint-wide": 20})
    assert all(place.planned for place in found.places)
    assert any(place.jar.endswith(" pint, then pint-wide") for place in found.places)
    # Both sorts hold alike: with every jar used, 20 more do for nearly all that may come.
    assert found.enough > 0.9
    assert found.enough <= 1.0 - needed.chance_above(have + 20.0) + 0.01
    assert found.sorts["pint"].short == 0.0


def test_where_there_are_enough_no_line_goes_on(habits: Habits) -> None:
    found = from_stock(habits, [CARROTS, CARROTS], {"pint": 60, "pint-wide": 20})
    assert [place.jar for place in found.places] == ["pint", "pint"]


def test_a_recipe_goes_on_into_its_tested_sizes_only(habits: Habits) -> None:
    line = {"recipe": shipped_recipes()["pickled-beets"], "as_bought_g": 4000.0}
    needed = plan_harvest(habits, [line]).jars
    sort = plan_harvest(habits, [line]).lines[0].request.turns[0].jar.key
    found = from_stock(habits, [line], {sort: math.ceil(needed.median), "1l": 50})
    assert found.places[0].jar == sort


def test_too_few_jars_are_said_to_be_too_few(habits: Habits) -> None:
    found = from_stock(habits, [CARROTS, CARROTS], {"pint": 4})
    assert found.enough < 0.01
    assert found.sorts["pint"].short > 0.99


def test_a_recipe_stands_in_its_tested_sizes_only(habits: Habits) -> None:
    card = shipped_recipes()["pickled-beets"]
    line = {"recipe": card, "as_bought_g": 4000.0}
    with pytest.raises(RecipeError):
        plan_harvest(habits, [{**line, "jar": "1l"}])
    found = from_stock(habits, [line], {"1l": 50})
    assert found.places[0].jar == ""
    assert found.enough == 0.0


@pytest.mark.parametrize("have", [{}, {"pint": 0}, {"pint": -3}, {"pint": float("nan")}])
def test_no_jars_at_all_are_no_stock(habits: Habits, have: dict[str, float]) -> None:
    with pytest.raises(ForecastError, match="jars you have"):
        from_stock(habits, [CARROTS], have)


@pytest.mark.parametrize("count", [2.5, 0.5, 1.0001])
def test_part_of_a_jar_at_hand_is_refused(habits: Habits, count: float) -> None:
    with pytest.raises(ForecastError, match="pint is not a whole number"):
        from_stock(habits, [CARROTS], {"pint": count, "quart": 20})


def test_jars_go_round_by_what_they_hold_with_the_headspace_of_each_line(habits: Habits) -> None:
    # With more headspace a jar holds less, so a line takes more jars than with the usual one.
    line = {**CARROTS, "jar": "pint", "headspace_in": 2.0}
    fill = habits.shelf["pint"].fill_volume_ml(2.0)
    (planned,) = plan_harvest(habits, [line]).lines
    needed = math.ceil(planned.jars.median * planned.request.turns[0].fill_ml / fill - 1e-9)
    found = from_stock(habits, [line], {"pint": needed - 1, "quart": 40})
    usual = habits.shelf["pint"].fill_volume_ml()
    assert math.ceil((needed - 1) * fill / usual) < needed - 1  # by the usual one there seem enough
    (place,) = found.places
    assert place.jar != "pint"
    assert not place.planned


def test_a_batch_that_is_being_packed_is_not_asked_what_to_buy(habits: Habits) -> None:
    with pytest.raises(ForecastError, match="is already bought"):
        how_much(habits, {"produce": "carrot", "so_far": jarcast.SoFar(3, 700.0)}, jars=9)


def test_lines_that_find_no_jar_are_counted_and_each_says_how_many(habits: Habits) -> None:
    """Three lines and few jars: what is needed counts all three, whatever could be placed."""
    lines = [{**CARROTS, "jar": "pint"}] * 3
    planned = plan_harvest(habits, lines)
    found = from_stock(habits, lines, {"pint": 10})
    needed = np.sum([np.ceil(one.jars.draws - 1e-9) for one in planned.lines], axis=0)
    assert_allclose(found.sorts["pint"].needed.draws, needed)
    assert_allclose(found.without.draws, np.maximum(needed - 10.0, 0.0))
    assert_allclose(sum(place.without.draws for place in found.places), found.without.draws)
    assert found.sorts["pint"].short > 0.99


def test_a_column_that_is_there_twice_is_refused(habits: Habits) -> None:
    twice = pd.DataFrame([["carrot", "beet", 2700.0]], columns=["produce", "produce", "trimmed_g"])
    with pytest.raises(ForecastError, match="'produce' is there twice"):
        plan_harvest(habits, twice)
