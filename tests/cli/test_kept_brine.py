"""Clean brine kept for the next pot of the same recipe: shown, never assumed."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from jarcast.ledger import Ledger
from jarcast.ledger.kept_brine import Kept, keep_within

Run = Callable[..., Any]

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C
OKRA = ("--recipe", "dilled-okra", "--as-bought", "3 lb", "--jar", "pint")
RECORD = (
    "record", "--produce", "okra", "--cut", "whole", "--pack", "raw", "--jar", "pint",
    "--jars", "4", "--trimmed", "2 lb 12 oz", "--brine-made", "8 cups", "--brine-left", "3 cups",
)  # fmt: skip


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def kept(run: Run, ledger: Path) -> Path:
    """A ledger in which 2 cups of a recipe's brine are kept."""
    ran = run(*RECORD, "--batch", "c1", "--recipe", "dilled-okra", "--keep-brine", "2 cups")
    assert ran.code == 0, ran.err
    assert "Kept for the next pot of dilled-okra: 2 cups" in words(ran.out)
    assert "never touched produce" in ran.out
    return ledger


def test_what_is_kept_is_shown_for_the_same_recipe_and_counts_for_nothing(
    run: Run, kept: Path
) -> None:
    plain = run("forecast", *OKRA, "--json").document
    assert plain["kept_brine"]["ml"] == pytest.approx(2 * CUP_ML)
    assert plain["kept_brine"]["batch"] == "c1"
    said = words(run("forecast", *OKRA).out)
    assert "You kept 2 cups of clean dilled-okra brine" in said
    assert "brought back to a boil with the new" in said
    begun = run("begin", "--batch", "c2", *OKRA, "--json").document
    assert begun["kept_brine"] == plain["kept_brine"]
    assert begun["values"]["brine_made_ml"] is None
    assert begun["forecast"]["brine_to_make_ml"] == plain["brine_to_make_ml"]
    assert "You kept 2 cups" in words(run("begin", "--batch", "c3", *OKRA).out)
    run("forecast", *OKRA, "--sheet", "sheet.html")
    assert "You kept 2 cups" in words(Path("sheet.html").read_text(encoding="utf-8"))


def test_another_recipe_and_none_are_told_nothing(run: Run, kept: Path) -> None:
    other = ("--recipe", "pickled-beets", "--as-bought", "7 lb")
    assert "You kept" not in run("forecast", *other).out
    assert run("forecast", *other, "--json").document["kept_brine"] is None
    assert "You kept" not in run("begin", "--produce", "carrot", "--as-bought", "3 lb").out


def test_brine_that_is_taken_is_a_pot_and_is_kept_no_more(run: Run, kept: Path) -> None:
    run("begin", "--batch", "c2", *OKRA)
    run("weigh", "--brine-made", "6 cups")
    said = run("weigh", "--kept-brine", "1 1/2 cups", "--json").document
    assert said["values"]["brine_made_ml"] == pytest.approx(7.5 * CUP_ML)
    left = run("forecast", *OKRA, "--json").document["kept_brine"]
    assert left["ml"] == pytest.approx(0.5 * CUP_ML)
    ran = run("weigh", "--kept-brine", "1 cup")
    assert ran.code == 1
    assert "is more than is kept" in ran.err
    both = run("weigh", "--kept-brine", "1/2 cup", "--more-brine", "1 cup", "--json").document
    assert both["values"]["brine_made_ml"] == pytest.approx(9 * CUP_ML)
    assert run("forecast", *OKRA, "--json").document["kept_brine"] is None
    assert "no brine of the recipe" in run("weigh", "--kept-brine", "1/2 cup").err


def test_closing_keeps_brine_too_and_nought_says_that_none_is_kept(run: Run, kept: Path) -> None:
    for name, cups, left in (("c2", "1 cup", 3.0), ("c3", "0 cups", None), ("c4", "1 cup", 1.0)):
        run("begin", "--batch", name, *OKRA)
        ran = run("close", "--batch", name, "--jars", "4", "--brine-made", "8 cups",
                  "--brine-left", "2 cups", "--keep-brine", cups)  # fmt: skip
        assert ran.code == 0, ran.err
        found = run("forecast", *OKRA, "--json").document["kept_brine"]
        assert (None if found is None else found["ml"]) == (
            None if left is None else pytest.approx(left * CUP_ML)
        )


def test_a_recipe_by_name_alone_keeps_its_brine_however_it_is_spelt(run: Run, ledger: Path) -> None:
    run(*RECORD, "--recipe", "Aunt Ana's", "--keep-brine", "2 cups")
    said = run(
        "begin", "--produce", "okra", "--pack", "raw", "--recipe", "aunt ana's", "--trimmed", "3 lb"
    )
    assert "You kept 2 cups of clean aunt ana's brine" in words(said.out)


def test_what_cannot_be_kept_is_refused_with_the_reason_and_nothing_is_written(
    run: Run, ledger: Path
) -> None:
    for more, why in (
        (("--keep-brine", "2 cups"), "this batch names no recipe"),
        (("--recipe", "ana", "--keep-brine", "4 cups"), "more than the 3 cups that was left"),
        (("--recipe", "ana", "--keep-brine", "some"), "--keep-brine 'some'"),
    ):
        ran = run(*RECORD, *more)
        assert (ran.code, ran.out) == (1, "")
        assert why in ran.err
    assert not ledger.exists() or run("batches", "--json").document["batches"] == []
    run("begin", "--produce", "carrot", "--trimmed", "3 lb", "--batch", "c2", "--jar", "pint")
    assert "this batch names no recipe" in run("close", "--jars", "4", "--keep-brine", "1 cup").err
    assert "this batch names no recipe" in run("weigh", "--kept-brine", "1 cup").err
    assert run("--json").document["batches"][0]["batch"] == "c2"


@pytest.mark.parametrize("statement", ["DELETE FROM kept_brine", "UPDATE kept_brine SET ml = 9"])
def test_what_was_kept_stays_written(kept: Path, statement: str) -> None:
    refused = pytest.raises(sqlite3.IntegrityError, match="nothing in the ledger")
    with closing(sqlite3.connect(kept)) as raw, refused:
        raw.execute(statement)


def test_a_batch_that_is_there_already_keeps_nothing_twice_and_says_so(
    run: Run, kept: Path
) -> None:
    ran = run(*RECORD, "--batch", "c1", "--recipe", "dilled-okra", "--keep-brine", "2 cups")
    assert "no more brine was kept" in words(ran.err)
    found = run("forecast", *OKRA, "--json").document["kept_brine"]
    assert found["ml"] == pytest.approx(2 * CUP_ML)


def test_what_was_kept_is_in_the_documents(run: Run, ledger: Path) -> None:
    keep = ("--recipe", "ana", "--keep-brine", "2 cups", "--json")
    assert run(*RECORD, *keep).document["kept_brine_ml"] == pytest.approx(2 * CUP_ML)
    run("begin", "--batch", "c2", "--produce", "okra", "--pack", "raw", "--jar", "pint",
        "--recipe", "ana")  # fmt: skip
    closed = run("close", "--jars", "4", "--keep-brine", "1 cup", "--json").document
    assert closed["kept_brine_ml"] == pytest.approx(CUP_ML)


def test_a_dropped_batch_gives_back_the_kept_brine_it_took(run: Run, kept: Path) -> None:
    def now() -> Any:
        return run("forecast", *OKRA, "--json").document["kept_brine"]

    before = now()
    run("begin", "--batch", "c2", *OKRA)
    run("weigh", "--kept-brine", "2 cups")
    assert now() is None
    assert "is kept again: dilled-okra" in words(run("drop", "--batch", "c2", "--yes").out)
    assert now() == before
    assert run("undo", "c2", "--yes").code == 0
    assert now() is None


def test_no_kept_brine_needs_no_recipe(run: Run, ledger: Path) -> None:
    run("begin", "--batch", "o", "--produce", "okra", "--jar", "pint", "--as-bought", "3 lb")
    noted = len(run("history", "o", "--json").document["events"])
    for nothing in ("0", "0 cups"):
        ran = run("weigh", "--kept-brine", nothing)
        assert ran.code == 0, ran.err
    assert len(run("history", "o", "--json").document["events"]) == noted
    assert run("weigh", "--kept-brine", "0", "--more-brine", "4 cups").code == 0
    assert run("close", "--jars", "3", "--keep-brine", "0").code == 0


# That Leftover Pickling Brine, National Center for Home Food Preservation blog: leftover of a raw
# pack that was never used goes into another round; of a hot pack it does not, as acid has gone into
# the food. Which cards those are: AIB 539, Guide 6, their process tables and directions.
TOUCHED = pytest.mark.parametrize(
    ("recipe", "produce", "pack", "why"),
    [
        ("pickled-beets", "beet", "hot", "heated in the brine"),
        ("pickled-beets", "beet", "", "heated in the brine"),  # the card has one pack alone
        ("quick-sweet", "cucumber", "hot", "heated in the brine"),
        ("quick-sweet", "cucumber", "", "not said whether it is packed raw"),
        ("three-bean-salad", "bean", "hot", "stands in its brine"),
        ("fourteen-day-sweet", "cucumber", "raw", "stands in its brine"),
        ("sweet-gherkin", "cucumber", "raw", "stands in its brine"),
        ("corn-relish", "corn", "hot", "cooked with"),
        ("sauerkraut", "cabbage", "raw", "salted with"),
        ("aunt ana's", "carrot", "hot", "heated in the brine"),
        ("aunt ana's", "carrot", "", "not said whether it is packed raw"),
        ("aunt ana's", "corn relish", "raw", "makes its own liquid"),
    ],
)


@TOUCHED
@pytest.mark.parametrize("sure", [(), ("--yes",), ("--json",)])
def test_brine_that_touched_produce_is_never_kept_whoever_says_so(
    run: Run, ledger: Path, recipe: str, produce: str, pack: str, why: str, sure: tuple[str, ...]
) -> None:
    ran = run("record", "--produce", produce, "--pack", pack, "--jar", "pint", "--jars", "4",
              "--brine-made", "8 cups", "--brine-left", "3 cups", "--recipe", recipe,
              "--keep-brine", "2 cups", *sure)  # fmt: skip
    assert ran.code == 1
    said = words(ran.error["error"] if sure == ("--json",) else ran.err)
    assert why in said
    assert "Brine that has touched produce is not used again for canning" in said
    assert not ledger.exists() or run("batches", "--json").document["batches"] == []


def test_at_the_close_it_is_refused_too_and_nought_is_not(run: Run) -> None:
    run("begin", "--batch", "b", "--recipe", "pickled-beets", "--as-bought", "7 lb")
    closing = ("close", "--jars", "8", "--brine-made", "10 cups", "--brine-left", "2 cups")
    ran = run(*closing, "--keep-brine", "2 cups", "--yes")
    assert (ran.code, ran.out) == (1, "")
    assert "heated in the brine" in words(ran.err)
    assert run(*closing, "--keep-brine", "0 cups").code == 0


def test_brine_kept_of_a_hot_pack_before_is_neither_shown_nor_taken(run: Run, ledger: Path) -> None:
    with Ledger.open(ledger, writing=True) as opened, opened.writing("close") as action:
        keep_within(opened, action, "b0", Kept("pickled-beets", 2 * CUP_ML, "2 cups"))
    begun = run("begin", "--batch", "b", "--recipe", "pickled-beets", "--as-bought", "7 lb")
    assert "You kept" not in begun.out
    asked = ("forecast", "--recipe", "pickled-beets", "--as-bought", "7 lb", "--json")
    assert run(*asked).document["kept_brine"] is None
    ran = run("weigh", "--kept-brine", "2 cups", "--brine-made", "8 cups")
    assert ran.code == 1
    assert "heated in the brine" in words(ran.err)
    assert run("--json").document["batches"][0]["values"]["brine_made_ml"] is None
