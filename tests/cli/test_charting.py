"""--chart of forecast, habits and hindsight, and the picture on a terminal."""

import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli import charting
from jarcast.cli.charting import canvas, write_whole
from jarcast.errors import JarcastError

pytestmark = pytest.mark.contract

Run = Callable[..., Any]

CARROTS = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")


@pytest.mark.parametrize("typed", [CARROTS, ("habits",), ("hindsight",)], ids=lambda t: t[0])
@pytest.mark.parametrize("name", ["chart.svg", "chart.PNG"])
def test_a_chart_is_written_beside_the_answer(
    run: Run, filled: Path, kitchen: Path, typed: tuple[str, ...], name: str
) -> None:
    plain = run(*typed)
    ran = run(*typed, "--chart", name)
    assert (ran.code, ran.out) == (0, plain.out)
    assert ran.err.endswith(f"Chart written to {name}.\n")
    start = b"<?xml" if name.endswith("svg") else b"\x89PNG"  # ISO/IEC 15948, 5.2
    assert (kitchen / name).read_bytes().startswith(start)


def test_json_and_a_chart_go_together(run: Run, filled: Path, kitchen: Path) -> None:
    assert run(*CARROTS, "--json", "--chart", "c.svg").document["format"] == "jarcast forecast"
    assert (kitchen / "c.svg").exists()


@pytest.mark.parametrize("typed", [CARROTS, ("hindsight",)], ids=lambda t: t[0])
def test_with_no_batches_a_chart_is_drawn_all_the_same(
    run: Run, kitchen: Path, typed: tuple[str, ...]
) -> None:
    assert run(*typed, "--chart", "c.svg").code == 0
    assert (kitchen / "c.svg").stat().st_size > 500


@pytest.mark.parametrize(
    ("more", "says"),
    [((), "no batch is recorded"), (("--produce", "okra"), "no batch of 'okra' is")],
)
def test_of_no_habits_no_chart_is_drawn(
    run: Run, kitchen: Path, more: tuple[str, ...], says: str, request: pytest.FixtureRequest
) -> None:
    if more:
        request.getfixturevalue("filled")
    ran = run("habits", *more, "--chart", "c.svg")
    assert (ran.code, ran.out) == (1, "")
    assert "there is nothing to draw in c.svg" in ran.err
    assert says in ran.err
    assert not (kitchen / "c.svg").exists()


@pytest.mark.parametrize("name", ["chart.pdf", "chart", "notes.csv"])
def test_another_ending_is_refused_and_the_mend_named(
    run: Run, filled: Path, kitchen: Path, name: str
) -> None:
    ran = run(*CARROTS, "--chart", name)
    assert (ran.code, ran.out) == (1, "")
    assert ".svg or .png, by the file's ending" in ran.err
    assert not (kitchen / name).exists()


def test_a_matplotlib_that_cannot_be_loaded_is_said_and_how_to_mend_it(
    run: Run, filled: Path, kitchen: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "broken" / "matplotlib"
    broken.mkdir(parents=True)
    (broken / "__init__.py").write_text("raise ImportError('half of it is missing')")
    monkeypatch.syspath_prepend(broken.parent)
    for name in [n for n in sys.modules if n.split(".")[0] == "matplotlib"]:
        monkeypatch.delitem(sys.modules, name)
    ran = run(*CARROTS, "--chart", "c.svg")
    assert ran.code == 1
    assert "matplotlib, which cannot be loaded (half of it is missing)" in ran.err
    assert "install jarcast again" in ran.err
    assert not (kitchen / "c.svg").exists()


def test_a_folder_that_is_not_there_is_named(run: Run, filled: Path) -> None:
    ran = run(*CARROTS, "--chart", "nowhere/c.svg")
    assert ran.code == 1
    assert "nowhere/c.svg cannot be written: No such file or directory" in ran.err


def test_a_file_that_cannot_be_finished_leaves_the_old_one(
    kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = kitchen / "c.svg"
    old.write_text("old")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(charting.os, "fsync", full)
    with pytest.raises(JarcastError, match="No space left on device; nothing was changed"):
        write_whole(old, b"new")
    assert old.read_text() == "old"
    assert list(kitchen.iterdir()) == [old]


# On a terminal


class Screen:
    """A standard output that says it is a terminal."""

    def __init__(self, encoding: str = "utf-8", *, terminal: bool = True) -> None:
        self.encoding, self._terminal = encoding, terminal

    def isatty(self) -> bool:
        return self._terminal


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """What is drawn on, for a standard output and surroundings."""

    def canvas_of(output: Screen, **around: str) -> Any:
        for name, value in {
            "TERM": "xterm-256color",
            "NO_COLOR": "",
            "COLUMNS": "80",
            **around,
        }.items():
            monkeypatch.setenv(name, value)
        monkeypatch.setattr(sys, "stdout", output)
        return canvas()

    return canvas_of


def test_a_pipe_is_not_drawn_on(screen: Callable[..., Any]) -> None:
    assert screen(Screen(terminal=False)) is None


def test_blocks_are_drawn_only_where_there_are_such_signs(screen: Callable[..., Any]) -> None:
    assert screen(Screen()).blocks
    assert not screen(Screen(), TERM="dumb").blocks
    assert not screen(Screen(), NO_COLOR="1").blocks
    for encoding in ("ascii", "latin-1", "cp1252", "no-such"):
        assert not screen(Screen(encoding)).blocks
    assert screen(Screen(), COLUMNS="60").columns == 60


@pytest.mark.skipif(os.name != "posix", reason="terminals are POSIX's here")
@pytest.mark.parametrize(
    ("around", "sign"),
    [
        ({}, "█"),
        ({"NO_COLOR": "1"}, "#"),
        ({"TERM": "dumb"}, "#"),
        ({"PYTHONIOENCODING": "ascii"}, "#"),
    ],
)
@pytest.mark.parametrize("columns", [60, 100])
def test_a_real_terminal_gets_a_picture_and_no_codes_but_colour(
    filled: Path, around: dict[str, str], sign: str, columns: int
) -> None:
    import pexpect

    around = {"TERM": "xterm-256color", "NO_COLOR": "", "PYTHONIOENCODING": "utf-8", **around}
    child = pexpect.spawn(
        sys.executable, ["-m", "jarcast", *CARROTS], encoding="utf-8", timeout=60,
        dimensions=(50, columns), env={**os.environ, **around, "COLUMNS": str(columns)},
    )  # fmt: skip
    text = re.sub(r"\x1b\[(?:0|1|1;36)m", "", child.read())  # labels, in bold and one accent
    child.close()
    assert child.exitstatus == 0
    assert re.search(r"^  Pints .* batches in 100\r$", text, re.MULTILINE)
    drawn = text[text.index("  Pints ") : text.index("Based on")]
    assert sign in drawn
    assert "\x1b" not in text
    assert all(len(line) <= columns for line in drawn.splitlines()[1:])
