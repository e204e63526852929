"""What can still be read of a damaged ledger goes into a new one, and what cannot is named."""

import datetime as dt
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from random import Random

import pytest

from jarcast.domain.batch import Batch
from jarcast.domain.jars import Jar
from jarcast.errors import LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import withdraw
from jarcast.ledger.own_measures import add_jar
from jarcast.ledger.salvaging import salvage
from jarcast.ledger.steps import begin, steps
from tests.cli.conftest import run_here as run

PAGE = 4096
MANY = 300
OLD = sorted((Path(__file__).parents[1] / "data" / "ledgers").glob("schema-*.sqlite3"))


def batch(number: int, jar: str = "pint") -> Batch:
    return Batch(
        batch=f"b{number}", date=dt.date(2024, 9, 1), produce="beet", jar=(jar,), jars=(3.0,),
        trimmed_g=2000.0 + number, note="x" * 40,
    )  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, dict[str, Batch]]:
    path = tmp_path_factory.mktemp("whole") / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([Entry(batch(number)) for number in range(MANY)], "import")
        add_jar(ledger, Jar("tall", 500.0, 60.0), {})
        ledger.add([Entry(batch(MANY, "tall"))], "record")
        ledger.amend(Entry(batch(5, "quart")))
        withdraw(ledger, "b7")
        begin(ledger, "open", {"produce": "okra"})
        ledger.remember("units", "metric")
        found = {one.batch: one for one in ledger.batches()}
    return path.read_bytes(), found


def test_a_sound_ledger_is_copied_whole(
    made: tuple[bytes, dict[str, Batch]], tmp_path: Path
) -> None:
    raw, before = made
    (tmp_path / "l.sqlite3").write_bytes(raw)
    saved = salvage(tmp_path / "l.sqlite3", tmp_path / "new" / "n.sqlite3")
    assert (saved.batches, saved.missing) == (MANY, ())
    with Ledger.open(saved.path) as ledger:
        assert {one.batch: one for one in ledger.batches()} == before
        assert [one.batch for one in steps(ledger)] == ["open"]
        assert ledger.settings() == {"units": "metric"}
        assert len(ledger.history("b5")) == 2
        assert len(ledger.history("b7")) == 1
    with Ledger.open(saved.path, writing=True) as ledger:
        ledger.add([Entry(batch(1000))], "record")


@pytest.mark.parametrize("old", OLD, ids=lambda path: path.stem)
def test_an_older_ledger_is_copied_too(old: Path, tmp_path: Path) -> None:
    with Ledger.open(old) as ledger:
        before = ledger.batches()
    saved = salvage(old, tmp_path / "n.sqlite3")
    assert saved.missing == ()
    with Ledger.open(saved.path) as ledger:
        assert ledger.batches() == before


def test_nothing_is_overwritten_and_nothing_is_made_of_nothing(tmp_path: Path) -> None:
    (tmp_path / "n.sqlite3").write_text("mine")
    (tmp_path / "l.sqlite3").write_bytes(b"\xa5" * 10000)
    for source, to in (("l", "n"), ("l", "m"), ("none", "m")):
        with pytest.raises(LedgerError):
            salvage(tmp_path / f"{source}.sqlite3", tmp_path / f"{to}.sqlite3")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["l.sqlite3", "n.sqlite3"]


def test_where_the_list_of_tables_is_damaged_too_the_way_is_not_the_one_just_gone(
    made: tuple[bytes, dict[str, Batch]], tmp_path: Path
) -> None:
    raw = bytearray(made[0])
    for start in range(PAGE, len(raw), PAGE):
        raw[start + 8 : start + PAGE] = b"\xff" * (PAGE - 8)
    (tmp_path / "l.sqlite3").write_bytes(raw)
    with pytest.raises(LedgerError, match=r"not one batch .* can be read, .* was not made") as told:
        salvage(tmp_path / "l.sqlite3", tmp_path / "n.sqlite3")
    assert "--salvage" not in str(told.value)
    assert not (tmp_path / "n.sqlite3").exists()


def test_every_batch_that_stands_is_as_it_was_or_named(
    made: tuple[bytes, dict[str, Batch]], tmp_path: Path
) -> None:
    """One page after another is overwritten; what is copied is compared value by value."""
    raw, before = made
    draw, told, few = Random(3), 0, 0  # noqa: S311 (which pages, no secrets)
    path, to = tmp_path / "l.sqlite3", tmp_path / "n.sqlite3"
    for page in range(1, len(raw) // PAGE):
        junk = bytes(PAGE) if page % 2 else draw.randbytes(PAGE)
        path.write_bytes(raw[: page * PAGE] + junk + raw[(page + 1) * PAGE :])
        with suppress(FileNotFoundError):
            to.unlink()
        try:
            saved = salvage(path, to)
        except LedgerError:
            assert not to.exists()
            continue
        with Ledger.open(to) as ledger:
            after = {one.batch: one for one in ledger.batches()}
        named = " ".join(saved.missing)
        unknown = "which ones is not known" in named or "its name cannot be read" in named
        unknown = unknown or "perhaps some versions" in named
        for name, one in before.items():
            if name not in after:
                assert f"batch '{name}'" in named or unknown, (page, name, saved.missing)
            elif after[name] != one:
                assert unknown, (page, name, saved.missing)
        extra = set(after) - set(before)
        assert extra <= {"b7"}
        assert not extra or "may be back" in named, (page, saved.missing)
        told += len(after) == len(before)
        few += len(after) < MANY - 100  # a page has some forty of their rows
    assert few < 5  # the pages that lead to the others
    assert told > 3  # pages of indexes, and others that cost no batch


def test_a_changed_batch_is_copied_and_told(
    made: tuple[bytes, dict[str, Batch]], tmp_path: Path
) -> None:
    path = tmp_path / "l.sqlite3"
    path.write_bytes(made[0])
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute("DROP TRIGGER reading_no_update")
        raw.execute("UPDATE reading SET trimmed_g = 1.0 WHERE batch_id = ?", (MANY + 1,))
    ran = run("restore", "--salvage", str(tmp_path / "n.sqlite3"), "--ledger", str(path), "--json")
    assert ran.code == 0, ran.err
    assert ran.document["batches"] == MANY
    (told,) = ran.document["missing"]
    assert "compare with your notes" in told
    assert f"'b{MANY}'" in told
    assert run("batches", "--ledger", str(tmp_path / "n.sqlite3")).code == 0
    text = run("restore", "--salvage", str(tmp_path / "m.sqlite3"), "--ledger", str(path))
    assert f"{MANY} batches copied" in text.out
    assert run("restore", "x", "--salvage", str(tmp_path / "o.sqlite3")).code == 2
