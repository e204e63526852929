"""Standard output and standard error of real processes: pipes, terminals, full disks."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

CARROTS = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")
needs_posix = pytest.mark.skipif(os.name != "posix", reason="pipes and /dev are POSIX's here")


@pytest.mark.parametrize(
    "typed",
    [("demo",), ("batches",), ("forecast", "--help"), ("bathces",), ("batches", "--json")],
)
def test_a_pipe_gets_no_colours_whatever_a_runner_asks_for(
    process: Run, filled: Path, typed: tuple[str, ...]
) -> None:
    # What continuous-integration services set, and what makes some programs colour even a pipe.
    asked = {"FORCE_COLOR": "1", "GITHUB_ACTIONS": "1", "CLICOLOR_FORCE": "1", "TERM": "xterm"}
    asked["NO_COLOR"] = ""
    ran = process(*typed, more=asked)
    assert ran.returncode in (0, 2)
    assert ran.stdout or ran.stderr
    assert b"\x1b" not in ran.stdout + ran.stderr
    plain = process(*typed)
    assert (plain.stdout, plain.stderr) == (ran.stdout, ran.stderr)


@needs_posix
@pytest.mark.parametrize(
    "typed",
    [("batches",), ("export",), ("batches", "--json"), CARROTS, (*CARROTS, "--json"), ("demo",)],
)
def test_a_reader_that_has_seen_enough_ends_it_quietly(
    process: Run, filled: Path, typed: tuple[str, ...]
) -> None:
    reading, writing = os.pipe()
    os.close(reading)  # gone before the first line, as head is after its last
    try:
        ran = process(*typed, stdout=writing)
    finally:
        os.close(writing)
    assert (ran.returncode, ran.stderr) == (0, b"")


@needs_posix
def test_help_to_a_reader_that_is_gone_is_quiet_too(process: Run) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        assert process("--help", stdout=writing).stderr == b""
    finally:
        os.close(writing)


@needs_posix
def test_one_line_of_a_long_table_is_all_that_head_takes(process: Run, filled: Path) -> None:
    shell = f"{sys.executable} -m jarcast batches | head -1"
    ran = subprocess.run(["sh", "-c", shell], capture_output=True, text=True, timeout=60)
    assert ran.stderr == ""
    assert ran.stdout.count("\n") == 1
    assert ran.stdout.startswith("date")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
@pytest.mark.parametrize("typed", [("batches",), ("export",), ("batches", "--json"), ("--help",)])
def test_an_answer_that_cannot_be_written_is_one_sentence(
    process: Run, filled: Path, typed: tuple[str, ...]
) -> None:
    with Path("/dev/full").open("wb") as full:
        ran = process(*typed, stdout=full)
    assert ran.returncode == 1
    said = ran.stderr.decode()
    assert "No space left on device" in said
    assert "Traceback" not in said
    assert "should not" not in said
    if "--json" in typed:
        assert json.loads(said)["format"] == "jarcast error"
    else:
        assert said.count("\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
@pytest.mark.parametrize("more", [(), ("--json",)])
def test_an_answer_that_cannot_be_written_says_that_the_ledger_has_it_and_a_repeat_is_the_same(
    process: Run, run: Run, filled: Path, more: tuple[str, ...]
) -> None:
    before = len(run("batches", "--json").document["batches"])
    typed = ("record", "--produce", "okra", "--jar", "pint", "--jars", "3", *more)
    with Path("/dev/full").open("wb") as full:
        ran = process(*typed, stdout=full)
    said = json.loads(ran.stderr)["error"] if more else ran.stderr.decode()
    assert ran.returncode == 0
    assert f"No space left on device; what was entered is in {filled} all the same" in said
    assert more or said.count("\n") == 1
    assert len(run("batches", "--json").document["batches"]) == before + 1
    again = run(*typed)
    assert again.code == 0
    assert "you entered the same batch just before" in again.err.casefold()
    assert len(run("batches", "--json").document["batches"]) == before + 1
    other = run("record", "--produce", "okra", "--jar", "pint", "--jars", "4")
    assert other.code == 0
    assert run(*typed).code == 0  # the last entry is another, so this is one more
    assert len(run("batches", "--json").document["batches"]) == before + 3


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_what_was_not_answered_is_what_undo_takes_back(
    process: Run, run: Run, filled: Path
) -> None:
    before = run("batches", "--json").out
    with Path("/dev/full").open("wb") as full:
        process("record", "--produce", "okra", "--jar", "pint", "--jars", "3", stdout=full)
    assert run("batches", "--json").out != before
    assert run("undo", "--yes").code == 0
    assert run("batches", "--json").out == before
    again = run("record", "--produce", "okra", "--jar", "pint", "--jars", "3", "--json")
    assert again.document["added"]  # what was taken back is not there


def test_two_batches_that_came_out_the_same_are_two(run: Run, filled: Path) -> None:
    typed = ("record", "--produce", "okra", "--jar", "pint", "--jars", "3", "--json")
    assert run(*typed).document["batch"]["batch"] != run(*typed).document["batch"]["batch"]


def test_what_failed_after_the_writing_says_that_the_ledger_has_it(
    run: Run, filled: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JARCAST_BELIEFS", str(filled.with_name("none.json")))
    typed = ("--produce", "carrot", "--jar", "pint", "--jars", "3")
    ran = run("record", *typed, "--batch", "new")
    monkeypatch.delenv("JARCAST_BELIEFS")
    names = [one["batch"] for one in run("batches", "--json").document["batches"]]
    assert ran.code == 1  # what it was to say is not there
    assert "new" in names
    assert f"what was entered is in {filled} all the same" in ran.err


@needs_posix
@pytest.mark.parametrize(("closed", "code"), [(">&-", 0), ("2>&-", 0), (">&- 2>&-", 0)])
def test_closed_streams_are_no_error(filled: Path, closed: str, code: int) -> None:
    shell = f"{sys.executable} -m jarcast batches {closed}"
    ran = subprocess.run(["sh", "-c", shell], capture_output=True, text=True, timeout=60)
    assert (ran.returncode, ran.stderr) == (code, "")


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_signs_that_a_terminal_has_no_code_for_are_spelt_out(
    process: Run, run: Run, ledger: Path, encoding: str
) -> None:
    typed = ("record", "--produce", "jalapeño", "--batch", "🥕", "--jar", "pint", "--jars", "3")
    ran = process(*typed, more={"PYTHONIOENCODING": encoding})
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert rb"\U0001f955" in ran.stdout
    listed = process("batches", "--json", more={"PYTHONIOENCODING": encoding})
    # JSON has its own spelling for any sign (RFC 8259, section 7), so nothing is lost there.
    assert json.loads(listed.stdout.decode(encoding))["batches"][0]["batch"] == "🥕"
    assert json.loads(run("batches", "--json").out)["batches"][0]["produce"] == "jalapeño"


@needs_posix
def test_a_file_name_that_is_no_text_can_be_spoken_of(kitchen: Path) -> None:
    name = os.fsencode(str(kitchen)) + b"/\xff.sqlite3"
    for typed in (("batches",), ("import", "none.csv"), ("batches", "--json")):
        ran = subprocess.run(
            [sys.executable, "-m", "jarcast", *typed, "--ledger", name],
            capture_output=True,
            timeout=60,
        )
        assert ran.returncode == (1 if "import" in typed else 0)
        assert b"should not have happened" not in ran.stderr


def test_the_module_and_its_program_are_the_same(process: Run) -> None:
    ran = process("--version")
    assert ran.returncode == 0
    assert ran.stdout.startswith(b"jarcast ")
