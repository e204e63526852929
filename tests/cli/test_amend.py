"""jarcast amend: a correction supersedes, and what stood before is never lost."""

import datetime as dt
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from jarcast.ledger import Ledger

Run = Callable[..., Any]


def test_an_amended_value_stands_and_the_old_one_stays_readable(run: Run, filled: Path) -> None:
    ran = run("amend", "c1", "trimmed=6 lb 8 oz", "jars=10")
    assert (ran.code, ran.err) == (0, "")
    with Ledger.open(filled) as ledger:
        history = ledger.history("c1")
    # 100 oz and 104 oz at 28.349523125 g (NIST Handbook 44, Appendix C).
    assert [r.entry.batch.trimmed_g for r in history] == [2834.9523125, 2948.350405]
    assert [r.entry.batch.jars for r in history] == [(9.5,), (10.0,)]
    assert history[-1].entry.typed["trimmed_g"] == "6 lb 8 oz"
    assert history[-1].entry.batch.brine_made_ml == history[0].entry.batch.brine_made_ml
    assert history[-1].entry.typed["brine_made_ml"] == "10 cups"


def test_a_forecast_follows_an_amendment_at_once(run: Run, filled: Path) -> None:
    ask = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--json")
    before = run(*ask).document["jars"]["median"]
    assert run("amend", "c1", "jars=12").code == 0
    assert run("amend", "c2", "jars=9.5").code == 0
    assert run(*ask).document["jars"]["median"] > 1.05 * before


def test_the_same_value_again_changes_nothing(run: Run, filled: Path) -> None:
    ran = run("amend", "c1", "trimmed=100 oz", "--json")
    assert ran.document["changed"] is False
    with closing(sqlite3.connect(filled)) as connection:
        (count,) = connection.execute("SELECT count(*) FROM action WHERE kind = 'amend'").fetchone()
    assert count == 0


def test_an_empty_value_takes_one_away_and_a_dash_in_a_column_is_forgiven(
    run: Run, filled: Path
) -> None:
    ran = run("amend", "c1", "brine-left=", "note=", "--json")
    assert ran.document["batch"]["brine_left_ml"] is None
    assert ran.document["batch"]["note"] is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (["nobody", "jars=9"], "there is no batch 'nobody'"),
        (["c1", "wobble=9"], "'wobble' is not a value to amend"),
        (["c1", "batch=c9"], "'batch' is not a value to amend"),
        (["c1", "jars"], "write a change as COLUMN=VALUE"),
        (["c1", "trimmed=6"], "has no unit"),
        (["c1", "jars="], "every batch needs one"),
        (["c1", f"date={dt.date.today() + dt.timedelta(days=2)}"], "future"),
    ],
)
def test_what_cannot_be_is_refused_and_the_ledger_is_as_it_was(
    run: Run, filled: Path, changes: list[str], words: str
) -> None:
    with Ledger.open(filled) as ledger:
        before = ledger.readings()
    ran = run("amend", *changes)
    assert (ran.code, ran.out) == (1, "")
    assert words in ran.err
    with Ledger.open(filled) as ledger:
        assert ledger.readings() == before


def test_importing_other_values_points_to_amending(
    run: Run, filled: Path, table: Callable[..., Path]
) -> None:
    file = table("c1,2024-08-03,carrots,sticks,raw,pint,6 lb,0,9.5,10 cups,1 1/2 cups,x")
    ran = run("import", str(file))
    assert ran.code == 1
    assert "jarcast amend" in ran.err


def test_an_open_batch_is_amended_as_a_closed_one_is(run: Run) -> None:
    run("begin", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--batch", "c9")
    run("weigh", "--trimmed", "6 lb")
    ran = run("amend", "c9", "trimmed=5 lb", "as_bought_g=3000")
    assert (ran.code, ran.err) == (0, "")
    assert "trimmed 5 lb" in ran.out
    found = run("amend", "c9", "pack=raw", "--json").document
    assert (found["format"], found["batch"]) == ("jarcast amend", "c9")
    closed = run("close", "--jars", "8", "--json").document["batch"]
    assert closed["trimmed_g"] == pytest.approx(5 * 453.59237)  # NIST Handbook 44, Appendix C
    assert (closed["as_bought_g"], closed["pack"]) == (3000.0, "raw")


@pytest.mark.parametrize("change", ["trimmed=heavy", "batch=other", "weight=3 lb"])
def test_a_change_of_an_open_batch_that_cannot_be_writes_nothing(run: Run, change: str) -> None:
    run("begin", "--produce", "carrot", "--jar", "pint", "--batch", "c9", "--as-bought", "8 lb")
    before = run("history", "c9", "--json").document
    ran = run("amend", "c9", change)
    assert (ran.code, ran.out) == (1, "")
    assert run("history", "c9", "--json").document == before


def test_hours_amended_to_more_than_any_cure_takes_are_pointed_out(run: Run, filled: Path) -> None:
    assert "two weeks" not in run("amend", "c1", "cure_hours=300").err
    assert "two weeks" in run("amend", "c1", "cure_hours=1200").err
    run("amend", "c1", "--as-is", "cure_hours")
    assert "two weeks" not in run("amend", "c1", "note=brined long").err
