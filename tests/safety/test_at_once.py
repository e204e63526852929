"""Several processes and one ledger: nothing lost, nothing torn, nobody told of locks."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from jarcast.domain.batch import Batch
from jarcast.ledger import Ledger

from .conftest import one_sentence, run_here

pytestmark = pytest.mark.xdist_group("alone")

WRITERS, EACH = 4, 250
_WRITER = """
import datetime as dt, sys
from jarcast.domain.batch import Batch
from jarcast.ledger import Entry, Ledger
path, own = sys.argv[1:]
def batch(name, jars):
    return Batch(batch=name, date=dt.date(2024, 8, 1), produce="beet", jar=("pint",) * 2,
                 jars=(jars, jars), trimmed_g=100.0 * jars, note=f"{jars}")
for number in range(0, 250, 5):
    pair = [Entry(batch(f"{own}-{number + part}", 1.0 + number)) for part in range(5)]
    with Ledger.open(path, writing=True, wait_seconds=120) as ledger:
        ledger.add(pair[:2], "import")  # two at a time, to be seen both or not at all
        for one in pair[2:]:
            ledger.add([one], "record")
"""


def whole(batches: list[Batch]) -> None:
    """Every batch agrees with itself, and the two of one import are both there."""
    names = {batch.batch for batch in batches}
    for batch in batches:
        assert batch.jars[0] == batch.jars[1] == float(batch.note)
        assert batch.trimmed_g == 100.0 * batch.jars[0]
        own, _, number = batch.batch.partition("-")
        if int(number) % 5 < 2:
            assert f"{own}-{int(number) // 5 * 5 + 1 - int(number) % 5}" in names


def test_four_writers_of_250_lose_nothing_and_a_reader_sees_whole_batches(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    writers = [
        subprocess.Popen([sys.executable, "-c", _WRITER, path, str(own)], stderr=subprocess.PIPE)
        for own in range(WRITERS)
    ]
    looks, seen = 0, 0
    while any(writer.poll() is None for writer in writers):
        with Ledger.open(path) as ledger:
            found = ledger.batches()
        whole(found)
        assert len(found) >= seen, "a batch that was there has gone"
        looks, seen = looks + 1, len(found)
        time.sleep(0.01)
    said = [writer.communicate(timeout=60)[1].decode() for writer in writers]
    assert said == [""] * WRITERS
    assert looks > 10
    with Ledger.open(path) as ledger:
        assert len(ledger.batches()) == WRITERS * EACH
        assert ledger.rows("PRAGMA integrity_check") == [("ok",)]
        whole(ledger.batches())


@pytest.mark.parametrize(
    "typed",
    [
        ("record", "--produce", "okra", "--jar", "pint", "--jars", "3"),
        ("amend", "c1", "jars=9"),
        ("weigh", "--trimmed", "4 lb", "--batch", "one"),
        ("batches", "--units", "metric"),
    ],
    ids=lambda typed: typed[0],
)
def test_waiting_for_another_writer_ends_with_a_sentence(
    filled: Path, typed: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    waits = Ledger.open.__func__.__kwdefaults__  # type: ignore[attr-defined]
    monkeypatch.setitem(waits, "wait_seconds", 0.05)
    with Ledger.open(filled, writing=True) as ledger, ledger.writing("record"):
        ran = run_here(*typed)
    if typed[0] == "batches":  # an answer all the same; only the units are not remembered
        assert ran.code == 0
        assert "not remembered: another jarcast is writing" in ran.err
    else:
        one_sentence(ran)
        assert "another jarcast is writing" in ran.err
    assert "locked" not in ran.err


@pytest.mark.skipif(os.name != "posix", reason="signals are POSIX's here")
def test_a_writer_that_waits_gets_its_turn(filled: Path) -> None:
    with Ledger.open(filled, writing=True) as ledger, ledger.writing("record"):
        waiting = subprocess.Popen(
            [sys.executable, "-m", "jarcast", "record", "--produce", "okra", "--jar", "pint",
             "--jars", "3", "--batch", "late"],
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        )  # fmt: skip
        time.sleep(0.6)
    assert waiting.communicate(timeout=60)[1] == b""
    with Ledger.open(filled) as ledger:
        assert ledger.find("late") is not None
