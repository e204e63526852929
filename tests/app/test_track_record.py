"""What was entered of a ledger, version by version."""

import datetime as dt
from pathlib import Path

from jarcast.app.track_record import entered
from jarcast.domain.batch import Batch
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import withdraw


def test_a_mark_on_a_batch_whose_entry_was_taken_back_is_passed_over(tmp_path: Path) -> None:
    batch = Batch(
        batch="b1", date=dt.date(2024, 8, 31), produce="beet", jar=("pint",), jars=(5.0,)
    )  # fmt: skip
    with Ledger.open(tmp_path / "ledger.sqlite3", writing=True) as ledger:
        ledger.add([Entry(batch)], "record")
        withdraw(ledger, "b1")
        assert [(one.batch.batch, one.withdrawn) for one in entered(ledger)] == [
            ("b1", False), ("b1", True),
        ]  # fmt: skip
        with ledger.writing("undo") as action:
            ledger.execute("INSERT INTO undone (action_id, undoes) VALUES (?, 1)", action)
        assert entered(ledger) == []
