"""Damage: a ledger is read whole or refused, and what is refused is left as it is."""

import datetime as dt
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from jarcast.domain.batch import Batch
from jarcast.errors import BatchError, LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger import connection as opening
from jarcast.ledger.annotations import confirm, withdraw
from jarcast.ledger.backups import DAILY, folder_of, make_copy
from jarcast.ledger.restoring import restore
from jarcast.ledger.schema import MIGRATIONS, SCHEMA

from .conftest import LOOKING, content, one_sentence

Run = Callable[..., Any]
MANY = 3001
TYPED = ("record", "--produce", "okra", "--jar", "pint", "--jars", "3")


def batch(name: str, jars: float = 3.0) -> Entry:
    day = dt.date(2020, 1, 1) + dt.timedelta(days=int(jars))
    one = Batch(batch=name, date=day, produce="beet", jar=("pint",), jars=(jars,), trimmed_g=400.0)
    return Entry(one, {"trimmed_g": "400 g"})


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A ledger of many batches, all annotations and versions in it."""
    path = tmp_path_factory.mktemp("large") / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch(f"b{number}", 1.0 + number % 9) for number in range(MANY)], "import")
        for number in range(0, 60, 3):
            ledger.amend(batch(f"b{number}", 11.0))
            confirm(ledger, f"b{number}", ["jars"])
            withdraw(ledger, f"b{number + 1}")
    return path.read_bytes()


def everything(path: Path) -> list[object]:
    with Ledger.open(path) as ledger:
        return [ledger.entries(), ledger.readings()]


def attempt(path: Path) -> tuple[list[object] | None, str]:
    """All that is read, or what it is refused with."""
    try:
        return everything(path), ""
    except LedgerError as error:
        return None, str(error)


def damages(raw: bytes) -> Iterator[tuple[str, bytes]]:
    """The same ledger damaged in many ways, each said."""
    draw = random.Random(16)  # noqa: S311 (no secrets)
    for at in range(4096, len(raw), len(raw) // 40):
        yield f"300 bytes at {at}", raw[:at] + b"\xa5" * 300 + raw[at + 300 :]
    for _ in range(40):
        at = draw.randrange(4096, len(raw) - 300)
        yield f"300 random bytes at {at}", raw[:at] + draw.randbytes(300) + raw[at + 300 :]
    pages = len(raw) // 4096
    for _ in range(20):  # a page that was never written, or one from elsewhere
        to, source = (4096 * draw.randrange(1, pages) for _ in range(2))
        yield f"page {to} from {source}", raw[:to] + raw[source : source + 4096] + raw[to + 4096 :]
    for _ in range(10):
        at = 4096 * draw.randrange(1, pages)
        yield f"zeros at {at}", raw[:at] + bytes(4096) + raw[at + 4096 :]
    for keep in (1, pages // 2, pages - 1):
        yield f"cut to {keep} pages", raw[: 4096 * keep]


def test_a_damaged_ledger_is_read_whole_or_refused_and_left_as_it_is(
    large: bytes, tmp_path: Path
) -> None:
    path = tmp_path / "ledger.sqlite3"
    path.write_bytes(large)
    whole = everything(path)
    ends = {"whole": 0, "refused": 0}
    for what, raw in damages(large):
        path.write_bytes(raw)
        found, said = attempt(path)
        if found is None:
            assert re.search("damaged.* go back to an earlier copy", said), (what, said)
            ends["refused"] += 1
            with pytest.raises(LedgerError, match="damaged"):
                Ledger.open(path, writing=True)
        else:
            assert found == whole, f"{what}: other rows, and nothing said"
            ends["whole"] += 1
        assert path.read_bytes() == raw, what
        assert [file.name for file in tmp_path.iterdir()] == [path.name], what
    assert sum(ends.values()) > 100
    assert ends["refused"] > 60  # else the damage missed what it was to hit


def test_a_schema_whose_names_are_no_text_is_damage(large: bytes, tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    path.write_bytes(large.replace(b"indexreading_of_batch", b"indexreading_of_b\xcea\xffx"))
    assert path.read_bytes() != large
    for writing in (False, True):
        with pytest.raises(LedgerError, match=r"damaged.* go back to an earlier copy"):
            Ledger.open(path, writing=writing)


def test_an_undo_of_itself_written_by_hand_sends_nothing_round_for_ever(
    filled: Path, run: Run
) -> None:
    with closing(sqlite3.connect(filled)) as raw, raw:
        raw.execute(
            "INSERT INTO action (at, kind, version) "
            "VALUES ('2024-09-01T08:00:00+00:00', 'undo', '0')"
        )
        last = raw.execute("SELECT max(id) FROM action").fetchone()[0]
        raw.execute("INSERT INTO undone (action_id, undoes) VALUES (?, ?)", (last, last))
    ran = run("batches")
    assert ran.code == 1
    assert "1 of its undos are of what came later" in ran.err


def test_every_command_refuses_a_damaged_ledger_with_the_way_back(
    filled: Path, run: Run, large: bytes
) -> None:
    filled.write_bytes(large)
    copy = make_copy(filled, DAILY)
    filled.write_bytes(large[:200_000] + b"\xa5" * 300 + large[200_300:])
    raw = filled.read_bytes()
    for typed in (*(line for line in LOOKING if line != ("restore",)), TYPED):
        ran = run(*typed)
        one_sentence(ran)
        assert "damaged" in ran.err
        assert f"jarcast restore {copy.stem}" in ran.err
        assert ran.out == ""
    assert filled.read_bytes() == raw
    assert run("restore", copy.stem).code == 0
    assert f"{MANY - 20} batches" in run("export", "out.csv").out


# As an older jarcast left it: what changed is then found by what it says, if it is.
NO_DIGESTS = "UPDATE action SET digest = NULL"


def without_triggers(raw: sqlite3.Connection, *statements: str) -> None:
    """What a hand can do that puts the triggers back after."""
    triggers = raw.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        raw.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        raw.execute(statement)
    for _, sql in triggers:
        raw.execute(sql)


@pytest.mark.parametrize(
    "statements",
    [
        ("DELETE FROM batch WHERE id > 2",),
        ("DELETE FROM reading WHERE id > 2",),
        ("DELETE FROM reading WHERE id = 2",),
        ("DELETE FROM batch WHERE id = 1", "DELETE FROM reading WHERE batch_id = 1"),
        ("DELETE FROM batch WHERE id = 3", "DELETE FROM reading WHERE batch_id = 3"),
        ("DELETE FROM withdrawal",),
        ("DELETE FROM action WHERE id > 1",),
        ("DELETE FROM setting",),
        ("UPDATE reading SET batch_id = 1 WHERE id = 2",),
    ],
    ids=lambda statements: statements[0],
)
def test_rows_that_went_are_noticed(tmp_path: Path, run: Run, statements: tuple[str, ...]) -> None:
    path = tmp_path / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        for number in range(4):
            ledger.add([batch(f"b{number}")], "record")
        withdraw(ledger, "b3")
        ledger.remember("units", "us")
    with closing(sqlite3.connect(path)) as raw, raw:
        without_triggers(raw, *statements)
    before = path.read_bytes()
    for typed in (("export",), ("batches",), ("habits",), TYPED):
        ran = run(*typed, "--ledger", str(path))
        one_sentence(ran)
        assert "is damaged: " in ran.err
        assert "gone" in ran.err
    assert path.read_bytes() == before


def test_what_is_tried_and_undone_leaves_no_gap(tmp_path: Path) -> None:
    """Conflicts, refusals, roll-backs: none uses up an id, so that a gap always is damage."""
    path = tmp_path / "ledger.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch("a"), batch("b"), batch("a")], "import")
        ledger.add([batch("b"), batch("c"), batch("a"), batch("d")], "import")
        for other in ([batch("new"), batch("a", 5.0)], [batch("x"), batch("x", 5.0)]):
            with pytest.raises(BatchError, match="already in the ledger"):
                ledger.add(other, "import")

        def cut_off() -> None:
            with ledger.writing("record") as action:
                ledger.insert(batch("e"), action)
                raise RuntimeError("the power went")

        with pytest.raises(RuntimeError):
            cut_off()
        assert not ledger.amend(batch("a"))
        withdraw(ledger, "c")
        ledger.remember("units", "us")
        ledger.remember("units", "us")
        ledger.add([batch("f")], "record")
        names = ledger.rows("SELECT id, name FROM batch ORDER BY id")
    assert names == [(1, "a"), (2, "b"), (3, "c"), (4, "d"), (5, "f")]
    assert [len(found) for found in everything(path)] == [4, 5]  # type: ignore[arg-type]


# Altered cells

SO_FAR = """'{"jars": 2.0, "colour": 3}'"""


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reading SET jar = 'bathtub'",
        "UPDATE reading SET typed = '{\"trimmed_g\": 5}'",
        "UPDATE reading SET trimmed_g = 9e999",
        "UPDATE reading SET date = 'someday'",
        "UPDATE action SET at = 'yesterday'",
        "UPDATE confirmation SET \"column\" = 'colour'",
        f"UPDATE step SET kind = 'pack', cells = {SO_FAR} WHERE id = 2",  # noqa: S608
        "UPDATE step SET typed = '{\"produce\": 5}'",
        "UPDATE step SET cells = '{\"sure\": [5]}'",
        "UPDATE step SET cells = '{\"sure\": 5}'",
        "UPDATE step SET kind = 'dance'",
        "UPDATE own_jar SET capacity_ml = 9e999",
        "UPDATE own_jar SET capacity_ml = -1",
        "UPDATE own_jar SET typed = '{\"water\": 5}'",
        "UPDATE reading SET note = CAST(x'ff' AS TEXT)",
        "PRAGMA user_version = -3",
    ],
)
def test_a_cell_that_cannot_be_is_damage_with_the_way_back(
    filled: Path, run: Run, statement: str
) -> None:
    assert run("kitchen", "jars", "add", "tall jar", "--water", "415 g").code == 0
    assert run("amend", "c1", "--as-is", "jars").code == 0
    assert run("pack", "--jars", "1", "--batch", "one").code == 0
    copy = make_copy(filled, DAILY)
    with closing(sqlite3.connect(filled)) as raw, raw:
        without_triggers(raw, NO_DIGESTS, statement)
    before = filled.read_bytes()
    ends = []
    looks = [*LOOKING, ("report", "page.html"), ("history", "c1"), ("history", "one")]
    for typed in (line for line in looks if line != ("restore",)):
        ran = run(*typed)
        ends.append(ran.code)
        if ran.code:
            one_sentence(ran)
            assert "is damaged: " in ran.err, (typed, ran.err)
            assert f"jarcast restore {copy.stem}" in ran.err
    assert 1 in ends
    assert filled.read_bytes() == before


# Planted

ENDLESS = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT count(*) FROM n"


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        (
            "CREATE TRIGGER t BEFORE INSERT ON reading BEGIN SELECT RAISE(IGNORE); END",
            "trigger 't'",
        ),
        (f"CREATE TRIGGER slow AFTER INSERT ON action BEGIN {ENDLESS}; END", "trigger 'slow'"),
        (f"DROP VIEW standing; CREATE VIEW standing AS {ENDLESS}", "view 'standing'"),
        (
            "DROP VIEW standing; CREATE VIEW standing AS SELECT reading.*, 2 AS twice FROM reading",
            "view 'standing'",
        ),
        ("CREATE VIEW mine AS SELECT 1", "view 'mine'"),
        ("CREATE TABLE mine (id)", "table 'mine'"),
        ("CREATE INDEX mine ON reading (date)", "index 'mine'"),
        ("DROP TRIGGER batch_no_replace", "trigger 'batch_no_replace' is missing"),
        ("DROP INDEX reading_of_batch", "index 'reading_of_batch' is missing"),
        ("ALTER TABLE reading ADD COLUMN mine TEXT", "table 'reading' is not as jarcast made it"),
    ],
)
def test_what_is_planted_or_missing_is_named_and_nothing_of_it_runs(
    filled: Path, run: Run, statement: str, named: str
) -> None:
    copy = make_copy(filled, DAILY)
    with closing(sqlite3.connect(filled)) as raw:
        raw.executescript(statement)
    before = filled.read_bytes()
    for typed in (("batches",), ("export",), TYPED):
        ran = run(*typed)
        one_sentence(ran)
        assert named in ran.err
        assert f"jarcast restore {copy.stem}" in ran.err
    assert filled.read_bytes() == before
    planted = copy.with_name("2999-01-01-000000-daily.sqlite3")
    shutil.copyfile(filled, planted)  # nor is a copy of it offered, or looked into for ever
    assert f"jarcast restore {copy.stem}" in run("batches").err
    assert run("restore", copy.stem).code == 0
    assert run("batches").code == 0


def test_what_sqlite_notes_for_itself_is_no_matter(filled: Path, run: Run) -> None:
    with closing(sqlite3.connect(filled)) as raw:
        raw.execute("ANALYZE")
        assert raw.execute("SELECT count(*) FROM sqlite_stat1").fetchone()[0] > 0
    assert run("batches").code == 0
    assert run(*TYPED).code == 0


@pytest.mark.parametrize("version", range(1, SCHEMA))
def test_an_older_ledger_is_compared_with_what_its_schema_was(
    tmp_path: Path, run: Run, version: int
) -> None:
    source = Path(__file__).parents[1] / "data" / "ledgers" / f"schema-{version}.sqlite3"
    path = Path(shutil.copyfile(source, tmp_path / "ledger.sqlite3"))
    assert run("batches", "--ledger", str(path)).code == 0
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("DROP TRIGGER reading_no_delete")
    for typed in (("batches",), TYPED):
        ran = run(*typed, "--ledger", str(path))
        one_sentence(ran)
        assert "trigger 'reading_no_delete' is missing" in ran.err


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        ('UPDATE reading SET typed = \'{"jars"; "8"}\' WHERE id = 2', "batch 'c1'"),
        ("UPDATE action SET at = '2024-09-41' WHERE id = 1", "when something was entered"),
        ("UPDATE forecast SET answer = '{'", "a forecast kept in it"),
        ("UPDATE step SET cells = '{]'", "a step of a batch in the making"),
        ("UPDATE own_jar SET typed = '{\"water\": 5}'", "what a jar was measured by"),
        ("UPDATE setting SET value = CAST(x'ff' AS TEXT)", "a text in it is not text"),
    ],
)
def test_an_older_ledger_that_cannot_all_be_read_is_not_brought_up_to_date(
    tmp_path: Path, statement: str, what: str
) -> None:
    """Nor is a copy of it made, which would be offered as a sound one."""
    source = Path(__file__).parents[1] / "data" / "ledgers" / "schema-3.sqlite3"
    path = Path(shutil.copyfile(source, tmp_path / "ledger.sqlite3"))
    with closing(sqlite3.connect(path)) as raw, raw:
        without_triggers(raw, statement)
    before = path.read_bytes()
    with pytest.raises(LedgerError, match=re.escape(what)) as refused:
        Ledger.open(path, writing=True)
    assert "is damaged: " in str(refused.value)
    assert "go back to an earlier copy" in str(refused.value)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


def test_a_migration_that_would_lose_or_change_a_row_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = Path(__file__).parents[1] / "data" / "ledgers" / "schema-3.sqlite3"
    for statement in ("DELETE FROM setting", "UPDATE reading SET trimmed_g = 2501.0 WHERE id = 2"):

        def losing(connection: sqlite3.Connection, statement: str = statement) -> None:
            without_triggers(connection, statement)
            MIGRATIONS[-1](connection)

        path = Path(shutil.copyfile(source, tmp_path / "ledger.sqlite3"))
        before = path.read_bytes()
        with monkeypatch.context() as patched:
            patched.setattr("jarcast.ledger.schema.MIGRATIONS", (*MIGRATIONS[:-1], losing))
            table = "reading" if "reading" in statement else "setting"
            with pytest.raises(LedgerError, match=f"its table '{table}' holds other rows"):
                Ledger.open(path, writing=True)
        assert path.read_bytes() == before


def test_two_tables_or_indexes_that_changed_places_are_noticed(filled: Path, run: Run) -> None:
    """By what they hold, so that only a swap of two that hold the same is let pass.

    Bytes 3 to 6 of a page tell how many cells it has and where they begin; up to its end:
    https://sqlite.org/fileformat2.html, 1.6.
    """

    def held(page: int) -> bytes:
        raw = good[4096 * (page - 1) : 4096 * page]
        return raw[int.from_bytes(raw[5:7], "big") :] if any(raw[3:5]) else b""

    run("kitchen", "jars", "add", "tall jar", "--water", "415 g")
    run("amend", "c1", "--as-is", "jars")
    run("undo")
    with closing(sqlite3.connect(filled)) as raw:
        roots = raw.execute(
            "SELECT name, rootpage FROM sqlite_schema WHERE rootpage > 0"
        ).fetchall()
    good = filled.read_bytes()
    whole = everything(filled)
    refused = 0
    for (one, root), (other, its_root) in combinations(roots, 2):
        filled.write_bytes(good)
        with closing(sqlite3.connect(filled)) as raw, raw:
            raw.execute("PRAGMA writable_schema = ON")
            change = "UPDATE sqlite_schema SET rootpage = ? WHERE name = ?"
            raw.executemany(change, [(its_root, one), (root, other)])
        found, said = attempt(filled)
        if found is None:
            assert "is damaged" in said
            refused += 1
        else:
            assert (found, held(root)) == (whole, held(its_root)), (one, other)
    assert refused > 100


def test_a_file_whose_time_was_set_back_is_looked_at_again(filled: Path) -> None:
    """A process looks once; the time of the last change is not all it goes by."""
    time.sleep(0.1)
    long_ago = 1_600_000_000_000_000_000
    os.utime(filled, ns=(long_ago, long_ago))
    time.sleep(0.1)
    everything(filled)
    raw = bytearray(filled.read_bytes())
    raw[-4096:] = b"\xa5" * 4096
    filled.write_bytes(raw)
    os.utime(filled, ns=(long_ago, long_ago))
    for writing in (False, True):
        with pytest.raises(LedgerError, match="is damaged"):
            Ledger.open(filled, writing=writing)


# Logs of killed processes

_KILLED = """
import datetime as dt, os, signal, sys
from jarcast.domain.batch import Batch
from jarcast.ledger import Entry, Ledger
path, first, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
with Ledger.open(path, writing=True) as ledger:
    for number in range(first, first + count):
        ledger.add([Entry(Batch(batch=f"k{number}", date=dt.date(2024, 8, 1), produce="beet",
                                jar=("pint",), jars=(3.0,), note="x" * 900))], "record")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def kill_after(path: Path, first: int, count: int) -> Path:
    """A process that adds so many batches and is killed; the log that it leaves."""
    ended = subprocess.run([sys.executable, "-c", _KILLED, path, str(first), str(count)])
    assert ended.returncode == -signal.SIGKILL
    log = path.with_name(path.name + "-wal")
    assert log.stat().st_size > 4096
    return log


def test_the_log_of_a_killed_process_is_taken_in(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    kill_after(path, 0, 5)
    kill_after(path, 5, 40)
    with Ledger.open(path) as ledger:
        assert [one.batch for one in ledger.batches()] == [f"k{number}" for number in range(45)]
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("longer", [False, True], ids=["an older copy", "another, longer ledger"])
@pytest.mark.parametrize("count", [3, 40])
def test_a_log_that_is_not_of_the_file_is_never_applied(
    tmp_path: Path, run: Run, longer: bool, count: int, large: bytes
) -> None:
    path, good = tmp_path / "w.sqlite3", tmp_path / "good.sqlite3"
    if longer:
        good.write_bytes(large)
    else:
        with Ledger.open(good, writing=True) as ledger:
            ledger.add([batch(f"g{number}") for number in range(50)], "import")
    before = everything(good)
    log = kill_after(path, 0, count)
    shutil.copyfile(good, path)
    raw, lying = path.read_bytes(), log.read_bytes()
    for typed in (("batches",), ("export",), TYPED, ("batches",)):
        ran = run(*typed, "--ledger", str(path))
        one_sentence(ran)
        assert f"{log.name} lies beside {path} and does not belong to it" in ran.err
        assert f"move {log.name} out of its folder" in ran.err
        assert (path.read_bytes(), log.read_bytes()) == (raw, lying)
    log.rename(tmp_path / "elsewhere")  # as it says
    assert run("batches", "--ledger", str(path)).code == 0
    assert everything(path) == before


def test_an_older_copy_of_the_same_ledger_is_not_mixed_with_a_later_log(
    tmp_path: Path, run: Run
) -> None:
    """The log brings back what came after the copy, or it is refused: never a mixture."""
    path = tmp_path / "w.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch(f"g{number}") for number in range(30)], "import")
    copy = path.read_bytes()
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch(f"h{number}") for number in range(300)], "import")
    log = kill_after(path, 0, 3)
    path.write_bytes(copy)
    lying = log.read_bytes()
    ran = run("batches", "--ledger", str(path))
    one_sentence(ran)
    assert "does not belong to it" in ran.err
    assert (path.read_bytes(), log.read_bytes()) == (copy, lying)


def test_restore_takes_such_a_log_away_and_keeps_both(tmp_path: Path, large: bytes) -> None:
    path = tmp_path / "w.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch("first")], "import")
    copy = make_copy(path, DAILY)
    wanted = content(path)
    log = kill_after(path, 0, 40)
    path.write_bytes(large)
    lying = log.read_bytes()
    done = restore(path, copy.stem)
    assert content(path) == wanted
    assert done.set_aside is not None
    assert done.set_aside.read_bytes() == large
    assert done.set_aside.with_name(done.set_aside.name + "-wal").read_bytes() == lying
    assert not log.exists()


def test_a_restoring_that_was_killed_before_its_log_was_folded_in_is_no_stranger(
    tmp_path: Path,
) -> None:
    """It alone takes rows away; they are in the ledger set aside."""
    path = tmp_path / "w.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch("first")], "import")
    copy = make_copy(path, DAILY)
    wanted = content(path)
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch(f"g{number}") for number in range(300)], "import")
    code = (
        "import os, signal, sqlite3, sys\n"
        "from pathlib import Path\n"
        "from jarcast.ledger import restoring\n"
        "class Killed(sqlite3.Connection):\n"
        "    def close(self):\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
        "def to_write(path, wait_seconds):\n"
        "    return sqlite3.connect(path, isolation_level=None, factory=Killed)\n"
        "restoring._is_sound_or_in_use = lambda path: True\n"
        "restoring._to_write = to_write\n"
        "restoring.restore(Path(sys.argv[1]), sys.argv[2])\n"
    )
    ended = subprocess.run([sys.executable, "-c", code, path, copy.stem])
    assert ended.returncode == -signal.SIGKILL
    assert path.with_name("w.sqlite3-wal").stat().st_size > 4096
    assert content(path) == wanted


def test_a_log_of_earlier_is_not_applied_to_a_damaged_file_that_went_on(tmp_path: Path) -> None:
    path = tmp_path / "w.sqlite3"
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([batch(f"a{number}") for number in range(40)], "import")
    log = kill_after(path, 100, 3)
    stale = log.read_bytes()
    with Ledger.open(path, writing=True) as ledger:  # takes the log in
        ledger.add([batch(f"b{number}") for number in range(20)], "import")
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as raw:
        query = "SELECT rootpage FROM sqlite_schema WHERE name = 'reading_of_batch'"
        page = int(raw.execute(query).fetchone()[0])
        size = int(raw.execute("PRAGMA page_size").fetchone()[0])
    damaged = bytearray(path.read_bytes())
    damaged[(page - 1) * size : (page - 1) * size + 300] = b"\xa5" * 300
    path.write_bytes(damaged)
    log.write_bytes(stale)
    for writing in (False, True):
        with pytest.raises(LedgerError, match="does not belong to it"):
            Ledger.open(path, writing=writing)
    assert path.read_bytes() == damaged
    assert log.read_bytes() == stale


def test_a_check_planted_where_sqlite_keeps_its_notes_is_named(filled: Path, run: Run) -> None:
    with closing(sqlite3.connect(filled)) as raw:
        raw.execute("ANALYZE")
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute(
            "UPDATE sqlite_schema SET sql = "
            "'CREATE TABLE sqlite_stat1(tbl,idx,stat, CHECK(length(randomblob(9000000))>1))' "
            "WHERE name = 'sqlite_stat1'"
        )
        raw.commit()
    ran = run("batches")
    assert ran.code == 1
    assert "sqlite_stat1" in ran.err


def test_a_withdrawal_that_lost_a_bit_is_damage(filled: Path, run: Run) -> None:
    first = run("batches", "--json").document["batches"][0]["batch"]
    run("withdraw", first)
    with closing(sqlite3.connect(filled)) as raw, raw:
        trigger = raw.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'withdrawal_no_update'"
        ).fetchone()[0]
        raw.execute("DROP TRIGGER withdrawal_no_update")
        raw.execute("UPDATE withdrawal SET withdrawn = 0")
        raw.execute(trigger)
    ran = run("batches")
    assert ran.code == 1
    assert "withdrawals say two things" in ran.err


def test_a_log_without_its_ledger_is_not_thrown_away(tmp_path: Path, run: Run) -> None:
    path = tmp_path / "w.sqlite3"
    log = kill_after(path, 0, 3)
    lying, main = log.read_bytes(), path.read_bytes()
    for left in ("empty", "gone"):
        path.write_bytes(b"") if left == "empty" else path.unlink()
        for typed in (("batches",), TYPED):
            ran = run(*typed, "--ledger", str(path))
            one_sentence(ran)
            assert f"its log {log} is still there" in ran.err
        assert log.read_bytes() == lying
    path.write_bytes(main)
    assert run("batches", "--ledger", str(path)).code == 0


def test_a_journal_that_is_not_of_the_file_does_not_empty_it(tmp_path: Path, run: Run) -> None:
    """A first making that was killed leaves a journal that says: cut the file to nothing."""
    path, good = tmp_path / "w.sqlite3", tmp_path / "good.sqlite3"
    with Ledger.open(good, writing=True) as ledger:
        ledger.add([batch(f"g{number}") for number in range(50)], "import")
    code = (
        "import os, signal, sqlite3, sys\n"
        "raw = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "raw.execute('PRAGMA cache_size = 1')\n"
        "raw.execute('CREATE TABLE t (x)')\n"
        "raw.execute('BEGIN')\n"
        "raw.executemany('INSERT INTO t VALUES (?)', [('x' * 2000,)] * 50)\n"
        "raw.execute('PRAGMA cache_spill = 1')\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    subprocess.run([sys.executable, "-c", code, path])
    journal = path.with_name("w.sqlite3-journal")
    assert journal.stat().st_size > 512
    shutil.copyfile(good, path)
    raw = path.read_bytes()
    ran = run("batches", "--ledger", str(path))
    one_sentence(ran)
    assert "does not belong to it" in ran.err
    assert path.read_bytes() == raw


@pytest.mark.parametrize("at", [0, 100, 5000, 9000])
def test_a_log_damaged_before_its_last_entries_does_not_lose_them_unsaid(
    tmp_path: Path, run: Run, at: int
) -> None:
    path = tmp_path / "w.sqlite3"
    log = kill_after(path, 0, 30)
    lying = bytearray(log.read_bytes())
    lying[at : at + 300] = b"\xa5" * 300
    log.write_bytes(lying)
    raw = path.read_bytes()
    for typed in (("batches",), TYPED):
        ran = run(*typed, "--ledger", str(path))
        one_sentence(ran)
        assert "entries in its log w.sqlite3-wal cannot be read" in ran.err
    assert (path.read_bytes(), log.read_bytes()) == (raw, bytes(lying))


def test_what_a_killed_process_had_not_finished_is_no_damage(tmp_path: Path) -> None:
    path = tmp_path / "w.sqlite3"
    log = kill_after(path, 0, 30)
    whole = log.read_bytes()
    log.write_bytes(whole[:-2000])  # the last page half there
    names = [one.batch for one in Ledger.open(path).batches()]
    assert names == [f"k{number}" for number in range(29)]


def test_a_ledger_that_is_refused_does_not_get_its_log_folded_in(tmp_path: Path) -> None:
    """The last to close a file folds the log in: https://sqlite.org/wal.html, 2.1."""
    path = tmp_path / "w.sqlite3"
    log = kill_after(path, 0, 5)
    raw, lying = path.read_bytes(), log.read_bytes()
    for close in (opening._close_untouched, lambda connection, _: connection.close()):
        assert (path.read_bytes(), log.read_bytes()) == (raw, lying)
        connection = sqlite3.connect(path)
        assert connection.execute("SELECT count(*) FROM batch").fetchone() == (5,)
        close(connection, path)
    assert not log.exists()  # so that the first way is not kept by chance
    assert path.read_bytes() != raw


_HOLDS = """
import sys
from jarcast.ledger import Ledger
with Ledger.open(sys.argv[1], writing=True) as ledger:
    ledger.remember("units", "metric")
    print("open", flush=True)
    sys.stdin.readline()
"""


def test_a_log_that_a_living_process_holds_is_its_own(filled: Path) -> None:
    """Nobody looks through a copy then: the log may change at any moment."""
    with subprocess.Popen(
        [sys.executable, "-c", _HOLDS, filled], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        assert filled.with_name(filled.name + "-wal").stat().st_size > 0
        began = time.monotonic()
        with Ledger.open(filled) as ledger:
            assert ledger.setting("units") == "metric"
        with Ledger.open(filled, writing=True) as ledger:
            ledger.remember("units", "us")
        assert time.monotonic() - began < 5.0
        other.communicate("\n", timeout=30)
    with Ledger.open(filled) as ledger:
        assert ledger.setting("units") == "us"


@pytest.mark.skipif(os.name != "posix", reason="locks are POSIX's here")
def test_looking_while_this_process_writes_leaves_its_locks(filled: Path) -> None:
    """To close a file ends all locks a process has on it: https://sqlite.org/howtocorrupt.html."""
    code = (
        "import sys; from jarcast.ledger import Ledger\n"
        "try:\n"
        "    with Ledger.open(sys.argv[1], writing=True, wait_seconds=0.05) as ledger:\n"
        "        ledger.remember('a', 'b')\n"
        "except Exception as error:\n"
        "    print(error)\n"
    )
    with Ledger.open(filled, writing=True) as first:
        first.remember("units", "metric")
        with first.writing("record") as action:
            first.insert(batch("mine"), action)
            with Ledger.open(filled) as second:
                assert second.find("mine") is None
            ran = subprocess.run(
                [sys.executable, "-c", code, filled], capture_output=True, text=True
            )
            assert "another jarcast is writing" in ran.stdout, ran
    assert folder_of(filled).exists() is False
