"""In a kitchen with a steam canner, no screen shows a process without the rule on such a canner.

45 minutes are the most, altitude included, lest it boils dry: National Center for Home Food
Preservation, Burning Issue: Using Atmospheric Steam Canners.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli.commands import COMMANDS

Run = Callable[..., Any]

TOO_LONG = "Not in an atmospheric steam canner: 60 min (pint, above 6000 ft), "
RIGHT = "In an atmospheric steam canner: for the same time, 40 min (pint, 0-1000 ft)"
CARD = """
name = "Long beets of the Bridge stall"
produce = "beet"
cut = "cubes"
pack = "raw"
style = "cover brine"
[source]
publication = "The Bridge Lane Stall Book"
edition = "2021"
page = "p. 9"
[tested]
amount = "5 lb"
basis = "as bought"
jar = "pint"
jars = 7
[[brine]]
name = "vinegar"
kind = "vinegar"
amount = "5 cups"
[[brine]]
name = "water"
kind = "water"
amount = "3 cups"
[safety]
headspace_in = 0.5
jars = ["pint", "quart"]
vinegar_percent = 5
[[process]]
method = "boiling-water canner"
pack = "raw"
jar = "pint"
minutes = { "0-1000" = 40, "1001-6000" = 45, "above 6000" = 60 }
[[process]]
method = "boiling-water canner"
pack = "raw"
jar = "quart"
minutes = { "0-1000" = 45, "1001-6000" = 50, "above 6000" = 65 }
"""
ASKED = ("--recipe", "long", "--jar", "pint")
SHEET = "sheet.html"
# Every command that shows the process of a card, or has it in its JSON.
SCREENS: dict[str, list[tuple[str, ...]]] = {
    "forecast": [
        ("forecast", *ASKED, "--as-bought", "12 lb"),
        ("forecast", *ASKED, "--as-bought", "12 lb", "--json"),
        ("forecast", *ASKED, "--as-bought", "12 lb", "--sheet", SHEET),
        ("forecast", *ASKED, "--jars", "7 pints"),
        ("forecast", *ASKED, "--jars", "7 pints", "--json"),
    ],
    "harvest": [
        ("harvest", "--line", "by long, pint: 12 lb"),
        ("harvest", "--line", "by long, pint: 12 lb", "--json"),
    ],
    "begin": [("begin", *ASKED), ("begin", *ASKED, "--as-bought", "12 lb"),
              ("begin", *ASKED, "--as-bought", "12 lb", "--json"),
              ("--json",)],  # jarcast alone: the open batches
    "weigh": [("weigh", "--trimmed", "10 lb"), ("weigh", "--trimmed", "10 lb", "--json")],
    "pack": [("pack", "--jars", "3"), ("pack", "--jars", "3", "--json")],
    "recipes": [("recipes", "show", "long"), ("recipes", "show", "long", "--json"),
                ("recipes", "scale", "long", "--weight", "12 lb")],
}  # fmt: skip
# These show the sentences of those above: tests/cli/test_guide.py and tests/page/ look at them.
SAME = {"guide", "serve"}
NO_PROCESS = {
    "buy", "close", "drop", "record", "batches", "amend", "withdraw", "undo", "history", "habits",
    "hindsight", "report", "kitchen", "import", "export", "restore", "demo", "beliefs",
}  # fmt: skip
EVERY = [one for asked in SCREENS.values() for one in asked]


@pytest.fixture
def steam(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A kitchen with a steam canner and the long card; how high it lies is not known."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "long.toml").write_text(CARD)
    assert run("recipes", "add", "long.toml").code == 0
    run("kitchen", "--canner-kind", "steam")
    return run


def shown(run: Run, asked: tuple[str, ...]) -> str:
    """All that a screen says, in one line; of a sheet the page that is written."""
    if asked[0] in ("weigh", "pack", "--json"):
        assert run("begin", *ASKED, "--as-bought", "12 lb").code == 0
    ran = run(*asked)
    assert ran.code == 0, ran.err
    page = Path(SHEET).read_text("utf-8") if "--sheet" in asked else ""
    return " ".join(f"{ran.out} {page}".split())


def test_every_command_is_known_to_show_a_process_or_none() -> None:
    """A new command is put into one of these lists, and what shows a process is looked at here."""
    assert {*SCREENS, *SAME, *NO_PROCESS} == {*COMMANDS}
    assert not {*SCREENS} & NO_PROCESS


@pytest.mark.parametrize("asked", EVERY, ids=" ".join)
def test_a_process_that_is_too_long_for_it_is_said_to_be(
    steam: Run, asked: tuple[str, ...]
) -> None:
    steam("kitchen", "--altitude", "7000 ft")
    said = shown(steam, asked)
    assert TOO_LONG in said
    assert "and 45 min is the most, altitude included" in said


@pytest.mark.parametrize("asked", EVERY, ids=" ".join)
def test_what_is_allowed_is_said_with_its_limit(steam: Run, asked: tuple[str, ...]) -> None:
    steam("kitchen", "--altitude", "500 ft")
    said = shown(steam, asked)
    if asked[0] in ("weigh", "pack") and "--json" not in asked:  # these show no process themselves
        assert "steam canner" not in said
    else:
        assert RIGHT in said
        assert "45 min is the most, altitude included" in said


@pytest.mark.parametrize("asked", EVERY, ids=" ".join)
def test_where_the_canner_is_not_one_of_steam_nothing_is_said_of_it(
    steam: Run, asked: tuple[str, ...]
) -> None:
    steam("kitchen", "--canner-kind", "boiling-water")
    assert ("atmospheric steam canner" in shown(steam, asked)) == (asked[:2] == ("recipes", "show"))


def test_of_an_altitude_not_known_each_time_that_is_too_long_is_named(steam: Run) -> None:
    for step in (("begin", *ASKED, "--as-bought", "12 lb"), ("weigh", "--trimmed", "10 lb")):
        said = shown_with(steam, step)
        assert "but not for 60 min (pint, above 6000 ft); 45 min is the most" in said


def test_an_altitude_asked_for_holds_for_this_answer(steam: Run) -> None:
    steam("kitchen", "--altitude", "7000 ft")
    for asked in (
        ("forecast", *ASKED, "--as-bought", "12 lb"),
        ("harvest", "--line", "by long, pint: 12 lb"),
    ):
        lower = shown_with(steam, (*asked, "--altitude", "2000 ft"))
        assert "for the same time, 45 min (pint, 1001-6000 ft)" in lower


def shown_with(run: Run, asked: tuple[str, ...]) -> str:
    ran = run(*asked)
    assert ran.code == 0, ran.err
    return " ".join(ran.out.split())


def test_of_jars_of_several_sizes_each_has_its_time(steam: Run) -> None:
    """Of the altitude at hand alone: 45 min do for pints at 2000 ft, and 50 for quarts do not."""
    steam("kitchen", "--altitude", "2000 ft")
    due = "for the same time, 45 min (pint, 1001-6000 ft), but not for 50 min (quart, 1001-6000 ft)"
    two = ("--recipe", "long", "--as-bought", "20 lb", "--jar", "5 pint, then quart")
    for asked in (("forecast", *two), ("begin", *two), ("weigh", "--trimmed", "18 lb"),
                  ("harvest", "--line", "by long, 5 pint then quart: 20 lb")):  # fmt: skip
        assert due in shown_with(steam, asked), asked
