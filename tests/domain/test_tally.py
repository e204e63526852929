"""A season counted: of how many jars it is known whether they sealed."""

import datetime as dt

import pytest

from jarcast.domain.batch import Batch
from jarcast.domain.tally import tally


def closed(jars: float, sealed: float | None) -> Batch:
    return Batch(batch=f"{jars} {sealed}", date=dt.date(2026, 8, 1), produce="carrot",
                 jar=("pint",), jars=(jars,), sealed=sealed)  # fmt: skip


@pytest.mark.parametrize(
    ("batches", "due"),
    [
        ([(7.0, 7.0), (7.5, 7.0)], (14.0, 14.0, 0)),
        ([(7.5, 8.0)], (8.0, 8.0, 0)),  # the part-full one was processed and sealed
        ([(92.0, 90.0), (7.5, 77.0)], (90.0, 92.0, 1)),  # 77 of 8 lids cannot be: a slip
        ([(7.5, 77.0)], (0.0, 0.0, 1)),
        ([(7.0, None)], (0.0, 0.0, 0)),
    ],
)
def test_a_batch_of_which_more_sealed_than_were_filled_tells_nothing(
    batches: list[tuple[float, float | None]], due: tuple[float, float, int]
) -> None:
    found = tally([closed(*one) for one in batches])
    assert (found.sealed, found.told, found.left_out) == due
