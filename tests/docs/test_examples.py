"""Every example of README and docs is run, page by page, and prints what the page says."""

import doctest
import os
import re
import subprocess
import sys
import textwrap
from datetime import date
from pathlib import Path

import pytest

from .pages import ROOT, Block, as_pattern, blocks, commands, is_run, page_name, pages
from .terminal import INTERRUPT, Terminal, on_the_day, surroundings

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the examples are for a POSIX shell")

# Pages call the day on which a batch is begun this.
DAY = date(2025, 8, 23)


def run_console(block: Block, page: str, folder: Path, environment: dict[str, str]) -> None:
    """Type the commands of a block; each prints what stands under it."""
    for command in commands(block):
        shown = command.prints or []
        code, text = Terminal(command.typed, folder, environment).run(shown)
        printed = "".join(
            f"{line.rstrip()}\n" for line in on_the_day(text, DAY).strip("\n").split("\n")
        )
        where = f"{page}:{command.line}: {command.typed}\n"
        if command.prints is None:
            assert code == 0, f"{where}{printed}"
            continue
        assert as_pattern(shown).fullmatch(printed), (
            f"{where}--- the page has\n" + "\n".join(shown) + f"\n--- it printed\n{printed}"
        )
        went_wrong = any(
            line.startswith(("jarcast: ", "Error: ")) or line.endswith(INTERRUPT) for line in shown
        )
        assert (code != 0) == went_wrong, f"{where}ended with {code}"


def run_python(script: str, page: str, folder: Path, environment: dict[str, str]) -> None:
    """Run the Python of a page, in one go."""
    ran = subprocess.run(
        [sys.executable, "-W", "error", "-c", script],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert ran.returncode == 0, f"{page}:\n{script}\n{ran.stdout}{ran.stderr}"


def as_script(block: Block) -> str:
    """Python as a script; where it is typed at '>>>', with what each line should print."""
    text = "\n".join(block.lines) + "\n"
    if not text.startswith(">>>"):
        return text
    return textwrap.dedent(
        f"""
        import doctest
        found = doctest.DocTestParser().get_doctest({text!r}, dict(globals()), "page", None, 0)
        ran = doctest.DocTestRunner(optionflags={doctest.ELLIPSIS}).run(found, clear_globs=False)
        globals().update(found.globs)
        assert not ran.failed
        """
    )


@pytest.mark.parametrize("page", pages(), ids=page_name)
def test_the_examples_of_a_page_do_what_it_says(page: Path, tmp_path: Path) -> None:
    environment = surroundings(tmp_path)
    python = ""
    for block in filter(is_run, blocks(page)):
        if block.name:
            (tmp_path / block.name).write_text("\n".join(block.lines) + "\n", encoding="utf-8")
        elif block.language == "python":
            python += as_script(block)
            run_python(python, page_name(page), tmp_path, environment)
        else:
            run_console(block, page_name(page), tmp_path, environment)
    assert not list(tmp_path.glob("*.sqlite3-journal"))


def test_the_words_under_the_picture_are_what_the_demo_says(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    _, said = Terminal("jarcast demo", tmp_path, surroundings(tmp_path)).run([])
    picture = re.search(r"!\[([^\]]*)\]\(docs/forecast.svg\)", readme)
    assert picture is not None
    jars = re.search(r"^  JARS     About (.*), 8 times in 10 between (.*) and (.*)\.$", said, re.M)
    brine = re.search(r"have enough for ([^.]*)\.", " ".join(said.split()))
    assert jars is not None
    assert brine is not None
    assert f"about {jars[1]}, and {brine[1]} of brine" in picture[1]
    drawn = (ROOT / "docs" / "forecast.svg").read_text(encoding="utf-8")
    assert f"8 times in 10: {jars[2]} to {jars[3]} " in drawn
    assert f"Make {brine[1]} of brine" in drawn
    assert f"it fills between {jars[2]} and {jars[3]} pints" in " ".join(readme.split())


def test_dots_stand_for_lines_and_for_text_and_nothing_else_does() -> None:
    shown = ["About ... pints.", "...", "Closed."]
    assert as_pattern(shown).fullmatch("About 13 1/2 pints.\nThat is\nall.\nClosed.\n")
    assert as_pattern(shown).fullmatch("About 9 pints.\nClosed.\n")
    assert not as_pattern(shown).fullmatch("About 9 quarts.\nClosed.\n")
    assert not as_pattern(["9.5"]).fullmatch("9x5\n")


def test_a_page_that_shows_something_else_fails(tmp_path: Path) -> None:
    block = Block("console", "", ("$ echo eight jars", "nine jars"), 1)
    with pytest.raises(AssertionError, match=re.escape("page.md:2: echo eight jars")):
        run_console(block, "page.md", tmp_path, surroundings(tmp_path))


def test_a_question_is_answered_as_the_page_answers_it(tmp_path: Path) -> None:
    asks = "printf 'Jars: '; read jars; echo you said $jars"
    block = Block("console", "", (f"$ {asks}", "Jars: 9.5", "you said 9.5"), 1)
    run_console(block, "page.md", tmp_path, surroundings(tmp_path))
    block = Block("console", "", (f"$ {asks}", "Lids: 9.5", "you said 9.5"), 1)
    with pytest.raises(AssertionError, match="does not answer 'Jars: '"):
        run_console(block, "page.md", tmp_path, surroundings(tmp_path))
