"""A batch from Python holds texts, numbers and dates of their own kinds, or is refused."""

import datetime as dt
from typing import Any

import numpy as np
import pytest

import jarcast
from jarcast.domain.batch import Batch
from jarcast.errors import BatchError

FINE: dict[str, Any] = {
    "batch": "1", "date": dt.date(2024, 9, 1), "produce": "carrot", "jar": ("pint",),
    "jars": (3.0,),
}  # fmt: skip


@pytest.mark.parametrize(
    ("column", "value", "why"),
    [
        ("jars", (True,), "no number"),
        ("jars", ("3",), "no number"),
        ("jars", "3", "a tuple"),
        ("jars", 3.0, "a tuple"),
        ("jar", "pint", "a tuple"),
        ("jar", (b"pint",), "not text"),
        ("trimmed_g", False, "no number"),
        ("trimmed_g", "5 lb", "no number"),
        ("trimmed_g", 1j, "no number"),
        ("produce", b"carrot", "not text"),
        ("note", None, "not text"),
        ("date", "2024-09-01", "not a date"),
        ("date", dt.datetime(2024, 9, 1, 8), "not a date"),
    ],
)
def test_a_value_of_another_kind_is_refused_with_its_column(
    column: str, value: Any, why: str
) -> None:
    with pytest.raises(BatchError, match=why) as caught:
        Batch(**{**FINE, column: value})
    assert column.removesuffix("s") in str(caught.value)


def test_numbers_of_numpy_and_lists_are_fine() -> None:
    found = Batch(**{**FINE, "jars": [np.float32(3.0)], "jar": ["pint"], "trimmed_g": np.int64(5)})
    assert found.total_jars == 3.0


@pytest.mark.parametrize("what", [None, 3, [1], "table"])
def test_what_is_no_table_and_no_list_of_batches_is_refused(what: Any) -> None:
    with pytest.raises(BatchError, match=r"table|file"):
        jarcast.learn(what)
    with pytest.raises(BatchError, match="list of batches"):
        jarcast.habits_from(what)
