"""One batch from what was typed: checked whole, named where it has no name, written once."""

import datetime as dt
from collections.abc import Collection, Mapping
from pathlib import Path

import pytest

from jarcast.app import record as recording
from jarcast.app.record import make_entry, new_name, read, write_down
from jarcast.app.work import Work
from jarcast.domain.batch import Batch
from jarcast.errors import BatchError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import withdraw
from jarcast.ledger.steps import begin

TODAY = dt.date(2024, 8, 31)
CARROTS = {"produce": "Carrots", "cut": "Sticks", "jar": "pint", "jars": "7.5"}


def written(path: Path, typed: Mapping[str, str], sure: Collection[str] = ()) -> tuple[Batch, bool]:
    """One batch recorded in the ledger at a path, as 'jarcast record' does it."""
    with Work(path) as work:
        entry = make_entry(typed, TODAY)
        return write_down(work, entry, named="batch" in typed, sure=sure)


def amended(path: Path, name: str, changes: Mapping[str, str]) -> tuple[Entry, bool]:
    """A batch amended in the ledger at a path."""
    with Work(path) as work:
        return recording.amend(work, name, changes, TODAY)


def test_what_was_not_said_is_not_made_up_but_for_date_and_name() -> None:
    entry = make_entry({**CARROTS, "trimmed": None, "note": "  "}, TODAY)
    assert entry.batch.date == TODAY
    assert entry.batch.batch == "2024-08-31 carrot sticks"
    assert entry.batch.trimmed_g is None
    assert entry.batch.note == ""


def test_what_was_typed_is_kept_beside_its_grams() -> None:
    entry = make_entry({**CARROTS, "trimmed": "6 lb 4 oz", "brine_made": "10 cups"}, TODAY)
    # 100 oz of 28.349523125 g, 10 cups of 236.5882365 ml: NIST Handbook 44, Appendix C.
    assert entry.batch.trimmed_g == 2834.9523125
    assert entry.batch.brine_made_ml == 2365.882365
    assert entry.typed["trimmed_g"] == "6 lb 4 oz"
    assert entry.typed["brine_made_ml"] == "10 cups"


def test_a_name_that_is_taken_gets_a_number() -> None:
    taken: set[str] = set()
    for number in range(1, 4):
        name = new_name({**CARROTS, "date": TODAY.isoformat()}, taken)
        assert name == "2024-08-31 carrot sticks" + (f" {number}" if number > 1 else "")
        taken.add(name)


def test_a_name_of_one_s_own_stands() -> None:
    assert make_entry({**CARROTS, "batch": "7"}, TODAY).batch.batch == "7"


def test_a_made_up_name_is_no_longer_than_a_name_should_be() -> None:
    entry = make_entry({**CARROTS, "produce": "carrot " * 500}, TODAY)
    assert len(entry.batch.batch) <= 100


def test_every_problem_is_told_at_once_with_what_was_typed() -> None:
    typed = {"produce": "", "jar": "bucket", "jars": "none", "headspace_in": "a thumb"}
    with pytest.raises(BatchError) as caught:
        make_entry({**typed, "as_bought": "6", "date": "2024-09-01"}, TODAY)
    problems = "\n".join(caught.value.problems)
    assert len(caught.value.problems) == 6
    for due in ("jar 'bucket'", "jars 'none'", "headspace 'a thumb'", "as bought '6'", "produce"):
        assert due in problems
    assert "in the future (today is 2024-08-31)" in problems


def test_a_batch_is_written_once(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    batch, new = written(path, {**CARROTS, "batch": "7"})
    assert new
    again, new = written(path, {**CARROTS, "batch": "7"})
    assert not new
    assert again == batch
    with pytest.raises(BatchError, match="already in the ledger"):
        written(path, {**CARROTS, "batch": "7", "jars": "8"})
    with Ledger.open(path) as ledger:
        assert ledger.batches() == [batch]


def test_batches_without_a_name_are_never_taken_for_one_another(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    found = [written(path, CARROTS) for _ in range(3)]
    assert all(new for _, new in found)
    with Ledger.open(path) as ledger:
        assert ledger.batches() == [batch for batch, _ in found]


def test_a_name_that_another_process_took_meanwhile_is_made_up_anew(
    tmp_path: Path,
) -> None:
    path = tmp_path / "ledger.sqlite3"
    with Work(path) as work:
        assert work.kitchen.batches == []
        written(path, {**CARROTS, "jars": "3"})  # with other values, and with the same
        written(path, CARROTS)
        batch, new = write_down(work, make_entry(CARROTS, TODAY), named=False)
    assert new
    with Ledger.open(path) as ledger:
        names = [batch.batch for batch in ledger.batches()]
    assert len(names) == len(set(names)) == 3
    assert batch.batch == names[-1]


def test_the_name_of_a_withdrawn_batch_is_not_made_up_again(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    first, _ = written(path, CARROTS)
    with Ledger.open(path, writing=True) as ledger:
        withdraw(ledger, first.batch)
    second, new = written(path, CARROTS)
    assert new
    assert second.batch != first.batch


def test_a_batch_that_is_open_is_not_written_down_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        begin(ledger, "mine", {"produce": "carrot"})
    with pytest.raises(BatchError, match="is open; 'jarcast close'"):
        written(path, {**CARROTS, "batch": " mine "})
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
        written(tmp_path / "ledger.sqlite3", {**CARROTS, "jars": "0"})
    assert list(tmp_path.iterdir()) == []


def test_two_who_amend_different_values_at_once_lose_neither(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "ledger.sqlite3"
    written(path, {**CARROTS, "batch": "7"})
    really, others = Ledger.to_write, iter([{"sealed": "7"}])

    def write_late(ledger: Ledger) -> None:
        """Somebody else amends between the reading and the writing."""
        if (changes := next(others, None)) is not None:
            amended(path, "7", changes)
        really(ledger)

    monkeypatch.setattr(Ledger, "to_write", write_late)
    entry, changed = amended(path, "7", {"trimmed": "6 lb"})
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
    written(path, {**CARROTS, "batch": "7"}, sure={"jars", "cooked_g"})
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
        written(path, {**CARROTS, "batch": "7"}, sure={"jars"})
    with Ledger.open(path) as ledger:
        assert ledger.batches() == []
