"""Kept brine goes by the card that it was made by, and by no other that has its name now."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.files.shipped import shipped

Run = Callable[..., Any]

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C
PUT_UP = ("--produce", "okra", "--cut", "whole", "--pack", "raw", "--jar", "pint", "--jars", "4")
ASKED = ("--recipe", "mill-okra", "--as-bought", "7 lb")


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def card(run: Run, kitchen: Path) -> Path:
    """A card of one's own, with the numbers of dilled okra: 6 cups of vinegar to 6 of water."""
    text = shipped("models", "recipes", "dilled-okra.toml").read_text("utf-8")
    own = kitchen / "mill-okra.toml"
    own.write_text(text.replace('name = "Pickled dilled okra"', 'name = "Okra of the mill"'))
    assert run("recipes", "add", str(own)).code == 0
    return kitchen / "recipes" / "mill-okra.toml"


def keep(run: Run, name: str, cups: str = "3 cups") -> None:
    ran = run("record", *PUT_UP, "--batch", name, "--recipe", "mill-okra",
              "--brine-made", "8 cups", "--brine-left", "3 cups", "--keep-brine", cups)  # fmt: skip
    assert ran.code == 0, ran.err


def stronger(card: Path) -> None:
    """The same card with 7 cups of vinegar."""
    text = card.read_text("utf-8")
    assert text.count('amount = "6 cups"') == 2
    card.write_text(text.replace('amount = "6 cups"', 'amount = "7 cups"', 1), "utf-8")


def kept(run: Run) -> Any:
    return run("forecast", *ASKED, "--json").document["kept_brine"]


def test_brine_kept_by_a_card_that_was_changed_since_is_neither_shown_nor_taken(
    run: Run, card: Path
) -> None:
    keep(run, "m1")
    assert kept(run)["ml"] == pytest.approx(3 * CUP_ML)
    stronger(card)
    assert kept(run) is None
    run("begin", *ASKED, "--batch", "m2")
    ran = run("weigh", "--kept-brine", "3 cups")
    assert ran.code == 1
    assert "by the card as it was then, and the card's brine has changed since" in words(ran.err)
    assert run("--json").document["batches"][0]["values"]["brine_made_ml"] is None


def test_what_is_kept_by_the_card_as_it_is_now_is_taken_once_the_old_is_gone(
    run: Run, card: Path
) -> None:
    keep(run, "m1")
    stronger(card)
    keep(run, "m2", "2 cups")
    assert kept(run) is None  # some of it is by the old formula
    keep(run, "m3", "0 cups")
    keep(run, "m4", "1 cup")
    assert kept(run)["ml"] == pytest.approx(CUP_ML)


def test_a_card_that_says_the_same_of_its_brine_is_the_same(run: Run, card: Path) -> None:
    keep(run, "m1")
    card.write_text(card.read_text("utf-8") + "\n# a note in the margin\n", "utf-8")
    assert kept(run)["ml"] == pytest.approx(3 * CUP_ML)


def test_brine_given_back_by_a_dropped_batch_goes_by_the_card_it_was_made_by(
    run: Run, card: Path
) -> None:
    keep(run, "m1")
    run("begin", *ASKED, "--batch", "m2")
    assert run("weigh", "--kept-brine", "2 cups").code == 0
    run("drop", "--batch", "m2", "--yes")
    assert kept(run)["ml"] == pytest.approx(3 * CUP_ML)
    stronger(card)
    assert kept(run) is None


def test_brine_made_by_the_old_card_does_not_count_for_the_new_one(run: Run, card: Path) -> None:
    keep(run, "m1")
    run("begin", *ASKED, "--batch", "m2")
    assert run("weigh", "--kept-brine", "3 cups").code == 0
    stronger(card)
    ran = run("amend", "m2", "card=new")
    assert ran.code == 1
    assert "was made by the card as it was" in words(ran.err)
    assert run("amend", "m2", "card=old").code == 0
    run("begin", *ASKED, "--batch", "m3", "--brine-made", "4 cups")
    assert run("--json").document["batches"][-1]["values"]["brine_made_ml"] is not None


def test_a_batch_with_kept_brine_in_its_pot_stays_one_of_that_recipe(run: Run, card: Path) -> None:
    keep(run, "m1")
    run("begin", *ASKED, "--batch", "m2")
    run("weigh", "--kept-brine", "3 cups")
    ran = run("amend", "m2", "recipe=dilled-okra")
    assert ran.code == 1
    assert "kept brine of 'mill-okra' is in the pot" in words(ran.err)
