"""A file into the ledger some rows at a time: all of it, or nothing and every problem named."""

import csv
import datetime as dt
import io
import os
import random
import re
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jarcast.batchtable import read_csv
from jarcast.batchtable.csv_file import LONGEST_CELL
from jarcast.batchtable.csv_in import TableReader
from jarcast.batchtable.importer import Imported, import_csv
from jarcast.domain.batch import Batch
from jarcast.errors import BatchError, LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.adding import Answers
from jarcast.ledger.annotations import withdraw

TODAY = dt.date(2024, 12, 31)
HEADER = "batch,date,produce,jar,jars"

Outcome = tuple[Any, ...]


def take_in(file: Path, ledger: Path, **ways: Any) -> Imported:
    """The file taken into the ledger at a path, which is opened to look at first."""
    with Ledger.open(ledger) as opened:
        return import_csv(file, opened, **ways)


def kept(ledger: Path) -> list[tuple[Any, ...]]:
    """Every row that hangs on a batch, with the kind of value in each cell."""
    if not ledger.exists():
        return []
    with closing(sqlite3.connect(ledger)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        columns = [row[1] for row in raw.execute("PRAGMA table_info(reading)")]
        kinds = ", ".join(f"typeof({column})" for column in columns)
        readings = raw.execute(f"SELECT *, {kinds} FROM reading ORDER BY id").fetchall()  # noqa: S608
        return [*raw.execute("SELECT * FROM batch ORDER BY id").fetchall(), *readings]


def at_once(file: Path, ledger: Path) -> Outcome:
    """What comes of a file that is read whole, and then added."""
    table = read_csv(file, today=TODAY)
    if not table.entries:
        raise BatchError("no batches")
    with Ledger.open(ledger, writing=True) as opened:
        done = opened.add(table.entries, "import", Answers())
    skipped = sorted([*done.skipped, *table.repeated])
    return done.added, skipped, table.ignored_columns, table.flags


def some_at_a_time(file: Path, ledger: Path) -> Outcome:
    """What comes of the same file imported."""
    taken = take_in(file, ledger, today=TODAY)
    assert (taken.added.count, taken.skipped.count) == (
        len(taken.added.kept),
        len(taken.skipped.kept),
    )
    skipped = sorted(taken.skipped.kept)
    return tuple(taken.added.kept), skipped, taken.ignored_columns, taken.flags


def outcome(way: Callable[[Path, Path], Outcome], file: Path, ledger: Path) -> Outcome:
    try:
        return way(file, ledger)
    except BatchError as error:
        empty = "no batches" in str(error)
        return ("refused", "no batches" if empty else str(error), error.problems)


def agree(one: Outcome, two: Outcome, there: Sequence[str]) -> bool:
    """Whether both ways end alike. Problems may come in another order.

    One that is in the ledger and comes in the file twice may be held against either first.
    """
    if one[0] != "refused" or two[0] != "refused":
        return one == two
    doubled = re.compile(rf"batch '({'|'.join(there) or '$^'})': this batch is also in line")
    other = [sorted(p for p in end[2] if not doubled.search(p)) for end in (one, two)]
    return other[0] == other[1] or not other[0]


def both_ways(content: bytes, before: Sequence[Batch] = ()) -> Outcome:
    """What comes of a file, having checked that it is the same both ways, twice over."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        file = folder / "batches.csv"
        file.write_bytes(content)
        ledgers = (folder / "one.sqlite3", folder / "two.sqlite3")
        for ledger in ledgers:
            if before:
                with Ledger.open(ledger, writing=True) as opened:
                    opened.add(map(Entry, before), "import")
                    withdraw(opened, before[-1].batch)
        first: Outcome = ()
        for _ in range(2):
            one = outcome(at_once, file, ledgers[0])
            two = outcome(some_at_a_time, file, ledgers[1])
            assert agree(one, two, [batch.batch for batch in before])
            assert kept(ledgers[0]) == kept(ledgers[1])
            first = first or two
        return first


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three rows at a time and one chunk ahead, so that small files have many chunks."""
    monkeypatch.setattr("jarcast.batchtable.importer.MOST_AT_ONCE", 3)
    monkeypatch.setattr("jarcast.batchtable.importer._AHEAD", 1)
    monkeypatch.setattr("jarcast.batchtable.rows.MOST_REMEMBERED", 4)
    monkeypatch.setattr("jarcast.batchtable.csv_in.MOST_REMEMBERED", 4)


# Tables as people write them, with now and then a cell that is odd or wrong

_OFTEN: dict[str, Sequence[str]] = {
    "batch": ("a", "b", "c", "d", "e", "f", "g", "h", "i", "k", " l ", "'=m", "007", "n\nn"),
    "date": ("2024-08-31", "2023-07-01", "2024-08-31T17:30", " 2022-09-30 "),
    "produce": ("carrot", "Beets", " okra "),
    "cut": ("", "sticks", "'-sticks"),
    "pack": ("", "raw", "hot"),
    "jar": ("pint", "Pints", "pint + quart-wide", "wide-mouth quart"),
    "headspace_in": ("", "0.5", "1/2", "1 in"),
    "as_bought_g": ("", "3000", "2900.5", "1e3"),
    "as_bought": ("", "6 lb 4 oz", "3 kg"),
    "trimmed_g": ("", "2700", "2834.9523125", "950"),
    "trimmed": ("", "5 lb", "2.7 kg"),
    "salt": ("", "3/4 cup", "100 g"),
    "cure_hours": ("", "0", "24", "1 day"),
    "cured_g": ("", "2500"),
    "cooked_g": ("", "800"),
    "jars": ("5", "7.5", "7 1/2", "5 + 4.5", "7½"),
    "brine_made": ("", "2 qt", "1/2 qt"),
    "brine_made_ml": ("", "1900", "9000"),
    "brine_left_ml": ("", "150", "0", "2100"),
    "sealed": ("", "5", "8"),
    "recipe": ("", "dills"),
    "note": ("", "  ", "two\r\nlines", 'a "word"', "x, y; z", "'twas", "ä🥕", "' "),
    "weather": ("", "dry", "wet"),
}
_SELDOM = ("-1", "0", "bucket", "soon", "nan", "1.250", "2700,5", "6 lb", " ", "2999-01-01", "'")


@st.composite
def tables(draw: st.DrawFn, wrong: bool) -> bytes:
    others = [name for name in _OFTEN if name not in HEADER.split(",")]
    columns = draw(st.permutations(HEADER.split(",")))
    columns = [*columns, *draw(st.lists(st.sampled_from(others), unique=True, max_size=9))]
    separator = draw(st.sampled_from([",", ",", ";", "\t"]))
    stream = io.StringIO(newline="")
    writer = csv.writer(
        stream, delimiter=separator, lineterminator=draw(st.sampled_from(["\n", "\r\n"]))
    )
    writer.writerow(columns)
    for _ in range(draw(st.integers(0, 14))):
        row = [draw(st.sampled_from(_OFTEN[name])) for name in columns]
        if "+" in row[columns.index("jar")]:
            row[columns.index("jars")] = "5 + 4.5"
        elif "+" in row[columns.index("jars")]:
            row[columns.index("jars")] = "5"
        if wrong and draw(st.integers(0, 9)) == 0:
            row[draw(st.integers(0, len(row) - 1))] = draw(st.sampled_from(_SELDOM))
        if wrong and draw(st.integers(0, 19)) == 0:
            row = row[: draw(st.integers(0, len(row)))]
        writer.writerow(row)
        if draw(st.integers(0, 9)) == 0:
            stream.write(
                draw(st.sampled_from(["\n", "  \n", separator * (len(columns) - 1) + "\n"]))
            )
    content = stream.getvalue().encode()
    if wrong and draw(st.integers(0, 9)) == 0:
        cut = draw(st.integers(0, len(content)))
        content = (
            content[:cut] + draw(st.sampled_from([b'"', b"\xe9", b"\0", b'""'])) + content[cut:]
        )
    return draw(st.sampled_from([b"", b"\xef\xbb\xbf"])) + content


def test_a_contradiction_in_a_row_that_is_repeated_is_named_once() -> None:
    row = "1,2024-08-31,beet,pint,5,8"
    _, skipped, _, flags = both_ways(f"{HEADER},sealed\n{row}\n{row}\n".encode())
    assert skipped == ["1"]
    assert [name for name, _ in flags] == ["1"]


def known(name: str, **values: Any) -> Batch:
    base = {"date": dt.date(2024, 8, 31), "produce": "carrot", "jar": ("pint",), "jars": (5.0,)}
    return Batch(batch=name, **{**base, **values})


BEFORE = [known("a"), known("z"), known("b", produce="beet"), known("c")]


@pytest.mark.usefixtures("small")
@settings(max_examples=120, deadline=None)
@given(st.booleans().flatmap(tables), st.booleans())
def test_a_table_in_chunks_of_three_is_taken_in_or_refused_as_it_is_read_whole(
    content: bytes, filled: bool
) -> None:
    both_ways(content, BEFORE if filled else ())


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize(
    ("content", "saying"),
    [
        ("{rows}last,2024-08-31,beet,pint,0\n", "no jars were filled"),
        ("{rows}last,2024-08-31,beet,pint\n", "4 cells where the header has 5"),
        ("{rows}r0,2024-08-31,beet,pint,7\n", "also in line 2 with other values"),
        ("{rows}c,2024-08-31,carrot,pint,5\n", "was withdrawn"),
        ("{rows}b,2024-08-31,carrot,pint,5\n", "produce 'beet' there, 'carrot' here"),
        ('{rows}"last,2024-08-31,beet,pint,5\n', "is never closed"),
        ("{rows}last,2999-08-31,beet,pint,5\n", "in the future"),
    ],
)
def test_what_is_wrong_in_the_last_row_undoes_every_row_before_it(
    tmp_path: Path, content: str, saying: str
) -> None:
    rows = "".join(f"r{number},2024-08-31,beet,pint,5\n" for number in range(20))
    text = f"{HEADER}\n{content.format(rows=rows)}"
    assert saying in both_ways(text.encode(), BEFORE)[1]
    (tmp_path / "batches.csv").write_text(text)
    ledger = tmp_path / "ledger.sqlite3"
    with Ledger.open(ledger, writing=True) as opened:
        opened.add(map(Entry, BEFORE), "import")
        withdraw(opened, "c")
    before = kept(ledger)
    with pytest.raises(BatchError):
        take_in(tmp_path / "batches.csv", ledger, today=TODAY)
    assert kept(ledger) == before


# Long files


def long_table(path: Path, rows: int) -> None:
    rng = random.Random(rows)  # noqa: S311 (invented data)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow([*HEADER.split(","), "as_bought", "trimmed_g", "note"])
        for number in range(rows):
            trimmed = rng.randint(1000, 3000)
            writer.writerow([
                f"b{number}", "2024-08-31", "carrot", "pint", trimmed // 280 + 1,
                f"{trimmed * 1.2 / 1000:.2f} kg", trimmed, f"of day {number}",
            ])  # fmt: skip


@pytest.mark.xdist_group("alone")
def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    peaks = []
    for rows in (6_000, 18_000):
        long_table(tmp_path / f"{rows}.csv", rows)
        tracemalloc.start()
        try:
            taken = take_in(
                tmp_path / f"{rows}.csv", tmp_path / f"{rows}.sqlite3", today=TODAY, most_named=10
            )
            peaks.append(tracemalloc.get_traced_memory()[1])
        finally:
            tracemalloc.stop()
        assert (taken.added.count, len(taken.added.kept)) == (rows, 10)
    assert peaks[1] < 1.25 * peaks[0]
    assert peaks[1] < 20_000_000


def test_a_file_is_told_of_as_it_is_read(tmp_path: Path) -> None:
    long_table(tmp_path / "batches.csv", 5000)
    told: list[tuple[int, int]] = []
    take_in(
        tmp_path / "batches.csv", tmp_path / "ledger.sqlite3", today=TODAY,
        tell=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    size = (tmp_path / "batches.csv").stat().st_size // 1000
    assert told == sorted(told)
    assert told[-1] == (size, size)
    assert len(told) >= 5


def test_names_are_kept_as_many_as_asked_for(tmp_path: Path) -> None:
    long_table(tmp_path / "batches.csv", 2500)
    due = [f"b{number}" for number in range(1500)]
    for most, names in ((1500, due), (0, [])):
        ledger = tmp_path / f"{most}.sqlite3"
        for _ in range(2):
            taken = take_in(tmp_path / "batches.csv", ledger, today=TODAY, most_named=most)
            assert names in (taken.added.kept, taken.skipped.kept)
            assert taken.added.count + taken.skipped.count == 2500


def test_a_file_of_a_household_s_size_that_is_refused_makes_no_ledger(tmp_path: Path) -> None:
    long_table(tmp_path / "batches.csv", 4000)
    with (tmp_path / "batches.csv").open("a") as file:
        file.write("last,2024-08-31,carrot,bucket,5,,,\n")
    with pytest.raises(BatchError, match="line 4002, jar 'bucket'"):
        take_in(tmp_path / "batches.csv", tmp_path / "ledger.sqlite3", today=TODAY)
    assert [path.name for path in tmp_path.iterdir()] == ["batches.csv"]


def test_every_problem_of_a_long_file_is_named_and_nothing_of_it_stays(tmp_path: Path) -> None:
    rows = [f"b{number},2024-08-31,beet,pint,5" for number in range(9000)]
    rows[7000] = "b4,2024-08-31,beet,pint,6"  # line 7002; the same batch is in line 6
    rows[7100] = rows[5]  # the same values: only counted once
    rows[8000] = "b8000,2024-08-31,beet,bucket,5"
    rows[8500] = "b8500,2024-08-31,beet,pint"
    rows[8998] = rows[7000]
    file, ledger = tmp_path / "batches.csv", tmp_path / "ledger.sqlite3"
    with Ledger.open(ledger, writing=True) as opened:
        opened.add([Entry(known("mine"))], "record")
    before = kept(ledger)
    file.write_text("\n".join([HEADER, *rows]) + "\n")
    with pytest.raises(BatchError) as refusal:
        take_in(file, ledger, today=TODAY)
    other = "also in line 6 with other values: jars '5' there, '6' here; keep one of the two"
    assert [problem.removeprefix(f"{file}, ") for problem in refusal.value.problems] == [
        f"line 7002, batch 'b4': this batch is {other}",
        f"line 8002, jar 'bucket': {refusal.value.problems[1].partition(': ')[2]}",
        "line 8502: 4 cells where the header has 5; write a separator for each empty cell",
        f"line 9000, batch 'b4': this batch is {other}",
    ]
    assert kept(ledger) == before


def test_points_and_commas_far_apart_in_a_file_are_asked_about_all_the_same(
    tmp_path: Path,
) -> None:
    rows = [f"b{number};2024-08-31;beet;pint;5;2000" for number in range(9000)]
    rows[3] = "b3;2024-08-31;beet;pint;5;1.250"
    rows[8990] = "b8990;2024-08-31;beet;pint;5;2000,5"
    (tmp_path / "batches.csv").write_text(
        "\n".join([HEADER.replace(",", ";") + ";trimmed_g", *rows]) + "\n"
    )
    with pytest.raises(BatchError, match=r"line 5, trimmed_g '1\.250'"):
        take_in(tmp_path / "batches.csv", tmp_path / "ledger.sqlite3", today=TODAY)
    assert kept(tmp_path / "ledger.sqlite3") == []


def test_a_cell_too_long_is_refused_in_a_column_that_is_ignored_too() -> None:
    cell = "x" * (LONGEST_CELL + 1)
    text = f"{HEADER},weather\n1,2024-08-31,beet,pint,5,{cell}\n"
    assert "longer than 64 KiB" in both_ways(text.encode())[1]
    text = f"{HEADER},note\n1,2024-08-31,beet,pint,5,a{' ' * LONGEST_CELL}\n"
    assert "longer than 64 KiB" in both_ways(text.encode())[1]


@pytest.mark.skipif(os.name != "posix", reason="named pipes are POSIX's")
def test_a_pipe_is_read_once(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    text = f"{HEADER}\n1,2024-08-31,beet,pint,5\n"
    pouring = threading.Thread(target=pipe.write_text, args=(text,), daemon=True)
    pouring.start()
    taken = take_in(pipe, tmp_path / "ledger.sqlite3", today=TODAY)
    pouring.join(timeout=10)
    assert taken.added.kept == ["1"]


# Others at the same ledger, and an end in the middle


def test_what_another_writes_before_and_after_stands_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, ledger = tmp_path / "batches.csv", tmp_path / "ledger.sqlite3"
    long_table(file, 8000)
    said: list[str] = []
    whole = TableReader.chunks

    def interrupted(*given: Any) -> Iterator[Any]:
        for number, chunk in enumerate(whole(*given)):
            try:
                with Ledger.open(ledger, writing=True, wait_seconds=0.01) as other:
                    other.add([Entry(known(f"other{number}"))], "record")
            except LedgerError as error:
                said.append(str(error))
            yield chunk

    monkeypatch.setattr(TableReader, "chunks", interrupted)
    taken = take_in(file, ledger, today=TODAY)
    assert taken.added.count == 8000
    assert len(said) == 3  # all but the chunks that are read before the ledger is held
    assert all("another jarcast is writing" in one for one in said)
    with Ledger.open(ledger) as opened:
        names = {batch.batch for batch in opened.batches()}
    assert names == {f"b{n}" for n in range(8000)} | {f"other{n}" for n in range(5)}


_IMPORTING = """
import datetime as dt, sys
from pathlib import Path
from jarcast.batchtable.importer import import_csv
from jarcast.ledger import Ledger
with Ledger.open(sys.argv[2]) as ledger:
    import_csv(Path(sys.argv[1]), ledger, today=dt.date(2024, 12, 31))
print("done")
"""


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX's")
@pytest.mark.xdist_group("alone")
def test_killed_in_the_middle_it_leaves_what_was_there(tmp_path: Path) -> None:
    file, ledger = tmp_path / "batches.csv", tmp_path / "ledger.sqlite3"
    long_table(file, 30_000)
    with Ledger.open(ledger, writing=True) as opened:
        opened.add([Entry(known("mine"))], "record")
    running = subprocess.Popen(
        [sys.executable, "-c", _IMPORTING, file, ledger], stdout=subprocess.PIPE
    )
    log = ledger.with_name(ledger.name + "-wal")
    end = time.monotonic() + 60
    while time.monotonic() < end and not (log.exists() and log.stat().st_size > 500_000):
        time.sleep(0.002)
    running.send_signal(signal.SIGKILL)
    assert running.communicate(timeout=60)[0] == b""  # it was in the middle
    with Ledger.open(ledger) as opened:
        assert [batch.batch for batch in opened.batches()] == ["mine"]
    assert take_in(file, ledger, today=TODAY).added.count == 30_000
    assert len(kept(ledger)) == 2 * 30_001


def test_a_full_disk_in_the_middle_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # SQLite answers at its own page limit as it does at a full disk:
    # https://sqlite.org/pragma.html#pragma_max_page_count
    file, ledger = tmp_path / "batches.csv", tmp_path / "ledger.sqlite3"
    long_table(file, 8000)
    whole = Ledger.to_write

    def limited(opened: Ledger) -> None:
        whole(opened)
        opened._connection.execute("PRAGMA max_page_count = 60")

    monkeypatch.setattr(Ledger, "to_write", limited)
    with pytest.raises(LedgerError, match="no room left on the disk"):
        take_in(file, ledger, today=TODAY)
    monkeypatch.undo()
    assert kept(ledger) == []
    assert take_in(file, ledger, today=TODAY).added.count == 8000


def test_a_file_at_odds_with_itself_makes_no_ledger(tmp_path: Path) -> None:
    table, ledger = tmp_path / "batches.csv", tmp_path / "new" / "ledger.sqlite3"
    row = "a,2024-08-01,carrot,pint"
    table.write_text(f"batch,date,produce,jar,jars\n{row},5\n{row},6\n")
    with pytest.raises(BatchError):
        take_in(table, ledger, today=TODAY)
    assert not ledger.parent.exists()


def test_a_disk_that_fails_under_the_file_is_not_the_ledger_s_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "batches.csv"
    row = "2024-08-01,carrot,pint,5"
    table.write_text(
        "batch,date,produce,jar,jars\n" + "".join(f"b{n},{row}\n" for n in range(6000))
    )

    class Failing(io.TextIOWrapper):
        def readline(self, size: int = -1, /) -> str:
            if self.buffer.tell() > 150_000:
                raise OSError(5, "Input/output error")
            return super().readline(size)

    ledger = tmp_path / "ledger.sqlite3"
    monkeypatch.setattr("jarcast.batchtable.csv_file.io.TextIOWrapper", Failing)
    with pytest.raises(BatchError, match=r"batches\.csv cannot be read: Input/output error"):
        take_in(table, ledger, today=TODAY)
    monkeypatch.undo()
    assert kept(ledger) == []
