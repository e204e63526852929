"""A harvest in words and as JSON: what was computed is what is told."""

import json
import re
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.app.harvest import Answer, Asked, answer
from jarcast.app.plan_progress import lines_so_far
from jarcast.domain.containers import read_counted
from jarcast.forecast.habits import habits_from
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.day import Canner
from jarcast.harvest.plan.line import Plan, PlanLine
from jarcast.harvest.shopping import Price, Size
from jarcast.measures import Units
from jarcast.recipes import Place, shipped_recipes
from jarcast.views.harvest import beside_text, harvest_text
from jarcast.views.harvest_day import hours_words
from jarcast.views.harvest_json import harvest_document

POUND_G = 453.59237


def words(text: str) -> str:
    return " ".join(text.split())


def plan(**more: Any) -> Plan:
    """Two batches, one of them by a card."""
    beets = shipped_recipes()["pickled-beets"]
    return Plan(
        (
            PlanLine(
                place="line 2", name="c1", produce="carrot", cut="sticks", jar="pint-wide",
                as_bought_g=(20 * POUND_G, 35 * POUND_G), **more,
            ),
            PlanLine(place="line 3", recipe=beets, as_bought_g=14 * POUND_G),
        ),
        ("row",),
    )  # fmt: skip


def answered(asked: Asked | None = None, planned: Plan | None = None) -> Answer:
    planned = planned or plan()
    return answer(planned, lines_so_far(planned.lines, {}, {}), habits_from([]), asked or Asked())


@pytest.fixture(scope="module")
def usual() -> Answer:
    """A harvest with a canner, at an altitude, with a price."""
    lids = Price(Size("lids", 12, "count", "12"), 3.0, "$")
    return answered(
        Asked(canner=Canner({"pint": 8}), place=Place(900.0, steam=False), prices=(lids,)),
    )


def test_the_answer_comes_first(usual: Answer) -> None:
    text = words(harvest_text(usual))
    assert usual.jars is not None
    jars = round(usual.jars.median)
    assert text.startswith(f"About {jars} jars from 2 batches, 8 times in 10 between")
    assert re.search(r"Wide-mouth lids: about [0-9]+, 8 times in 10 between", text)
    assert re.search(r"Vinegar, 5 % acid or stronger: about .*, 8 times in 10 between", text)
    assert re.search(r"Canner loads: about [0-9/ ]+, 8 times in 10 between", text)


def test_the_words_are_those_of_the_draws(usual: Answer) -> None:
    assert usual.harvest is not None
    jars = Outcome(np.linspace(30.0, 80.0, 10_001))
    known = replace(usual, harvest=replace(usual.harvest, jars=jars))
    assert words(harvest_text(known)).startswith(
        "About 55 jars from 2 batches, 8 times in 10 between 35 and 75."
    )
    assert "9 times in 10 between 32 and 78." in words(harvest_text(known, 0.9))


def test_each_batch_is_told_with_its_weight_as_it_was_guessed(usual: Answer) -> None:
    text = words(harvest_text(usual))
    assert "c1: carrot, sticks: 20 to 35 lb as bought: about" in text
    assert "by Pickled beets: about" in text


def test_a_range_whose_ends_read_the_same_is_told_by_its_middle(usual: Answer) -> None:
    assert usual.harvest is not None
    sure = Outcome(np.linspace(13.9, 14.1, 10_001))
    one, *others = usual.forecasts
    assert one is not None
    known = replace(
        usual,
        harvest=replace(usual.harvest, jars=sure),
        forecasts=(replace(one, jars=sure), *others),
    )
    text = words(harvest_text(known))
    assert text.startswith("About 14 jars from 2 batches. ")
    assert "20 to 35 lb as bought: about 14 wide-mouth pints beet, slices" in text


def test_what_a_container_is_taken_by_names_the_produce_of_the_card_too() -> None:
    beets = shipped_recipes()["pickled-beets"]
    counted = read_counted("a bushel", "beet")
    line = PlanLine(place="line 1", recipe=beets, as_bought_g=52 * POUND_G, counted=counted)
    assert "A bushel of beet goes by" in words(harvest_text(answered(planned=Plan((line,)))))


def test_process_minutes_are_the_cards_and_others_are_left_to_it(usual: Answer) -> None:
    # USDA Guide 6, pickled beets, pints up to 1000 ft: 30 minutes.
    text = words(harvest_text(usual))
    assert "process (30 min, boiling-water canner)" in text
    assert "process (as long as your tested recipe says)" in text


def limited() -> Answer:
    """The same beets, more than half of which were trimmed away: their jars take little brine."""
    (one, beets) = plan().lines
    return answered(planned=Plan((one, replace(beets, trimmed_g=5 * POUND_G))))


def test_what_the_recipe_limits_is_said(usual: Answer) -> None:
    """The card has 8 cups of vinegar and 4 of water, with the room of the sugar, for 14 lb.

    AIB 539, Guide 6, p. 6-15. What is ordered for jars of nobody's habits is more than that, so
    that nothing was raised; for 5 lb that were left of the same it is less.
    """
    raised = "Brine raised to the recipe's own amount for this much produce: line 3."
    assert raised not in words(harvest_text(usual))
    answer = limited()
    beets = answer.forecasts[1]
    assert beets is not None
    assert beets.limited_by_recipe(answer.asked.short_chance)
    assert raised in words(harvest_text(answer))
    assert harvest_document(answer)["shopping"]["limited_by_recipe"] == ["line 3"]
    text = words(harvest_text(usual))
    assert "'jarcast recipes show pickled-beets'" in text
    assert "The tested recipe decides" in text


def test_costs_are_told_with_their_range_and_what_has_no_price(usual: Answer) -> None:
    text = words(harvest_text(usual))
    assert re.search(r"To pay: \$[0-9]+\.[0-9]{2}\. Used up for each jar: about \$0\.2[5-9]", text)
    assert "Without a price: wide-mouth pints, pints" in text


def test_without_a_canner_it_is_asked_for() -> None:
    text = words(harvest_text(answered()))
    assert "say what your canner holds: --canner '7 quarts / 8 pints'" in text
    assert "Canner loads" not in text


def test_lines_fit_a_terminal_whatever_was_typed() -> None:
    beets = replace(shipped_recipes()["pickled-beets"], name="Beets by the long-named card " * 3)
    lines = (
        PlanLine(place="--line 1", name="名" * 300, produce="胡萝卜 " * 60, as_bought_g=5000.0),
        PlanLine(place="--line 2", name="x y " * 99, recipe=beets, as_bought_g=5000.0),
        PlanLine(place="--line 3", produce="carrot\x1b[2J", note="\n" * 9, as_bought_g=5000.0),
    )
    shown = answered(Asked(canner=Canner({"pint": 8})), Plan(lines))
    text = harvest_text(shown)
    assert max(len(line) for line in text.splitlines()) <= 100
    assert "\x1b" not in text


def test_a_long_plan_shows_its_first_batches_and_says_how_many_more() -> None:
    lines = tuple(
        PlanLine(place=f"line {n}", produce="carrot", as_bought_g=5000.0) for n in range(2, 47)
    )
    text = harvest_text(answered(planned=Plan(lines)))
    assert "... and 25 more; --json and --csv have every line" in text
    assert len(text.splitlines()) < 150


def test_beside_the_answer_stand_the_columns_and_names_not_used() -> None:
    asked = Asked(sizes=(Size("saffron", 1.0, "g"),))
    text = words(beside_text(answered(asked)))
    assert "not used by the plan: row. --csv keeps them" in text
    assert "so they were not used: saffron." in text


def test_metric_kitchens_are_told_in_metric() -> None:
    text = words(harvest_text(answered(Asked(units=Units.METRIC))))
    assert re.search(r"Brine, with what stays in the pots: about [0-9.]+ l,", text)
    assert " lb " not in text


def test_json_has_every_number_and_is_finite(usual: Answer) -> None:
    document = harvest_document(usual)
    json.dumps(document, allow_nan=False)
    assert (document["format"], document["version"]) == ("jarcast harvest", 1)
    assert document["jars"]["level"] == 0.8
    assert [line["place"] for line in document["lines"]] == ["line 2", "line 3"]
    bought = {line["name"]: line for line in document["shopping"]["lines"]}
    assert bought["vinegar"]["acid_percent"] == 5
    assert bought["wide lids"]["pieces"][0]["size"] == 12
    assert document["shopping"]["limited_by_recipe"] == []
    assert document["day"]["canner"] == {"pint": 8}
    assert sum(load["jars"] for load in document["day"]["schedule"]) > 0
    assert document["day"]["runs"][1]["process"]["minutes"] == 30
    assert document["ignored_columns"] == ["row"]


@pytest.mark.parametrize(
    ("hours", "told"),
    [(0.0, "0 min"), (0.02, "5 min"), (0.5, "30 min"), (1.0, "1 h"), (2.4, "2½ h"),
     (12.0, "12 h")],
)  # fmt: skip
def test_hours_are_told_as_one_says_them(hours: float, told: str) -> None:
    assert hours_words(hours) == told
