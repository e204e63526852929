"""jarcast restore: back to a copy, with nothing overwritten on the way."""

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from jarcast.errors import LedgerError
from jarcast.ledger import Ledger, restoring
from jarcast.ledger.backups import copies, folder_of, make_copy
from jarcast.ledger.restoring import restore

from .conftest import content, one_sentence

pytestmark = pytest.mark.xdist_group("alone")

Run = Callable[..., Any]


@pytest.fixture
def copied(filled: Path, run: Run) -> Path:
    """A ledger with a copy from before its last entry."""
    make_copy(filled, "daily")
    assert run("amend", "c1", "jars=9").code == 0
    return filled


def name_of_copy(path: Path, why: str = "daily") -> str:
    (name,) = [copy.name for copy in copies(path) if copy.why == why]
    return name


def damage(path: Path) -> bytes:
    raw = bytearray(path.read_bytes())
    raw[4096:] = b"\xa5" * (len(raw) - 4096)  # all but the first page
    path.write_bytes(raw)
    return bytes(raw)


def test_without_a_name_the_copies_are_listed(copied: Path, run: Run) -> None:
    broken = folder_of(copied) / "2024-08-01-080000-daily.sqlite3"
    broken.write_bytes(b"SQLite format 3\0" + b"x" * 5000)
    ran = run("restore")
    assert ran.code == 0
    first, second = ran.out.splitlines()[1:3]
    assert first.startswith(copies(copied)[0].name)
    assert first.split()[-2:] == ["3", "yes"]
    assert second.startswith("2024-08-01-080000-daily  2024-08-01 08:00")
    assert "no: " in second
    documents = run("restore", "--json").document["copies"]
    assert [(one["batches"], one["sound"]) for one in documents] == [(3, True), (None, False)]
    assert [one["made"][:10] for one in documents][1] == "2024-08-01"


def test_where_there_are_none_it_says_so(filled: Path, run: Run) -> None:
    ran = run("restore")
    assert ran.code == 0
    assert "There are no copies" in ran.out
    assert run("restore", "--json").document["copies"] == []


def test_a_copy_comes_back_and_what_stood_is_set_aside(copied: Path, run: Run) -> None:
    now = content(copied)
    wanted = next(copy for copy in copies(copied)).path
    then = content(wanted)
    assert then != now
    ran = run("restore", name_of_copy(copied))
    assert ran.code == 0, ran.err
    assert content(copied) == then
    aside = next(copy for copy in copies(copied) if copy.why == "set-aside")
    assert str(aside.path) in ran.out
    assert content(aside.path) == now
    assert wanted.exists()
    # And the same way forward again: the second thought costs nothing either.
    document = run("restore", aside.name, "--json").document
    assert document["copy"] == aside.name
    assert content(copied) == now
    with Ledger.open(copied) as ledger:
        assert ledger.rows("PRAGMA integrity_check") == [("ok",)]


def test_a_name_that_is_no_copy_is_refused(copied: Path, run: Run) -> None:
    before = copied.read_bytes()
    for name in ("nope", "", "../ledger.sqlite3", str(copied), "2024-13-99-000000-daily"):
        ran = run("restore", name)
        one_sentence(ran)
        assert "'jarcast restore' lists them" in ran.err
    assert copied.read_bytes() == before


def test_a_copy_that_is_not_sound_is_refused(copied: Path, run: Run) -> None:
    damage(next(copy.path for copy in copies(copied)))
    before = content(copied)
    ran = run("restore", name_of_copy(copied))
    one_sentence(ran)
    assert "cannot be restored" in ran.err
    assert content(copied) == before


def test_a_copy_by_a_newer_jarcast_is_refused(copied: Path, run: Run) -> None:
    with closing(sqlite3.connect(copies(copied)[0].path)) as raw:
        raw.execute("PRAGMA user_version = 99")
    ran = run("restore", name_of_copy(copied))
    one_sentence(ran)
    assert "a newer jarcast wrote it" in ran.err


def test_while_another_writes_nothing_is_restored(copied: Path) -> None:
    name = name_of_copy(copied)
    with Ledger.open(copied, writing=True) as ledger, ledger.writing("record") as action:
        ledger.execute("INSERT INTO setting (action_id, key, value) VALUES (?, 'a', 'b')", action)
        with pytest.raises(LedgerError, match="another jarcast is writing"):
            restore(copied, name, wait_seconds=0.05)
    with Ledger.open(copied) as ledger:
        assert ledger.setting("a") == "b"
    assert [copy.why for copy in copies(copied)] == ["daily"]


def test_a_failure_to_set_aside_leaves_the_ledger_as_it_is(
    copied: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*args: Any, **kwargs: Any) -> None:
        raise OSError(28, "No space left on device")

    before = content(copied)
    monkeypatch.setattr(restoring, "make_copy", failing)
    with pytest.raises(LedgerError, match="No space left"):
        restore(copied, name_of_copy(copied))
    assert content(copied) == before


_WAITS = """
import sys
from jarcast.ledger import Ledger
with Ledger.open(sys.argv[1], writing=True) as ledger:
    print("open", flush=True)
    sys.stdin.readline()
    ledger.remember("after", "restoring")
"""


def test_a_process_that_had_the_ledger_open_writes_into_the_restored_one(copied: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", _WAITS, copied],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        restore(copied, name_of_copy(copied))
        _, said = other.communicate("\n", timeout=30)
    assert said == ""
    with Ledger.open(copied) as ledger:
        assert ledger.setting("after") == "restoring"
        found = ledger.find("c1")
    assert found is not None
    assert found.batch.jars == (9.5,)


# Damaged


def test_a_damaged_ledger_says_so_names_the_newest_sound_copy_and_comes_back(
    copied: Path, run: Run
) -> None:
    good, name = content(copies(copied)[0].path), name_of_copy(copied)
    raw = damage(copied)
    newer = folder_of(copied) / "2999-01-01-000000-daily.sqlite3"
    newer.write_bytes(raw)  # the newest copy is not sound, and is passed over
    for typed in (("batches",), ("record", "--produce", "okra", "--jar", "pint", "--jars", "3")):
        ran = run(*typed)
        one_sentence(ran)
        assert "is damaged" in ran.err
        assert f"'jarcast restore {name}'" in ran.err
    assert copied.read_bytes() == raw
    ran = run("restore", name)
    assert ran.code == 0, ran.err
    assert content(copied) == good
    (aside,) = [copy for copy in copies(copied) if copy.why == "set-aside"]
    assert aside.path.read_bytes() == raw
    assert not aside.sound


@pytest.mark.parametrize("rest", [b"", b"Dear aunt, the beets are in.", b"\0" * 20_000])
def test_a_ledger_that_is_no_database_any_more_comes_back(
    copied: Path, run: Run, rest: bytes
) -> None:
    good, name = content(copies(copied)[0].path), name_of_copy(copied)
    copied.write_bytes(rest)
    if not rest:  # SQLite itself folds the log into any other file, or throws it away as none
        copied.with_name(copied.name + "-wal").write_bytes(b"left lying there")
    ran = run("batches")
    one_sentence(ran)
    assert f"'jarcast restore {name}'" in ran.err
    assert run("restore", name).code == 0
    assert content(copied) == good
    assert [path.name for path in copied.parent.glob("ledger.sqlite3-*")] == []
    kept = {path.read_bytes() for path in folder_of(copied).glob("*set-aside*")}
    assert kept == {rest or b"left lying there"}
    assert copied.stat().st_mode & 0o777 == 0o600


# https://sqlite.org/fileformat2.html, 1.3: which bytes of the header say what
@pytest.mark.parametrize(
    ("at", "what"),
    [
        (0, "the first letter of its first words"), (16, "page size"), (19, "version to read"),
        (20, "bytes reserved"), (28, "pages of the file"), (47, "format of the schema"),
        (59, "encoding"),
        (68, "whose file it is"), (71, "whose file it is"), (100, "kind of the first page"),
    ],
)  # fmt: skip
def test_a_ledger_with_a_damaged_header_comes_back_and_is_kept_byte_for_byte(
    copied: Path, run: Run, at: int, what: str
) -> None:
    assert what
    good, name = content(copies(copied)[0].path), name_of_copy(copied)
    raw = bytearray(copied.read_bytes())
    raw[at] ^= 0xFF
    copied.write_bytes(raw)
    for typed in (("batches",), ("record", "--produce", "okra", "--jar", "pint", "--jars", "3")):
        ran = run(*typed)
        one_sentence(ran)
        assert f"'jarcast restore {name}'" in ran.err
    assert copied.read_bytes() == raw
    ran = run("restore", name)
    assert ran.code == 0, ran.err
    assert content(copied) == good
    (aside,) = [copy for copy in copies(copied) if copy.why == "set-aside"]
    assert aside.path.read_bytes() == raw


@pytest.mark.parametrize("at", [18, 44, 63, 92, 96])
def test_no_byte_of_the_header_keeps_a_copy_from_coming_back(
    copied: Path, run: Run, at: int
) -> None:
    """Some hinder only writing, or nothing; 63 makes it the ledger of a newer jarcast."""
    good, name, raw = content(copies(copied)[0].path), name_of_copy(copied), copied.read_bytes()
    copied.write_bytes(raw[:at] + bytes([raw[at] ^ 0xFF]) + raw[at + 1 :])
    ran = run("restore", name)
    assert ran.code == 0, ran.err
    assert content(copied) == good
    assert len([copy for copy in copies(copied) if copy.why == "set-aside"]) == 1


def test_a_damaged_ledger_that_a_process_has_open_is_written_over_and_not_renamed(
    copied: Path,
) -> None:
    """Else that process would go on writing into a file that nobody finds again."""
    with subprocess.Popen(
        [sys.executable, "-c", _WAITS, copied],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        with closing(sqlite3.connect(copied)) as raw:
            raw.execute("PRAGMA application_id = 7")
            raw.execute("PRAGMA wal_checkpoint")
        restore(copied, name_of_copy(copied))
        _, said = other.communicate("\n", timeout=30)
    assert said == ""
    with Ledger.open(copied) as ledger:
        assert ledger.setting("after") == "restoring"


def test_a_ledger_that_is_gone_is_not_begun_anew_over_its_copies(copied: Path, run: Run) -> None:
    good = content(copies(copied)[0].path)
    copied.unlink()
    for typed in (("batches",), ("record", "--produce", "okra", "--jar", "pint", "--jars", "3")):
        ran = run(*typed)
        one_sentence(ran)
        assert "is gone or empty" in ran.err
    assert run("restore", name_of_copy(copied)).code == 0
    assert content(copied) == good
    copied.unlink()
    shutil.move(folder_of(copied), copied.with_name("elsewhere"))
    assert run("record", "--produce", "okra", "--jar", "pint", "--jars", "3").code == 0


def test_another_program_s_file_is_not_restored_over(copied: Path, run: Run) -> None:
    name = name_of_copy(copied)
    copied.unlink()
    with closing(sqlite3.connect(copied)) as raw, raw:
        raw.execute("CREATE TABLE stamps (name)")
    before = copied.read_bytes()
    ran = run("restore", name)
    one_sentence(ran)
    assert "another program" in ran.err
    assert copied.read_bytes() == before
