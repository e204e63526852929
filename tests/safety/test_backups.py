"""Copies of the ledger: when they are made, how many are kept, and that each is whole."""

import datetime as dt
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from jarcast.domain.batch import Batch
from jarcast.errors import LedgerError
from jarcast.ledger import Entry, Ledger, backups
from jarcast.ledger.backups import KEPT, copies, folder_of, make_copy, newest_sound
from jarcast.ledger.schema import SCHEMA

from .conftest import content
from .crash import begun_long_ago

pytestmark = pytest.mark.xdist_group("alone")

Run = Callable[..., Any]
OLD = Path(__file__).parents[1] / "data" / "ledgers"


def batch(name: str) -> Entry:
    return Entry(
        Batch(batch=name, date=dt.date(2024, 8, 1), produce="beet", jar=("pint",), jars=(3.0,))
    )


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A ledger of the present schema, whose entries are of an earlier day."""
    path = Path(shutil.copyfile(OLD / "schema-1.sqlite3", tmp_path / "ledger.sqlite3"))
    with Ledger.open(path, writing=True):
        pass
    shutil.rmtree(folder_of(path))
    begun_long_ago(path)
    return path


def add(path: Path, name: str) -> None:
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch(name)], "record")


def names_in(path: Path) -> list[str]:
    with Ledger.open(path) as ledger:
        return [one.batch for one in ledger.batches()]


# The daily copy


def test_the_first_entry_of_a_day_makes_a_copy_of_what_stood_before(old: Path) -> None:
    before, names = content(old), names_in(old)
    add(old, "today")
    (copy,) = copies(old)
    assert copy.sound
    assert (copy.why, copy.batches) == ("daily", 3)
    assert copy.made.date() == dt.date.today()
    assert names_in(copy.path) == names
    assert content(copy.path) == before
    add(old, "again")
    assert len(copies(old)) == 1


def test_a_ledger_begun_today_has_nothing_to_copy_yet(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    add(path, "1")
    add(path, "2")
    assert not folder_of(path).exists()


def test_looking_makes_no_copy(old: Path) -> None:
    assert len(names_in(old)) == 3
    assert not folder_of(old).exists()


def test_an_entry_that_is_refused_makes_a_copy_at_most_and_no_entry(old: Path) -> None:
    names = names_in(old)
    with (
        pytest.raises(LedgerError),
        Ledger.open(old, writing=True) as ledger,
        ledger.writing("record") as action,
    ):
        ledger.insert(batch("x"), action + 100)
    assert names_in(old) == names
    assert all(copy.sound for copy in copies(old))


def test_copies_are_their_owner_s_alone(old: Path) -> None:
    add(old, "today")
    folder = folder_of(old)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert [stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()] == [0o600]


def test_the_last_ten_are_kept_and_what_was_set_aside_always(old: Path) -> None:
    folder = folder_of(old)
    made = [make_copy(old, "daily") for _ in range(3)]
    aside = made[0].rename(folder / "2001-01-01-000000-set-aside.sqlite3")
    for day in range(1, 20):
        shutil.copyfile(made[1], folder / f"2024-08-{day:02d}-080000-daily.sqlite3")
    (folder / "my own notes.txt").write_text("not a copy")
    newest = make_copy(old, "daily")
    left = [copy.path for copy in copies(old)]
    assert len(left) == KEPT + 1
    assert left[0] == newest
    assert aside in left
    assert (folder / "my own notes.txt").exists()
    assert not (folder / "2024-08-01-080000-daily.sqlite3").exists()


def test_copies_of_one_second_are_listed_in_the_order_of_making(old: Path) -> None:
    """The first has no number; as text '-10' would stand below '-2', and '-2' below none."""
    folder = folder_of(old)
    first = make_copy(old, "daily")
    numbers = ("", "-2", "-3", "-10")
    names = [f"2024-08-01-080000-daily{number}.sqlite3" for number in numbers]
    for name in names:
        shutil.copyfile(first, folder / name)
    first.unlink()
    assert [copy.path.name for copy in copies(old)] == names[::-1]


def test_a_copy_that_cannot_be_made_does_not_stop_the_entry_and_is_said(old: Path) -> None:
    folder_of(old).write_text("a file where the folder is due")
    typed = ("record", "--produce", "okra", "--jar", "pint", "--jars", "3", "--batch", "today")
    ran = subprocess.run(
        [sys.executable, "-m", "jarcast", *typed, "--ledger", old], capture_output=True, text=True
    )
    assert ran.returncode == 0
    assert "Recorded" in ran.stdout
    assert "today" in names_in(old)
    said = ran.stderr
    assert said.startswith("today's copy of the ledger could not be made in ")
    assert "File exists" in said
    assert said.count("\n") == 1


def test_no_room_for_a_copy_leaves_no_half_copy(
    old: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    connect = sqlite3.connect

    def small(name: Any, *args: Any, **kwargs: Any) -> sqlite3.Connection:
        connection = connect(name, *args, **kwargs)
        if str(name).endswith(".part"):  # https://sqlite.org/pragma.html#pragma_max_page_count
            connection.execute("PRAGMA max_page_count = 4")
        return connection

    monkeypatch.setattr(backups.sqlite3, "connect", small)
    add(old, "today")
    assert "could not be made" in caplog.text
    assert list(folder_of(old).iterdir()) == []
    assert "today" in names_in(old)


def test_what_a_killed_process_left_is_cleared_away(old: Path) -> None:
    folder = folder_of(old)
    folder.mkdir()
    (folder / "tmpabc.part").write_bytes(b"half a copy")
    add(old, "today")
    (copy,) = copies(old)
    assert [path.name for path in folder.iterdir()] == [copy.path.name]


def test_a_damaged_ledger_is_found_out_before_it_is_copied_or_written(old: Path) -> None:
    make_copy(old, "daily").rename(folder_of(old) / "2024-08-01-080000-daily.sqlite3")
    with closing(sqlite3.connect(old)) as raw:  # an index that no longer fits its table
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute(
            "UPDATE sqlite_schema SET sql = replace(sql, '(batch_id, id', '(date, id') "
            "WHERE name = 'reading_of_batch'"
        )
        raw.commit()
    before = old.read_bytes()
    with pytest.raises(LedgerError, match=r"is damaged.*restore 2024-08-01-080000-daily"):
        add(old, "today")
    assert old.read_bytes() == before
    assert [copy.name for copy in copies(old)] == ["2024-08-01-080000-daily"]


# Before a migration


@pytest.mark.parametrize("file", sorted(OLD.glob("schema-*.sqlite3")), ids=lambda path: path.stem)
def test_an_older_ledger_is_kept_as_it_is_before_it_is_brought_up_to_date(
    tmp_path: Path, file: Path
) -> None:
    path = Path(shutil.copyfile(file, tmp_path / "ledger.sqlite3"))
    with closing(sqlite3.connect(file)) as raw:
        version = raw.execute("PRAGMA user_version").fetchone()[0]
        dump = list(raw.iterdump())
    assert version < SCHEMA
    add(path, "today")
    (copy,) = copies(path)  # which is today's copy as well
    assert (copy.why, copy.sound) == (f"before-schema-{SCHEMA}", True)
    with closing(sqlite3.connect(copy.path)) as raw:
        assert raw.execute("PRAGMA user_version").fetchone() == (version,)
        assert list(raw.iterdump()) == dump


def test_without_a_copy_nothing_is_brought_up_to_date(tmp_path: Path) -> None:
    path = Path(shutil.copyfile(OLD / "schema-1.sqlite3", tmp_path / "ledger.sqlite3"))
    folder_of(path).write_text("a file where the folder is due")
    before = path.read_bytes()
    with pytest.raises(
        LedgerError, match=r"a copy is kept before it is brought up to date, .* failed"
    ):
        add(path, "today")
    assert path.read_bytes() == before
    assert len(names_in(path)) == 3


def test_a_migration_tried_again_and_again_is_copied_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = Path(shutil.copyfile(OLD / "schema-1.sqlite3", tmp_path / "ledger.sqlite3"))

    def breaking(connection: sqlite3.Connection) -> None:
        raise sqlite3.OperationalError("the power went")

    with monkeypatch.context() as patched:
        patched.setattr("jarcast.ledger.connection.migrate", breaking)
        for _ in range(3):
            with pytest.raises(LedgerError):
                Ledger.open(path, writing=True)
    assert len(copies(path)) == 1


def test_a_newer_ledger_is_refused_with_both_versions_and_not_touched(old: Path) -> None:
    with closing(sqlite3.connect(old)) as raw:
        raw.execute(f"PRAGMA user_version = {SCHEMA + 4}")
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = old.read_bytes()
    for writing in (False, True):
        with pytest.raises(LedgerError, match=rf"schema {SCHEMA + 4} .* up to {SCHEMA}"):
            Ledger.open(old, writing=writing)
    assert old.read_bytes() == before
    assert [path.name for path in old.parent.iterdir()] == [old.name]


# A clock that is or was wrong


def test_copies_come_in_the_order_they_were_made_whatever_the_clock_said(old: Path) -> None:
    folder = folder_of(old)
    first = make_copy(old, "daily")
    wrong = [
        shutil.copyfile(first, folder / f"2099-01-{day:02d}-080000-daily.sqlite3")
        for day in range(1, 13)
    ]
    made = [make_copy(old, "daily") for _ in range(4)]
    assert all(path.exists() for path in made)
    found = [copy.path for copy in copies(old)]
    assert found[:4] == made[::-1]
    assert found[4:] == wrong[:-7:-1]  # ten in all: the latest six of the others
    assert newest_sound(old) == copies(old)[0]


def test_a_ledger_begun_under_a_clock_that_was_ahead_is_copied_all_the_same(old: Path) -> None:
    with closing(sqlite3.connect(old)) as raw, raw:
        (trigger,) = raw.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'action_no_update'"
        ).fetchone()
        raw.execute("DROP TRIGGER action_no_update")
        raw.execute("UPDATE action SET at = '2099-08-01T08:00:00+00:00', digest = NULL")
        raw.execute(trigger)
    add(old, "today")
    assert [copy.why for copy in copies(old)] == ["daily"]
    add(old, "again")
    assert len(copies(old)) == 1
