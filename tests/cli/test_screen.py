"""Answers on a terminal: no line wider than it is, no word lost or broken, and some colour."""

import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli.screen import dressed, fitted
from jarcast.files.shipped import shipped

Run = Callable[..., Any]
WIDTHS = (50, 60, 80)
ASKED = (
    ("batches",),
    ("batches", "--tally"),
    ("habits",),
    ("hindsight",),
    ("recipes", "list"),
    ("recipes", "show", "pickled-beets"),
    ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb"),
    ("forecast", "--recipe", "pickled-beets", "--as-bought", "7 lb"),
    ("buy", "24 pints + 6 quarts", "--produce", "carrot", "--cut", "sticks"),
    ("kitchen",),
)
ROWS = "name        what              jars\ndill beans  green bean, whole  pint, quart"


@pytest.fixture
def demo(run: Run) -> None:
    assert run("import", str(shipped("data_demo", "batches.csv"))).code == 0


@pytest.mark.usefixtures("demo")
@pytest.mark.parametrize("asked", ASKED, ids=" ".join)
def test_every_answer_fits_and_keeps_each_word_in_its_order(
    run: Run, asked: tuple[str, ...]
) -> None:
    ran = run(*asked)
    assert ran.code == 0, ran.err
    text = ran.out.rstrip("\n")
    for width in WIDTHS:
        shown = fitted(text, width)
        longest = max(map(len, text.split()))
        assert max(map(len, shown.split("\n"))) <= max(width, longest)
        # A table's row goes on below, so its words stay in order within it, and none is broken.
        assert sorted(shown.split()) == sorted(text.split())
        assert fitted(shown, width) == shown


def test_rows_of_a_table_are_broken_at_the_same_columns() -> None:
    assert fitted(ROWS.replace("  jars", "   jars"), 34).split("\n") == [
        "name        what",
        "    jars",
        "dill beans  green bean, whole",
        "    pint, quart",
    ]


def test_a_sentence_goes_on_under_its_own_beginning() -> None:
    text = "  JARS     About 7 pints, 8 times in 10 between 6 and 8½ (the recipe's own: 7½)."
    assert fitted(text, 50).split("\n") == [
        "  JARS     About 7 pints, 8 times in 10 between 6",
        "           and 8½ (the recipe's own: 7½).",
    ]


def test_a_word_wider_than_the_terminal_is_left_whole() -> None:
    name = "x" * 70
    assert name in fitted(f"No batch of the name {name} is there.", 50).split("\n")


def test_labels_alone_are_set_off() -> None:
    plain = "Carrot\n\n  JARS     About 9 pints.\n           more\n  BRINE    Make 10 cups."
    bare = re.sub(r"\x1b\[[0-9;]*m", "", dressed(plain))
    assert bare == plain
    assert dressed(plain).count("\x1b[1;36m") == 2
    assert dressed("JARS are not a label here") == "JARS are not a label here"


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(
    ("said", "coloured"),
    [({"TERM": "xterm"}, True), ({"TERM": "dumb"}, False), ({"NO_COLOR": "1"}, False)],
)
def test_a_terminal_gets_colour_and_its_own_width(
    tmp_path: Path, said: dict[str, str], coloured: bool
) -> None:
    pexpect = pytest.importorskip("pexpect")
    line = ["-m", "jarcast", "forecast", "--produce", "carrot", "--trimmed", "5 lb"]
    own = dict(os.environ)
    own.pop("COLUMNS", None)
    own.pop("NO_COLOR", None)
    setting = {
        **own, "TERM": "xterm", "JARCAST_LEDGER": str(tmp_path / "l.sqlite3"), **said,
    }  # fmt: skip
    child = pexpect.spawn(
        sys.executable, line, env=setting, dimensions=(24, 50), encoding="utf-8", timeout=60
    )
    child.expect(pexpect.EOF)
    child.close()
    text = child.before.replace("\r\n", "\n")
    assert child.exitstatus == 0, text
    assert ("\x1b[1;36mJARS" in text) == coloured
    bare = re.sub(r"\x1b\[[0-9;]*m", "", text)
    assert max(map(len, bare.split("\n"))) <= 50


def test_a_title_above_a_table_does_not_spoil_its_columns() -> None:
    table = "            yours         published\nsalted      98 % (94 to 99)  89 % (80 to 99)"
    title = "Grandmother's winter radish, cut (1 batch)"
    below = fitted(f"{title}\n{table}", 44).split("\n")
    assert below == [title, *fitted(table, 44).split("\n")]
