"""The days of a line: one, or a first and a last."""

import datetime as dt

import pytest

from jarcast.errors import BatchError
from jarcast.harvest.plan.cells import read_days


@pytest.mark.parametrize(
    "text", ["2025-07-01 to 2025-07-14", " 2025-07-01 - 2025-07-14", "2025-07-01/2025-07-14"]
)
def test_a_first_and_a_last_day_are_read(text: str) -> None:
    assert read_days(text) == (dt.date(2025, 7, 1), dt.date(2025, 7, 14))


def test_one_day_is_first_and_last() -> None:
    assert read_days("2025-07-01") == (dt.date(2025, 7, 1),) * 2


@pytest.mark.parametrize(
    "text", ["", "soon", "2025-07-14 to 2025-07-01", "2025-07-01 to", "2025-07-01/2/3", "7/1/2025"]
)
def test_what_is_no_day_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(BatchError, match="2025-07-01 to 2025-07-14"):
        read_days(text)
