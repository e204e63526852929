"""A forecast on a terminal of 80 columns: 24 lines without a card, 40 with one, no number lost.

The bounds are a screen's: 24 lines of 80 columns are what a terminal opens with (DEC VT100, 1978).
"""

import contextlib
import io
from collections.abc import Callable
from typing import Any

import pytest

from jarcast.cli import main
from jarcast.files.shipped import shipped
from jarcast.measures import typeset
from jarcast.recipes import Recipe, cook_line, shipped_recipes

Run = Callable[..., Any]
BARE, BY_CARD = 24, 40
ALTITUDE, CANNER = ("--altitude", "3000 ft"), ("--canner", "4 pints")
CROPS = (
    ("--produce", "carrot", "--cut", "sticks"),
    ("--produce", "cucumber", "--cut", "spears"),  # often salted, seldom recorded
    ("--produce", "cabbage", "--cut", "shredded"),  # makes its own brine
    ("--produce", "cucumber + onion", "--cut", "slices"),
    ("--produce", "garlic in oil"),
    ("--produce", "oca", "--as-named"),  # nothing is published of it
)


class _Terminal(io.TextIOWrapper):
    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8", newline="")

    def isatty(self) -> bool:
        return True


def on_terminal(*arguments: str) -> list[str]:
    """Lines of an answer as a terminal shows them."""
    out, err = _Terminal(), _Terminal()
    ended = pytest.raises(SystemExit)
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), ended as leaving:
        main(list(arguments))
    assert leaving.value.code == 0, arguments
    out.flush()
    assert isinstance(out.buffer, io.BytesIO)
    return out.buffer.getvalue().decode().rstrip("\n").split("\n")


@pytest.fixture(params=["nothing recorded", "45 batches"])
def kitchen_known(request: pytest.FixtureRequest, run: Run) -> str:
    """A ledger of nobody yet, or of the demo's household."""
    if request.param == "45 batches":
        assert run("import", str(shipped("data_demo", "batches.csv"))).code == 0
    return str(request.param)


@pytest.mark.usefixtures("kitchen_known")
@pytest.mark.parametrize("altitude", [(), ALTITUDE], ids=["altitude unknown", "altitude known"])
@pytest.mark.parametrize("canner", [(), CANNER], ids=["canner unknown", "canner told"])
def test_by_a_card_it_takes_40_lines_and_its_numbers_stand_under_the_answer(
    run: Run, altitude: tuple[str, ...], canner: tuple[str, ...]
) -> None:
    if altitude or canner:
        assert run("kitchen", *altitude, *canner).code == 0
    weight = "20 lb" if canner else "5 lb"  # by several pots, and by one or two
    for card in shipped_recipes().values():
        lines = on_terminal("forecast", "--recipe", card.key, "--as-bought", weight)
        assert len(lines) <= BY_CARD, "\n".join(lines)
        assert max(map(len, lines)) <= 80
        labels = [line[2:11].rstrip() for line in lines if line[:2] == "  " and line[2:3] > " "]
        assert labels[:4] == ["JARS", "BRINE", "SET OUT", "CARD"], labels
        assert_numbers_of_the_card(card, " ".join(" ".join(lines).split()), bool(altitude))


def assert_numbers_of_the_card(card: Recipe, text: str, known: bool) -> None:
    """Each number of the card's own line for a cook is there, and where to read the rest."""
    assert card.safety is not None
    feet = 3000.0 if known else None
    lines = [
        typeset(cook_line(card, [jar], pack=pack, altitude_ft=feet))
        for jar in card.safety.jars
        for pack in card.packs or ("",)
    ]
    said = [line.partition(": ")[2].casefold().split("; ") for line in lines]
    assert any(all(part in text.casefold() for part in parts) for parts in said), (said, text)
    assert f"jarcast recipes show {card.key}" in text
    assert "The tested recipe decides, together with your local food-safety guidance" in text


@pytest.mark.parametrize("last", ["part", "whole"])
@pytest.mark.parametrize("canner", [(), CANNER], ids=["canner unknown", "canner told"])
def test_without_a_card_it_takes_24_lines_in_pots_too(
    run: Run, kitchen_known: str, last: str, canner: tuple[str, ...]
) -> None:
    assert run("kitchen", "--last-jar", last, *canner).code == 0
    by_pots = 0
    for crop in CROPS:
        for known in ("--as-bought", "--trimmed"):
            for weight in ("5 lb", "20 lb"):
                lines = on_terminal("forecast", *crop, known, weight)
                assert len(lines) <= BARE, "\n".join(lines)
                assert max(map(len, lines)) <= 80
                text = " ".join(" ".join(lines).split())
                assert "No recipe named" in text
                assert " 1 batches" not in text
                assert "local food-safety guidance" in text
                assert "at 40 F (4 C) or below" in text
                pots = "heat a second pot" in text
                by_pots += pots
                assert ("by one factor" in text) == pots
                assert ("pack none tighter than tested" in text) == (last == "whole")
    assert (by_pots > 0) == (kitchen_known == "45 batches")  # by how somebody packs


def test_narrow_terminals_lose_no_word_and_break_none(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("import", str(shipped("data_demo", "batches.csv"))).code == 0
    asked = ("forecast", "--recipe", "reduced-sodium-dill", "--as-bought", "20 lb")
    bare = run(*asked).out.split()
    for columns in ("50", "60"):
        monkeypatch.setenv("COLUMNS", columns)
        lines = on_terminal(*asked)
        assert max(map(len, lines)) <= int(columns)
        shown = " ".join(lines).split()
        cautions = bare[bare.index("!") :]
        assert shown[shown.index("!") :] == cautions
