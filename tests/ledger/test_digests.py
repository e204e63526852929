"""What was changed past the triggers is noticed by the digest of the action that wrote it."""

import datetime as dt
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from jarcast.domain.batch import Batch
from jarcast.errors import LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import withdraw

OLD = Path(__file__).resolve().parents[1] / "data" / "ledgers"


def entry(name: str, weight: float = 2500.0) -> Entry:
    return Entry(
        Batch(
            batch=name, date=dt.date(2024, 9, 1), produce="beet", jar=("pint",), jars=(3.0,),
            trimmed_g=weight,
        )
    )  # fmt: skip


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "ledger.sqlite3"
    with Ledger.open(found, writing=True) as ledger:
        ledger.add([entry("a"), entry("b")], "import")
        ledger.add([entry("c")], "record")
        withdraw(ledger, "b")
        ledger.remember("units", "us")
        ledger.add([entry("d"), entry("e")], "import")
    return found


def change(path: Path, statements: Sequence[str]) -> None:
    """Change a ledger as a hand can that puts the triggers back."""
    with closing(sqlite3.connect(path)) as raw, raw:
        kept = raw.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in kept:
            raw.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            raw.execute(statement)
        for _, sql in kept:
            raw.execute(sql)


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("UPDATE reading SET trimmed_g = 2500.0000000000005 WHERE id = 3", "of batch 'c'"),
        ("UPDATE reading SET note = 'x' WHERE id = 1", "of batch 'a', 'b'"),
        ("UPDATE batch SET name = 'C' WHERE id = 3", "of batch 'C'"),
        ("UPDATE setting SET value = 'metric'", "was changed"),
        ("UPDATE action SET at = '2020-01-01T00:00:00+00:00' WHERE id = 2", "of batch 'c'"),
        ("UPDATE action SET kind = 'import' WHERE id = 2", "of batch 'c'"),
        ("UPDATE action SET digest = 'x' WHERE id = 2", "of batch 'c'"),
        ("UPDATE action SET digest = NULL WHERE id = 2", "was changed"),
        ("UPDATE action SET digest = NULL WHERE id = 5", "of batch 'd', 'e' has no digest"),
        ("UPDATE reading SET action_id = 1 WHERE id = 5", "was changed"),
        ("DELETE FROM reading WHERE id = 5;DELETE FROM batch WHERE id = 5", "of batch 'd' was"),
    ],
)
@pytest.mark.parametrize("writing", [False, True])
def test_a_change_past_the_triggers_is_named_with_its_batch(
    path: Path, statement: str, named: str, writing: bool
) -> None:
    change(path, statement.split(";"))
    before = path.read_bytes()
    with pytest.raises(LedgerError, match="is damaged: what was entered on") as caught:
        Ledger.open(path, writing=writing)
    assert named in str(caught.value)
    assert path.read_bytes() == before


def test_what_an_older_jarcast_wrote_is_kept_by_the_first_digest_after_it(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    path.write_bytes(min(OLD.glob("schema-*.sqlite3")).read_bytes())
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([entry("new")], "record")
    with Ledger.open(path) as ledger:
        assert "new" in [batch.batch for batch in ledger.batches()]
    change(path, ["UPDATE reading SET note = 'other' WHERE id = 1"])
    with pytest.raises(LedgerError, match="was changed since it was written"):
        Ledger.open(path)


def test_an_action_that_wrote_nothing_or_failed_leaves_the_digests_right(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        ledger.remember("units", "us")
        with pytest.raises(LedgerError), ledger.writing("record"):
            ledger.execute("INSERT INTO batch (name) VALUES ('z'), ('z')")
        ledger.add([entry("f")], "record")
    with Ledger.open(path) as ledger:
        assert ledger.rows("SELECT id FROM action WHERE digest IS NULL") == []
        assert len(ledger.batches()) == 5


def test_a_digest_is_the_same_by_another_way_of_counting(tmp_path: Path) -> None:
    """SHA-256 over the rows as the module's text says, put together by hand (FIPS 180-4)."""
    import hashlib

    path = tmp_path / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.remember("units", "us")
        ((at, version, digest),) = ledger.rows("SELECT at, version, digest FROM action")
    rows = f"(1, 1, '{at}', 'setting', '{version}', None)(1, 1, 'units', 'us')"
    assert digest == "4:" + hashlib.sha256(rows.encode("ascii")).hexdigest()[:32]
