"""A ledger of more batches than are held: the same answers, without holding them."""

import json
import sqlite3
import tracemalloc
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from jarcast.app import work

pytestmark = pytest.mark.contract

Run = Callable[..., Any]

ASKED = (
    ("batches",), ("batches", "--json"), ("batches", "--units", "metric"),
    ("batches", "--produce", "CARROT"), ("batches", "--produce", "carot"),
    ("batches", "--person", "bea", "--json"), ("batches", "--withdrawn"),
    ("batches", "--withdrawn", "--json"), ("batches", "--json", "--produce", "okra"),
    ("batches", "--tally"), ("export",), ("export", "--json"), ("export", "out.csv"),
)  # fmt: skip


@pytest.fixture
def various(run: Run, filled: Path) -> Path:
    """A ledger with packers, a contradiction, a count, a value stood by and a withdrawn batch."""
    carrots = ("record", "--produce", "carrot", "--cut", "sticks", "--jars", "7 pint")
    for more in (
        ("--batch", "p1", "--person", "Bea", "--trimmed", "16 cups", "--cost", "4"),
        ("--batch", "p2", "--person", "bea", "--as-bought", "2 lb", "--trimmed", "20 lb", "--yes"),
        ("--batch", "p3", "--person", "", "--note", 'two\nlines, "quoted" \u00bd'),
    ):
        assert run(*carrots, *more).code == 0, more
    assert run("amend", "c1", "--as-is", "trimmed").code == 0
    assert run("withdraw", "k1").code == 0
    return filled


@pytest.mark.parametrize("asked", ASKED, ids=" ".join)
def test_what_is_not_held_is_answered_as_what_is(
    run: Run, various: Path, kitchen: Path, monkeypatch: pytest.MonkeyPatch, asked: tuple[str, ...]
) -> None:
    held = run(*asked)
    file = kitchen / "out.csv"
    table = file.read_bytes() if file.exists() else b""
    monkeypatch.setattr(work, "MOST_HELD", 0)
    assert run(*asked) == held
    assert (file.read_bytes() if file.exists() else b"") == table
    if "--json" in asked:  # what Python's own writer makes of the document, sign for sign
        assert held.out == json.dumps(held.document, indent=2, ensure_ascii=False) + "\n"


def most_held(run: Run, *asked: str) -> int:
    """Bytes that a command holds at most, with what it prints."""
    tracemalloc.start()
    try:
        assert run(*asked).code == 0
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("asked", [("export", "out.csv"), ("batches",)], ids=" ".join)
def test_a_long_ledger_is_not_held(
    run: Run, kitchen: Path, monkeypatch: pytest.MonkeyPatch, asked: tuple[str, ...]
) -> None:
    rows = [
        f"b{n},2024-08-{n % 28 + 1:02d},carrot,sticks,raw,pint,{n % 9 + 1}" for n in range(2400)
    ]
    header = "batch,date,produce,cut,pack,jar,jars"
    (kitchen / "long.csv").write_text("\n".join([header, *rows]))
    assert run("import", "long.csv").code == 0
    assert run(*asked).code == 0  # so that all is imported
    held = most_held(run, *asked)
    monkeypatch.setattr(work, "MOST_HELD", 0)
    assert most_held(run, *asked) < held / 2


def test_a_batch_that_cannot_be_read_leaves_no_half_of_an_answer(
    run: Run, filled: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with closing(sqlite3.connect(filled, isolation_level=None)) as raw:
        triggers = raw.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        for name, _ in (found := triggers.fetchall()):
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("UPDATE action SET digest = NULL")
        raw.execute("UPDATE reading SET jars = 'many' WHERE id = (SELECT max(id) FROM reading)")
        for _, sql in found:
            raw.execute(sql)
    monkeypatch.setattr(work, "MOST_HELD", 0)
    for asked in (("batches",), ("batches", "--json"), ("export",), ("export", "--json")):
        ran = run(*asked)
        assert (ran.code, ran.out) == (1, "")
        assert "is damaged: batch 'b1' cannot be read" in ran.err
