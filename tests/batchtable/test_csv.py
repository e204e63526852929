"""CSV files in and out: everything comes back, everything wrong is named."""

import csv
import datetime as dt
import io
import os
import stat
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from jarcast.batchtable import (
    Table,
    batches_from_frame,
    frame_from_batches,
    read_csv,
    write_csv,
)
from jarcast.batchtable.csv_file import open_csv
from jarcast.batchtable.guard import ACTED_ON, guard, unguard
from jarcast.domain.batch import LEAST, Batch
from jarcast.domain.fields import COLUMNS, MOST_TEXT, NUMBERS
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.stages import STAGE_COLUMNS
from jarcast.errors import BatchError, JarcastError
from jarcast.ledger import Entry, Ledger

pytestmark = pytest.mark.contract

TODAY = dt.date(2024, 12, 31)
HEADER = "batch,date,produce,jar,jars"
ROW = "1,2024-08-31,carrot,pint,7.5"

Writer = Callable[[str | bytes], Path]  # see conftest


@pytest.fixture
def read(write: Writer) -> Callable[[str | bytes], Table]:
    """Reads a CSV file of this content on the last day of 2024."""
    return lambda content: read_csv(write(content), today=TODAY)


@pytest.fixture
def refused(write: Writer) -> Callable[[str | bytes], BatchError]:
    """The refusal that a CSV file of this content meets."""

    def refusal(content: str | bytes) -> BatchError:
        with pytest.raises(BatchError) as caught:
            read_csv(write(content), today=TODAY)
        return caught.value

    return refusal


def only(table: Table) -> Batch:
    (entry,) = table.entries
    return entry.batch


def cell(column: str, text: str) -> str:
    """A table of one batch with one more column."""
    return f'{HEADER},{column}\n{ROW},"{text}"\n'


# Whatever a batch may hold

_text = st.text(
    st.one_of(
        st.characters(exclude_characters="\0", exclude_categories=["Cs"]),
        st.sampled_from(list("'\"=+-@,;\t\r\n \u2028\ufeff")),
    ),
    max_size=20,
)
_name = _text.filter(lambda text: bool(text.strip()))


def _number(column: str) -> st.SearchStrategy[float | None]:
    most = {"headspace_in": 3.0, "cure_hours": 8760.0, "sealed": 1e5}.get(column, 1e8)
    least = LEAST if column in STAGE_COLUMNS else 0.0
    return st.none() | st.floats(min_value=least, max_value=most, exclude_min=True)


@st.composite
def any_batch(draw: st.DrawFn, name: st.SearchStrategy[str] = _name) -> Batch:
    sorts = draw(st.lists(st.sampled_from(list(SHELF)), min_size=1, max_size=3))
    count = st.floats(min_value=LEAST, max_value=1e5)
    return Batch(
        batch=draw(name),
        date=draw(st.dates(dt.date(1900, 1, 1), TODAY)),
        produce=draw(_name),
        jar=tuple(sorts),
        jars=tuple(draw(count) for _ in sorts),
        **{column: draw(_text) for column in ("cut", "pack", "recipe", "note")},
        **{column: draw(_number(column)) for column in NUMBERS},
    )


several = st.lists(any_batch(), max_size=4, unique_by=lambda batch: batch.batch)


@settings(max_examples=60, deadline=None)
@given(several)
def test_what_is_written_reads_back_as_the_same_batches(batches: list[Batch]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "batches.csv"
        write_csv(batches, path)
        assert [entry.batch for entry in read_csv(path, today=TODAY).entries] == batches


@settings(max_examples=15, deadline=None)
@given(several)
def test_export_and_import_into_a_new_ledger_give_the_same_table(batches: list[Batch]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Ledger.open(folder / "one.sqlite3", writing=True) as one:
            one.add(map(Entry, batches), "import")
            write_csv(one.batches(), folder / "one.csv")
        with Ledger.open(folder / "two.sqlite3", writing=True) as two:
            two.add(read_csv(folder / "one.csv", today=TODAY).entries, "import")
            write_csv(two.batches(), folder / "two.csv")
            again = two.add(read_csv(folder / "one.csv", today=TODAY).entries, "import")
        assert (folder / "one.csv").read_bytes() == (folder / "two.csv").read_bytes()
        assert again.added == ()


@settings(max_examples=40, deadline=None)
@given(st.lists(any_batch(_name.map(str.strip)), max_size=4, unique_by=lambda b: b.batch))
def test_a_frame_holds_the_same_numbers_and_gives_the_batches_back(batches: list[Batch]) -> None:
    stripped = [
        replace(
            batch,
            **{
                column: getattr(batch, column).strip()
                for column in ("produce", "cut", "pack", "recipe", "note")
            },
        )
        for batch in batches
    ]
    frame = frame_from_batches(stripped)
    optional = ("not_jarred_g", "cost")
    rest = [c for c in optional if any(getattr(one, c) is not None for one in stripped)]
    assert list(frame.columns) == [*COLUMNS, *rest]
    assert batches_from_frame(frame) == stripped


@settings(max_examples=150, deadline=None)
@given(
    st.binary(max_size=300) | st.text(max_size=300).map(lambda text: text.encode("utf-8", "ignore"))
)
def test_no_file_meets_anything_but_a_table_or_a_refusal(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "batches.csv"
        for start in (b"", HEADER.encode() + b",note,trimmed_g,salt\n"):
            path.write_bytes(start + content)
            refusal = None
            try:
                read_csv(path, today=TODAY)
            except BatchError as error:
                refusal = str(error)
            assert refusal is None or refusal.startswith(str(path))


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(COLUMNS), st.text(max_size=80))
def test_no_cell_meets_anything_but_a_value_or_a_refusal(column: str, text: str) -> None:
    row = {"batch": "1", "date": "2024-08-31", "produce": "beet", "jar": "pint", "jars": "7"}
    taken, problems = 0, 0
    try:
        taken = len(batches_from_frame(pd.DataFrame([{**row, column: text}])))
    except BatchError as error:
        problems = len(error.problems)
    assert (taken, problems) in ((1, 0), (0, 1))


# RFC 4180, section 2: https://www.rfc-editor.org/rfc/rfc4180#section-2


@pytest.mark.parametrize(
    ("content", "records"),
    [
        # rules 1 to 3: CRLF parts records, the last may lack it, the first is the header
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        # rule 5: a field may be in quotes
        ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        # rule 6: a field with a line break is in quotes
        (
            '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
            [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
        ),
        # rule 7: a quote inside quotes is doubled
        ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
    ],
)
def test_quoting_is_that_of_the_standard(
    write: Writer, content: str, records: list[list[str]]
) -> None:
    with open_csv(write(content)) as file:
        assert [file.header, *(record.cells for record in file)] == records


def test_what_is_written_is_quoted_by_the_standard() -> None:
    stream = io.StringIO(newline="")
    base = {"date": dt.date(2024, 8, 1), "produce": "beet", "jar": ("pint",), "jars": (3.0,)}
    notes = ["b\r\nbb", 'b"bb', "a, b", "plain"]
    batches = [Batch(batch=str(at), note=note, **base) for at, note in enumerate(notes)]  # type: ignore[arg-type]
    write_csv(batches, stream)
    lines = stream.getvalue().split("\r\n")
    assert lines[0] == ",".join(COLUMNS)
    assert [line.rpartition(",")[2] for line in lines[1:3]] == ['"b', 'bb"']  # rule 6
    assert lines[3].endswith(',"b""bb"')  # rule 7
    assert lines[4].endswith(',"a, b"')  # rule 6
    assert lines[5].endswith(",plain")
    assert lines[6:] == [""]


# What people's files look like


@pytest.mark.parametrize(
    "content",
    [
        f"{HEADER}\n{ROW}\n",
        f"{HEADER}\r\n{ROW}\r\n",
        f"{HEADER}\r{ROW}\r",
        f"{HEADER}\n{ROW}",
        f"\ufeff{HEADER}\n{ROW}\n",
        f"\n\n{HEADER}\n\n{ROW}\n,,,,\n   \n",
        f"{HEADER}\n{ROW}\n".replace(",", "\t"),
        f"{HEADER}\n{ROW}\n".replace(",", ";"),
        f"sep=;\n{HEADER}\n{ROW}\n".replace(",", ";"),
        f"{HEADER}\n{ROW}\n".replace(",", ";").replace("7.5", "7,5"),
        f"{HEADER}\n{ROW}\n".replace(",", ", "),
        f'{HEADER}\n"1","2024-08-31","carrot","pint","7.5"\n',
        "BATCH,Date, Produce ,jar,Jars\n" + ROW,
        HEADER + "\n" + ROW.replace("pint", "Pints").replace("7.5", "7 1/2"),
        HEADER + "\n" + ROW.replace("7.5", "7½"),
        HEADER + "\n" + ROW.replace("7.5", "7-1/2"),
        HEADER + "\n" + ROW.replace("2024-08-31", "2024-08-31T17:30"),
        HEADER + "\n" + ROW.replace("2024-08-31", "2024-08-31 00:00:00"),
    ],
)
def test_the_same_batch_however_the_file_is_spelt(
    read: Callable[[str], Table], content: str
) -> None:
    due = Batch(batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("pint",), jars=(7.5,))
    assert only(read(content)) == due


@pytest.mark.parametrize(
    "header", ["as_bought_g", "As bought (g)", "AS-BOUGHT-G", "as bought g", "As_Bought_G"]
)
def test_a_column_is_known_however_it_is_spelt(read: Callable[[str], Table], header: str) -> None:
    assert only(read(cell(header, "2700.5"))).as_bought_g == 2700.5


# NIST Handbook 44, Appendix C: a pound is 453.59237 g, a US quart 946.352946 ml.
@pytest.mark.parametrize(
    ("column", "text", "field", "value"),
    [
        ("as_bought", "6 lb 4 oz", "as_bought_g", 6.25 * 453.59237),
        ("trimmed", "2,7 kg", "trimmed_g", 2700.0),
        ("cured", "1 kg 200 g", "cured_g", 1200.0),
        ("cooked", "5 LB", "cooked_g", 5 * 453.59237),
        ("salt", "100 g", "salt_g", 100.0),
        ("brine_made", "½ qt", "brine_made_ml", 946.352946 / 2),
        ("Brine left", "1 1/2 cups", "brine_left_ml", 1.5 * 946.352946 / 4),
        ("headspace_in", "1/2", "headspace_in", 0.5),
        ("cure_hours", "24", "cure_hours", 24.0),
        ("sealed", "7", "sealed", 7.0),
    ],
)
def test_kitchen_measures_are_read_and_what_was_typed_is_kept(
    read: Callable[[str], Table], column: str, text: str, field: str, value: float
) -> None:
    (entry,) = read(cell(column, text)).entries
    assert getattr(entry.batch, field) == pytest.approx(value, rel=1e-12)
    assert entry.typed == ({} if text.isdigit() else {field: text})


def test_salt_by_the_cup_is_read_by_its_weight(read: Callable[[str], Table]) -> None:
    # USDA Standard Reference 28, NDB 02047, table salt: 292 g a cup.
    assert only(read(cell("salt", "3/4 cup"))).salt_g == pytest.approx(219.0)


def test_several_sorts_of_jar_run_side_by_side(read: Callable[[str], Table]) -> None:
    batch = only(read(f"{HEADER}\n1,2024-08-31,beet,Wide-mouth pints + pint,5 + 4 1/2\n"))
    assert (batch.jar, batch.jars) == (("pint-wide", "pint"), (5.0, 4.5))


def test_a_jar_of_one_s_own_is_read_from_the_shelf(write: Writer) -> None:
    shelf = {**SHELF, "crock": Jar("crock", 2000.0, 100.0)}
    path = write(f"{HEADER}\n1,2024-08-31,beet,crock,2\n")
    assert only(read_csv(path, shelf, TODAY)).jar == ("crock",)
    with pytest.raises(BatchError, match="there is no jar 'crock'"):
        read_csv(path, today=TODAY)


def test_semicolons_go_with_decimal_commas(read: Callable[[str], Table]) -> None:
    content = (
        "batch;date;produce;jar;jars;trimmed_g;brine_made\n"
        "1;2024-08-31;beet;pint + quart;5,5 + 2;2700,5;1,5 l\n"
    )
    batch = only(read(content))
    assert (batch.jars, batch.trimmed_g, batch.brine_made_ml) == ((5.5, 2.0), 2700.5, 1500.0)


def test_a_point_beside_decimal_commas_could_part_thousands_and_is_asked_about(
    read: Callable[[str], Table], refused: Callable[[str], BatchError]
) -> None:
    header = "batch;date;produce;jar;jars;trimmed_g\n"
    dotted = "1;2024-08-31;beet;pint;5;946.353\n"
    assert only(read(header + dotted)).trimmed_g == 946.353
    error = refused(header + dotted + "2;2024-08-31;beet;pint;5;2700,5\n")
    (problem,) = error.problems
    assert "line 2, trimmed_g '946.353'" in problem
    assert "decimals or thousands" in problem


@pytest.mark.parametrize("separator", [",", "\t"])
@pytest.mark.parametrize("text", ["2,700", "2700,5", "1,250.5"])
def test_elsewhere_a_comma_in_a_number_is_asked_about(
    refused: Callable[[str], BatchError], separator: str, text: str
) -> None:
    header, row = (line.replace(",", separator) for line in (HEADER, ROW))
    content = f'{header}{separator}trimmed_g\n{row}{separator}"{text}"\n'
    assert f"trimmed_g '{text}'" in str(refused(content))


def test_columns_of_one_s_own_are_named_as_ignored(read: Callable[[str], Table]) -> None:
    table = read(f"Weather,{HEADER},,trimed_g\nsunny,{ROW},x,5\n")
    assert table.ignored_columns == ("Weather", "column 7 (without a name)", "trimed_g")
    assert only(table).batch == "1"


def test_batch_names_stay_text(read: Callable[[str], Table]) -> None:
    table = read(f"{HEADER}\n007,2024-08-31,beet,pint,5\n7,2024-08-31,beet,pint,5\n")
    assert [entry.batch.batch for entry in table.entries] == ["007", "7"]


def test_a_header_alone_is_a_table_of_no_batches(read: Callable[[str], Table]) -> None:
    assert read(HEADER + "\n").entries == ()
    assert read(",".join(COLUMNS)).entries == ()


def test_contradictions_are_taken_in_and_flagged(read: Callable[[str], Table]) -> None:
    table = read(f"{HEADER},as_bought_g,trimmed_g\n{ROW},1000,2200\n2{ROW[1:]},3000,2700\n")
    assert len(table.entries) == 2
    ((name, flag),) = table.flags
    assert name == "1"
    assert "pounds typed as kilograms" in flag.message


def test_the_same_row_twice_counts_once_and_is_reported(read: Callable[[str], Table]) -> None:
    table = read(f"{HEADER}\n{ROW}\n{ROW}\n")
    assert only(table).batch == "1"
    assert table.repeated == ("1",)


def test_one_name_with_two_sets_of_values_is_refused_with_both_lines(
    refused: Callable[[str], BatchError],
) -> None:
    (problem,) = refused(f"{HEADER}\n{ROW}\n{ROW.replace('7.5', '8')}\n").problems
    assert "line 3, batch '1'" in problem
    assert "in line 2" in problem
    assert "jars '7.5' there, '8' here" in problem


# What is refused


@pytest.mark.parametrize(
    ("column", "text", "saying"),
    [
        ("trimmed_g", "-5", "is negative"),
        ("trimmed_g", "0", "0 is not a weight"),
        ("trimmed_g", "NaN", "not a number that can be weighed"),
        ("trimmed_g", "inf", "not a number that can be weighed"),
        ("trimmed_g", "-Infinity", "not a number that can be weighed"),
        ("trimmed_g", "1e400", "not a number that can be weighed"),
        ("trimmed_g", "1e12", "more than can be"),
        ("trimmed_g", "6 lb", "name the column 'trimmed'"),
        ("salt_g", "3/4 cup", "name the column 'salt'"),
        ("brine_made_ml", "4 cups", "name the column 'brine_made'"),
        ("trimmed_g", "heavy", "is not a plain number"),
        ("trimmed_g", "1_000", "is not a plain number"),
        ("trimmed_g", "٢٧٠٠", "is not a plain number"),
        ("trimmed_g", "9" * 5000, "is not a plain number"),
        ("trimmed", "6", "no unit"),
        ("cured", "2 cups", "a weight is due"),
        ("brine_made", "2 lb", "a volume is due"),
        ("brine_left_ml", "-1", "is negative"),
        ("headspace_in", "12", "more than can be"),
        ("cure_hours", "-24", "is negative"),
        ("sealed", "-1", "is negative"),
        ("sealed", "7 ok", "'ok' is no sort of jar; write the jars that sealed as a number"),
        ("sealed", "1 no", "'no' is no sort of jar; write the jars that sealed as a number"),
    ],
)
def test_a_number_that_cannot_be_is_refused_with_place_value_and_mend(
    refused: Callable[[str], BatchError], write: Writer, column: str, text: str, saying: str
) -> None:
    error = refused(cell(column, text))
    (problem,) = error.problems
    shown = text if len(text) <= 60 else text[:57] + "..."
    assert problem.startswith(f"{write('')}, line 2, {column} '{shown}': ")
    assert saying in problem
    assert len(problem) < 500


@pytest.mark.parametrize(
    ("old", "new", "saying"),
    [
        ("7.5", "0", "jars '0': no jars were filled"),
        ("7.5", "-1", "jars '-1': -1 is negative"),
        ("7.5", "1000000000", "more than can be"),
        ("7.5", "10e8", "more than can be"),
        ("7.5", "nan", "jars 'nan'"),
        ("7.5", "1/0", "divides by nothing"),
        ("7.5", "some", "is not a plain number"),
        ("7.5", "", "jars: is empty"),
        ("7.5", "5 + 4.5", "2 counts for 1 sorts of jar"),
        ("7.5", "7" + " " * 80 + "5", "jars '7"),
        ("pint", "bucket", "there is no jar 'bucket'; known jars are half-pint"),
        ("pint", "pint + bucket", "there is no jar 'bucket'"),
        ("pint", "pint + quart", "1 counts for 2 sorts"),
        ("pint", "", "jar: is empty"),
        ("carrot", "  ", "produce: is empty"),
        ("1,", ",", "batch: is empty"),
        ("2024-08-31", "", "date: is empty"),
        ("2024-08-31", "31/08/2024", "day and month could be mixed up"),
        ("2024-08-31", "08-31-2024", "day and month could be mixed up"),
        ("2024-08-31", "20240831", "year-month-day"),
        ("2024-08-31", "2024-02-30", "there is no such day"),
        ("2024-08-31", "2024-13-01", "there is no such day"),
        ("2024-08-31", "2025-01-01", "is in the future (today is 2024-12-31)"),
        ("2024-08-31", "0024-08-31", "is the year right"),
        ("2024-08-31", "yesterday", "year-month-day"),
    ],
)
def test_a_needed_value_that_cannot_be_is_refused(
    refused: Callable[[str], BatchError], old: str, new: str, saying: str
) -> None:
    (problem,) = refused(f"{HEADER}\n{ROW.replace(old, new, 1)}\n").problems
    assert ", line 2" in problem
    assert saying in problem


def test_the_last_day_allowed_is_the_present_one(write: Writer) -> None:
    today = dt.date.today()
    for days, allowed in ((0, True), (2, False)):
        path = write(f"{HEADER}\n1,{today + dt.timedelta(days)},beet,pint,5\n")
        if allowed:
            assert len(read_csv(path).entries) == 1
        else:
            with pytest.raises(BatchError, match="in the future"):
                read_csv(path)


def test_both_columns_for_one_weight_may_stand_there_but_not_both_be_filled(
    read: Callable[[str], Table], refused: Callable[[str], BatchError]
) -> None:
    header = f"{HEADER},trimmed_g,trimmed\n"
    table = read(f"{header}{ROW},2000,\n2{ROW[1:]},,2 kg\n")
    assert [entry.batch.trimmed_g for entry in table.entries] == [2000.0, 2000.0]
    assert "trimmed '2 kg': trimmed_g is filled as well" in str(refused(f"{header}{ROW},2000,2 kg"))


def test_every_bad_row_is_named_at_once_and_nothing_is_taken_in(
    refused: Callable[[str], BatchError], tmp_path: Path
) -> None:
    good = "\n".join(f"g{at},2024-08-31,beet,pint,5" for at in range(30))
    bad = "\n".join(f"b{at},2024-08-31,beet,pint,0" for at in range(25))
    error = refused(f"{HEADER}\n{good}\n{bad}\nshort,row\nlong,2024-08-31,beet,pint,5,6,7\n")
    places = [problem.split(", ")[1].partition(":")[0] for problem in error.problems]
    assert places == [f"line {line}" for line in range(32, 59)]
    assert "27 problems; nothing was read in" in str(error)
    assert "... and 7 more" in str(error)
    assert "2 cells where the header has 5" in error.problems[-2]
    assert "7 cells where the header has 5" in error.problems[-1]
    assert not (tmp_path / "ledger.sqlite3").exists()


def test_every_problem_of_one_row_is_named(refused: Callable[[str], BatchError]) -> None:
    error = refused(f"{HEADER},trimmed_g,cured\n1,soon,,bucket,0,-1,6\n")
    found = [problem.split(", ")[2].split(" ")[0].rstrip(":") for problem in error.problems]
    assert sorted(found) == ["cured", "date", "jar", "jars", "produce", "trimmed_g"]


def test_lines_are_counted_as_an_editor_counts_them(refused: Callable[[str], BatchError]) -> None:
    rows = '1,2024-08-31,"two\nlines",pint,5\n\n2,2024-08-31,beet,pint,0\n'
    (problem,) = refused(f"{HEADER}\n{rows}").problems
    assert ", line 5, jars" in problem


@pytest.mark.parametrize(
    ("content", "saying"),
    [
        (b"", "is empty; its first line should be the header: batch,date,produce"),
        (b"\n\n  \n", "is empty"),
        (b",,,\n,,\n", "is empty"),
        ("," * 1_000_000, "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (f"{HEADER},batch\n{ROW},1", "the column 'batch' is there twice"),
        (f"{HEADER},Jars\n{ROW},1", "the column 'jars' is there twice"),
        ("batch,date,crop,jar\n1,2,3,4\n", "needed but missing: produce, jars"),
        ("Dear aunt\nthe beets are in\n", "The columns found are: Dear aunt"),
        (f"{HEADER}\n{ROW}\n2,2024-08-31,".encode() + b"jalape\xf1o,pint,3\n", "line 3: byte F1"),
        (f"{HEADER}\n{ROW}\n".encode("utf-16"), "UTF-16"),
        (HEADER.encode() + b"\n1,2024-08-31,be\0et,pint,3\n", "line 2: a NUL byte"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "89"),
        (f'{HEADER}\n1,2024-08-31,"beet,pint,3\n2,2024', "line 2 is never closed"),
        (f'{HEADER}\n1,2024-08-31,"beet" red,pint,3\n', "a stray quote in the row"),
        (",".join(f"c{at}" for at in range(1001)), "1001 columns"),
        ("x," * 500_000, "500001 columns"),
        (f"{HEADER},note\n{ROW},{'x' * 65_537}\n", "longer than 64 KiB"),
        (f"{HEADER},note\n{ROW},{'x' * 200_000}\n", "longer than 64 KiB"),
        (f"{HEADER},note\n{ROW},{'x' * (MOST_TEXT + 1)}\n", "60000 at most"),
    ],
)
def test_a_file_that_is_no_batch_table_is_refused_in_one_sentence(
    refused: Callable[[str | bytes], BatchError], content: str | bytes, saying: str
) -> None:
    error = refused(content)
    assert saying in str(error)
    assert "\n" not in str(error)
    assert len(str(error)) < 1000


def test_what_was_wrong_before_a_file_breaks_off_is_named_too(
    refused: Callable[[str | bytes], BatchError],
) -> None:
    error = refused(f"{HEADER}\n1,2024-08-31,beet,pint,0\n".encode() + b"2,\xe9\n")
    assert len(error.problems) == 2
    assert "line 2, jars" in error.problems[0]
    assert "line 3: byte E9" in error.problems[1]


@pytest.mark.parametrize("ending", [b"", b"\n", b'"\n'])
@pytest.mark.parametrize("filling", [b"x", b"\n", b'""', b","])
@pytest.mark.xdist_group("alone")
def test_a_cell_of_fifty_megabytes_is_refused_early_with_little_memory(
    write: Writer, filling: bytes, ending: bytes
) -> None:
    start = f'{HEADER},note\n{ROW},"'.encode()
    path = write(start + filling * (50_000_000 // len(filling)) + ending)
    tracemalloc.start()
    began = time.process_time()
    try:
        with pytest.raises(BatchError, match=r"line \d"):
            read_csv(path, today=TODAY)
        took, (_, peak) = time.process_time() - began, tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert took < 2.0
    assert peak < 40_000_000


def test_a_file_longer_than_any_ledger_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "batches.csv"
    with path.open("wb") as file:
        file.truncate(300_000_000)  # a hole: it takes no room
    with pytest.raises(BatchError, match="longer than 200 MB"):
        read_csv(path)


def test_problems_without_end_are_counted_and_not_all_kept(
    refused: Callable[[str], BatchError],
) -> None:
    error = refused(f"{HEADER}\n" + "a\n" * 12_000)
    assert "12000 problems" in str(error)
    assert len(error.problems) == 10_000


def test_a_file_that_cannot_be_opened_is_refused_in_one_sentence(tmp_path: Path) -> None:
    for path, saying in (
        (tmp_path, "is a folder"),
        (tmp_path / "none.csv", "there is no file"),
        (Path("a\0b"), "cannot be the name of a file"),
        (tmp_path / ("x" * 5000), "cannot be read"),
    ):
        with pytest.raises(BatchError, match=saying):
            read_csv(path)


_AS_ANOTHER = """
import os, sys
from jarcast.errors import JarcastError
from jarcast.batchtable import read_csv, write_csv
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
for act in (lambda: read_csv(sys.argv[1]), lambda: write_csv([], sys.argv[1])):
    try:
        act()
        print("ok")
    except JarcastError as error:
        print(error)
"""


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that other users can reach, as pytest's own cannot be."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)
        Path(name).chmod(0o755)


@pytest.mark.skipif(os.name != "posix", reason="file rights are POSIX's here")
def test_without_the_right_to_it_a_file_is_neither_read_nor_replaced(open_folder: Path) -> None:
    # Root may do anything, so as root this acts as another user.
    path = open_folder / "batches.csv"
    path.write_text(f"{HEADER}\n{ROW}\n")
    path.chmod(0o000)
    open_folder.chmod(0o555)
    ran = subprocess.run(
        [sys.executable, "-c", _AS_ANOTHER, path], capture_output=True, text=True, timeout=60
    )
    assert ran.stderr == ""
    reading, writing = ran.stdout.splitlines()
    assert "cannot be read: Permission denied" in reading
    assert "cannot be written: Permission denied" in writing
    path.chmod(0o600)
    assert path.read_text() == f"{HEADER}\n{ROW}\n"


# Formulas


@pytest.mark.parametrize("sign", ACTED_ON)
def test_no_exported_cell_starts_with_a_sign_a_spreadsheet_acts_on(
    tmp_path: Path, sign: str
) -> None:
    # The signs are those of OWASP's page on CSV injection.
    text = f'{sign}HYPERLINK("http://example.invalid")'
    batch = Batch(
        batch=text, date=TODAY, produce=text, cut=text, pack=text, recipe=text, note=text,
        jar=("pint",), jars=(1.0,),
    )  # fmt: skip
    write_csv([batch], tmp_path / "out.csv")
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        cells = list(csv.reader(file))[1]
    assert not any(shown.startswith(ACTED_ON) for shown in cells)
    assert only(read_csv(tmp_path / "out.csv", today=TODAY)) == batch


@given(_text)
def test_a_guarded_text_comes_back_unchanged(text: str) -> None:
    assert unguard(guard(text)) == text


def test_a_file_from_elsewhere_keeps_its_own_apostrophes(read: Callable[[str], Table]) -> None:
    assert only(read(cell("note", "'twas a good year"))).note == "'twas a good year"
    assert only(read(cell("note", "=loose"))).note == "=loose"


# Writing files


def test_a_file_is_replaced_whole_and_is_its_owner_s_alone(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    path.write_text("the old one")
    write_csv([], path)
    assert path.read_bytes() == (",".join(COLUMNS) + "\r\n").encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_a_failure_half_way_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    def breaking() -> Iterator[Batch]:
        yield Batch(batch="1", date=TODAY, produce="beet", jar=("pint",), jars=(1.0,))
        raise OSError(28, "No space left on device")

    path = tmp_path / "out.csv"
    path.write_text("the old one")
    with pytest.raises(JarcastError, match="No space left on device; nothing was changed"):
        write_csv(breaking(), path)
    assert path.read_text() == "the old one"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.csv").write_text("the old one")
    (tmp_path / "link.csv").symlink_to(tmp_path / "real.csv")
    write_csv([], tmp_path / "link.csv")
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "real.csv").read_text().startswith("batch,date")


def test_a_place_that_cannot_be_written_is_refused_in_one_sentence(tmp_path: Path) -> None:
    for path, saying in (
        (tmp_path, "is a folder"),
        (tmp_path / "none" / "out.csv", "No such file or directory"),
        (Path("a\0b"), "cannot be the name of a file"),
    ):
        with pytest.raises(JarcastError, match=saying):
            write_csv([], path)


def test_reading_a_csv_file_does_not_load_pandas() -> None:
    script = (
        "import sys\nfrom jarcast.batchtable import read_csv\n"
        "assert 'pandas' not in sys.modules, 'loaded'"
    )
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert (ran.returncode, ran.stderr) == (0, "")


def test_a_weight_that_was_counted_is_written_as_it_was_typed(
    read: Callable[[str | bytes], Table], tmp_path: Path
) -> None:
    header = "batch,date,produce,cut,jar,jars,as bought,trimmed"
    one = "a,2024-08-01,cucumber,slices,pint,5,1/2 peck,16 cups"
    two = "b,2024-08-02,cucumber,slices,pint,5,6 lb,5 lb"
    table = read("\n".join([header, one, two]))
    first, second = (entry.batch for entry in table.entries)
    # A bushel of cucumbers is 48 lb (Guide 6), a peck a quarter of it (NIST Handbook 44).
    assert first.as_bought_g == pytest.approx(48 / 4 / 2 * 453.59237)
    assert {doubt.column for doubt in first.doubt} == {"as_bought_g", "trimmed_g"}
    assert second.doubt == frozenset()
    file = tmp_path / "out.csv"
    write_csv([first, second], file)
    head, written, other = file.read_text().splitlines()
    assert head.endswith(",note,as_bought,trimmed")
    assert written.endswith(",1/2 peck,16 cups")
    assert "2721" not in written  # the grams of it stand nowhere
    assert other.endswith(",,")
    assert [entry.batch for entry in read_csv(file, today=TODAY).entries] == [first, second]
