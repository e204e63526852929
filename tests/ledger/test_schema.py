"""Ledgers of earlier schemas: all they hold is kept, and what later ones added works in them."""

import datetime as dt
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.errors import BatchError, LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import annotations, confirm, withdraw
from jarcast.ledger.kept_forecasts import keep_forecast, kept_forecasts
from jarcast.ledger.own_measures import add_jar, measured_by, measured_jar, own_jars
from jarcast.ledger.schema import MIGRATIONS, SCHEMA
from jarcast.ledger.steps import begin, open_batches, steps

pytestmark = pytest.mark.contract

LEDGERS = Path(__file__).parents[1] / "data" / "ledgers"

# What was typed in when the fixtures were made; numbers to the last bit.
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


CARROTS = "2024-09-07 carrot sticks"  # the batch that schema 2's forecast was kept for


@pytest.fixture(params=[1, 2, 3, 4], ids=["schema 1", "schema 2", "schema 3", "schema 4"])
def schema(request: pytest.FixtureRequest) -> int:
    """A schema that was released before the present one."""
    return int(request.param)


@pytest.fixture
def old(tmp_path: Path, schema: int) -> Path:
    """A copy of the ledger that it wrote."""
    return Path(shutil.copy(LEDGERS / f"schema-{schema}.sqlite3", tmp_path / "ledger.sqlite3"))


def kept_before(schema: int) -> list[str]:
    """Batches that the fixture holds a kept forecast for."""
    return [CARROTS] if schema >= 2 else []


def amended(batch: Batch, /, **values: Any) -> Entry:
    return Entry(replace(batch, **values))


def schema_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as raw:
        return int(raw.execute("PRAGMA user_version").fetchone()[0])


def unmarked(ledger: Ledger) -> list[Batch]:
    """The batches without what is said of them: one of schema 3 has a confirmed value."""
    return [replace(batch, confirmed=frozenset()) for batch in ledger.batches()]


def check_contents(ledger: Ledger) -> None:
    assert unmarked(ledger) == [BEANS, CUCUMBERS, BEETS]
    beans = ledger.find("007")
    assert beans is not None
    assert beans.typed == {"as_bought_g": "3 lb 15 1/2 oz", "brine_made_ml": "7 cups + 4 cups"}
    assert ledger.setting("units") == "metric"
    assert [reading.kind for reading in ledger.readings()] == ["import", "import", "record"]


def test_every_schema_before_the_present_one_has_a_fixture() -> None:
    found = sorted(path.name for path in LEDGERS.glob("*.sqlite3"))
    assert found == [f"schema-{number}.sqlite3" for number in range(1, SCHEMA)]
    for number in range(1, SCHEMA):
        assert schema_of(LEDGERS / f"schema-{number}.sqlite3") == number


def test_an_old_ledger_reads_the_same_and_looking_leaves_it_as_it_was(
    old: Path, schema: int
) -> None:
    before = old.read_bytes()
    with Ledger.open(old) as opened:
        check_contents(opened)
        assert [kept.batch for kept in kept_forecasts(opened)] == kept_before(schema)
        if schema < 3:
            assert (steps(opened), annotations(opened), own_jars(opened)) == ([], [], {})
    assert old.read_bytes() == before
    assert schema_of(old) == schema


def test_a_forecast_kept_by_schema_2_comes_back_exactly(tmp_path: Path) -> None:
    old = Path(shutil.copy(LEDGERS / "schema-2.sqlite3", tmp_path / "ledger.sqlite3"))
    with Ledger.open(old, writing=True) as opened:
        (kept,) = kept_forecasts(opened)
    # 5 lb at 453.59237 g (NIST Handbook 44, Appendix C), as it was put in.
    assert kept.known == {"stage": "trimmed_g", "grams": 2267.96185, "note": "½ ñ"}
    assert kept.answer == {"jars": [8.25, 0.1 + 0.2]}
    assert kept.at == dt.datetime(2024, 9, 6, 18, 3, 55, 7000, tzinfo=dt.UTC)


def test_everything_that_schema_3_holds_is_kept(tmp_path: Path) -> None:
    """Against what was put in when the fixture was made, and row for row against the file."""
    file = LEDGERS / "schema-3.sqlite3"
    old = Path(shutil.copy(file, tmp_path / "ledger.sqlite3"))
    with Ledger.open(old, writing=True) as opened:
        check_contents(opened)
        assert opened.batches()[1] == replace(CUCUMBERS, confirmed=frozenset({"salt_g"}))
        kinds = [(mark.batch, mark.kind.value) for mark in annotations(opened)]
        assert kinds == [("c1", "confirm"), ("007", "withdraw"), ("007", "reinstate")]
        (peppers,) = open_batches(opened)
        assert peppers.typed == {
            "produce": "pepper", "as_bought": "4 lb 8 oz", "note": "from Ida",
            "brine_made": "5 cups",
        }  # fmt: skip
        assert [(so_far.jars, so_far.brine_ml) for so_far in peppers.packed] == [(2.5, 600.25)]
        assert measured_by(opened) == {"squat": {"water": "415.5 g"}}
    with closing(sqlite3.connect(file)) as before, closing(sqlite3.connect(old)) as after:
        assert len(before.execute("SELECT * FROM reading").fetchall()) == 3
        for (table,) in before.execute("SELECT name FROM sqlite_schema WHERE type = 'table'"):
            if not table.startswith("sqlite_"):
                rows = before.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608
                now = after.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608
                assert [row[: len(rows[0])] for row in now] == rows
                assert {row[len(rows[0]) :] for row in now} <= {
                    (),
                    (None,),
                    (None, None),
                    ("", None, None),
                }


def test_an_old_ledger_is_brought_up_to_date_when_it_is_written(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        check_contents(opened)
        assert keep_forecast(opened, "next", {}, {})
        assert opened.rows("PRAGMA integrity_check") == [("ok",)]
        assert opened.rows("PRAGMA foreign_key_check") == []
    assert schema_of(old) == SCHEMA
    with Ledger.open(old) as opened:
        check_contents(opened)


def test_what_schema_3_added_works_in_an_old_ledger(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        begin(opened, "next", {"produce": "carrot", "as_bought": "8 lb"})
        assert confirm(opened, "c1", ["jars"]) == ("jars",)
        assert withdraw(opened, "007")
        add_jar(opened, measured_jar("tall", 600.0), {"water": "600 g"})
    with Ledger.open(old) as opened:
        assert open_batches(opened)[-1].name == "next"
        cucumbers, beets = opened.batches()
        assert (replace(cucumbers, confirmed=frozenset()), beets) == (CUCUMBERS, BEETS)
        assert "jars" in cucumbers.confirmed
        assert list(own_jars(opened))[-1] == "tall"
        # The withdrawn batch is as it was, to the last bit.
        assert [reading.entry.batch for reading in opened.history("007")] == [BEANS]


def test_an_old_ledger_ends_with_the_tables_of_a_new_one(old: Path, tmp_path: Path) -> None:
    def tables(path: Path) -> list[Any]:
        with Ledger.open(path, writing=True) as opened:
            return opened.rows("SELECT type, name, sql FROM sqlite_schema ORDER BY name")

    assert tables(old) == tables(tmp_path / "new.sqlite3")


def test_a_migration_that_fails_leaves_the_old_ledger_as_it_was(
    old: Path, schema: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaking(connection: sqlite3.Connection) -> None:
        MIGRATIONS[-1](connection)
        raise sqlite3.OperationalError("the power went")

    with monkeypatch.context() as patched:
        patched.setattr("jarcast.ledger.schema.MIGRATIONS", (*MIGRATIONS[:-1], breaking))
        with pytest.raises(LedgerError):
            Ledger.open(old, writing=True)
    assert schema_of(old) == schema
    with Ledger.open(old, writing=True) as opened:
        check_contents(opened)


# Amendments


def test_an_amendment_supersedes_and_the_old_values_stay_readable(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        assert opened.amend(Entry(replace(BEANS, jars=(9.0,)), {"jars": "9"}))
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
        assert keep_forecast(opened, "next", known, answer)
    with Ledger.open(old) as opened:
        (kept,) = kept_forecasts(opened, "next")
        assert kept_forecasts(opened)[-1] == kept
        assert kept_forecasts(opened, "other") == []
        last = opened.readings()[-1].action
    assert (kept.batch, kept.known, kept.answer) == ("next", known, answer)
    assert kept.action > last
    assert kept.version != ""
    assert kept.at <= dt.datetime.now(dt.UTC)


def test_the_same_forecast_twice_is_kept_once(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        assert keep_forecast(opened, "next", {"grams": 1.0}, {})
        assert not keep_forecast(opened, "next", {"grams": 1.0}, {})
        assert keep_forecast(opened, "next", {"grams": 2.0}, {})
        assert keep_forecast(opened, "next", {"grams": 1.0}, {})
        kept = kept_forecasts(opened, "next")
        assert [one.known["grams"] for one in kept] == [1.0, 2.0, 1.0]


def test_no_forecast_is_kept_for_a_batch_that_is_already_there(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        with pytest.raises(BatchError, match="'c1' is already in the ledger"):
            keep_forecast(opened, "c1", {}, {})
        assert kept_forecasts(opened, "c1") == []


@pytest.mark.parametrize("statement", ["DELETE FROM forecast", "UPDATE forecast SET batch = 'x'"])
def test_a_kept_forecast_cannot_be_changed_or_deleted_even_by_hand(
    old: Path, schema: int, statement: str
) -> None:
    with Ledger.open(old, writing=True) as opened:
        keep_forecast(opened, "next", {}, {})
    with closing(sqlite3.connect(old)) as raw:
        with pytest.raises(sqlite3.IntegrityError, match="nothing in the ledger"):
            raw.execute(statement)
        kept = [name for (name,) in raw.execute("SELECT batch FROM forecast ORDER BY id")]
        assert kept == [*kept_before(schema), "next"]


def test_a_kept_forecast_that_cannot_be_read_is_reported_as_damage(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        keep_forecast(opened, "next", {}, {})
    with closing(sqlite3.connect(old)) as raw, raw:
        (trigger,) = raw.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'forecast_no_update'"
        ).fetchone()
        raw.execute("DROP TRIGGER forecast_no_update")
        raw.execute("UPDATE forecast SET known = '{'")
        raw.execute(trigger)
        (trigger,) = raw.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'action_no_update'"
        ).fetchone()
        raw.execute("DROP TRIGGER action_no_update")
        raw.execute("UPDATE action SET digest = NULL")  # as an older jarcast left it
        raw.execute(trigger)
    with Ledger.open(old) as opened:
        check_contents(opened)
        with pytest.raises(LedgerError, match="a forecast kept in it cannot be read"):
            kept_forecasts(opened)


def test_a_forecast_that_is_not_finite_is_not_kept(old: Path) -> None:
    with Ledger.open(old, writing=True) as opened:
        with pytest.raises(ValueError, match="JSON"):
            keep_forecast(opened, "next", {}, {"jars": [float("nan")]})
        assert kept_forecasts(opened, "next") == []
