"""Values that do not fit: which one is blamed, and what it is asked to be."""

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.learning.learned import learn_batches
from jarcast.learning.posterior import RowVerdict
from jarcast.learning.slips import Slip, find_slips, guess

# Factors of the units: NIST Handbook 44, Appendix C.
LB_PER_KG = 2.2046


def verdict(
    columns: tuple[str, str], factor: float = 1.0, chance: float = 0.01, batch: str = "7"
) -> RowVerdict:
    return RowVerdict(batch, columns, factor, chance)


def slips(*verdicts: RowVerdict) -> Sequence[Slip]:
    """Slips of batches 1 to 9; each made 2,000 ml of brine and left 500."""
    batches = [
        Batch(
            batch=str(number), date=dt.date(2024, 7, number), produce="carrot", jar=("pint",),
            jars=(8.0,), brine_made_ml=2000.0, brine_left_ml=500.0,
        )
        for number in range(1, 10)
    ]  # fmt: skip
    return find_slips(verdicts, batches)


TRIM, PACK = ("as_bought_g", "trimmed_g"), ("trimmed_g", "jars")
BRINE = ("brine_made_ml", "brine_left_ml")


@pytest.mark.parametrize(
    ("column", "factor", "question"),
    [
        ("trimmed_g", LB_PER_KG, "pounds typed as kilograms?"),
        ("trimmed_g", 1 / LB_PER_KG, "kilograms typed as pounds?"),
        ("as_bought_g", 10.0, "decimal point?"),
        ("as_bought_g", 0.1, "decimal point?"),
        ("cured_g", 15.0, "ounces typed as pounds?"),
        ("cured_g", 1 / 15.0, "pounds typed as ounces?"),
        ("cooked_g", 1000.0, "grams typed as kilograms?"),
        ("brine_made_ml", 4.1, "cups typed as quarts?"),
        ("brine_made_ml", 0.24, "quarts typed as cups?"),
        ("brine_left_ml", 10.0, "decimal point?"),
        ("jars", 0.1, "decimal point?"),
    ],
)
def test_the_likeliest_reason_is_asked(column: str, factor: float, question: str) -> None:
    assert guess(column, factor) == question


@pytest.mark.parametrize(
    ("column", "factor"), [("trimmed_g", 5.0), ("brine_made_ml", 90.0), ("jars", 4.5)]
)
def test_a_factor_like_no_known_slip_gets_no_question(column: str, factor: float) -> None:
    assert guess(column, factor) == ""


@pytest.mark.parametrize("column", ["trimmed_g", "brine_made_ml", "jars"])
@pytest.mark.parametrize("factor", [2.1, 10.0, 0.5, 0.1, 1000.0, 1e-3, 1.0])
def test_every_question_reads_as_one(column: str, factor: float) -> None:
    question = guess(column, factor)
    assert question == "" or question.endswith("?")
    assert question.count("?") <= 1


def test_rows_that_fit_name_nobody() -> None:
    assert slips() == ()
    assert slips(verdict(TRIM), verdict(PACK, 1.3, 0.05)) == ()


def test_the_value_whose_other_row_fits_is_sound() -> None:
    (slip,) = slips(verdict(TRIM, 1 / LB_PER_KG, 0.95), verdict(PACK))
    assert (slip.column, slip.factor) == ("as_bought_g", pytest.approx(LB_PER_KG))
    assert slip.guess == "pounds typed as kilograms?"


def test_the_value_two_bad_rows_share_is_blamed() -> None:
    # Trimmed weight too small: so little of what was bought, and so many jars of it.
    (slip,) = slips(
        verdict(TRIM, 1 / LB_PER_KG, 0.95), verdict(PACK, LB_PER_KG, 0.9), verdict(BRINE)
    )
    assert slip.column == "trimmed_g"
    assert slip.factor < 1.0
    assert slip.guess == "kilograms typed as pounds?"
    assert slip.others == ()


def test_where_either_may_be_wrong_the_other_is_named_too() -> None:
    (slip,) = slips(verdict(PACK, 10.0, 0.99))
    assert {slip.column, *slip.others} == set(PACK)
    assert slip.chance == 0.99


def test_each_batch_is_named_once() -> None:
    found = slips(
        verdict(TRIM, 10.0, 0.9, "1"),
        verdict(PACK, 10.0, 0.9, "2"),
        verdict(PACK, 10.0, 0.9, "1"),
        verdict(TRIM, 1.0, 0.01, "3"),
    )
    assert sorted(slip.batch for slip in found) == ["1", "2"]


def test_brine_made_is_too_much_where_too_much_was_used() -> None:
    # 1,500 ml were used where a fifth of it was expected: 800 would have been made, not 2,000.
    (slip,) = slips(verdict(TRIM), verdict(BRINE, 5.0, 0.97))
    factors = {slip.column: slip.factor}
    assert {slip.column, *slip.others} == set(BRINE)
    assert factors.get("brine_made_ml", 2.5) == pytest.approx(2000.0 / 800.0)
    assert factors.get("brine_left_ml", 0.3) == pytest.approx(500.0 / 1700.0, rel=0.05)


def test_what_the_user_stands_by_is_named_no_more_nor_what_lies_beside_it() -> None:
    batch = Batch(
        batch="7", date=dt.date(2024, 7, 7), produce="carrot", jar=("pint",), jars=(8.0,),
        brine_made_ml=2000.0, brine_left_ml=500.0,
    )  # fmt: skip
    odd = (verdict(BRINE, 5.0, 0.97), verdict(("brine", "jars"), 5.0, 0.97))

    def named(*confirmed: str) -> list[str]:
        stood_by = replace(batch, confirmed=frozenset(confirmed))
        return [slip.column for slip in find_slips(odd, [stood_by])]

    assert len(named()) == 1
    assert named("brine_made_ml") == []
    assert named("jars") != []  # the brine itself is not confirmed by that
    assert named("trimmed_g") == named()
    assert named("jars", "brine_left_ml") == []


def slips_of(home: Any, crop: Any, column: str, factor: float) -> tuple[str, tuple[Slip, ...]]:
    history = home.history([crop] * 12)
    value = factor * getattr(history[6], column)
    history[6] = replace(history[6], **{column: value})
    return history[6].batch, find_slips(learn_batches(history).verdicts(), history)


@pytest.mark.parametrize(
    ("factor", "question"),
    [
        (LB_PER_KG, "pounds typed as kilograms?"),
        (10.0, "decimal point?"),
        (16.0, "ounces typed as pounds?"),
    ],
)
def test_a_slip_as_bought_is_found_among_sound_batches(
    household: Callable[..., Any], crops: Any, factor: float, question: str
) -> None:
    right = 0
    for seed in range(10):
        batch, found = slips_of(household(seed), crops[0], "as_bought_g", factor)
        right += (batch, "as_bought_g", question) in [(s.batch, s.column, s.guess) for s in found]
    assert right >= 9


def test_sound_households_are_seldom_asked(household: Callable[..., Any], crops: Any) -> None:
    # At most two sound batches in a hundred.
    asked = total = 0
    for seed in range(20):
        history = household(seed).history(crops * 4)
        asked += len(find_slips(learn_batches(history).verdicts(), history))
        total += len(history)
    assert asked <= 0.02 * total


def test_a_batch_too_heavy_for_its_jars_is_asked_what_was_not_jarred() -> None:
    heavy = RowVerdict("7", PACK, 0.6, 0.02, not_jarred=0.9)
    (slip,) = slips(heavy)
    assert slip.not_jarred
    assert slip.guess.startswith("was some of it not jarred?")
    assert slip.factor == pytest.approx(0.6) or slip.factor == pytest.approx(1 / 0.6)
    assert slip.chance == pytest.approx(0.92)


def test_what_may_well_be_a_tight_pack_is_not_asked_of() -> None:
    # Even chances or less: nothing is likelier to be missing than not.
    assert slips(RowVerdict("7", PACK, 0.85, 0.01, not_jarred=0.4)) == ()
    assert slips(RowVerdict("7", BRINE, 1.3, 0.1, not_jarred=0.8)) == ()  # it has no jars


def test_where_a_slip_is_likelier_it_is_the_question() -> None:
    (slip,) = slips(RowVerdict("7", PACK, 1 / LB_PER_KG, 0.5, not_jarred=0.3))
    assert (slip.guess, slip.not_jarred) == ("pounds typed as kilograms?", False)
