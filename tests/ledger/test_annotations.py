"""What is said of batches: odd values confirmed, batches withdrawn."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.errors import BatchError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import (
    AnnotationKind,
    annotations,
    check_standing,
    confirm,
    stood_by,
    withdraw,
    withdrawn,
)
from jarcast.ledger.steps import begin
from jarcast.ledger.undoing import last_done, undo

ONE = Batch(
    batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("pint-wide", "pint"),
    jars=(5.0, 4.5), trimmed_g=2834.9523125,
)  # fmt: skip


def like(name: str, **values: Any) -> Entry:
    return Entry(replace(ONE, batch=name, **values))


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """A ledger of two batches."""
    with Ledger.open(tmp_path / "ledger.sqlite3", writing=True) as opened:
        opened.add([Entry(ONE), like("2")], "import")
        yield opened


def standing(ledger: Ledger, name: str = "1") -> Batch:
    return check_standing(ledger, name).batch


def names(ledger: Ledger) -> list[str]:
    return [batch.batch for batch in ledger.batches()]


def actions(ledger: Ledger) -> int:
    return int(ledger.rows("SELECT count(*) FROM action")[0][0])


# Confirming


def test_a_confirmed_value_is_marked_wherever_the_batch_is_read(ledger: Ledger) -> None:
    assert confirm(ledger, "1", ["trimmed_g", "jars"]) == ("trimmed_g", "jars")
    due = frozenset({"trimmed_g", "jars"})
    assert standing(ledger).confirmed == due
    assert [batch.confirmed for batch in ledger.batches()] == [due, frozenset()]


def test_confirming_again_writes_nothing(ledger: Ledger) -> None:
    assert confirm(ledger, "1", ["jars", "jars"]) == ("jars",)
    before = actions(ledger)
    assert confirm(ledger, "1", ["jars"]) == ()
    assert actions(ledger) == before
    assert len(annotations(ledger)) == 1


def test_a_confirmation_holds_for_the_value_and_not_for_what_it_is_amended_to(
    ledger: Ledger,
) -> None:
    confirm(ledger, "1", ["trimmed_g", "jars"])
    ledger.amend(like("1", trimmed_g=2500.0))
    assert standing(ledger).confirmed == {"jars"}
    assert confirm(ledger, "1", ["trimmed_g"]) == ("trimmed_g",)
    ledger.amend(Entry(ONE))  # back to what was confirmed first
    assert standing(ledger).confirmed == {"trimmed_g", "jars"}


@pytest.mark.parametrize(
    ("name", "columns", "words"),
    [
        ("1", ["cured_g"], "holds no value of 'cured'"),
        ("1", ["jars", "wobble"], "holds no value of 'wobble'"),
        ("3", ["jars"], "there is no batch '3'"),
        ("open", ["jars"], "is open and not recorded yet"),
        ("x" * 500, ["jars"], "'x{57}\\.\\.\\.'"),
    ],
)
def test_what_is_not_there_cannot_be_confirmed_and_nothing_is_written(
    ledger: Ledger, name: str, columns: list[str], words: str
) -> None:
    begin(ledger, "open", {"produce": "beet"})
    before = actions(ledger)
    with pytest.raises(BatchError, match=words):
        confirm(ledger, name, columns)
    assert (actions(ledger), annotations(ledger)) == (before, [])


# Withdrawing


def test_a_withdrawn_batch_is_out_and_comes_back_as_it_stood(ledger: Ledger) -> None:
    assert withdraw(ledger, "1")
    assert (names(ledger), withdrawn(ledger)) == (["2"], ["1"])
    assert ledger.find("1") is None
    assert [reading.entry.batch for reading in ledger.history("1")] == [ONE]
    undo(ledger, last_done(ledger, "1"))
    assert (ledger.batches()[0], withdrawn(ledger)) == (ONE, [])


def test_withdrawing_twice_writes_nothing(ledger: Ledger) -> None:
    withdraw(ledger, "1")
    before = actions(ledger)
    assert not withdraw(ledger, "1")
    assert actions(ledger) == before


def test_a_batch_that_never_was_cannot_go(ledger: Ledger) -> None:
    begin(ledger, "open", {"produce": "beet"})
    before = actions(ledger)
    with pytest.raises(BatchError, match="there is no batch '3'"):
        withdraw(ledger, "3")
    with pytest.raises(BatchError, match="'jarcast drop' ends it"):
        withdraw(ledger, "open")
    assert actions(ledger) == before


def test_a_withdrawn_batch_must_come_back_before_anything_is_said_of_it(ledger: Ledger) -> None:
    withdraw(ledger, "1")
    with pytest.raises(BatchError, match="'1' is withdrawn; 'jarcast undo'"):
        confirm(ledger, "1", ["jars"])
    with pytest.raises(BatchError):
        ledger.amend(like("1", jars=(4.0, 4.0)))
    with pytest.raises(BatchError, match="was withdrawn; 'jarcast undo'"):
        ledger.add([Entry(ONE)], "import")


# Everything that was said


def test_marks_come_in_order_with_when_and_what(ledger: Ledger) -> None:
    start = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
    confirm(ledger, "2", ["jars"])
    withdraw(ledger, "1")
    confirm(ledger, "2", ["trimmed_g"])
    withdraw(ledger, "2")
    undo(ledger, last_done(ledger, "1"))
    found = annotations(ledger, undone_too=True)
    assert [(m.batch, m.kind, m.column, m.value) for m in found] == [
        ("2", AnnotationKind.CONFIRM, "jars", "5 + 4.5"),
        ("1", AnnotationKind.WITHDRAW, "", ""),
        ("2", AnnotationKind.CONFIRM, "trimmed_g", "2834.9523125"),
        ("2", AnnotationKind.WITHDRAW, "", ""),
    ]
    order = [mark.action for mark in found]
    assert order == sorted(set(order))
    assert all(start <= mark.at <= dt.datetime.now(dt.UTC) for mark in found)
    assert annotations(ledger, "2") == [found[0], found[2], found[3]]
    assert annotations(ledger, "1") == []  # it was taken back


def test_standing_by_a_value_goes_by_what_it_is_now(ledger: Ledger) -> None:
    confirm(ledger, "1", ["jars", "trimmed_g"])
    said = annotations(ledger)
    assert stood_by(ONE, said).confirmed == {"jars", "trimmed_g"}
    assert stood_by(replace(ONE, trimmed_g=1.0), said).confirmed == {"jars"}
    assert stood_by(ONE, []) is ONE
