"""One batch from what was typed: checked whole, named where it has no name, written once."""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.app import record as recording
from jarcast.app.record import make_entry, read, write_down
from jarcast.errors import BatchError
from jarcast.ledger import Ledger
from jarcast.ledger.annotations import withdraw
from jarcast.ledger.steps import begin

TODAY = dt.date(2024, 8, 31)
CARROTS = {"produce": "Carrots", "cut": "Sticks", "jar": "pint", "jars": "7.5"}


def test_what_was_not_said_is_not_made_up_but_for_date_and_name() -> None:
    entry = make_entry({**CARROTS, "trimmed": None, "note": "  "}, TODAY, ())
    assert entry.batch.date == TODAY
    assert entry.batch.batch == "2024-08-31 carrot sticks"
    assert entry.batch.trimmed_g is None
    assert entry.batch.note == ""


def test_what_was_typed_is_kept_beside_its_grams() -> None:
    entry = make_entry({**CARROTS, "trimmed": "6 lb 4 oz", "brine_made": "10 cups"}, TODAY, ())
    # 100 oz of 28.349523125 g, 10 cups of 236.5882365 ml: NIST Handbook 44, Appendix C.
    assert entry.batch.trimmed_g == 2834.9523125
    assert entry.batch.brine_made_ml == 2365.882365
    assert entry.typed["trimmed_g"] == "6 lb 4 oz"
    assert entry.typed["brine_made_ml"] == "10 cups"


def test_a_name_that_is_taken_gets_a_number() -> None:
    taken: set[str] = set()
    for number in range(1, 4):
        name = make_entry(CARROTS, TODAY, taken).batch.batch
        assert name == "2024-08-31 carrot sticks" + (f" {number}" if number > 1 else "")
        taken.add(name)


def test_a_name_of_one_s_own_stands_even_if_it_is_taken() -> None:
    assert make_entry({**CARROTS, "batch": "7"}, TODAY, {"7"}).batch.batch == "7"


def test_a_made_up_name_is_no_longer_than_a_name_should_be() -> None:
    entry = make_entry({**CARROTS, "produce": "carrot " * 500}, TODAY, ())
    assert len(entry.batch.batch) <= 100


def test_every_problem_is_told_at_once_with_what_was_typed() -> None:
    typed = {"produce": "", "jar": "bucket", "jars": "none", "headspace_in": "a thumb"}
    with pytest.raises(BatchError) as caught:
        make_entry({**typed, "as_bought": "6", "date": "2024-09-01"}, TODAY, ())
    problems = "\n".join(caught.value.problems)
    assert len(caught.value.problems) == 6
    for due in ("jar 'bucket'", "jars 'none'", "headspace 'a thumb'", "as bought '6'", "produce"):
        assert due in problems
    assert "in the future (today is 2024-08-31)" in problems


def test_a_batch_is_written_once(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    entry, new = write_down(path, {**CARROTS, "batch": "7"}, TODAY)
    assert new
    again, new = write_down(path, {**CARROTS, "batch": "7"}, TODAY)
    assert not new
    assert again == entry
    with pytest.raises(BatchError, match="already in the ledger"):
        write_down(path, {**CARROTS, "batch": "7", "jars": "8"}, TODAY)
    with Ledger.open(path) as ledger:
        assert ledger.batches() == [entry.batch]


def test_batches_without_a_name_are_never_taken_for_one_another(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    written = [write_down(path, CARROTS, TODAY) for _ in range(3)]
    assert all(new for _, new in written)
    with Ledger.open(path) as ledger:
        assert ledger.batches() == [entry.batch for entry, _ in written]


def test_a_name_that_another_process_took_meanwhile_is_made_up_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "ledger.sqlite3"
    looked = recording.names_taken
    meanwhile = [{**CARROTS, "jars": "3"}, CARROTS]  # with other values, and with the same

    def look_then_be_overtaken(ledger: Ledger) -> set[str]:
        found = looked(ledger)
        if meanwhile:
            write_down(path, meanwhile.pop(), TODAY)
        return found

    monkeypatch.setattr(recording, "names_taken", look_then_be_overtaken)
    entry, new = write_down(path, CARROTS, TODAY)
    monkeypatch.undo()
    assert new
    with Ledger.open(path) as ledger:
        names = [batch.batch for batch in ledger.batches()]
    assert len(names) == len(set(names)) == 3
    assert entry.batch.batch in names


def test_the_name_of_a_withdrawn_batch_is_not_made_up_again(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    first, _ = write_down(path, CARROTS, TODAY)
    with Ledger.open(path, writing=True) as ledger:
        withdraw(ledger, first.batch.batch)
    second, new = write_down(path, CARROTS, TODAY)
    assert new
    assert second.batch.batch != first.batch.batch


def test_a_batch_that_is_open_is_not_written_down_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        begin(ledger, "mine", {"produce": "carrot"})
    with pytest.raises(BatchError, match="is open; 'jarcast close'"):
        write_down(path, {**CARROTS, "batch": " mine "}, TODAY)
    with Ledger.open(path) as ledger:
        assert ledger.batches() == []


def test_an_unfinished_batch_is_checked_as_a_finished_one_is() -> None:
    batch = read({"produce": "carrot", "trimmed": "1 lb - 4 oz"}, TODAY)
    # 12 oz at 28.349523125 g: NIST Handbook 44, Appendix C.
    assert batch.trimmed_g == pytest.approx(12 * 28.349523125, abs=1e-9)
    with pytest.raises(BatchError) as refused:
        read({"trimmed": "6", "salt": "-1 g", "jar": "bucket"}, TODAY)
    assert len(refused.value.problems) == 3


def test_a_batch_that_is_refused_begins_no_ledger(tmp_path: Path) -> None:
    with pytest.raises(BatchError):
        write_down(tmp_path / "ledger.sqlite3", {**CARROTS, "jars": "0"}, TODAY)
    assert list(tmp_path.iterdir()) == []


def test_two_who_amend_different_values_at_once_lose_neither(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "ledger.sqlite3"
    write_down(path, {**CARROTS, "batch": "7"}, TODAY)
    really, others = Ledger.open, iter([{"sealed": "7"}])

    def open_late(at: Path, *, writing: bool = False) -> Ledger:
        """Somebody else amends between the reading and the writing."""
        changes = next(others, None) if writing else None
        if changes is not None:
            recording.amend(path, "7", changes, TODAY)
        return really(at, writing=writing)

    monkeypatch.setattr(Ledger, "open", open_late)
    entry, changed = recording.amend(path, "7", {"trimmed": "6 lb"}, TODAY)
    monkeypatch.undo()
    with Ledger.open(path) as ledger:
        (batch,) = ledger.batches()
        assert len(ledger.history("7")) == 3
    assert changed
    assert batch == entry.batch
    # 96 oz at 28.349523125 g: NIST Handbook 44, Appendix C.
    assert (batch.sealed, batch.trimmed_g) == (7.0, pytest.approx(96 * 28.349523125))


def test_a_batch_and_what_is_stood_by_of_it_are_written_in_one_action(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    write_down(path, {**CARROTS, "batch": "7"}, TODAY, sure={"jars", "cooked_g"})
    with Ledger.open(path) as ledger:
        assert ledger.rows("SELECT kind FROM action") == [("record",)]
        found = ledger.find("7")
    assert found is not None
    assert found.batch.confirmed == {"jars"}  # nothing was cooked: there is nothing to stand by


def test_a_batch_whose_confirmation_cannot_be_written_is_not_half_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("jarcast.app.record.confirm_within", killed)
    path = tmp_path / "ledger.sqlite3"
    with pytest.raises(KeyboardInterrupt):
        write_down(path, {**CARROTS, "batch": "7"}, TODAY, sure={"jars"})
    with Ledger.open(path) as ledger:
        assert ledger.batches() == []
