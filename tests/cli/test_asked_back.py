"""What is hardly meant is told for what it is, and what may be written instead."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

CARROT = ("--produce", "carrot", "--jar", "pint")


def refused(ran: Any) -> str:
    assert ran.code == 1, ran.out
    return " ".join(ran.err.split())


@pytest.mark.parametrize(
    "asked",
    [
        ("begin", "--jar", "banana"),
        ("forecast", "--as-bought", "5 lb", "--jar", "banana"),
        ("record", "--jars", "5", "--jar", "banana"),
    ],
    ids=" ".join,
)
def test_a_jar_that_is_none_is_told_to_be_none_by_a_card_too(
    run: Run, asked: tuple[str, ...]
) -> None:
    """It may be one that nobody has listed, '2 gallon': a larger jar has no tested process."""
    said = refused(run(*asked, "--recipe", "dilled-okra", "--produce", "okra"))
    assert "there is no jar 'banana'; " in said
    sizes = refused(run("begin", "--recipe", "dilled-okra", "--jar", "quart"))
    assert "this card does not list 'quart' jars; listed: pint" in sizes
    assert "larger than all that a card lists has no tested process" in sizes


@pytest.mark.parametrize("pack", ["whole", "Slices", "whole pack"])
def test_a_cut_where_a_pack_is_due_is_told_unless_it_is_stood_by(run: Run, pack: str) -> None:
    for asked, insist in (
        (("begin", *CARROT), "--yes"),
        (("record", *CARROT, "--jars", "5"), "--yes"),
        (("forecast", *CARROT, "--trimmed", "5 lb"), "--as-named"),
    ):
        said = refused(run(*asked, "--pack", pack))
        assert f"the pack '{pack}' is a cut: a pack is raw or hot" in said
        assert insist in said
        assert run(*asked, "--pack", pack, insist).code == 0
        break_off = run("undo")  # so that no batch of such a pack is known
        assert break_off.code in (0, 1)


def test_a_pack_of_one_s_own_is_no_cut(run: Run) -> None:
    assert run("begin", *CARROT, "--pack", "in rows").code == 0


def test_a_date_ahead_is_told_to_be_ahead(run: Run) -> None:
    said = refused(run("begin", *CARROT, "--date", "2999-02-02"))
    assert "date '2999-02-02': is in the future" in said
    assert "once filled" not in said


@pytest.mark.parametrize("canner", ["7 jars", "7", "8", "seven"])
def test_a_canner_s_jars_without_a_size_are_asked_for_theirs(run: Run, canner: str) -> None:
    """A boiling-water canner holds other numbers of pints and of quarts: none is guessed."""
    said = refused(run("kitchen", "--canner", canner))
    assert f"'{canner}' of which size? Write it like '7 quarts / 8 pints'" in said


def test_where_a_unit_is_none_what_is_counted_is_named(run: Run) -> None:
    bought = ("bushels, pecks, crates", "baskets of your own")
    for asked in (("begin", *CARROT), ("forecast", *CARROT)):
        said = refused(run(*asked, "--as-bought", "2 barrels"))
        assert all(one in said for one in bought)
        trimmed = refused(run(*asked, "--trimmed", "2 barrels"))
        assert "cups of it are counted" in trimmed
        assert "bushels" not in trimmed
    assert "are counted" not in refused(run("forecast", *CARROT, "--cooked", "2 barrels"))


def test_problems_of_a_plan_stand_in_the_order_of_its_lines(run: Run, kitchen: Path) -> None:
    (kitchen / "p.csv").write_text(
        "name,produce,pack,jar,as bought,trimmed\n"
        "a,carrot,raw,pint,10 lb,14 lb\n"  # found when it is forecast, after the others
        "b,carrot,whole,pint,5 lb,\n"
        "c,carrot,raw,pint,2 barrels,\n"
        "d,carrot,raw,pint,5 lb,,too many\n"  # found first, when the file is parted
    )
    told = run("harvest", "p.csv", "--json").error["problems"]
    lines = [one.partition("p.csv, line ")[2][0] for one in told]
    assert lines == ["2", "3", "4", "5"]
    assert "trimmed, 14 lb, is more than as bought, 10 lb" in told[0]
    assert "bushels" in told[2]
