"""One batch: what is refused, and what follows from its values."""

import datetime as dt
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from jarcast.domain.batch import Batch, number_text
from jarcast.domain.fields import COLUMNS, NUMBERS
from jarcast.errors import BatchError

pytestmark = pytest.mark.contract

ONE = Batch(
    batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("pint",), jars=(7.5,), pack="raw"
)


def with_values(**values: Any) -> Batch:
    return replace(ONE, **values)


def test_a_batch_has_the_columns_of_the_batch_table_and_no_others() -> None:
    # The batch table is a fixed contract, written out here by hand.
    due = (
        "batch, date, produce, cut, pack, jar, headspace_in, as_bought_g, trimmed_g, salt_g, "
        "cure_hours, cured_g, cooked_g, jars, brine_made_ml, brine_left_ml, sealed, recipe, note"
    )
    assert ", ".join(COLUMNS) == due
    assert set(Batch.__struct_fields__) == {
        *COLUMNS,
        "not_jarred_g",
        "person",
        "cost",
        "confirmed",
        "doubt",
    }


@pytest.mark.parametrize("column", NUMBERS)
@pytest.mark.parametrize("value", [-1.0, -1e-9, math.nan, math.inf, -math.inf, 1e300])
def test_a_number_that_cannot_be_is_refused_with_its_column(column: str, value: float) -> None:
    with pytest.raises(BatchError, match=column) as refused:
        with_values(**{column: value})
    assert len(refused.value.problems) == 1


@pytest.mark.parametrize("column", ["as_bought_g", "trimmed_g", "cured_g", "cooked_g"])
def test_nothing_on_the_scale_is_no_weight(column: str) -> None:
    with pytest.raises(BatchError, match="leave it empty"):
        with_values(**{column: 0.0})


@pytest.mark.parametrize("column", ["salt_g", "cure_hours", "brine_left_ml", "sealed"])
def test_none_of_it_is_a_fair_answer_where_there_may_be_none(column: str) -> None:
    assert getattr(with_values(**{column: 0.0}), column) == 0.0


@pytest.mark.parametrize(
    "jars", [(), (0.0,), (-1.0,), (math.nan,), (math.inf,), (1e9,), (5.0, 4.5)]
)
def test_jars_that_cannot_be_are_refused(jars: tuple[float, ...]) -> None:
    with pytest.raises(BatchError, match="jars"):
        with_values(jars=jars)


@pytest.mark.parametrize("column", ["batch", "produce"])
@pytest.mark.parametrize("text", ["", "   ", "a\0b", "half \ud800 a sign", "x" * 60_001])
def test_a_name_that_cannot_be_kept_is_refused(column: str, text: str) -> None:
    with pytest.raises(BatchError, match=column):
        with_values(**{column: text})


def test_every_impossible_value_is_named_at_once() -> None:
    with pytest.raises(BatchError) as refused:
        with_values(produce="", trimmed_g=-1.0, jars=(0.0,), sealed=math.nan)
    columns = {problem.partition(":")[0] for problem in refused.value.problems}
    assert columns == {"produce", "trimmed_g", "jars", "sealed"}


def test_two_sorts_of_jar_stand_side_by_side() -> None:
    batch = with_values(jar=("pint-wide", "pint"), jars=(5.0, 4.5))
    assert (batch.jar_text, batch.jars_text, batch.total_jars) == (
        "pint-wide + pint",
        "5 + 4.5",
        9.5,
    )


def test_fill_volume_is_the_jars_less_the_gap_under_the_rim() -> None:
    # NIST Handbook 44, Appendix C: a liquid pint is 473.176473 ml, an inch 2.54 cm. The neck is
    # taken as a cylinder of 60 mm (from memory), so half an inch takes 9 pi x 1.27 ml.
    pint = 473.176473 - 9 * math.pi * 1.27
    assert with_values(headspace_in=0.5).fill_volume_ml() == pytest.approx(7.5 * pint, rel=1e-8)


def test_brine_used_is_not_known_until_both_ends_are() -> None:
    assert with_values(brine_made_ml=2000.0).brine_used_ml is None
    assert with_values(brine_made_ml=2000.0, brine_left_ml=350.0).brine_used_ml == 1650.0


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_s_text_reads_back_as_the_same_number(value: float) -> None:
    assert float(number_text(value)) == value


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_even_a_number_that_is_none_has_a_text(value: float) -> None:
    assert number_text(value) == repr(value)
