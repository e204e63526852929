"""Nothing is let in: nothing unpickled, nothing evaluated, no shell, no network."""

import ast
import builtins
import os
import pickle
import socket
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import jarcast
from jarcast.batchtable import read_csv
from jarcast.errors import BeliefsError, JarcastError, LedgerError
from jarcast.files.shipped import shipped
from jarcast.learning.model.beliefs import load_beliefs
from jarcast.ledger import Ledger
from jarcast.recipes.parsing import load_card

from .conftest import WRITING, fill, one_sentence

Run = Callable[..., Any]
SOURCE = Path(jarcast.__file__).resolve().parent
MODULES = sorted(path for path in SOURCE.rglob("*.py") if "shipped_data" not in path.parts)

# What would run code that came with data, start a program or reach another machine.
NEVER_IMPORTED = {
    "pickle", "cPickle", "dill", "cloudpickle", "marshal", "shelve", "code", "codeop", "runpy",
    "subprocess", "pty", "ctypes", "cffi", "socket", "ssl", "http", "urllib", "urllib3", "requests",
    "httpx", "aiohttp", "ftplib", "smtplib", "telnetlib", "xmlrpc", "asyncio", "socketserver",
    "webbrowser", "yaml", "xml", "zipfile", "tarfile",
}  # fmt: skip
NEVER_CALLED = {
    "eval", "exec", "compile", "__import__", "breakpoint", "input", "system", "popen", "execv",
    "execve", "execvp", "spawnl", "spawnv", "startfile", "fork", "read_pickle", "to_pickle",
}  # fmt: skip
# Listening is what 'serve' is asked for, and it opens the page it serves; nothing else may. A
# workbook is unpacked in memory for what is struck through in it: tests/notebook/test_workbooks.py
# tells what of it is not read.
MAY_IMPORT = {"page/server.py": ["socket", "webbrowser"], "notebook/parts.py": ["zipfile"]}
# A guided entry asks its questions through typer; nothing reads the keyboard by itself.


def calls(tree: ast.AST) -> Iterator[tuple[str, str]]:
    """Every call in a module: what it is called on, and its name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Attribute):
                yield ast.unparse(node.func.value), node.func.attr
            elif isinstance(node.func, ast.Name):
                yield "", node.func.id


def forbidden(code: str) -> list[str]:
    """What a module's code imports or calls that none may."""
    tree, found = ast.parse(code), []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [one.name for one in node.names if one.name.split(".")[0] in NEVER_IMPORTED]
        elif isinstance(node, ast.ImportFrom) and node.module:
            never = {"joblib": {"load", "dump", "Memory"}, "os": NEVER_CALLED}.get(node.module, ())
            found += [f"{node.module}.{one.name}" for one in node.names if one.name in never]
            found += [node.module] if node.module.split(".")[0] in NEVER_IMPORTED else []
    for on, name in calls(tree):
        if (
            (name in NEVER_CALLED and on in ("", "os", "builtins", "pd", "pandas"))
            or (on, name) in {("joblib", "load"), ("np", "load"), ("numpy", "load")}
            or (name == "load" and on.endswith("joblib"))
        ):
            found.append(f"{on}.{name}()")
    return found + [words for words in ("allow_pickle=True", "shell=True") if words in code]


def test_no_module_unpickles_evaluates_starts_a_shell_or_reaches_a_network() -> None:
    offenders = {
        path.relative_to(SOURCE).as_posix(): found
        for path in MODULES
        if (found := forbidden(path.read_text(encoding="utf-8")))
    }
    assert offenders == MAY_IMPORT
    assert {"cli", "ledger", "learning", "views"} <= {path.parent.name for path in MODULES}


@pytest.mark.parametrize(
    "code",
    [
        "import pickle", "import os, xml.sax", "from urllib.request import urlopen",
        "from joblib import load", "from os import system", "def f():\n    eval('1')",
        "os.system('ls')", "pd.read_pickle('x')", "np.load('x')", "here.joblib.load('x')",
        "read(x, allow_pickle=True)", "run(x, shell=True)",
    ],
)  # fmt: skip
def test_each_forbidden_thing_is_seen(code: str) -> None:
    assert forbidden(code)
    assert not forbidden("import json\nfrom os import replace\nmodule.load('x')\n")


class _Trap:
    """Unpickled, it makes a file: the sign that something ran."""

    def __init__(self, target: Path) -> None:
        self.target = target

    def __reduce__(self) -> tuple[Any, tuple[str]]:
        return os.mkdir, (str(self.target),)


@pytest.fixture(params=["pickle", "joblib"])
def planted(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, Path]:
    """A pickle by a file name of ours, and what it makes when it is loaded."""
    file, sign = tmp_path / "beliefs.json", tmp_path / "it-ran"
    if request.param == "pickle":
        file.write_bytes(pickle.dumps(_Trap(sign)))
    else:
        import joblib

        joblib.dump(_Trap(sign), file)
    return file, sign


def test_the_trap_works(planted: tuple[Path, Path]) -> None:
    file, sign = planted
    pickle.loads(file.read_bytes())  # noqa: S301 (the trap of this very test)
    assert sign.exists()


def test_a_pickle_where_beliefs_are_read_is_refused_with_a_sentence(
    planted: tuple[Path, Path],
) -> None:
    file, sign = planted
    with pytest.raises(BeliefsError, match=r"is not a beliefs file .* nothing else is ever loaded"):
        load_beliefs(file)
    assert not sign.exists()


@pytest.mark.parametrize("read", [read_csv, load_card])
def test_a_pickle_where_anything_else_is_read_is_refused_with_a_sentence(
    planted: tuple[Path, Path], read: Callable[[Path], Any]
) -> None:
    file, sign = planted
    with pytest.raises(JarcastError):
        read(file)
    assert not sign.exists()


def test_a_pickle_for_a_ledger_a_plan_or_a_card_is_refused(
    planted: tuple[Path, Path], kitchen: Path, run: Run
) -> None:
    file, sign = planted
    for typed in (
        ("batches", "--ledger", str(file)),
        ("import", str(file)),
        ("harvest", str(file)),
        ("recipes", "add", str(file)),
    ):
        one_sentence(run(*typed))
    assert not sign.exists()


def test_a_whole_round_of_commands_starts_nothing_and_reaches_nobody(
    kitchen: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forbidden(*args: Any, **kwargs: Any) -> None:
        raise AssertionError(f"reached out: {args}")

    for module, names in (
        (socket, ("socket", "create_connection", "getaddrinfo")),
        (subprocess, ("Popen", "run", "call", "check_output")),
        (os, ("system", "popen", "execv", "execve", "fork", "posix_spawn")),
        (pickle, ("load", "loads", "Unpickler")),
        (builtins, ("eval",)),
    ):
        for name in names:
            monkeypatch.setattr(module, name, forbidden)
    fill(kitchen)
    for typed in (*WRITING, ("batches",), ("habits",), ("export",), ("restore",)):
        ran = run(*typed)
        assert ran.code in (0, 1), ran.err
        assert "reached out" not in ran.err
        assert "should not have happened" not in ran.err


def test_whatever_is_saved_is_its_owner_s_alone(kitchen: Path, run: Run) -> None:
    old = os.umask(0)  # the most that could be given away
    try:
        ledger = fill(kitchen)
        card = next(shipped("models", "recipes").glob("*.toml"))
        (kitchen / "my-own.toml").write_bytes(card.read_bytes())
        assert run("export", "out.csv").code == 0
        assert run("recipes", "add", "my-own.toml").code == 0
        assert run("harvest", "--line", "carrot: 5 lb", "--csv", "plan-out.csv").code == 0
    finally:
        os.umask(old)
    made = [ledger, kitchen / "out.csv", kitchen / "plan-out.csv"]
    (own_card,) = kitchen.rglob("recipes/my-own.toml")
    made.append(own_card)
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in made}
    assert set(modes.values()) == {0o600}, modes
    assert stat.S_IMODE(own_card.parent.stat().st_mode) == 0o700


def test_no_table_is_written_over_a_ledger(kitchen: Path, run: Run) -> None:
    other = fill(kitchen).rename(kitchen / "other.sqlite3")
    before = other.read_bytes()
    ran = run("export", "other.sqlite3")
    one_sentence(ran)
    assert "is a ledger or another database" in ran.err
    assert other.read_bytes() == before


def test_a_module_of_one_s_own_name_in_the_folder_is_not_loaded(kitchen: Path) -> None:
    for name in ("json", "csv", "jarcast_plugin", "sitecustomize"):
        (kitchen / f"{name}.py").write_text("raise SystemExit('it ran')\n")
    program = Path(sys.executable).with_name("jarcast")
    if not program.exists():
        pytest.skip("the program is not installed beside this Python")
    ran = subprocess.run([program, "batches"], capture_output=True, text=True, cwd=kitchen)
    assert (ran.returncode, ran.stderr) == (0, "")


def test_a_name_that_is_no_utf_8_text_is_refused_with_a_sentence(filled: Path) -> None:
    line = [sys.executable, "-m", "jarcast", "close", "--batch", b"\xff\xe9", "--jars", "3"]
    ran = subprocess.run(line, capture_output=True)
    assert ran.returncode == 1
    assert b"should not have happened" not in ran.stderr
    with (
        pytest.raises(LedgerError, match=r"'\\udcff' holds bytes that are not UTF-8 text"),
        Ledger.open(filled) as ledger,
    ):
        ledger.find("\udcff")
