"""jarcast forecast --sheet: one page, and what must not be overwritten."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

CARROTS = ("--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")


def test_it_says_what_the_forecast_says(run: Run, filled: Path, kitchen: Path) -> None:
    told = run("forecast", *CARROTS, "--units", "metric", "--json").document
    ran = run("forecast", *CARROTS, "--units", "metric", "--sheet", "carrots.html")
    assert (ran.code, ran.err) == (0, "")
    assert "carrots.html" in ran.out
    page = (kitchen / "carrots.html").read_text(encoding="utf-8")
    assert f'<p class="number">{told["brine_to_make_ml"] / 1000:.2f}</p>' in page
    assert f'<p class="number">{told["jars_to_have"]}</p>' in page
    assert "2.27 kg trimmed" in page  # 5 lb of 453.59237 g (NIST Handbook 44)


def test_the_block_is_the_forecast_s(run: Run, filled: Path, kitchen: Path) -> None:
    asked = ("--recipe", "pickled-carrots", "--trimmed", "5 lb", "--altitude", "900 ft")
    block = run("forecast", *asked, "--json").document["safety_block"]
    assert run("forecast", *asked, "--sheet", "c.html").code == 0
    page = (kitchen / "c.html").read_text(encoding="utf-8")
    found = re.search('<pre class="block">\n(.*?)</pre>', page, re.DOTALL)
    assert found is not None
    assert found[1] == block
    line = run("forecast", *asked, "--json").document["cook_line"]
    card = line.removeprefix("By the card of Pickled carrots: ")
    said = " ".join(run("forecast", *asked).out.split())
    assert f" CARD {card[0].upper()}{card[1:]} " in said


@pytest.mark.parametrize("name", ["batches.csv", "sheet", "ledger.sqlite3"])
def test_no_other_file_is_overwritten(run: Run, filled: Path, kitchen: Path, name: str) -> None:
    before = (kitchen / name).read_bytes() if (kitchen / name).exists() else None
    ran = run("forecast", *CARROTS, "--sheet", name)
    assert (ran.code, ran.out) == (1, "")
    assert ".html or .htm, by the file's ending" in ran.err
    after = (kitchen / name).read_bytes() if (kitchen / name).exists() else None
    assert after == before


def test_json_names_the_page(run: Run, filled: Path) -> None:
    document = run("forecast", *CARROTS, "--sheet", "s.html", "--json").document
    assert document == {"format": "jarcast sheet", "version": 1, "file": "s.html"}


def test_a_forecast_that_cannot_be_made_writes_nothing(run: Run, kitchen: Path) -> None:
    ran = run("forecast", "--produce", "carrot", "--sheet", "s.html")
    assert ran.code == 1
    assert "a forecast needs a weight" in ran.err
    assert not (kitchen / "s.html").exists()


def test_the_sheet_gives_the_cards_own_word_as_the_reason_for_sterile_jars(
    run: Run, kitchen: Path
) -> None:
    # AIB 539, Guide 6, p. 6-14: dilled beans go into hot sterile pints, whose time at 2500 ft is
    # 10 minutes: it is not under 10 minutes there.
    asked = ("--recipe", "dilled-beans", "--as-bought", "9 lb", "--altitude", "2500 ft")
    assert run("forecast", *asked, "--sheet", "b.html").code == 0
    page = " ".join((kitchen / "b.html").read_text(encoding="utf-8").split())
    assert "Process every pint jar for 10 min" in page
    assert "The card asks for sterile jars: empty, boiled 10 min" in page
    assert "under 10 min" not in page
    for shown in (run("recipes", "show", "dilled-beans", "--altitude", "2500 ft").out,
                  run("forecast", *asked, "--json").out):  # fmt: skip
        assert "The card asks for sterile jars: empty" in " ".join(shown.split())
        assert "under 10 min" not in " ".join(shown.split())


@pytest.mark.parametrize(("jar", "smaller"), [("pint", False), ("quart", True)])
def test_a_smaller_jar_is_set_out_only_where_the_card_lists_one(
    run: Run, kitchen: Path, jar: str, *, smaller: bool
) -> None:
    # AIB 539, Guide 6, p. 6-15: pickled beets are for pints and quarts, and nothing smaller.
    asked = ("--recipe", "pickled-beets", "--as-bought", "9 lb", "--jar", jar)
    assert run("forecast", *asked, "--sheet", "b.html").code == 0
    page = " ".join((kitchen / "b.html").read_text(encoding="utf-8").split())
    assert ("a smaller tested jar" in page) == smaller
    assert ("room in the refrigerator for a part-full jar" in page) != smaller
