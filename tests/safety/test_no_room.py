"""No room on the disk, and no right to write: a sentence, and the ledger as it was."""

import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from jarcast.ledger import connection as opening

from .conftest import LOOKING, WRITING, content, fill, one_sentence

pytestmark = pytest.mark.xdist_group("alone")

Run = Callable[..., Any]
needs_posix = pytest.mark.skipif(os.name != "posix", reason="file rights are POSIX's here")


@pytest.fixture
def full_by_limit(kitchen: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A ledger that SQLite lets grow by no page: it answers as it does at a full disk.

    https://sqlite.org/pragma.html#pragma_max_page_count
    """
    path = fill(kitchen)
    original = opening.let_write

    def limited(looking: Any, path: Path, wait_seconds: float) -> Any:
        connection = original(looking, path, wait_seconds)
        connection.execute("VACUUM")  # leaves no half-empty page to write on
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages}")
        return connection

    monkeypatch.setattr("jarcast.ledger.store.let_write", limited)
    return path


@pytest.fixture
def small_disk(kitchen: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A disk of half a megabyte with a ledger on it."""
    disk = kitchen / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", str(disk)], capture_output=True
    )
    if mounted.returncode:
        pytest.skip("no mount is allowed here; SQLite's own page limit stands in for it")
    monkeypatch.setenv("JARCAST_LEDGER", str(disk / "ledger.sqlite3"))
    try:
        fill(kitchen)
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_an_import_that_outgrows_the_ledger_s_room_leaves_it_as_it_was(
    full_by_limit: Path, run: Run
) -> None:
    before = content(full_by_limit)
    ran = run("import", "more.csv")
    one_sentence(ran)
    assert "no room left on the disk" in ran.err
    assert content(full_by_limit) == before


@pytest.mark.parametrize("typed", WRITING, ids=lambda typed: typed[0])
def test_every_writing_command_on_a_full_disk_ends_with_a_sentence(
    small_disk: Path, run: Run, typed: tuple[str, ...]
) -> None:
    ledger = small_disk / "ledger.sqlite3"
    before = content(ledger)
    with (small_disk / "ballast").open("wb") as ballast:
        for block in (4096, 512, 1):  # down to the last byte
            try:
                while True:
                    os.write(ballast.fileno(), b"x" * block)
            except OSError:
                continue
    ran = run(*typed)
    one_sentence(ran)
    assert "The ledger is as it was" in ran.err
    (small_disk / "ballast").unlink()
    assert content(ledger) == before
    again = run(*typed) if typed[0] != "import" else run("record", *WRITING[0][1:])
    assert again.code == 0, again.err  # with room it goes on as if nothing had been


def test_on_a_full_disk_the_ledger_is_read_and_exported(
    small_disk: Path, kitchen: Path, run: Run
) -> None:
    before = run("export").out
    with (small_disk / "ballast").open("wb") as ballast:
        for block in (4096, 1):
            try:
                while True:
                    os.write(ballast.fileno(), b"x" * block)
            except OSError:
                continue
    for typed in LOOKING:
        ran = run(*typed)
        assert ran.code == 0, (typed, ran.err)
    assert run("export", str(kitchen / "out.csv")).code == 0
    assert (kitchen / "out.csv").read_bytes().decode() == before


def test_an_import_too_large_for_the_disk_leaves_the_ledger_as_it_was(
    small_disk: Path, run: Run
) -> None:
    before = content(small_disk / "ledger.sqlite3")
    ran = run("import", "more.csv")  # some 400 kB, and the log as much again
    one_sentence(ran)
    assert content(small_disk / "ledger.sqlite3") == before


@needs_posix
def test_where_nothing_may_be_written_every_command_says_so_and_looking_still_works(
    filled: Path, kitchen: Path, as_another: Run
) -> None:
    before, raw = content(filled), filled.read_bytes()
    filled.chmod(0o444)
    kitchen.chmod(0o555)
    ends = as_another(*WRITING, *LOOKING)
    kitchen.chmod(0o755)
    for ran in ends[: len(WRITING)]:
        one_sentence(ran)
        assert "read-only" in ran.err or "cannot be opened" in ran.err, ran.err
    for typed, ran in zip(LOOKING, ends[len(WRITING) :], strict=True):
        assert ran.code == 0, (typed, ran.err)
    assert filled.read_bytes() == raw
    assert content(filled) == before


@needs_posix
def test_a_ledger_that_may_not_be_read_is_said_to_be_so_by_every_command(
    filled: Path, as_another: Run
) -> None:
    raw = filled.read_bytes()
    filled.chmod(0o000)
    readers = [typed for typed in LOOKING if typed != ("restore",)]
    for ran in as_another(*WRITING, *readers):
        one_sentence(ran)
    filled.chmod(0o600)
    assert filled.read_bytes() == raw
