"""What contradicts itself in one batch is taken in with a flag; and what a flag touches."""

import datetime as dt
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.stages import Link

pytestmark = pytest.mark.contract

ONE = Batch(
    batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("pint",), jars=(7.5,), pack="raw"
)


def with_values(**values: Any) -> Batch:
    return replace(ONE, **values)


def flag_of(**values: Any) -> Any:
    (flag,) = contradictions(with_values(**values))
    return flag


def test_a_stage_up_to_five_in_a_hundred_heavier_is_a_reading_not_a_contradiction() -> None:
    # The batch table's rule: a stage more than 5 % heavier than the one before is flagged.
    assert contradictions(with_values(as_bought_g=2000.0, trimmed_g=2099.0)) == ()
    assert contradictions(with_values(as_bought_g=2000.0, trimmed_g=2101.0)) != ()


def test_trimmed_heavier_than_bought_teaches_nothing_from_that_weight_on() -> None:
    flag = flag_of(as_bought_g=1000.0, trimmed_g=2200.0)
    assert flag.columns == ("as_bought_g", "trimmed_g")
    assert flag.links == set(Link)
    assert "pounds typed as kilograms" in flag.message


def test_stages_left_out_are_stepped_over() -> None:
    flag = flag_of(as_bought_g=2000.0, cured_g=2500.0)
    assert flag.columns == ("as_bought_g", "cured_g")
    assert flag.links >= {Link.TRIM, Link.CURE, Link.PACK}


def test_the_link_that_ends_in_the_earlier_weight_is_touched_too() -> None:
    # Trimmed typed in pounds as kilograms' worth of grams: it is the lighter, and the wrong one.
    flag = flag_of(as_bought_g=3000.0, trimmed_g=1200.0, cured_g=2500.0)
    assert flag.columns == ("trimmed_g", "cured_g")
    assert Link.TRIM in flag.links


def test_a_sound_trim_is_still_taught_when_only_brine_is_muddled() -> None:
    flag = flag_of(as_bought_g=3000.0, trimmed_g=2700.0, brine_made_ml=400.0, brine_left_ml=1900.0)
    assert flag.links == {Link.BRINE}
    assert "swapped" in flag.message


def test_more_in_the_jars_than_they_hold_is_flagged() -> None:
    # 7.5 US pints are 3.55 l to the brim: nine kilograms of carrot do not go in.
    flag = flag_of(trimmed_g=9000.0)
    assert flag.columns == ("trimmed_g", "jars")
    assert flag.links == {Link.PACK, Link.BRINE}


def test_a_hot_pack_s_weight_before_cooking_may_well_exceed_the_jars() -> None:
    assert contradictions(with_values(pack="hot", trimmed_g=9000.0)) == ()


def test_a_cured_batch_is_held_against_its_cured_weight() -> None:
    assert contradictions(with_values(trimmed_g=9000.0, cured_g=2500.0, cure_hours=24.0)) == ()


def test_a_flag_is_worded_in_any_units_and_its_message_is_in_grams_and_millilitres() -> None:
    # A pound is 453.59237 g (NIST Handbook 44, Appendix C).
    flag = flag_of(as_bought_g=453.59237, trimmed_g=4 * 453.59237)
    assert flag.message == "trimmed 1814 g is heavier than as bought 454 g"
    pounds = flag.worded(lambda amount: f"{amount.value / 453.59237:.0f} lb")
    assert pounds == "trimmed 4 lb is heavier than as bought 1 lb"
    used = flag_of(brine_made_ml=9000.0, brine_left_ml=0.0, jars=(3.0,), trimmed_g=None)
    amounts = [part for part in used.parts if not isinstance(part, str)]
    assert [amount.unit for amount in amounts] == ["ml", "ml"]
    assert amounts[0].value == 9000.0
    assert used.message.startswith("9000 ml of brine used for 3 pint, which hold 13")


def test_more_sealed_than_filled_touches_no_link() -> None:
    assert contradictions(with_values(sealed=8.0)) == ()
    assert flag_of(sealed=9.0).links == frozenset()


def test_a_hot_pack_is_one_by_whatever_name_it_goes() -> None:
    assert contradictions(with_values(pack="boiled", trimmed_g=9000.0)) == ()
    assert contradictions(with_values(pack="cooked", trimmed_g=9000.0)) == ()


def test_a_slip_guessed_for_brine_is_one_of_volumes() -> None:
    # 9 gal for 2 pints, which hold 28 fl oz of it at most: nobody types brine in pounds.
    made = 9 * 3785.411784
    [flag] = contradictions(
        with_values(jars=(2.0,), trimmed_g=None, brine_made_ml=made, brine_left_ml=0.0)
    )
    assert "pounds" not in flag.message
    assert "ounces" not in flag.message


def test_what_was_not_jarred_takes_no_room_in_the_jars() -> None:
    # 7.5 pints hold about 3.2 l: 5 kg cannot be in them, at 1.1 g/ml of tissue, and 3 kg can.
    heavy = flag_of(trimmed_g=5000.0, cure_hours=0.0)
    assert heavy.message.endswith("; was some of it not jarred?")
    sound = with_values(trimmed_g=5000.0, cure_hours=0.0, not_jarred_g=2000.0)
    assert contradictions(sound) == ()
    slip = flag_of(trimmed_g=32000.0, cure_hours=0.0)  # a tenth of it would be as much as fits
    assert "not jarred" not in slip.message
    still = flag_of(trimmed_g=5000.0, cure_hours=0.0, not_jarred_g=100.0)
    assert "was some of it not jarred" not in still.message  # it is said how much


def test_not_all_of_a_batch_that_filled_jars_can_have_been_left_over() -> None:
    for rest in (2000.0, 2500.0):
        flag = flag_of(trimmed_g=2000.0, not_jarred_g=rest)
        assert flag.columns == ("not_jarred_g", "trimmed_g")
        assert flag.links == {Link.PACK, Link.BRINE}
        assert "leaves nothing of 2000 g trimmed" in flag.message
    assert contradictions(with_values(trimmed_g=2000.0, not_jarred_g=500.0)) == ()
    assert contradictions(with_values(not_jarred_g=500.0)) == ()  # of how much, nobody said
