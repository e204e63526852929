"""A ledger that was opened to look is let write as safely as one that is opened to write."""

import datetime as dt
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from jarcast.app.record import make_entry
from jarcast.app.work import Work
from jarcast.errors import BatchError, LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.backups import copies
from jarcast.ledger.kept_forecasts import keep_forecast
from jarcast.ledger.schema import SCHEMA
from jarcast.ledger.steps import StepKind, add_step, begin, open_batches

TODAY = dt.date(2024, 8, 31)
LEDGERS = Path(__file__).parents[1] / "data" / "ledgers"


def entry(name: str, jars: str = "7") -> Entry:
    typed = {"batch": name, "produce": "carrot", "jar": "pint", "jars": jars}
    return make_entry(typed, TODAY)


def written(path: Path, name: str) -> None:
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([entry(name)], "record")


def names(path: Path) -> list[str]:
    with Ledger.open(path) as ledger:
        return [batch.batch for batch in ledger.batches()]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "ledger.sqlite3"
    written(path, "a")
    return path


@pytest.fixture
def looking(path: Path) -> Iterator[Ledger]:
    with Ledger.open(path) as ledger:
        yield ledger


def test_to_look_cannot_write_until_it_is_let(path: Path, looking: Ledger) -> None:
    with pytest.raises(LedgerError):
        looking.add([entry("b")], "record")
    assert names(path) == ["a"]
    looking.to_write()
    looking.add([entry("b")], "record")
    assert names(path) == ["a", "b"]


def test_what_is_committed_waits_for_the_disk_and_foreign_keys_hold(looking: Ledger) -> None:
    looking.to_write()
    # 2 is FULL: https://sqlite.org/pragma.html#pragma_synchronous
    pragmas = ("synchronous", "foreign_keys", "journal_mode", "query_only")
    found = [looking.rows(f"PRAGMA {name}")[0][0] for name in pragmas]
    assert found == [2, 1, "wal", 0]


def test_what_was_written_meanwhile_is_seen(path: Path, looking: Ledger) -> None:
    assert [batch.batch for batch in looking.batches()] == ["a"]
    written(path, "b")
    looking.to_write()
    with pytest.raises(BatchError, match="already in the ledger"):
        looking.add([entry("b", jars="8")], "record")
    assert names(path) == ["a", "b"]


def test_where_no_file_is_looking_makes_none_and_writing_does(tmp_path: Path) -> None:
    path = tmp_path / "folder" / "new.sqlite3"
    with Ledger.open(path) as ledger:
        assert (ledger.batches(), path.parent.exists()) == ([], False)
        ledger.to_write()
        ledger.add([entry("a")], "record")
    assert names(path) == ["a"]
    assert path.stat().st_mode & 0o077 == 0 or os.name == "nt"


def test_a_file_that_took_the_ledger_s_place_is_the_one_that_is_written(
    path: Path, looking: Ledger, tmp_path: Path
) -> None:
    other = tmp_path / "other.sqlite3"
    written(other, "z")
    other.replace(path)
    looking.to_write()
    looking.add([entry("b")], "record")
    assert names(path) == ["z", "b"]


def test_a_ledger_that_went_meanwhile_is_not_begun_anew_where_copies_are(
    path: Path, looking: Ledger
) -> None:
    (path.parent / "ledger.sqlite3.backups").mkdir()
    with (
        closing(sqlite3.connect(path)) as raw,
        closing(
            sqlite3.connect(
                path.parent / "ledger.sqlite3.backups" / "2024-08-31-120000-daily.sqlite3"
            )
        ) as copy,
    ):
        raw.backup(copy)
    path.unlink()
    with pytest.raises(LedgerError, match="is gone or empty, but there are copies of it"):
        looking.to_write()


def test_a_ledger_damaged_meanwhile_is_refused(path: Path, looking: Ledger) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("DROP TABLE kept_brine")
        raw.commit()
    with pytest.raises(LedgerError, match="is damaged"):
        looking.to_write()


def test_a_newer_ledger_meanwhile_is_refused(path: Path, looking: Ledger) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    with pytest.raises(LedgerError, match="a newer jarcast wrote it"):
        looking.to_write()


def test_an_older_ledger_is_copied_and_brought_up_to_date(tmp_path: Path) -> None:
    old = min(LEDGERS.glob("*.sqlite3"))
    path = tmp_path / "ledger.sqlite3"
    shutil.copy(old, path)
    with Ledger.open(path) as ledger:
        before = ledger.batches()
        ledger.to_write()
        ledger.add([entry("new one")], "record")
    assert [copy.why for copy in copies(path)][-1] == f"before-schema-{SCHEMA}"
    with Ledger.open(path) as ledger:
        assert [one for one in ledger.batches() if one.batch != "new one"] == before


def test_the_first_entry_of_a_day_is_copied_for(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:  # as if it had been begun long ago
        triggers = raw.execute(
            "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'action'"
        ).fetchall()
        for name, _ in triggers:
            raw.execute(f'DROP TRIGGER "{name}"')
        raw.execute("UPDATE action SET at = '2020-01-01T00:00:00.000+00:00', digest = NULL")
        for _, sql in triggers:
            raw.execute(sql)
        raw.commit()
    with Work(path) as work, work.writing("record") as action:
        work.ledger.add_within([entry("b")], action)
    assert [copy.why for copy in copies(path)] == ["daily"]
    assert names(path) == ["a", "b"]


def test_an_action_within_another_is_a_part_of_it(path: Path) -> None:
    with Work(path) as work:
        work.remember_with("units", "metric")
        with work.writing("begin"):
            begin(work.ledger, "q", {"produce": "carrot"})
            keep_forecast(work.ledger, "q", {}, {})
        assert work.settings["units"] == "metric"
        assert work.ledger.rows("SELECT kind FROM action") == [("record",), ("begin",)]


def test_what_fails_within_an_action_undoes_all_of_it(path: Path) -> None:
    def write(work: Work) -> None:
        work.remember_with("units", "metric")
        with work.writing("weigh"):
            begin(work.ledger, "q", {"produce": "carrot"})
            add_step(work.ledger, "nobody", StepKind.WEIGH, {"trimmed": "1 lb"})

    with Work(path) as work, pytest.raises(BatchError, match="no batch 'nobody' is open"):
        write(work)
    with Ledger.open(path) as ledger:
        assert (open_batches(ledger), ledger.settings()) == ([], {})


def test_the_kitchen_is_of_one_moment(path: Path) -> None:
    with Work(path) as work:
        first = work.kitchen
        written(path, "b")
        assert work.kitchen is first
        assert [batch.batch for batch in work.kitchen.batches] == ["a"]
        work.anew()
        assert [batch.batch for batch in work.kitchen.batches] == ["a", "b"]


def test_what_is_read_in_one_bracket_is_of_one_moment(path: Path, looking: Ledger) -> None:
    with looking.looking():
        assert len(looking.batches()) == 1
        written(path, "b")
        assert len(looking.batches()) == 1
    assert len(looking.batches()) == 2
