"""Ledgers of earlier schemas, and what schema 2 added: amendments and kept forecasts."""

import dataclasses
import datetime as dt
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from jarcast.batch import Batch
from jarcast.errors import BatchError, LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.schema import MIGRATIONS, SCHEMA

FIXTURE = Path(__file__).parent / "data" / "ledgers" / "schema-1.sqlite3"

# What was typed in when the fixture was made; numbers to the last bit.
BEANS = Batch(
    batch="007", date=dt.date(2023, 7, 8), produce="green beans", cut="whole", pack="raw",
    jar=("pint",), jars=(8.5,), headspace_in=0.5, as_bought_g=1800.1, cure_hours=0.0,
    brine_made_ml=2602.4706015, brine_left_ml=473.176473, sealed=8.0,
    note="first of the year; ½ jar eaten",
)  # fmt: skip
CUCUMBERS = Batch(
    batch="c1", date=dt.date(2023, 7, 15), produce="cucumbers", cut="slices", pack="raw",
    jar=("pint-wide", "pint"), jars=(5.0, 4.5), trimmed_g=2500.0, salt_g=97.33333333333333,
    cure_hours=12.0, cured_g=2154.5637, brine_made_ml=2129.2941285, brine_left_ml=0.0,
)  # fmt: skip
BEETS = Batch(
    batch="2024-08-31 beet slices", date=dt.date(2024, 8, 31), produce="beet", cut="slices",
    pack="hot", jar=("quart",), jars=(3.0,), trimmed_g=2834.9523125, cooked_g=2700.0,
    recipe="aunt's card",
)  # fmt: skip


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A copy of the ledger that schema 1 wrote."""
    return Path(shutil.copy(FIXTURE, tmp_path / "ledger.sqlite3"))


def amended(batch: Batch, /, **values: Any) -> Entry:
    return Entry(dataclasses.replace(batch, **values))


def schema_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as raw:
        return int(raw.execute("PRAGMA user_version").fetchone()[0])


def check_contents(ledger: Ledger) -> None:
    assert ledger.batches() == [BEANS, CUCUMBERS, BEETS]
    beans = ledger.find("007")
    assert beans is not None
    assert beans.typed == {"as_bought_g": "3 lb 15 1/2 oz", "brine_made_ml": "7 cups + 4 cups"}
    assert ledger.setting("units") == "metric"
    assert [reading.kind for reading in ledger.readings()] == ["import", "import", "record"]


def test_a_ledger_of_schema_1_reads_the_same_and_looking_leaves_it_as_it_was(old: Path) -> None:
    before = old.read_bytes()
    with Ledger.open(old) as opened:
        check_contents(opened)
        assert opened.kept_forecasts() == []
    assert old.read_bytes() == before
    assert schema_of(old) == 1


def test_a_ledger_of_schema_1_is_brought_up_to_date_when_it_is_written(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        check_contents(opened)
        assert opened.keep_forecast("next", {}, {})
        assert opened.rows("PRAGMA integrity_check") == [("ok",)]
        assert opened.rows("PRAGMA foreign_key_check") == []
    assert schema_of(old) == SCHEMA
    with Ledger.open(old) as opened:
        check_contents(opened)


def test_an_old_ledger_ends_with_the_tables_of_a_new_one(old: Path, tmp_path: Path) -> None:
    def tables(path: Path) -> list[Any]:
        with Ledger.open(path, writing=True) as opened:
            return opened.rows("SELECT type, name, sql FROM sqlite_schema ORDER BY name")

    assert tables(old) == tables(tmp_path / "new.sqlite3")


def test_a_migration_that_fails_leaves_the_old_ledger_as_it_was(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaking(connection: sqlite3.Connection) -> None:
        MIGRATIONS[1](connection)
        raise sqlite3.OperationalError("the power went")

    with monkeypatch.context() as patched:
        patched.setattr("jarcast.ledger.schema.MIGRATIONS", (MIGRATIONS[0], breaking))
        with pytest.raises(LedgerError):
            Ledger.open(old, writing=True)
    assert schema_of(old) == 1
    with Ledger.open(old, writing=True) as opened:
        check_contents(opened)


# Amendments


def test_an_amendment_supersedes_and_the_old_values_stay_readable(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        assert opened.amend(Entry(dataclasses.replace(BEANS, jars=(9.0,)), {"jars": "9"}))
    with Ledger.open(old) as opened:
        found = opened.find("007")
        assert found is not None
        assert (found.batch.jars, found.typed) == ((9.0,), {"jars": "9"})
        first, second = opened.history("007")
    assert (first.entry.batch, first.kind) == (BEANS, "import")
    assert (second.entry.batch.jars, second.kind) == ((9.0,), "amend")
    assert first.action < second.action
    assert first.at < second.at


def test_an_amendment_with_the_same_values_writes_nothing(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        trace = opened.rows("SELECT count(*) FROM action")
        assert not opened.amend(Entry(BEANS, {"as_bought_g": "1800.1 g"}))
        assert opened.rows("SELECT count(*) FROM action") == trace
        check_contents(opened)


def test_an_unknown_batch_cannot_be_amended(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        with pytest.raises(BatchError, match="there is no batch 'x7' to amend"):
            opened.amend(amended(BEANS, batch="x7"))
        check_contents(opened)


def test_readings_come_in_the_order_of_entry_and_rows_of_one_import_share_their_action(
    old: Path,
) -> None:
    with Ledger.open(old, writing=True) as opened:
        opened.amend(amended(BEETS, jars=(3.5,)))
        opened.add([amended(BEANS, batch="early", date=dt.date(2020, 1, 1))], "record")
        readings = opened.readings()
    names = [reading.entry.batch.batch for reading in readings]
    assert names == ["007", "c1", BEETS.batch, BEETS.batch, "early"]
    actions = [reading.action for reading in readings]
    assert actions[0] == actions[1]
    assert actions[1:] == sorted(set(actions))


# Kept forecasts


def test_a_kept_forecast_comes_back_exactly(old: Path) -> None:
    known = {"stage": "trimmed_g", "grams": 2834.9523125, "note": "½ ñ", "salt_g": None}
    answer = {"jars": [0.1 + 0.2, 1e-300, 12.0]}
    with Ledger.open(old, writing=True) as opened:
        assert opened.keep_forecast("next", known, answer)
    with Ledger.open(old) as opened:
        (kept,) = opened.kept_forecasts()
        assert opened.kept_forecasts("next") == [kept]
        assert opened.kept_forecasts("other") == []
        last = opened.readings()[-1].action
    assert (kept.batch, kept.known, kept.answer) == ("next", known, answer)
    assert kept.action > last
    assert kept.version != ""
    assert kept.at <= dt.datetime.now(dt.UTC)


def test_the_same_forecast_twice_is_kept_once(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        assert opened.keep_forecast("next", {"grams": 1.0}, {})
        assert not opened.keep_forecast("next", {"grams": 1.0}, {})
        assert opened.keep_forecast("next", {"grams": 2.0}, {})
        assert opened.keep_forecast("next", {"grams": 1.0}, {})
        assert [kept.known["grams"] for kept in opened.kept_forecasts()] == [1.0, 2.0, 1.0]


def test_no_forecast_is_kept_for_a_batch_that_is_already_there(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        with pytest.raises(BatchError, match="'c1' is already in the ledger"):
            opened.keep_forecast("c1", {}, {})
        assert opened.kept_forecasts() == []


@pytest.mark.parametrize("statement", ["DELETE FROM forecast", "UPDATE forecast SET batch = 'x'"])
def test_a_kept_forecast_cannot_be_changed_or_deleted_even_by_hand(
    old: Path, statement: str
) -> None:
    with Ledger.open(old, writing=True) as opened:
        opened.keep_forecast("next", {}, {})
    with closing(sqlite3.connect(old)) as raw:
        with pytest.raises(sqlite3.IntegrityError, match="nothing in the ledger"):
            raw.execute(statement)
        assert raw.execute("SELECT batch FROM forecast").fetchall() == [("next",)]


def test_a_kept_forecast_that_cannot_be_read_is_reported_as_damage(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        opened.keep_forecast("next", {}, {})
    with closing(sqlite3.connect(old)) as raw, raw:
        raw.execute("DROP TRIGGER forecast_no_update")
        raw.execute("UPDATE forecast SET known = '{'")
    with Ledger.open(old) as opened:
        check_contents(opened)
        with pytest.raises(LedgerError, match="a forecast kept in it cannot be read"):
            opened.kept_forecasts()


def test_a_forecast_that_is_not_finite_is_not_kept(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        with pytest.raises(ValueError, match="JSON"):
            opened.keep_forecast("next", {}, {"jars": [float("nan")]})
        assert opened.kept_forecasts() == []
