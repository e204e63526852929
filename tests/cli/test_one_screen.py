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


SORTS = ("", "4 pint-wide, then pint")


@pytest.mark.usefixtures("kitchen_known")
@pytest.mark.parametrize("last", ["part", "whole"])
@pytest.mark.parametrize("jar", SORTS, ids=["one sort of jar", "two sorts"])
def test_several_people_and_sorts_of_jar_change_nothing_of_that(
    run: Run, last: str, jar: str
) -> None:
    assert run("kitchen", "--last-jar", last).code == 0
    batch = ("record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint")
    for person in ("Ann", "Bea"):
        assert run(*batch, "--person", person, "--trimmed", "6 lb", "--jars", "9").code == 0
    asked = ("--jar", jar) if jar else ()
    for crop in CROPS:
        for weight in ("5 lb", "20 lb"):
            lines = on_terminal("forecast", *crop, "--trimmed", weight, *asked)
            assert len(lines) <= BARE, "\n".join(lines)
            assert max(map(len, lines)) <= 80
            text = " ".join(" ".join(lines).split())
            assert "trimmed, packed by Bea (--person) JARS" in text
            assert "No recipe named" in text
            assert "local food-safety guidance" in text
            assert ("pack none tighter than tested" in text) == (last == "whole")
    card = ("--recipe", "quick-fresh-pack-dill", "--as-bought", "20 lb")
    assert len(on_terminal("forecast", *card, *asked)) <= BY_CARD


@pytest.mark.usefixtures("kitchen_known")
@pytest.mark.parametrize("jar", SORTS, ids=["one sort of jar", "two sorts"])
@pytest.mark.parametrize("card", ["", "quick-fresh-pack-dill"], ids=["no card", "by a card"])
def test_halfway_through_it_fits_too_and_says_what_was_before_once(
    run: Run, card: str, jar: str
) -> None:
    """Whatever was weighed, under a long name, with brine that will not do."""
    assert run("kitchen", "--last-jar", "whole").code == 0
    name = ("--batch", "the long ones from the upper garden")
    crop = ("--recipe", card) if card else ("--produce", "carrot", "--cut", "sticks")
    sorts = ("--jar", jar) if jar else ()
    weights = ("--trimmed", "14 lb 3 oz", "--cure-hours", "12", "--cured", "12 lb 4 oz")
    assert (
        run("begin", *name, *crop, "--pack", "raw", *sorts, "--as-bought", "18 lb 4 oz").code == 0
    )
    assert run("weigh", *name, *weights, "--yes").code == 0
    packed = "4 pint-wide + 1 pint" if jar else "5"
    first = ("--jars", packed, "--pot-left", "1 cup", "--brine-made", "6 cups")
    for note in (
        first,
        ("--jars", packed, "--produce-left", "7 lb"),
        ("--jars", packed.replace("5", "8").replace("1 pint", "4 pint"), "--pot-left", "1/2 cup"),
    ):
        lines = on_terminal("pack", *name, *note, "--yes")
        assert len(lines) <= (BY_CARD if card else BARE), "\n".join(lines)
        assert max(map(len, lines)) <= 80
        text = " ".join(" ".join(lines).split())
        assert "before this" not in text  # the picture has it, with the middle and both ends
        assert "Whole jars: keep the recipe's headspace, and pack none tighter" in text
        if note is first:
            assert "Never top up with water or plain vinegar" in text
            assert " before " in text
            assert " now " in text
        if not card:
            assert "Without a tested process, keep the jars in the refrigerator" in text
