"""jarcast export: what goes out comes back in, and no file is lost by it."""

import csv
import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.domain.fields import COLUMNS

pytestmark = pytest.mark.contract

Run = Callable[..., Any]


def test_export_and_import_into_a_new_ledger_give_the_same_table(
    run: Run, filled: Path, kitchen: Path
) -> None:
    assert run("export", "out.csv").out == "4 batches written to out.csv.\n"
    new = str(kitchen / "new.sqlite3")
    assert run("import", "out.csv", "--ledger", new).code == 0
    assert run("export", "again.csv", "--ledger", new).code == 0
    assert (kitchen / "again.csv").read_bytes() == (kitchen / "out.csv").read_bytes()
    # Every number to the last bit: JSON's numbers are the shortest text of the float (RFC 8259
    # leaves the range to the reader; Python writes and reads IEEE 754 doubles exactly).
    ours, theirs = run("batches", "--json"), run("batches", "--json", "--ledger", new)
    assert ours.document == theirs.document


def test_the_output_is_the_batch_table_by_the_standard(run: Run, filled: Path) -> None:
    ran = run("export")
    assert (ran.code, ran.err) == (0, "")
    # RFC 4180, section 2: lines end in CR LF, a quote inside a quoted cell is doubled.
    assert ran.out.count("\r\n") == ran.out.count("\n") == 5
    rows = list(csv.DictReader(io.StringIO(ran.out, newline=""), strict=True))
    assert tuple(rows[0]) == COLUMNS
    assert [row["batch"] for row in rows] == ["c1", "c2", "k1", "b1"]
    # 6 lb 4 oz is 100 ounces, an ounce 28.349523125 g exactly (NIST Handbook 44, Appendix C).
    assert float(rows[0]["trimmed_g"]) == 2834.9523125
    assert (rows[2]["jar"], rows[2]["jars"]) == ("pint-wide + pint", "4 + 5")
    assert rows[1]["note"] == ""


@pytest.mark.skipif(os.name != "posix", reason="a pipe with a name is POSIX's here")
def test_one_ledger_can_be_piped_into_another(filled: Path, run: Run, kitchen: Path) -> None:
    me = f"{sys.executable} -m jarcast"
    shell = f"{me} export | {me} import /dev/stdin --ledger new.sqlite3"
    ran = subprocess.run(["sh", "-c", shell], capture_output=True, text=True, timeout=60)
    assert (ran.returncode, ran.stderr) == (0, "")
    new = str(kitchen / "new.sqlite3")
    assert run("export", "--ledger", new).out == run("export").out


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX's")
def test_on_a_terminal_no_note_moves_the_cursor(run: Run, filled: Path) -> None:
    assert run("amend", "b1", "note=\x1b[31mred").code == 0
    assert "\x1b" in run("export").out  # a file or a pipe has it exactly
    ours, theirs = os.openpty()
    typed = [sys.executable, "-m", "jarcast", "export"]
    assert subprocess.run(typed, stdout=theirs, timeout=60).returncode == 0
    os.close(theirs)
    shown = os.read(ours, 65_536).decode()
    os.close(ours)
    assert "\ufffd[31mred" in shown
    assert "\x1b" not in shown
    assert len(shown.splitlines()) == 5


def test_an_empty_ledger_exports_a_header_alone(run: Run, ledger: Path) -> None:
    assert run("export").out == ",".join(COLUMNS) + "\r\n"
    assert run("export", "--json").document["batches"] == []
    assert run("export", "out.csv").out == "0 batches written to out.csv.\n"
    assert not ledger.exists()


def test_the_ledger_itself_is_not_written_over(run: Run, filled: Path, kitchen: Path) -> None:
    before = filled.read_bytes()
    (kitchen / "link").symlink_to(filled)
    for name in (str(filled), "ledger.sqlite3", "link"):
        ran = run("export", name)
        assert ran.code == 1
        assert "is the ledger itself" in ran.err
    assert filled.read_bytes() == before


@pytest.mark.parametrize("name", [".", "none/out.csv", "batches.csv/out.csv", "x" * 5000])
def test_a_place_that_cannot_be_written_is_one_sentence(run: Run, filled: Path, name: str) -> None:
    ran = run("export", name)
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.count("\n") == 1
    assert "should not have happened" not in ran.err


def test_names_that_a_spreadsheet_would_run_come_back_as_they_were(run: Run, kitchen: Path) -> None:
    # The signs are those OWASP lists under 'CSV Injection'.
    names = ['=HYPERLINK("http://x")', "+1", "@sum", "-2", "'quoted", 'say "dill"', "a, b"]
    for name in names:
        typed = ("--produce", "okra", "--jar", "pint", "--jars", "1", f"--batch={name}")
        assert run("record", *typed).code == 0
    run("export", "out.csv")
    with (kitchen / "out.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert not [row["batch"] for row in rows if row["batch"][0] in "=+-@"]
    run("import", "out.csv", "--ledger", "new.sqlite3")
    listed = run("batches", "--json", "--ledger", "new.sqlite3").document["batches"]
    assert [batch["batch"] for batch in listed] == names
