"""The app as a whole: help, exit codes, and that nothing typed ends in a traceback."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jarcast import __version__
from jarcast.cli import app as app_module
from jarcast.cli.app import build_app
from jarcast.cli.commands import COMMANDS, GROUPS, MOVED

pytestmark = pytest.mark.contract

Run = Callable[..., Any]
MAIN_JOB = ("demo", "record", "forecast", "batches", "import", "export")


def found(path: tuple[str, ...]) -> Any:
    """The command behind these words."""
    command: Any = typer.main.get_command(build_app())
    for name in path:
        command = command.commands[name]
    return command


def every_command() -> list[tuple[str, ...]]:
    """Every command that can be typed, those of a group with the group's name before it."""

    def below(command: Any, path: tuple[str, ...]) -> list[tuple[str, ...]]:
        inner = getattr(command, "commands", {})
        return [path, *(p for name, one in inner.items() for p in below(one, (*path, name)))]

    return below(typer.main.get_command(build_app()), ())


# Help


def test_the_main_job_has_its_commands() -> None:
    assert {path[0] for path in every_command() if path} >= set(MAIN_JOB)


@pytest.mark.parametrize("path", every_command(), ids=" ".join)
def test_help_fits_a_terminal_and_shows_what_to_type(run: Run, path: tuple[str, ...]) -> None:
    ran = run(*path, "--help")
    assert ran.code == 0
    assert ran.err == ""
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    assert f"Usage: {' '.join(('jarcast', *path))} " in ran.out
    if path and hasattr(found(path), "commands"):  # a group: its commands show theirs
        return
    # An example is a line that could be typed, beside the one that tells the usage.
    words = " ".join(("jarcast", *path))
    assert re.search(rf"^(?!Usage).*\b{words}(?: |$)", ran.out, re.MULTILINE)


@pytest.mark.parametrize("path", every_command(), ids=" ".join)
def test_every_option_is_explained(run: Run, path: tuple[str, ...]) -> None:
    options = run(*path, "-h").out.partition("Options:\n")[2]
    entries = re.split(r"\n(?=  -)", options)
    assert entries
    for entry in entries:
        assert re.match(r"\s*-[-\w, ]+(?: <[^>]+>)?\s+\S", entry), entry


def test_the_version_is_the_package_s(run: Run) -> None:
    ran = run("--version")
    assert (ran.code, ran.out) == (0, f"jarcast {__version__}\n")


# Exit codes


@pytest.mark.parametrize(
    ("typed", "due"),
    [
        (("--help",), 0),
        (("batches",), 0),
        (("export",), 0),
        (("forecast", "--produce", "carrot", "--trimmed", "5 lb"), 0),
        (("forecast", "--produce", "carrot"), 1),
        (("forecast", "--produce", "carrot", "--trimmed", "5"), 1),
        (("import", "there-is-none.csv"), 1),
        (("batches", "--ledger", "."), 1),
        (("record", "--produce", "carrot", "--jar", "bucket", "--jars", "1"), 1),
        ((), 0),
        (("--units", "us", "batches"), 2),
        (("kitchen", "--units", "us", "jars", "list"), 2),
        (("bathces",), 2),
        (("batches", "--colour", "red"), 2),
        (("batches", "extra"), 2),
        (("batches", "--since", "31.8.2024"), 2),
        (("batches", "--units", "stone"), 2),
        (("record",), 2),
        (("import",), 2),
        (("forecast", "--produce"), 2),
        (("forecast", "--produce", "carrot", "--seed", "-1"), 2),
        (("forecast", "--produce", "carrot", "--level", "most"), 2),
    ],
)
def test_the_exit_code_tells_an_answer_from_a_refusal_and_from_wrong_usage(
    run: Run, typed: tuple[str, ...], due: int
) -> None:
    ran = run(*typed)
    assert ran.code == due, ran.err
    assert bool(ran.out) is (due == 0)
    assert bool(ran.err) is (due != 0)


def test_a_command_mistyped_is_guessed(run: Run) -> None:
    assert "Did you mean 'batches'?" in run("bathces").err


@pytest.mark.parametrize(
    "typed",
    [
        ("forecast", "--produce", "carrot"),
        ("forecast", "--trimmed", "5", "--produce", "carrot"),
        ("import", "there-is-none.csv"),
        ("batches", "--ledger", "."),
        ("record", "--produce", "", "--jar", "bucket", "--jars", "none"),
        ("export", "."),
        ("batches", "--since", "soon"),
        ("record",),
        ("nonsense",),
        ("sheet", "--produce", "carrot"),
    ],
)
def test_with_json_an_error_is_a_document_on_standard_error_and_nothing_else(
    run: Run, typed: tuple[str, ...]
) -> None:
    ran = run(*typed, "--json")
    assert ran.code in (1, 2)
    assert ran.out == ""
    assert ran.error["format"] == "jarcast error"
    assert ran.error["version"] == 1
    assert ran.error["error"].strip()
    assert isinstance(ran.error["problems"], list)


def test_every_problem_of_a_batch_is_told_at_once_in_text_and_in_json(run: Run) -> None:
    typed = ("record", "--produce", "carrot", "--jar", "bucket", "--jars", "0", "--trimmed", "6")
    text, document = run(*typed).err, run(*typed, "--json").error
    assert len(document["problems"]) == 3
    for problem in document["problems"]:
        assert problem in text


# Nothing that is typed ends in a traceback

_commands = st.sampled_from([path[0] for path in every_command() if path])
_names = {name for path in every_command() for one in found(path).params for name in one.opts}
_options = st.sampled_from([*sorted(_names), "-h", "--help", "--", "-"])
_sayings = st.sampled_from(
    [
        "carrot", "sticks", "raw", "pint", "5 pint-wide, then pint", "pint + quart", "7.5", "2 + 3",
        "6 lb 4 oz", "2,7 kg", "½ qt", "0 cups", "200 g", "24", "1/2", "2024-08-31", "9999-12-31",
        "0001-01-01", "us", "metric", "0", "0.5", "1e-9", "-1", "1e309", "nan", "inf", "1e9", "1/0",
        "9" * 400, "", " ", "\n", "\x1b[31m", "\udcff", "\u202e", "🥕", "x" * 5000, "%s",
        "{}", "ledger.sqlite3", "batches.csv", ".", "a" * 300,
    ]
)  # fmt: skip
# Nothing that leads out of the folder, for some of it is taken as the name of a file; and no NUL,
# which no program can be given (exec(3)).
_anything = st.text(max_size=12).filter(lambda text: not set(text) & set("/\\~\0"))
_pairs = st.tuples(_options, _sayings | _anything).map(list)
_whole = st.just(["--produce", "carrot", "--trimmed", "5 lb"])
_rests = st.lists(_pairs | _whole | (_options | _sayings | _anything).map(lambda one: [one]))


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(first=_commands.map(lambda one: [one]) | st.lists(_options | _anything), rest=_rests)
def test_whatever_is_typed_ends_in_an_answer_or_a_plain_refusal(
    run: Run,
    kitchen: Path,
    monkeypatch: pytest.MonkeyPatch,
    first: list[str],
    rest: list[list[str]],
) -> None:
    monkeypatch.setattr("jarcast.page.server.serve", lambda *_: None)  # a page waits for Ctrl-C
    typed = [*first, *(word for words in rest for word in words)]
    ran = run(*typed)
    assert ran.code in (0, 1, 2)
    for said in (ran.out, ran.err):
        assert "Traceback" not in said
        assert "should not have happened" not in said
        assert "\x1b" not in said
    assert ran.code == 0 or ran.out == ""
    assert ran.code != 0 or ran.out or "--json" not in typed
    if ran.code == 0 and "--json" in typed and not {"--help", "-h", "--version"} & set(typed):
        assert isinstance(json.loads(ran.out), dict)


def test_what_should_not_happen_is_said_in_one_line(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr(app_module.typer.main, "get_command", broken)
    ran = run("batches")
    assert ran.code == 1
    assert ran.err.count("\n") == 1
    assert "ZeroDivisionError" in ran.err
    assert run("batches", "--json").error["error"]
    monkeypatch.setenv("JARCAST_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("batches")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a named pipe to wait at")
@pytest.mark.xdist_group("alone")
def test_a_user_who_stops_it_is_told_that_nothing_was_written(kitchen: Path) -> None:
    pipe = kitchen / "pipe"
    os.mkfifo(pipe)
    script = f"from jarcast.cli import main; main(['import', {str(pipe)!r}])"
    with subprocess.Popen(
        [sys.executable, "-c", script],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as started:
        for _ in range(600):  # until it waits at the pipe for a first line
            try:
                writer = os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
                break
            except OSError:
                time.sleep(0.05)
        time.sleep(0.2)
        started.send_signal(signal.SIGINT)
        out, err = started.communicate(timeout=30)
        os.close(writer)
    assert started.returncode == 1
    assert out == b""
    assert err.decode().splitlines() == ["jarcast: stopped; nothing half-done was written"]
    assert not (kitchen / "ledger.sqlite3").exists()


def test_only_the_command_asked_for_is_loaded(kitchen: Path) -> None:
    script = (
        "import sys; from jarcast.cli import main\n"
        "try: main(['batches'])\n"
        "except SystemExit: pass\n"
        "print(*(name for name in sys.modules if name.startswith('jarcast.cli.')))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True
    )
    loaded = {name.rpartition(".")[2] for name in ran.stdout.splitlines()[-1].split()}
    assert "batches" in loaded
    assert loaded.isdisjoint({"forecast", "harvest", "guide", "recipes", "moving"})


def test_the_list_of_commands_names_them_all_and_cuts_nothing(run: Run) -> None:
    # It shows lines kept beside the names, so that it need not load every command.
    shown = run("--help").out
    found: dict[str, str] = {}
    for title, group in GROUPS.items():
        listed = shown.partition(f"\n{title}:\n")[2].partition("\n\n")[0].splitlines()
        named = dict(line.strip().split(maxsplit=1) for line in listed)
        assert list(named) == list(group)
        found |= named
    assert found == {name: command.about for name, command in COMMANDS.items()}
    assert set(found) == set(typer.main.get_command(build_app()).commands)  # type: ignore[attr-defined]


def test_a_word_before_the_command_is_no_command(run: Run) -> None:
    ran = run("frobnicate", "batches")
    assert ran.code == 2
    assert "No such command 'frobnicate'" in ran.err


@pytest.mark.parametrize("old", MOVED)
def test_a_command_that_moved_answers_with_the_new_one(run: Run, ledger: Path, old: str) -> None:
    said = f"'jarcast {old}' is now '{MOVED[old]}'"
    for more in ((), ("--help",), ("list",), ("c1", "--units", "metric")):
        ran = run(old, *more)
        assert (ran.code, ran.out, ran.err) == (2, "", said + "\n")
    assert run(old, "--json").error["error"] == said
    assert f"\n  {old} " not in run("--help").out
    assert old not in COMMANDS
    assert not ledger.exists()


@pytest.mark.parametrize("old", MOVED)
def test_the_new_command_is_there(run: Run, old: str) -> None:
    words = [word for word in MOVED[old].split()[1:] if word.islower() and word[0] != "-"]
    options = [word for word in MOVED[old].split() if word.startswith("--")]
    said = run(*words, "--help").out
    assert said.startswith(f"Usage: {' '.join(('jarcast', *words))} ")
    assert all(option in said for option in options)
