"""The card a batch was begun by: while it cannot be used, nothing is forecast without its numbers.

The rule is the safety rule itself: brine proportions, jars and headspace come from the tested
recipe, so a batch never goes on as if it had none.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.files.shipped import shipped
from jarcast.ledger import Ledger
from jarcast.ledger.steps import StepKind, begin, open_batches, steps

Run = Callable[..., Any]

BEGIN = ("begin", "--recipe", "gran", "--as-bought", "9 lb", "--jar", "pint", "--batch", "c9")


@pytest.fixture
def card(run: Run, kitchen: Path) -> Path:
    """A card of one's own beside the ledger, with the numbers of a tested recipe."""
    (kitchen / "gran.toml").write_bytes(
        shipped("models", "recipes", "pickled-carrots.toml").read_bytes()
    )
    assert run("recipes", "add", "gran.toml").code == 0
    return kitchen / "recipes" / "gran.toml"


def typed_of(path: Path, name: str = "c9") -> dict[str, str]:
    with Ledger.open(path) as opened:
        return next(one.typed for one in open_batches(opened) if one.name == name)


def broken(card: Path) -> None:
    card.write_text("name = ", encoding="utf-8")


def gone(card: Path) -> None:
    card.unlink()


@pytest.mark.parametrize("ruin", [broken, gone])
@pytest.mark.parametrize("as_json", [(), ("--json",)], ids=["text", "json"])
def test_a_card_that_cannot_be_used_any_more_is_never_passed_over(
    run: Run, card: Path, ledger: Path, ruin: Callable[[Path], None], as_json: tuple[str, ...]
) -> None:
    assert run(*BEGIN).code == 0
    ruin(card)
    for words in (("weigh", "--trimmed", "8 lb"), ("pack", "--jars", "2", "--pot-left", "1 cup")):
        ran = run(*words, *as_json)
        assert (ran.code, ran.out) == (1, ""), words
        said = ran.err.replace("\\", "")
        assert str(card) in said
        assert "put it back" in said
        assert 'jarcast amend c9 recipe="..."' in said
    assert typed_of(ledger)["trimmed"] == "8 lb"  # what was weighed is noted all the same
    with Ledger.open(ledger) as opened:
        assert [step.kind for step in steps(opened)] == [
            StepKind.BEGIN, StepKind.WEIGH, StepKind.PACK
        ]  # fmt: skip
    ran = run()
    assert "  no forecast" in ran.out
    assert str(card) in ran.err


def test_the_card_counts_again_once_it_is_back(run: Run, card: Path) -> None:
    run(*BEGIN)
    content = card.read_bytes()
    due = run("weigh", "--trimmed", "8 lb", "--json").document["forecast"]
    assert due["limited_by_recipe"] or due["floor_known"]
    gone(card)
    assert run("weigh", "--note", "windy").code == 1
    card.write_bytes(content)
    found = run("weigh", "--note", "still", "--json").document["forecast"]
    assert found["brine_to_make_ml"] == due["brine_to_make_ml"]
    assert found["recipe"]["key"] == "gran"


def test_no_card_that_is_near_stands_in_for_one_that_is_gone(run: Run, card: Path) -> None:
    run(*BEGIN)
    card.rename(card.with_name("gran-with-more-water.toml"))
    assert run("weigh", "--trimmed", "8 lb").code == 1


def test_another_recipe_or_none_lets_the_batch_go_on(run: Run, card: Path) -> None:
    run(*BEGIN)
    broken(card)
    assert run("amend", "c9", "recipe=gran").code == 1  # broken, and no free name
    ran = run("amend", "c9", "recipe=pickled-carrots", "--json")
    assert ran.document["forecast"]["recipe"]["key"] == "pickled-carrots"
    assert run("amend", "c9", "recipe=").code == 0
    assert run("weigh", "--trimmed", "8 lb").code == 0


def test_a_card_by_its_file_is_held_fast_too(run: Run, card: Path) -> None:
    assert run("begin", "--recipe", str(card), "--as-bought", "9 lb", "--batch", "c9").code == 0
    gone(card)
    ran = run("weigh", "--trimmed", "8 lb")
    assert ran.code == 1
    assert str(card) in ran.err


def test_a_free_name_stays_one_whatever_cards_come_later(
    run: Run, card: Path, ledger: Path
) -> None:
    run("begin", "--produce", "carrot", "--recipe", "my aunt's", "--as-bought", "9 lb")
    card.with_name("my-aunt-s.toml").write_bytes(card.read_bytes())
    found = run("weigh", "--trimmed", "8 lb", "--json").document
    assert found["forecast"]["recipe"] is None


def test_a_broken_card_is_no_free_name_for_a_new_batch(run: Run, card: Path, ledger: Path) -> None:
    broken(card)
    ran = run("begin", "--produce", "carrot", "--recipe", "gran", "--as-bought", "9 lb")
    assert ran.code == 1
    assert "is there but cannot be used" in ran.err
    assert not ledger.exists()


@pytest.mark.parametrize("ruin", [broken, gone])
def test_the_card_of_last_time_is_not_passed_over_either(
    run: Run, card: Path, ruin: Callable[[Path], None]
) -> None:
    run(*BEGIN)
    assert run("close", "--jars", "9").code == 0
    ruin(card)
    again = ("begin", "--produce", "carrot", "--as-bought", "9 lb")
    ran = run(*again)
    assert ran.code == 1
    assert str(card) in ran.err
    assert "--recipe" in ran.err
    assert run(*again, "--recipe", "").code == 0


def test_a_batch_begun_before_that_was_noted_has_its_card_by_its_name(
    run: Run, card: Path, ledger: Path
) -> None:
    typed = {"produce": "carrot", "jar": "pint", "recipe": "gran", "as_bought": "9 lb"}
    with Ledger.open(ledger, writing=True) as opened:
        begin(opened, "c9", typed)
    assert run("weigh", "--trimmed", "8 lb", "--json").document["forecast"]["recipe"] is not None
    broken(card)
    assert run("weigh", "--trimmed", "8 lb").code == 1
