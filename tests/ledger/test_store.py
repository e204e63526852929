"""The ledger: nothing lost, nothing overwritten, every refusal one sentence."""

import datetime as dt
import os
import sqlite3
import stat
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.fields import NUMBERS
from jarcast.errors import BatchError, LedgerError
from jarcast.ledger import Entry, Ledger, default_path
from jarcast.ledger.annotations import confirm, withdraw
from jarcast.ledger.kept_forecasts import keep_forecast
from jarcast.ledger.own_measures import add_jar, measured_jar
from jarcast.ledger.schema import SCHEMA
from jarcast.ledger.side_files import Held, is_in_use, problem_beside
from jarcast.ledger.steps import begin

pytestmark = pytest.mark.contract

ONE = Batch(
    batch="7",
    date=dt.date(2024, 8, 31),
    produce="carrot",
    jar=("pint-wide", "pint"),
    jars=(5.0, 4.5),
    trimmed_g=2834.9523125,
    note="first of the year",
)


def named(name: str, **values: Any) -> Entry:
    return Entry(replace(ONE, batch=name, **values))


def test_the_default_place_is_the_user_s_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere")
    path = default_path()
    assert path.name == "ledger.sqlite3"
    assert "jarcast" in path.parts


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a ledger may be; there is none yet."""
    return tmp_path / "kitchen" / "ledger.sqlite3"


@pytest.fixture
def ledger(path: Path) -> Iterator[Ledger]:
    with Ledger.open(path, writing=True) as opened:
        yield opened


def names(path: Path) -> list[str]:
    with Ledger.open(path) as opened:
        return [batch.batch for batch in opened.batches()]


# What goes in comes out


def test_a_batch_comes_back_as_it_went_in_with_what_was_typed(ledger: Ledger) -> None:
    ledger.add([Entry(ONE, {"trimmed_g": "6 lb 4 oz"})], "record")
    found = ledger.find("7")
    assert found is not None
    assert found.batch == ONE
    assert found.typed == {"trimmed_g": "6 lb 4 oz"}
    assert ledger.find("8") is None


_amounts = st.none() | st.floats(min_value=1e-3, max_value=3.0)


@settings(max_examples=50, deadline=None)
@given(
    numbers=st.fixed_dictionaries(dict.fromkeys(NUMBERS, _amounts)),
    jars=st.lists(st.floats(min_value=1e-3, max_value=1e5), min_size=1, max_size=3),
    texts=st.fixed_dictionaries(
        dict.fromkeys(
            ("cut", "pack", "recipe", "note"),
            st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])),
        )
    ),
)
def test_every_number_comes_back_bit_for_bit(
    numbers: dict[str, float | None], jars: list[float], texts: dict[str, str]
) -> None:
    batch = replace(ONE, jar=("pint",) * len(jars), jars=tuple(jars), **numbers, **texts)
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder) / "ledger.sqlite3"
        with Ledger.open(where, writing=True) as opened:
            opened.add([Entry(batch)], "import")
        with Ledger.open(where) as opened:
            assert opened.batches() == [batch]


def test_batches_come_by_date_then_in_order_of_entry(ledger: Ledger) -> None:
    early, late = dt.date(2023, 7, 1), dt.date(2024, 7, 1)
    ledger.add([named("z", date=late), named("b", date=early)], "import")
    ledger.add([named("a", date=late), named("c", date=early)], "import")
    assert [batch.batch for batch in ledger.batches()] == ["b", "c", "z", "a"]


def test_each_version_of_a_batch_says_when_and_how_it_was_entered(ledger: Ledger) -> None:
    before = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
    ledger.add([Entry(ONE)], "import")
    (reading,) = ledger.history("7")
    assert reading.entry.batch == ONE
    assert reading.kind == "import"
    assert before <= reading.at <= dt.datetime.now(dt.UTC)
    assert ledger.history("8") == []


def test_the_newest_reading_stands_and_the_old_one_stays_readable(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    with closing(sqlite3.connect(path)) as raw, raw:  # as an amendment will write it
        raw.execute("INSERT INTO action (at, kind, version) VALUES ('2024-09-01', 'amend', '0')")
        raw.execute(
            "INSERT INTO reading (batch_id, action_id, date, produce, cut, pack, jar, jars, "
            "trimmed_g, recipe, note, typed) SELECT batch_id, 2, date, produce, cut, pack, jar, "
            "jars, 2700.5, recipe, note, typed FROM reading"
        )
        without_digests(raw)
    with Ledger.open(path) as opened:
        (standing,) = opened.batches()
        versions = [reading.entry.batch.trimmed_g for reading in opened.history("7")]
    assert standing.trimmed_g == 2700.5
    assert versions == [2834.9523125, 2700.5]


# Adding


def test_adding_the_same_again_adds_nothing_and_leaves_no_trace(ledger: Ledger) -> None:
    first = ledger.add([named("1"), named("2")], "import")
    trace = ledger.rows("SELECT count(*) FROM action")
    second = ledger.add([named("1"), named("2")], "import")
    assert (first.added, first.skipped) == (("1", "2"), ())
    assert (second.added, second.skipped) == ((), ("1", "2"))
    assert ledger.rows("SELECT count(*) FROM action") == trace


def test_the_same_weight_typed_in_another_unit_is_the_same_batch(ledger: Ledger) -> None:
    ledger.add([Entry(ONE, {"trimmed_g": "6 lb 4 oz"})], "record")
    assert ledger.add([Entry(ONE)], "import").skipped == ("7",)


def test_other_values_under_a_known_name_are_refused_and_nothing_is_added(ledger: Ledger) -> None:
    ledger.add([named("1"), named("2")], "import")
    with pytest.raises(BatchError) as refused:
        ledger.add([named("new"), named("1", trimmed_g=9.5), named("2", note="")], "import")
    assert [batch.batch for batch in ledger.batches()] == ["1", "2"]
    one, two = refused.value.problems
    assert "'1'" in one
    assert "trimmed_g '2834.9523' there, '9.5' here" in one
    assert "note 'first of the year' there, empty here" in two
    assert 'jarcast amend "NAME" column=' in str(refused.value)
    assert "import" not in str(refused.value)  # it may have been recorded


def test_values_apart_in_the_last_decimals_are_not_shown_alike(ledger: Ledger) -> None:
    ledger.add([named("1", trimmed_g=4022.0000205)], "record")
    with pytest.raises(BatchError, match=r"'4022.0000205' there, '4022' here"):
        ledger.add([named("1", trimmed_g=4022.0)], "record")


def test_a_name_twice_in_one_go_counts_once_or_is_refused(ledger: Ledger) -> None:
    result = ledger.add([named("1"), named("1")], "import")
    assert (result.added, result.skipped) == (("1",), ("1",))
    with pytest.raises(BatchError, match="'2'"):
        ledger.add([named("2"), named("2", trimmed_g=1.0)], "import")
    assert [batch.batch for batch in ledger.batches()] == ["1"]


def test_a_failure_half_way_leaves_nothing(ledger: Ledger) -> None:
    def breaking() -> Iterator[Entry]:
        yield named("1")
        raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        ledger.add(breaking(), "import")
    assert ledger.batches() == []

    def cut_off() -> None:
        with ledger.writing("record") as action:
            ledger.insert(named("1"), action)
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        cut_off()
    assert ledger.batches() == []
    assert ledger.add([named("1")], "import").added == ("1",)


def test_settings_are_remembered_and_the_last_one_holds(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        assert opened.setting("units") is None
        for value in ("us", "metric", "metric"):
            opened.remember("units", value)
        assert opened.rows("SELECT value FROM setting ORDER BY id") == [("us",), ("metric",)]
    with Ledger.open(path) as opened:
        assert opened.setting("units") == "metric"


TABLES = (
    "action", "batch", "reading", "setting", "forecast", "step", "confirmation", "withdrawal",
    "own_jar", "card_text", "undone", "kept_brine",
)  # fmt: skip


def test_every_table_is_among_those_that_only_grow(ledger: Ledger) -> None:
    rows = ledger.rows("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
    assert [name for (name,) in rows if not name.startswith("sqlite_")] == sorted(TABLES)


def fill_every_table(path: Path) -> None:
    """A row at least in each table; nobody fills some of them yet, so they are filled by hand."""
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
        opened.remember("units", "us")
        keep_forecast(opened, "next", {}, {})
        begin(opened, "next", {"produce": "carrot"})
        confirm(opened, "7", ["jars"])
        withdraw(opened, "7")
        add_jar(opened, measured_jar("tall", 600.0), {"water": "600 g"})
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute(
            "INSERT INTO action (at, kind, version, request) "
            "VALUES ('2024-09-01T08:00:00+00:00', 'undo', '0', 'r1')"
        )
        raw.execute(
            "INSERT INTO card_text (action_id, key, digest, text) VALUES (8, 'k', 'd', 't')"
        )
        raw.execute("INSERT INTO undone (action_id, undoes) VALUES (8, 1)")
        raw.execute(
            "INSERT INTO kept_brine (action_id, recipe, batch, ml, typed) "
            "VALUES (8, 'r', '7', 473.0, '2 cups')"
        )


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("statement", ["DELETE FROM {}", "UPDATE {} SET id = id + 1"])
def test_nothing_can_be_changed_or_deleted_even_by_hand(
    path: Path, table: str, statement: str
) -> None:
    fill_every_table(path)
    with closing(sqlite3.connect(path)) as raw:
        before = list(raw.iterdump())
        with pytest.raises(sqlite3.IntegrityError, match="nothing in the ledger"):
            raw.execute(statement.format(table))
        assert list(raw.iterdump()) == before
        assert raw.execute("SELECT count(*) FROM reading, setting").fetchone() == (1,)


@pytest.mark.parametrize("table", [table for table in TABLES if table != "setting"])
def test_no_row_is_replaced_by_hand(path: Path, table: str) -> None:
    """INSERT OR REPLACE takes the old row away and fires no trigger of a deletion.

    https://sqlite.org/lang_conflict.html, on recursive_triggers.
    """
    fill_every_table(path)
    with closing(sqlite3.connect(path)) as raw:
        before = list(raw.iterdump())
        columns = [str(row[1]) for row in raw.execute(f"PRAGMA table_info({table})")]
        rest = ", ".join(f'"{column}"' for column in columns[1:])
        for statement in (
            f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",  # noqa: S608 (own names)
            f"REPLACE INTO {table} (id, {rest}) SELECT id, {rest} FROM {table}",  # noqa: S608
        ):
            with pytest.raises(sqlite3.IntegrityError, match="nothing in the ledger"):
                raw.execute(statement)
        assert list(raw.iterdump()) == before


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT OR REPLACE INTO batch (name) VALUES ('7')",
        "INSERT OR REPLACE INTO batch (id, name) VALUES (2, '7')",
        "INSERT OR REPLACE INTO action (at, kind, version, request) VALUES ('x', 'x', 'x', 'r1')",
    ],
)
def test_no_row_is_replaced_through_another_key(path: Path, statement: str) -> None:
    fill_every_table(path)
    with closing(sqlite3.connect(path)) as raw:
        before = list(raw.iterdump())
        with pytest.raises(sqlite3.IntegrityError, match="nothing in the ledger"):
            raw.execute(statement)
        assert list(raw.iterdump()) == before


def test_a_reading_belongs_to_a_batch_and_an_action(ledger: Ledger) -> None:
    with pytest.raises(LedgerError), ledger.writing("record") as action:
        ledger.insert(named("1"), action + 100)
    assert ledger.batches() == []


# The file


def test_the_file_carries_our_mark_and_its_schema(path: Path) -> None:
    # SQLite's file format, 1.3: the user version is the four bytes at offset 60, the application
    # id those at 68, the file format version (2 = WAL) the byte at 18; https://sqlite.org/fileformat2.html
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    header = path.read_bytes()[:100]
    assert header[68:72] == b"jarc"
    assert int.from_bytes(header[60:64], "big") == SCHEMA
    assert header[18] == 2


def test_a_ledger_is_its_owner_s_alone(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
        modes = {stat.S_IMODE(file.stat().st_mode) for file in path.parent.iterdir()}
        assert modes == {0o600}
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_looking_for_a_ledger_that_is_not_there_makes_no_file(path: Path) -> None:
    with Ledger.open(path) as opened:
        assert opened.batches() == []
        assert opened.setting("units") is None
        with pytest.raises(LedgerError, match="read-only"):
            opened.add([Entry(ONE)], "import")
    assert not path.parent.exists()


def test_looking_leaves_the_file_and_its_folder_as_they_were(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    with Ledger.open(path) as opened:
        assert opened.batches() == [ONE]
        with pytest.raises(LedgerError, match="read-only"):
            opened.remember("units", "us")
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_an_empty_file_is_an_empty_ledger(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    assert names(path) == []
    assert path.stat().st_size == 0
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    assert names(path) == ["7"]


def test_a_migration_that_fails_leaves_the_database_empty(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaking(connection: sqlite3.Connection) -> None:
        connection.execute("CREATE TABLE half (done)")
        raise sqlite3.OperationalError("the power went")

    with monkeypatch.context() as patched:
        patched.setattr("jarcast.ledger.schema.MIGRATIONS", (breaking,))
        with pytest.raises(LedgerError):
            Ledger.open(path, writing=True)
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("SELECT count(*) FROM sqlite_schema").fetchone() == (0,)
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    assert names(path) == ["7"]


# Refusals


def refuses(path: Path, saying: str) -> None:
    """Both ways of opening refuse with this in one sentence."""
    for writing in (False, True):
        with pytest.raises(LedgerError, match=saying) as refused:
            Ledger.open(path, writing=writing)
        assert "\n" not in str(refused.value)


def test_a_folder_is_no_ledger(tmp_path: Path) -> None:
    refuses(tmp_path, "is a folder")


def test_a_device_is_no_ledger() -> None:
    refuses(Path("/dev/null"), "not a file")


def test_a_name_no_file_can_have_is_refused() -> None:
    refuses(Path("a\0b"), "cannot be the name")
    refuses(Path("x" * 5000), "too long")


def test_a_text_file_is_no_ledger_and_stays_as_it_is(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear aunt, the beets are in. " * 100)
    before = letter.read_bytes()
    refuses(letter, "not a ledger")
    assert letter.read_bytes() == before


@pytest.mark.parametrize("mark", [0, 1234])
def test_another_program_s_database_stays_as_it_is(tmp_path: Path, mark: int) -> None:
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as raw, raw:
        raw.execute("CREATE TABLE stamps (name)")
        raw.execute(f"PRAGMA application_id = {mark}")
    before = other.read_bytes()
    refuses(other, "another program")
    assert other.read_bytes() == before


def test_a_newer_ledger_is_refused_with_both_versions_and_stays_as_it_is(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    refuses(path, f"schema 99 .* up to {SCHEMA}")
    assert path.read_bytes() == before


def test_a_damaged_ledger_says_so(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([named(str(number)) for number in range(500)], "import")
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)  # all but the first page
    path.write_bytes(content)
    with pytest.raises(LedgerError, match="damaged"), Ledger.open(path) as opened:
        opened.batches()
    assert path.read_bytes() == content


def by_hand(raw: sqlite3.Connection, table: str, statement: str) -> None:
    """Change what the triggers keep, and put them back."""
    triggers = raw.execute(
        "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?", (table,)
    ).fetchall()
    for name, _ in triggers:
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute(statement)
    for _, sql in triggers:
        raw.execute(sql)
    without_digests(raw)


def without_digests(raw: sqlite3.Connection) -> None:
    """Leave it as a jarcast that kept no digests did; what is changed is found by what it says."""
    (trigger,) = raw.execute(
        "SELECT sql FROM sqlite_schema WHERE name = 'action_no_update'"
    ).fetchone()
    raw.execute("DROP TRIGGER action_no_update")
    raw.execute("UPDATE action SET digest = NULL")
    raw.execute(trigger)


def test_a_value_no_batch_can_have_is_reported_as_damage(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    with closing(sqlite3.connect(path)) as raw, raw:
        by_hand(raw, "reading", "UPDATE reading SET jars = 'plenty'")
    with pytest.raises(LedgerError, match="batch '7' cannot be read"), Ledger.open(path) as opened:
        opened.batches()


def test_a_full_disk_leaves_the_ledger_as_it_was(path: Path) -> None:
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
        # SQLite answers SQLITE_FULL at its own page limit as it does at a full disk:
        # https://sqlite.org/pragma.html#pragma_max_page_count
        pages = opened.rows("PRAGMA page_count")[0][0]
        opened._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(LedgerError, match="no room left on the disk"):
            opened.add([named(f"n{number}") for number in range(2000)], "import")
        assert opened.batches() == [ONE]
        opened._connection.execute("PRAGMA max_page_count = 100000")
        assert opened.add([named("8")], "import").added == ("8",)
        assert opened.rows("PRAGMA integrity_check") == [("ok",)]


# Two at once


def test_waiting_too_long_for_another_writer_ends_with_a_sentence(path: Path) -> None:
    with (
        Ledger.open(path, writing=True) as first,
        Ledger.open(path, writing=True, wait_seconds=0.05) as second,
        first.writing("record") as action,
    ):
        first.insert(named("1"), action)
        with pytest.raises(LedgerError, match="another jarcast is writing"):
            second.add([named("2")], "record")
        assert second.batches() == []  # nor does it see what is not committed
    assert names(path) == ["1"]


def test_a_reader_is_not_held_up_by_a_writer(path: Path) -> None:
    with Ledger.open(path, writing=True) as first:
        first.add([named("1")], "record")
        with first.writing("record") as action:
            first.insert(named("2"), action)
            assert names(path) == ["1"]
        assert names(path) == ["1", "2"]


_WRITER = """
import dataclasses, datetime as dt, sys
from jarcast.domain.batch import Batch
from jarcast.ledger import Entry, Ledger
for number in range(25):
    batch = Batch(batch=f"{sys.argv[2]}-{number}", date=dt.date(2024, 8, 1), produce="beet",
                  jar=("pint",), jars=(3.0,))
    with Ledger.open(sys.argv[1], writing=True, wait_seconds=60) as ledger:
        ledger.add([Entry(batch)], "record")
"""


@pytest.mark.xdist_group("alone")
def test_four_writers_at_once_from_the_making_of_the_file_lose_nothing(path: Path) -> None:
    writers = [
        subprocess.Popen([sys.executable, "-c", _WRITER, path, str(number)], stderr=subprocess.PIPE)
        for number in range(4)
    ]
    said = [writer.communicate(timeout=120)[1].decode() for writer in writers]
    assert said == [""] * 4
    assert len(names(path)) == 100


# Without the right to it. Root may do anything, so as root these act as another user.

_AS_ANOTHER = """
import datetime as dt, os, sys, urllib.parse  # pathlib loads the last when it first needs it
from pathlib import Path
from jarcast.domain.batch import Batch
from jarcast.errors import LedgerError
from jarcast.ledger import Entry, Ledger
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
batch = Batch(batch="8", date=dt.date(2024, 8, 1), produce="beet", jar=("pint",), jars=(3.0,))
path = Path(sys.argv[1])
for writing in (False, True):
    try:
        with Ledger.open(path, writing=writing) as ledger:
            if writing:
                ledger.add([Entry(batch)], "record")
            print("ok", [batch.batch for batch in ledger.batches()])
    except LedgerError as error:
        print(error)
"""


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that other users can reach, as pytest's own cannot be."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


def as_another(path: Path) -> list[str]:
    """What another user gets: on looking, and on writing."""
    ran = subprocess.run(
        [sys.executable, "-c", _AS_ANOTHER, path], capture_output=True, text=True, timeout=60
    )
    assert ran.stderr == ""
    return ran.stdout.splitlines()


needs_posix = pytest.mark.skipif(os.name != "posix", reason="file rights are POSIX's here")


@needs_posix
def test_a_ledger_that_may_not_be_read_is_said_to_be_so(open_folder: Path) -> None:
    path = open_folder / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    path.chmod(0o000)
    looking, writing = as_another(path)
    assert "is not yours to read" in looking
    assert "cannot be opened" in writing
    path.chmod(0o600)
    assert names(path) == ["7"]


@needs_posix
def test_a_ledger_in_a_folder_that_cannot_be_written_can_still_be_read(open_folder: Path) -> None:
    path = open_folder / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
    path.chmod(0o444)
    open_folder.chmod(0o555)
    before = path.read_bytes()
    looking, writing = as_another(path)
    assert looking == "ok ['7']"
    assert "ok" not in writing
    assert str(path) in writing
    assert path.read_bytes() == before


@needs_posix
def test_entries_left_in_a_log_that_cannot_be_read_are_not_passed_over(open_folder: Path) -> None:
    path = open_folder / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "import")
        log = path.with_name(path.name + "-wal").read_bytes()
        whole = path.read_bytes()
    path.write_bytes(whole)
    path.with_name(path.name + "-wal").write_bytes(log)
    for file in open_folder.iterdir():
        file.chmod(0o444)
    open_folder.chmod(0o555)
    looking, _ = as_another(path)
    assert "was not closed properly" in looking


@needs_posix
def test_a_folder_that_cannot_be_made_is_said_to_be_so(open_folder: Path) -> None:
    open_folder.chmod(0o555)
    looking, writing = as_another(open_folder / "deep" / "ledger.sqlite3")
    assert looking == "ok []"
    assert "Permission denied" in writing
    assert list(open_folder.iterdir()) == []


def test_a_file_where_a_folder_is_due_is_said_to_be_so(tmp_path: Path) -> None:
    (tmp_path / "kitchen").write_text("a file")
    refuses(tmp_path / "kitchen" / "ledger.sqlite3", "Not a directory")


def test_what_is_open_can_be_asked_while_other_threads_open_and_close(path: Path) -> None:
    """As the page's threads do: asking walked a table that they were changing."""
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "record")
    done, before = threading.Event(), sys.getswitchinterval()

    def work() -> None:
        while not done.is_set():
            held = [sqlite3.connect(path, factory=Held) for _ in range(20)]
            for one in held:
                one.hold(path)
            for one in held:
                one.close()

    workers = [threading.Thread(target=work) for _ in range(3)]
    sys.setswitchinterval(1e-6)
    try:
        for worker in workers:
            worker.start()
        with Ledger.open(path):
            assert all(is_in_use(path) for _ in range(20_000))
    finally:
        done.set()
        sys.setswitchinterval(before)
        for worker in workers:
            worker.join()


def test_a_side_file_that_goes_while_it_is_looked_at_is_no_problem(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The last to close takes them away, between two looks of another thread."""
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(ONE)], "record")
    gone = path.with_name(path.name + "-shm")
    looked, real_stat = [], Path.stat

    def stat_once(self: Path, **asked: Any) -> os.stat_result:
        if self == gone:
            looked.append(self)
            if len(looked) > 1:
                raise FileNotFoundError(self)
            return real_stat(path, **asked)
        return real_stat(self, **asked)

    monkeypatch.setattr(Path, "stat", stat_once)
    assert problem_beside(path) == ""
    assert looked
