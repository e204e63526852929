"""Batches in the making: every step stays, and an open batch becomes one of the ledger once."""

import datetime as dt
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from jarcast.app.record import make_entry
from jarcast.domain.packing import SoFar
from jarcast.errors import BatchError
from jarcast.ledger import Ledger
from jarcast.ledger.annotations import annotations, withdraw
from jarcast.ledger.steps import (
    StepKind,
    add_step,
    begin,
    close,
    notes_in,
    open_batches,
    steps,
)
from jarcast.ledger.whole_names import names_taken

TODAY = dt.date(2024, 8, 31)
TYPED = {"produce": "carrot", "cut": "sticks", "jar": "pint", "date": "2024-08-31"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ledger.sqlite3"


@pytest.fixture
def ledger(path: Path) -> Iterator[Ledger]:
    with Ledger.open(path, writing=True) as opened:
        yield opened


def packed(ledger: Ledger, name: str, jars: float, **other: float) -> None:
    add_step(ledger, name, StepKind.PACK, {"jars": str(jars)}, {"jars": jars, **other})


def entry(name: str, **typed: str):
    return make_entry({**TYPED, "batch": name, "jars": "8.5", **typed}, TODAY)


def test_a_batch_is_open_from_its_beginning_with_what_was_typed(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    (found,) = open_batches(ledger)
    assert (found.name, found.typed) == ("c1", TYPED)
    assert ledger.batches() == []


def test_several_are_open_side_by_side_in_the_order_they_were_begun(ledger: Ledger) -> None:
    begin(ledger, "b", TYPED)
    begin(ledger, "a", TYPED)
    add_step(ledger, "b", StepKind.WEIGH, {"trimmed": "5 lb"})
    found = {one.name: one.typed.get("trimmed") for one in open_batches(ledger)}
    assert list(found.items()) == [("b", "5 lb"), ("a", None)]


def test_the_latest_word_on_a_column_counts_and_an_empty_one_takes_it_away(ledger: Ledger) -> None:
    begin(ledger, "c1", {**TYPED, "trimmed": "6 lb"})
    add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "5 lb 8 oz", "cured": "5 lb"})
    add_step(ledger, "c1", StepKind.WEIGH, {"cured": ""})
    (found,) = open_batches(ledger)
    assert found.typed["trimmed"] == "5 lb 8 oz"
    assert found.typed["cured"] == ""
    assert len(steps(ledger, "c1")) == 3  # what stood before stays


def test_notes_add_up_and_the_same_one_twice_is_one(ledger: Ledger) -> None:
    begin(ledger, "c1", {**TYPED, "note": "windy"})
    for note in ("late crop", "windy"):
        add_step(ledger, "c1", StepKind.WEIGH, {"note": note})
    (found,) = open_batches(ledger)
    assert found.typed["note"] == "windy; late crop"
    assert found.typed_with({"note": "hot"})["note"] == "windy; late crop; hot"


def test_of_the_packing_only_the_brine_made_is_a_column_of_the_batch(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    typed = {"jars": "3", "produce": "2 lb", "brine_made": "8 cups"}
    add_step(ledger, "c1", StepKind.PACK, typed, {"jars": 3.0, "produce_g": 907.0})
    (found,) = open_batches(ledger)
    assert found.typed == {**TYPED, "brine_made": "8 cups"}
    assert found.packed == (SoFar(jars=3.0, produce_g=907.0),)


def test_an_odd_value_stood_by_is_so_until_it_is_typed_anew(ledger: Ledger) -> None:
    begin(ledger, "c1", {**TYPED, "trimmed": "9 lb"}, {"sure": ["trimmed_g"]})
    assert open_batches(ledger)[0].sure == {"trimmed_g"}
    add_step(ledger, "c1", StepKind.WEIGH, {"cured": "8 lb"})
    assert open_batches(ledger)[0].sure == {"trimmed_g"}
    add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "8 lb 8 oz"})
    assert open_batches(ledger)[0].sure == frozenset()


def test_a_name_is_given_to_one_batch_only(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    with pytest.raises(BatchError, match="is already open"):
        begin(ledger, "c1", TYPED)
    close(ledger, "c1", entry("c1"), {})
    with pytest.raises(BatchError, match="already in the ledger"):
        begin(ledger, "c1", TYPED)
    assert len(steps(ledger)) == 2


def test_closing_makes_one_reading_and_ends_the_open_batch(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    close(ledger, "c1", entry("c1", trimmed="5 lb + 8 oz"), {"jars": "8.5"})
    assert open_batches(ledger) == []
    (reading,) = ledger.history("c1")
    assert reading.kind == "close"
    assert reading.entry.typed == {"trimmed_g": "5 lb + 8 oz"}
    assert [step.kind for step in steps(ledger, "c1")] == [StepKind.BEGIN, StepKind.CLOSE]


def test_nothing_is_noted_of_a_batch_that_is_not_open(ledger: Ledger) -> None:
    with pytest.raises(BatchError, match="no batch 'c1' is open"):
        add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "5 lb"})
    with pytest.raises(BatchError, match="no batch 'c1' is open"):
        close(ledger, "c1", entry("c1"), {})
    assert (steps(ledger), ledger.batches()) == ([], [])


def test_a_batch_written_down_while_it_was_open_is_not_written_twice(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    ledger.add([entry("c1")], "import")
    with pytest.raises(BatchError, match="jarcast drop"):
        close(ledger, "c1", entry("c1", jars="9"), {})
    assert len(ledger.history("c1")) == 1
    assert [one.name for one in open_batches(ledger)] == ["c1"]  # nothing half-done


def test_a_dropped_batch_keeps_its_steps_and_its_name_can_be_begun_afresh(ledger: Ledger) -> None:
    begin(ledger, "c1", {**TYPED, "trimmed": "5 lb"})
    packed(ledger, "c1", 3)
    add_step(ledger, "c1", StepKind.DROP, {})
    assert (open_batches(ledger), ledger.batches()) == ([], [])
    assert len(steps(ledger, "c1")) == 3
    begin(ledger, "c1", TYPED)
    (found,) = open_batches(ledger)
    assert "trimmed" not in found.typed
    assert notes_in(steps(ledger)) == {}  # the new batch has none yet


def test_the_notes_of_a_closed_batch_stay_to_be_learned_from(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    packed(ledger, "c1", 1, produce_g=280.0)
    packed(ledger, "c1", 3, produce_g=860.0)
    close(ledger, "c1", entry("c1"), {})
    assert [note.produce_g for note in notes_in(steps(ledger))["c1"]] == [280.0, 860.0]


def test_names_taken_are_those_of_all_batches_there_ever_were(ledger: Ledger) -> None:
    for name in ("open", "closed", "dropped", "withdrawn"):
        begin(ledger, name, TYPED)
    for name in ("closed", "withdrawn"):
        close(ledger, name, entry(name), {})
    add_step(ledger, "dropped", StepKind.DROP, {})
    withdraw(ledger, "withdrawn")
    ledger.add([entry("recorded")], "record")
    assert names_taken(ledger) == {"open", "closed", "dropped", "withdrawn", "recorded"}


AT_ONCE = """
import sys
from pathlib import Path
from jarcast.errors import BatchError
from jarcast.ledger import Ledger
from jarcast.ledger.steps import StepKind, add_step, close
from jarcast.app.record import make_entry
import datetime as dt
path, what = Path(sys.argv[1]), sys.argv[2]
with Ledger.open(path, writing=True) as ledger:
    try:
        if what == "close":
            typed = {"batch": "c1", "produce": "carrot", "jar": "pint", "jars": "8"}
            close(ledger, "c1", make_entry(typed, dt.date(2024, 8, 31)), {"jars": "8"})
        else:
            for number in range(10):
                add_step(ledger, "c1", StepKind.WEIGH, {"note": f"{what}{number}"})
        print("done")
    except BatchError:
        print("refused")
"""


def together(path: Path, *whats: str) -> list[str]:
    """Several processes at the same ledger at the same time, and what each says."""
    started = [
        subprocess.Popen([sys.executable, "-c", AT_ONCE, str(path), w], stdout=subprocess.PIPE)
        for w in whats
    ]
    return [one.communicate(timeout=60)[0].decode().strip() for one in started]


@pytest.mark.xdist_group("alone")
def test_two_terminals_at_once_lose_no_step(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        begin(ledger, "c1", TYPED)
    assert together(path, "left", "right") == ["done", "done"]
    with Ledger.open(path) as ledger:
        notes = open_batches(ledger)[0].typed["note"].split("; ")
    assert sorted(notes) == sorted(f"{s}{n}" for s in ("left", "right") for n in range(10))


@pytest.mark.xdist_group("alone")
def test_of_two_terminals_that_close_at_once_one_is_refused(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        begin(ledger, "c1", TYPED)
    assert sorted(together(path, "close", "close", "close")) == ["done", "refused", "refused"]
    with Ledger.open(path) as ledger:
        assert len(ledger.history("c1")) == 1


def test_closing_writes_the_batch_and_what_is_stood_by_in_one_action(ledger: Ledger) -> None:
    begin(ledger, "c1", TYPED)
    close(ledger, "c1", entry("c1"), {}, sure={"jars", "cured_g"})
    (batch,) = ledger.batches()
    assert batch.confirmed == {"jars"}  # a value that is not there is passed over
    last = steps(ledger, "c1")[-1]
    assert [reading.action for reading in ledger.history("c1")] == [last.action]
    assert [mark.action for mark in annotations(ledger, "c1")] == [last.action]


@pytest.mark.parametrize("act", ["close", "pack"])
def test_what_builds_on_steps_that_are_no_longer_the_last_ones_is_refused(
    ledger: Ledger, act: str
) -> None:
    begin(ledger, "c1", TYPED)
    read = open_batches(ledger)[0].newest
    add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "5 lb"})
    acts = {
        "close": lambda: close(ledger, "c1", entry("c1"), {}, after=read),
        "pack": lambda: add_step(ledger, "c1", StepKind.PACK, {}, {"jars": 1.0}, after=read),
    }
    with pytest.raises(BatchError, match=r"changed at another terminal meanwhile.*run it again"):
        acts[act]()
    assert len(steps(ledger, "c1")) == 2
    assert ledger.batches() == []
    newest = open_batches(ledger)[0].newest
    add_step(ledger, "c1", StepKind.PACK, {}, {"jars": 1.0}, after=newest)
