"""A batch of another cut than its card's is told so wherever the card speaks."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

# Penn State Extension, Caution: Don't Can in Oil: of mushrooms, whole ones were tested.
OTHER = "The card is for whole, not chopped: check that its source allows that"
CARD = ("--recipe", "marinated-mushrooms")
PUT_UP = ("--produce", "mushroom", "--pack", "hot", "--jar", "half-pint")
SAYS = pytest.mark.parametrize(("cut", "told"), [("chopped", True), ("whole", False)])


def words(ran: Any) -> str:
    assert ran.code == 0, ran.err
    return " ".join(f"{ran.out} {ran.err}".split())


def keys(cautions: list[dict[str, str]]) -> list[str]:
    return [one["key"] for one in cautions]


@SAYS
def test_where_it_is_planned(run: Run, kitchen: Path, cut: str, told: bool) -> None:
    forecast = ("forecast", *CARD, "--cut", cut)
    buy = ("buy", "9 half-pints", *CARD, "--cut", cut)
    harvest = ("harvest", "--line", f"mushroom, {cut}: 7 lb; recipe=marinated-mushrooms")
    for asked in ((*forecast, "--as-bought", "7 lb"), (*forecast, "--jars", "9 half-pint"), buy):
        assert (OTHER in words(run(*asked))) == told, asked
        assert ("other cut" in keys(run(*asked, "--json").document["cautions"])) == told
    assert (OTHER in words(run(*harvest))) == told
    (line,) = run(*harvest, "--json").document["lines"]
    assert ("other cut" in keys(line["cautions"])) == told
    run(*forecast, "--as-bought", "7 lb", "--sheet", str(kitchen / "s.html"))
    assert (OTHER in (kitchen / "s.html").read_text("utf-8")) == told


@SAYS
def test_where_it_is_made_and_written_down(run: Run, kitchen: Path, cut: str, told: bool) -> None:
    assert (OTHER in words(run("begin", *CARD, "--cut", cut, "--jar", "half-pint"))) == told
    closed = run("close", "--jars", "9", "--json")
    assert ("other cut" in keys(closed.document["cautions"])) == told
    assert (OTHER in words(closed)) == told
    run("begin", *CARD, "--cut", "whole", "--jar", "half-pint", "--batch", "m2")
    assert (OTHER in words(run("amend", "m2", f"cut={cut}"))) == told
    record = run("record", *CARD, *PUT_UP, "--cut", cut, "--jars", "9", "--batch", "m3")
    assert (OTHER in words(record)) == told
    table = kitchen / "t.csv"
    table.write_text(
        "batch,date,produce,cut,pack,jar,jars,recipe\n"
        f"m4,2024-08-03,mushroom,{cut},hot,half-pint,9,marinated-mushrooms\n"
    )
    assert (OTHER in words(run("import", str(table)))) == told
