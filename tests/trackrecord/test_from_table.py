"""A track record again from its table: the same marks and ranges, batch by batch."""

import pandas as pd
import pytest

import jarcast
from jarcast.batchtable import frame_from_batches
from jarcast.domain.batch import Batch
from jarcast.errors import ForecastError
from jarcast.trackrecord.from_table import record_from_table
from jarcast.trackrecord.hindsight import look_back
from jarcast.trackrecord.replay import as_one_import


@pytest.fixture(scope="module")
def table(batches: list[Batch]) -> pd.DataFrame:
    return jarcast.hindsight(frame_from_batches(batches))


def test_marks_ranges_and_groups_are_those_of_the_record(
    table: pd.DataFrame, batches: list[Batch]
) -> None:
    due = look_back(as_one_import(batches)).replayed
    found = record_from_table(table)
    assert len(found.scored) == len(due.scored) > 5
    for one, other in zip(found.scored, due.scored, strict=True):
        assert (one.stored.batch, one.stored.stage, one.date) == (
            other.stored.batch, other.stored.stage, other.date,
        )  # fmt: skip
        for name in ("jars", "brine"):
            mark, like = getattr(one, name), getattr(other, name)
            assert (mark is None) == (like is None)
            if mark is not None:
                assert (mark.was, mark.held, mark.short) == (like.was, like.held, like.short)
        said, was = one.stored.jars, other.stored.jars
        assert said.interval(0.8) == pytest.approx(was.interval(0.8))
        assert said.median == pytest.approx(was.median)
    for group, like in zip(found.groups, due.groups, strict=True):
        assert (group.stage, group.jars.held) == (like.stage, like.jars.held)
        assert group.brine_ml.held == like.brine_ml.held


def test_of_several_forecasters_jarcast_s_own_is_taken_or_the_first(table: pd.DataFrame) -> None:
    own = table[table["forecaster"] == "jarcast"]
    assert len(record_from_table(table).scored) == len(record_from_table(own).scored)
    others = table[table["forecaster"] != "jarcast"]
    first = others[others["forecaster"] == others["forecaster"].iloc[0]]
    assert len(record_from_table(others).scored) == len(record_from_table(first).scored) > 0


def test_no_rows_are_no_record_and_rows_without_jars_are_refused(table: pd.DataFrame) -> None:
    assert record_from_table(table.iloc[:0]).groups == ()
    with pytest.raises(ForecastError, match="outcome 'jars' are missing"):
        record_from_table(table[table["outcome"] == "brine_ml"])
    with pytest.raises(ForecastError, match="the column 'was' is missing"):
        record_from_table(table.drop(columns="was"))
