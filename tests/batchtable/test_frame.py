"""DataFrames in and out, by the same checks as CSV files."""

import datetime as dt
import math
import sys
import warnings
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from msgspec.structs import replace

import jarcast
from jarcast.batchtable import (
    batches_from_frame,
    batches_from_table,
    frame_from_batches,
    read_batches,
)
from jarcast.domain.fields import COLUMNS, NEEDED, NUMBERS
from jarcast.domain.jars import SHELF
from jarcast.errors import BatchError, IgnoredColumn

HEADER = "batch,date,produce,jar,jars"

Writer = Callable[[str | bytes], Path]  # see conftest


def frame(**columns: Any) -> pd.DataFrame:
    base = {"batch": "1", "date": "2024-08-31", "produce": "beet", "jar": "pint", "jars": 5}
    return pd.DataFrame([{**base, **columns}])


def test_read_batches_gives_the_batch_table_s_columns_in_order_and_kind(write: Writer) -> None:
    table = read_batches(write(f"{HEADER},weather,trimmed\n007,2024-08-31,beet,Pint,5,dry,1 kg\n"))
    assert list(table.columns) == list(COLUMNS)
    assert table.attrs["ignored_columns"] == ["weather"]
    assert pd.api.types.is_datetime64_any_dtype(table["date"])
    assert all(table[column].dtype == np.float64 for column in {*NUMBERS} & {*COLUMNS})
    row = table.iloc[0]
    assert (row["batch"], row["jar"], row["jars"], row["note"]) == ("007", "pint", 5.0, "")
    assert row["date"] == pd.Timestamp(2024, 8, 31)
    assert row["trimmed_g"] == 1000.0
    assert math.isnan(row["as_bought_g"])


def test_an_empty_table_has_the_same_kinds_of_column(write: Writer) -> None:
    table = read_batches(write(HEADER))
    assert len(table) == 0
    full = frame_from_batches(batches_from_frame(frame()))
    assert list(table.dtypes) == list(full.dtypes)
    assert batches_from_frame(table) == []


@pytest.mark.parametrize("columns", [COLUMNS, NEEDED])
def test_an_empty_frame_with_the_columns_is_valid(columns: tuple[str, ...]) -> None:
    assert batches_from_frame(pd.DataFrame(columns=list(columns))) == []


def test_a_frame_without_the_needed_columns_is_refused() -> None:
    with pytest.raises(BatchError, match="needed but missing: batch, date, produce, jar, jars"):
        batches_from_frame(pd.DataFrame())


@pytest.mark.parametrize(
    "date",
    [
        "2024-08-31", "2024-08-31 00:00:00", dt.date(2024, 8, 31), dt.datetime(2024, 8, 31, 17, 30),
        pd.Timestamp(2024, 8, 31), np.datetime64("2024-08-31"), pd.Timestamp(2024, 8, 31, tz="UTC"),
    ],
)  # fmt: skip
def test_dates_may_be_text_or_datetimes(date: object) -> None:
    assert batches_from_frame(frame(date=date))[0].date == dt.date(2024, 8, 31)


@pytest.mark.parametrize(
    ("jars", "due"),
    [
        (5, 5.0), (7.5, 7.5), ("7.5", 7.5), (" 7 1/2 ", 7.5), (np.int64(5), 5.0),
        (np.float32(7.5), 7.5),
    ],
)  # fmt: skip
def test_jars_may_be_a_number_or_a_text(jars: object, due: float) -> None:
    assert batches_from_frame(frame(jars=jars))[0].jars == (due,)


@pytest.mark.parametrize(
    ("name", "due"), [("007", "007"), (7, "7"), (7.0, "7"), (7.5, "7.5"), (" 7 ", "7")]
)
def test_batch_names_become_text(name: object, due: str) -> None:
    assert batches_from_frame(frame(batch=name))[0].batch == due


@pytest.mark.parametrize("nothing", [None, math.nan, pd.NA, pd.NaT, "", "  "])
@pytest.mark.parametrize("column", ["trimmed_g", "note", "cut", "brine_left_ml"])
def test_nothing_may_be_spelt_in_any_way(column: str, nothing: object) -> None:
    (batch,) = batches_from_frame(frame(**{column: nothing}))
    assert getattr(batch, column) in (None, "")


def test_a_kitchen_column_is_read_in_a_frame_too_and_a_bare_number_there_refused() -> None:
    assert batches_from_frame(frame(trimmed="2 kg"))[0].trimmed_g == 2000.0
    with pytest.raises(BatchError, match="without its unit"):
        batches_from_frame(frame(trimmed=6.0))


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("trimmed_g", -1.0), ("trimmed_g", math.inf), ("trimmed_g", 10**400), ("trimmed_g", [1, 2]),
        pytest.param("trimmed_g", 10**9999, id="long"), pytest.param("date", 10**9999, id="longer"),
        ("trimmed_g", 3 + 4j), ("jars", 0), ("jars", 1e9), ("jars", math.nan), ("jar", "bucket"),
        ("jar", None), ("date", pd.NaT), ("date", 20240831), ("date", "31.8.2024"), ("batch", None),
        ("produce", ""), ("batch", "a\ud800"),
        ("jars", True), ("trimmed_g", True), ("produce", b"carrot"), ("batch", True),
    ],
)  # fmt: skip
def test_an_impossible_value_in_a_frame_is_refused_with_its_row(column: str, value: object) -> None:
    rows = [frame(batch="a", trimmed_g=5.0), frame(trimmed_g=5.0)]
    table = pd.concat(rows, ignore_index=True).astype(object)
    table.at[1, column] = value
    with pytest.raises(BatchError) as refusal:
        batches_from_frame(table)
    (problem,) = refusal.value.problems
    assert problem.startswith(f"the table, row 1, {column}")


def test_contradictions_in_a_frame_are_never_refused() -> None:
    (batch,) = batches_from_frame(frame(as_bought_g=100.0, trimmed_g=99_000.0, brine_left_ml=5.0))
    assert batch.trimmed_g == 99_000.0


def test_what_is_learned_hangs_on_the_table_and_not_on_the_day() -> None:
    assert batches_from_frame(frame(date="2999-01-01"))[0].date == dt.date(2999, 1, 1)


def test_a_long_frame_is_read_row_by_row_and_no_row_twice() -> None:
    base = batches_from_frame(frame(jar="pint + quart", jars="5 + 4.5", trimmed_g=2700.5))[0]

    def calls(rows: int) -> int:
        table = frame_from_batches(replace(base, batch=str(at)) for at in range(rows))
        seen = 0

        def count(*_: object) -> None:
            nonlocal seen
            seen += 1

        sys.setprofile(count)
        try:
            assert len(batches_from_frame(table)) == rows
        finally:
            sys.setprofile(None)
        return seen

    few, many = calls(300), calls(600)
    more = calls(900) - many
    # What a row takes is the same however many there are, a few dozen cells of a few calls each.
    assert more == pytest.approx(many - few, rel=0.02)
    assert more / 300 < 500


def test_what_was_not_jarred_is_a_last_column_where_a_batch_has_it(write: Writer) -> None:
    some = read_batches(write(f"{HEADER},not jarred\n1,2024-08-31,beet,pint,5,6 lb\n"))
    assert list(some.columns) == [*COLUMNS, "not_jarred_g"]
    # 6 lb at 453.59237 g (NIST Handbook 44, Appendix C)
    (batch,) = batches_from_frame(some)
    assert batch.not_jarred_g == some["not_jarred_g"][0] == 2721.55422
    assert list(frame_from_batches([replace(batch, not_jarred_g=None)]).columns) == list(COLUMNS)


def test_a_weight_that_was_counted_keeps_its_doubt_in_a_frame(write: Writer) -> None:
    header = "batch,date,produce,cut,jar,jars,trimmed"
    path = write("\n".join([header, "a,2024-08-01,carrot,slices,pint,5,16 cups"]))
    frame = read_batches(path)
    assert frame["trimmed"].tolist() == ["16 cups"]
    assert frame["trimmed_g"].isna().all()
    (batch,) = batches_from_frame(frame)
    # A loose cup of sliced carrots is 122 g: USDA Standard Reference Release 28, NDB 11124.
    assert batch.trimmed_g == pytest.approx(16 * 122)
    assert batch.doubt_of("trimmed_g") > 0.1


# What learn takes for a table


class ToPandas:
    """What another library's frame is: something that turns into a DataFrame."""

    def __init__(self, held: pd.DataFrame) -> None:
        self.held = held

    def to_pandas(self) -> pd.DataFrame:
        return self.held


def test_a_table_may_be_anything_that_becomes_a_frame(write: Writer) -> None:
    table = frame(trimmed_g=2000.0)
    path = write(table.to_csv(index=False))
    same = (
        table,
        ToPandas(table),
        table.to_dict("list"),
        table.to_dict("records"),
        path,
        str(path),
    )
    found = [batches_from_table(one, SHELF, stacklevel=1) for one in same]
    assert found == [batches_from_frame(table)] * len(same)


@pytest.mark.parametrize("table", [None, 5, b"x", object(), {"batch": 1}, lambda: 0])
def test_what_is_no_table_is_refused_with_what_was_due(table: object) -> None:
    with pytest.raises(
        BatchError, match=r"is not a table.*; give a DataFrame, or the path of a CSV"
    ):
        batches_from_table(table, SHELF, stacklevel=1)


@pytest.mark.parametrize(
    ("column", "meant"),
    [
        ("prep_lb", "trimmed"), ("brine_cups", "brine_made"),
        ("Brine left over (qt)", "brine_left"), ("prepared weight", "trimmed"),
        ("Weight (lbs)", "as_bought"), ("after trimming", "trimmed"), ("pints", "jars"),
        ("salt tbsp", "salt"), ("hours soaked", "cure_hours"), ("drained weight", "cured"),
        ("weather", ""), ("helper", ""), ("notes2", ""), ("price", ""), ("netting", ""),
    ],
)  # fmt: skip
def test_a_column_that_looks_like_a_measure_is_told_and_what_would_be_meant(
    column: str, meant: str
) -> None:
    table = frame(**{column: 3.5})
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        batches_from_table(table, SHELF, stacklevel=1)
    if not meant:
        assert told == []
        return
    (one,) = told
    assert one.category is IgnoredColumn
    assert f"the column '{column}' is not read" in str(one.message)
    assert f"if it is '{meant}', rename it" in str(one.message)
    assert one.filename == __file__


def test_a_file_s_ignored_columns_are_told_too(write: Writer) -> None:
    path = write(f"{HEADER},prep_lb\n1,2024-08-31,beet,pint,5,6\n")
    for table in (path, read_batches(path)):
        with pytest.warns(IgnoredColumn, match="'prep_lb' is not read"):
            batches_from_table(table, SHELF, stacklevel=1)


def test_jars_are_numbers_where_each_batch_fills_one_sort(write: Writer) -> None:
    one = "a,2024-08-31,beet,pint,5\nb,2024-08-31,beet,quart,4 1/2\n"
    found = read_batches(write(f"{HEADER}\n{one}"))
    assert found["jars"].dtype == np.float64
    assert found["jars"].tolist() == [5.0, 4.5]
    mixed = read_batches(write(f"{HEADER}\n{one}c,2024-08-31,beet,pint + quart,5 + 2\n"))
    assert mixed["jars"].tolist() == ["5", "4.5", "5 + 2"]
    again = batches_from_frame(mixed)
    assert batches_from_frame(found) == again[:2]


@pytest.mark.parametrize("column", ["date", "jar", "jars", "trimmed_g", "cure_hours"])
@pytest.mark.parametrize(
    "odd",
    [
        np.array([1.0, 2.0]), pd.Series([1, 2]), pd.DataFrame({"a": [1]}), np.timedelta64(3, "h"),
        Decimal("sNaN"), 10**5000,
    ],
    ids=["array", "series", "frame", "hours", "signalling", "digits"],
)  # fmt: skip
def test_a_cell_that_holds_no_single_value_is_refused_by_its_column(
    column: str, odd: object
) -> None:
    table = frame()
    table[column] = pd.Series([odd], dtype=object)
    with pytest.raises(BatchError, match=column):
        batches_from_frame(table)


def test_a_label_of_thousands_of_digits_is_cut() -> None:
    with pytest.raises(BatchError, match="row a int"):
        batches_from_frame(frame(jars=-1).set_axis([10**5000], axis=0))
    assert len(batches_from_frame(frame().assign(**{"x": 1}).rename(columns={"x": 10**5000}))) == 1


@pytest.mark.parametrize("column", ["trimmed_g", "as_bought_g", "jars"])
def test_a_weight_of_nearly_nothing_is_none(column: str) -> None:
    # A ratio with the least number that a float holds leaves what a float holds.
    with pytest.raises(BatchError, match="is less than can be weighed or counted"):
        batches_from_frame(frame(**{column: 5e-324}))


@pytest.mark.parametrize(
    ("column", "meant"),
    [
        ("trimed_g", "trimmed_g"), ("asbought_g", "as_bought_g"), ("as_bougt_g", "as_bought_g"),
        ("cookd_g", "cooked_g"), ("curd_g", "cured_g"), ("trimmedg", "trimmed_g"),
        ("Trimed (g)", "trimmed_g"), ("headspaces_in", "headspace_in"), ("packs", "pack"),
        ("cuts", "cut"), ("persons", "person"), ("brine_mde_ml", "brine_made_ml"),
        # In another unit than the table's it is a measure with its unit.
        ("trimed_lb", "trimmed"), ("as_bought_kg", "as_bought"), ("brine_left_qt", "brine_left"),
    ],
)  # fmt: skip
def test_a_column_that_is_nearly_one_of_the_table_is_told(column: str, meant: str) -> None:
    with pytest.warns(IgnoredColumn) as told:
        batches_from_table(frame(**{column: 3.5}), SHELF, stacklevel=1)
    (one,) = told
    assert f"the column '{column}' is not read" in str(one.message)
    assert f"if it is '{meant}', rename it" in str(one.message)
    assert one.filename == __file__


@pytest.mark.parametrize(
    ("column", "read"), [("sugar_g", "as_bought_g, trimmed_g"), ("vinegar_ml", "brine_made_ml")]
)
def test_a_column_in_the_table_s_own_unit_is_told_with_what_is_read(column: str, read: str) -> None:
    with pytest.warns(IgnoredColumn, match=f"'{column}' is not read.* is {read}"):
        batches_from_table(frame(**{column: 3.5}), SHELF, stacklevel=1)


@pytest.mark.parametrize(
    "column", ["sale", "coast", "pick", "case", "notes", "weather", "g", "x_y"]
)
def test_other_columns_are_nobody_s_business(column: str) -> None:
    batches_from_table(frame(**{column: 3.5}), SHELF, stacklevel=1)  # a warning is an error here


def test_a_file_s_ignored_column_is_told_until_what_it_may_be_is_filled(write: Writer) -> None:
    table = read_batches(write(f"{HEADER},prep_lb\n1,2024-08-31,beet,pint,5,6\n"))
    with pytest.warns(IgnoredColumn, match="'prep_lb'"):
        batches_from_table(table, SHELF, stacklevel=1)
    table["trimmed_g"] = 2721.6
    batches_from_table(table, SHELF, stacklevel=1)  # a warning is an error here
    table["trimed_g"] = 2721.6
    with pytest.warns(IgnoredColumn, match="'trimed_g'") as told:
        batches_from_table(table, SHELF, stacklevel=1)
    assert len(told) == 1


def test_a_jar_of_one_s_own_is_told_by_the_shelf(write: Writer) -> None:
    path = write(f"{HEADER}\n1,2024-08-31,beet,tall,5\n")
    table = frame(jar="tall")
    for read in (
        lambda: read_batches(path),
        lambda: batches_from_table(path, SHELF, stacklevel=1),
        lambda: batches_from_table(table, SHELF, stacklevel=1),
    ):
        with pytest.raises(
            BatchError, match=r"shelf=\{\*\*jarcast.SHELF, 'tall': jarcast.Jar\('tall'"
        ) as error:
            read()
        assert len(error.value.problems) == 1
    shelf = {**jarcast.SHELF, "tall": jarcast.Jar("tall", 450.0, 60.0)}
    assert read_batches(path, shelf)["jar"].tolist() == ["tall"]
    assert len(jarcast.learn(path, shelf=shelf).to_frame()) > 0


@pytest.mark.parametrize("today", ["2024-01-01", 5, 2024.5])
def test_what_is_no_date_is_refused(write: Writer, today: Any) -> None:
    path = write(f"{HEADER}\n1,2024-08-31,beet,pint,5\n")
    with pytest.raises(BatchError, match=r"give a date, such as datetime\.date"):
        read_batches(path, today=today)
    assert len(read_batches(path, today=dt.datetime(2024, 8, 31, 12))) == 1
    with pytest.raises(BatchError, match="2024-08-31"):
        read_batches(path, today=dt.date(2024, 8, 30))
