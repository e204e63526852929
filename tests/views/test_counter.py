"""An open batch in words and as JSON: what was computed is what is told, and nothing else."""

import datetime as dt
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.app.open_batch import Underway
from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import Amount, Flag
from jarcast.domain.packing import SoFar
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import habits_from
from jarcast.forecast.oddities import Oddity
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units
from jarcast.recipes import PackCheck, shipped_recipes
from jarcast.views.counter import (
    begun_text,
    chance_words,
    expected_lines,
    open_text,
    packing_lines,
    paragraphs,
    shown_otherwise,
)
from jarcast.views.counter_documents import step_document, to_come_document
from jarcast.views.open_batch import known_text
from jarcast.views.sanity import odd_documents, odd_text

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C
POUND_G = 453.59237
BATCH = Batch(
    batch="c1", date=dt.date(2024, 8, 31), produce="carrot", cut="sticks", pack="raw",
    jar=("pint",), jars=(1.0,), trimmed_g=6.0 * POUND_G,
)  # fmt: skip
TYPED = {"produce": "carrot", "cut": "sticks", "jar": "pint", "trimmed": "6 lb"}
AT = Underway("c1", TYPED, BATCH, filled=False, so_far=None)
WAITING = replace(AT, batch=replace(BATCH, trimmed_g=None))


def expected_text(*asked, **ways):
    return paragraphs(expected_lines(*asked, **ways))


def packing_text(*asked, **ways):
    return paragraphs(packing_lines(*asked, **ways))


def words(text: str) -> str:
    return " ".join(text.split())


def evenly(low: float, high: float) -> Outcome:
    return Outcome(np.linspace(low, high, 10_001))


def asked(so_far: SoFar | None = None, recipe: str = "", **values: Any) -> Forecast:
    """A forecast whose draws are made up, so that every number in its words is known."""
    habits = habits_from([])
    crop = {"produce": "carrot", "cut": "sticks"} if not recipe else {}
    card = shipped_recipes()[recipe] if recipe else None
    forecast = habits.forecast(
        **crop, trimmed_g=2700.0, cure_hours=0, so_far=so_far, recipe=card, draws=200
    )
    jars = evenly(5.0, 15.0)
    made_up = {
        "jars": jars, "jars_by_sort": (jars,), "jars_to_come": evenly(2.0, 12.0),
        "brine_ml": evenly(0.0, 20.0 * CUP_ML), "brine_to_come_ml": evenly(0.0, 10.0 * CUP_ML),
        "brine_room_ml": None,
    }  # fmt: skip
    return replace(forecast, **{**made_up, **values})


def there(cups: float) -> Outcome:
    return Outcome(np.full(10_001, cups * CUP_ML))


def test_before_packing_jars_lids_and_one_order_of_brine_are_told() -> None:
    before = asked(jars=evenly(0.0, 20.0))
    text = words(expected_text(asked(brine_to_come_ml=evenly(0, 20 * CUP_ML)), before, Units.US))
    assert text.startswith("About 10 pints, 8 times in 10 between 6 and 14 (before this: 10,")
    assert "between 2 and 18)." in text
    # 95 of 100 parts of 5 to 15 jars are 14.5; of 0 to 20 cups 19.
    assert "Set out 15 jars and lids." in text
    assert "Make 1 gal 3 cups of your recipe's brine: 1 chance in 20 of running short" in text
    assert "never make less brine than yours calls for with this much produce" in text


def test_what_did_not_change_is_not_told_as_before() -> None:
    assert "before this" not in expected_text(asked(), asked(), Units.US)


def test_mid_pack_tells_what_is_to_come_whether_it_lasts_and_what_to_heat() -> None:
    now = asked(SoFar(jars=3.0), brine_there_ml=there(8.0))
    text = words(packing_text(now, asked(jars=evenly(0.0, 20.0)), Units.US))
    # What to heat stands first: that is what one asks with the jars before one.
    assert text.startswith("Heat 1½ cups more now, of your recipe's whole formula: 1 chance")
    assert " In all about 10 pints, 8 times in 10 between 6 and 14 (before this:" in text
    assert "Still to come: about 7 pints, 8 times in 10 between 3 and 11." in text
    assert "Brine still needed: about 5 cups, 8 times in 10 between 1 and 9 cups" in text
    # 8 cups there, 0 to 10 needed: short in a fifth of all cases; 9.5 cups do for 19 in 20.
    assert "In the pot about 8 cups: about 1 chance in 5 of running short." in text
    assert "1 chance in 20 of running short then" in text
    assert "Never top up with water or plain vinegar" in text


def test_where_it_lasts_nothing_is_to_be_heated() -> None:
    text = packing_text(asked(SoFar(jars=3.0), brine_there_ml=there(11.0)), None, Units.US)
    assert "less than 1 chance in 100" in words(text)
    assert "Nothing to heat" in text
    assert "Heat " not in text.replace("Nothing to heat", "")


def test_where_the_brine_made_is_not_known_that_is_asked_for() -> None:
    text = words(packing_text(asked(SoFar(jars=3.0), brine_there_ml=None), None, Units.US))
    assert "add --brine-made" in text
    assert "Have 9½ cups" in text


@pytest.mark.parametrize("made", [2.0, 4.0, 19.0])  # cups: a first pot, and all that is needed
def test_after_a_first_pot_it_is_still_said_to_pack_none_tighter(made: float) -> None:
    # Guide 1, p. 1-13: the headspace is kept; whole jars are filled by no tighter packing.
    whole = Outcome(np.repeat(np.arange(8.0, 18.0), 20))
    order = {"jars": whole, "jars_by_sort": (whole,), "jars_to_come": whole}
    before = asked(recipe="dilled-beans", **order)
    now = asked(
        SoFar(jars=0.0, brine_made_ml=made * CUP_ML),
        "dilled-beans",
        **order,
        brine_there_ml=there(made),
    )
    check = PackCheck(own_g=500.0, printed_g=(400.0, 450.0), chance=0.9, message="closer than it.")
    for forecast in (before, now):
        text = words(expected_text(forecast, None, Units.US, check))
        assert "Whole jars: keep the recipe's headspace, and pack none tighter than tested." in text
        assert "Pack check: closer than it." in text
    part = asked(SoFar(jars=0.0, brine_made_ml=made * CUP_ML), "dilled-beans",
                 brine_there_ml=there(made))  # fmt: skip
    assert "pack none tighter" not in words(expected_text(part, None, Units.US))


def test_by_a_card_the_whole_formula_is_told_in_its_proportions() -> None:
    card = shipped_recipes()["pickled-carrots"]
    now = asked(SoFar(jars=3.0), "pickled-carrots", brine_there_ml=there(8.0))
    text = packing_text(now, None, Units.US)
    formula = now.formula_to_make()
    assert formula is not None
    for portion in formula.brine:
        assert f"    {portion.line}\n" in f"{text}\n"
    assert card.safety is not None
    assert len(formula.brine) == len(card.safety.formula)
    assert "raised to the recipe's own amount" in words(text)  # 6 lb are beyond those 8 cups


def test_what_makes_its_own_brine_is_told_to_heat_none() -> None:
    habits = habits_from([])
    now = habits.forecast(produce="corn relish", trimmed_g=2700.0, so_far=SoFar(jars=2.0))
    assert "Heat" not in packing_text(now, None, Units.US)
    now = habits.forecast(produce="corn relish", trimmed_g=2700.0)
    assert "it makes its own" in expected_text(now, None, Units.US)


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "less than 1 chance in 100"),
        (0.05, "about 1 chance in 20"),
        (0.3, "about 1 chance in 3"),
        (0.5, "about 1 chance in 2"),
        (0.72, "about 7 chances in 10"),
        (0.97, "nearly certain"),
        (1.0, "nearly certain"),
    ],
)
def test_a_chance_in_words(chance: float, said: str) -> None:
    assert chance_words(chance) == said


def test_what_was_taken_from_the_last_batch_is_said() -> None:
    text = words(begun_text(AT, {"pack": "raw", "jar": "pint"}, BATCH))
    assert text.startswith("Begun: 'c1' (carrot, sticks, raw pack, pint).")
    assert "As last time (2024-08-31): pack raw, jar pint." in text
    assert "last time" not in begun_text(AT, {}, None)


def test_open_batches_are_listed_with_what_each_is_expected_to_come_to() -> None:
    text = open_text([(AT, asked()), (WAITING, None)], Units.US)
    assert "c1: carrot, sticks, raw pack, begun 2024-08-31; trimmed 6 lb." in text
    assert "about 10 pints, 8 times in 10 between 6 and 14" in text
    assert "waits for a weight" in text
    assert "jarcast begin" in open_text([], Units.US)
    assert known_text(replace(AT, batch=replace(BATCH, trimmed_g=None)),
                      Units.US) == "nothing weighed yet"  # fmt: skip


@pytest.mark.parametrize(
    ("salt_g", "hours", "said"),
    [
        (None, 12.0, "trimmed 6 lb, 12 hours in salt, cured 5 lb"),
        (8 * POUND_G / 16, 1.0, "trimmed 6 lb, 8 oz of salt, 1 hour in salt, cured 5 lb"),
        (POUND_G, None, "trimmed 6 lb, 1 lb of salt, cured 5 lb"),
        (None, 0.0, "trimmed 6 lb, not salted, cured 5 lb"),
    ],
)
def test_salt_and_hours_in_it_stand_between_the_weights(
    salt_g: float | None, hours: float | None, said: str
) -> None:
    batch = replace(BATCH, salt_g=salt_g, cure_hours=hours, cured_g=5 * POUND_G)
    assert known_text(replace(AT, batch=batch), Units.US) == said


def test_a_range_whose_ends_read_the_same_is_told_by_its_middle() -> None:
    sure = {"jars": evenly(13.9, 14.1), "jars_to_come": evenly(1.9, 2.1),
            "brine_to_come_ml": evenly(2 * CUP_ML - 1, 2 * CUP_ML + 1)}  # fmt: skip
    now = asked(SoFar(jars=12.0), brine_there_ml=there(8.0), **sure)
    text = words(packing_text(now, asked(jars=evenly(13.8, 14.2)), Units.US))
    assert text.startswith("Nothing to heat: ")
    assert " In all about 14 pints. Still to come: about 2 pints. " in text
    assert "Brine still needed: about 2 cups; in all" in text
    text = words(packing_text(now, asked(jars=evenly(14.9, 15.1)), Units.US))
    assert " In all about 14 pints (before this: 15)." in text
    assert "  about 14 pints\n" in open_text([(AT, now)], Units.US)


def test_what_reads_the_same_as_before_is_told_from_what_does_not() -> None:
    plain = asked()
    assert not shown_otherwise(plain, asked(jars=evenly(5.01, 15.01)), Units.US)
    assert shown_otherwise(plain, asked(jars=evenly(5.0, 17.0)), Units.US)
    assert shown_otherwise(plain, asked(brine_ml=evenly(0.0, 22.0 * CUP_ML)), Units.US)


def test_a_step_for_json_holds_what_is_known_and_nulls_for_what_is_made_up() -> None:
    now = asked(SoFar(jars=3.0), brine_there_ml=there(8.0))
    document = step_document("weigh", AT, now, Units.US, [], before=None)
    assert (document["format"], document["version"]) == ("jarcast weigh", 1)
    assert document["values"]["jars"] is None  # the one pint in BATCH is a trial of its jars
    assert document["values"]["trimmed_g"] == pytest.approx(6 * POUND_G)
    assert document["waits_for_weight"] is False
    assert document["to_come"]["runs_out"] == pytest.approx(0.2, abs=1e-3)
    assert document["to_come"]["brine_to_make_ml"] == pytest.approx(1.5 * CUP_ML)
    waiting = step_document("begin", WAITING, None, Units.US)
    assert (waiting["waits_for_weight"], waiting["forecast"]) == (True, None)


def test_what_is_to_come_of_its_own_brine_is_nothing_to_make() -> None:
    now = habits_from([]).forecast(produce="corn relish", trimmed_g=2700.0)
    document = to_come_document(now, Units.US)
    assert (document["brine_to_make_ml"], document["caution"]) == (0.0, "")


def odd(**values: Any) -> Oddity:
    plain = {
        "column": "jars", "value": 6.0, "beside": "cured_g", "beside_value": 9.25 * POUND_G,
        "expected": 10.0, "low": 8.0, "high": 13.0, "jar": "pint", "ever": -1,
    }  # fmt: skip
    return Oddity(**{**plain, **values})


def test_an_odd_value_is_asked_back_in_words() -> None:
    assert odd_text(odd(), Units.US) == (
        "That would be the tightest pack you have ever done: 9 lb 4 oz in 6 pints, where 8 pints "
        "to 13 pints would be usual. Was some of it not jarred? Say how much with --not-jarred '6 "
        "lb'."
    )
    assert odd_text(odd(ever=0), Units.US).startswith("That would be a very tight pack: ")
    assert "loosest pack" in odd_text(odd(value=20.0, ever=1), Units.US)
    weight = odd(
        column="trimmed_g", value=POUND_G, beside="as_bought_g", beside_value=8 * POUND_G,
        low=4 * POUND_G, high=7 * POUND_G, ever=0,
        guesses=(("trimmed_g", "kilograms typed as pounds?"),),
    )  # fmt: skip
    assert odd_text(weight, Units.US) == (
        "That would be a very low trimmed weight for the weight as bought: 1 lb of 8 lb as "
        "bought, where 4 lb to 7 lb would be usual. Perhaps trimmed: kilograms typed as pounds?"
    )
    brine = odd(
        column="brine", value=16 * CUP_ML, beside="jars", beside_value=8.5, low=CUP_ML,
        high=6 * CUP_ML, ever=0,
    )  # fmt: skip
    assert "much brine for these jars: 16 cups in 8½ pints" in odd_text(brine, Units.US)


def test_contradictions_and_odd_notes_are_told_beside() -> None:
    flag = Flag(
        ("trimmed_g", "as_bought_g"),
        frozenset(),
        ("trimmed ", Amount(2 * POUND_G, "g"), " is heavier"),
    )
    assert odd_text(flag, Units.US) == "These contradict each other: trimmed 2 lb is heavier."
    assert odd_text("fewer jars", Units.US) == "Fewer jars."
    documents = odd_documents([flag, "fewer jars", odd()], Units.US)
    assert [one["columns"] for one in documents] == [
        ["trimmed_g", "as_bought_g"],
        [],
        ["jars", "cured_g"],
    ]
