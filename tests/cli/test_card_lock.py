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


def watered(card: Path) -> None:
    """Less vinegar and a shorter process, as somebody in a hurry might write it."""
    text = card.read_text(encoding="utf-8")
    for old, new in (("= 15,", "= 14,"), ('amount = "1 cup"', 'amount = "1 1/2 cups"')):
        assert old in text
        text = text.replace(old, new)
    card.write_text(text, encoding="utf-8")


def test_a_card_that_was_changed_stops_its_batch_until_one_of_the_two_is_chosen(
    run: Run, card: Path, ledger: Path
) -> None:
    run(*BEGIN)
    before = run("weigh", "--trimmed", "8 lb", "--json").document["forecast"]
    watered(card)
    ran = run("weigh", "--note", "windy")
    assert (ran.code, ran.out) == (1, "")
    said = " ".join(ran.err.split())
    assert "has changed since 'c9' was begun (brine, process)" in said
    assert "jarcast amend c9 card=old" in said
    assert "jarcast amend c9 card=new" in said
    assert run("amend", "c9", "card=old").code == 0
    after = run("weigh", "--note", "still", "--json").document["forecast"]
    assert after["brine_ingredients"] == before["brine_ingredients"]
    assert after["floor_ml"] == before["floor_ml"]
    assert run("amend", "c9", "card=new").code == 0
    watered_again = card.read_text(encoding="utf-8").replace("= 14,", "= 13,")
    new = run("weigh", "--note", "calm", "--json").document["forecast"]
    assert new["floor_ml"] != before["floor_ml"]
    card.write_text(watered_again, encoding="utf-8")
    assert run("pack", "--jars", "2", "--pot-left", "1 cup").code == 1


def test_a_batch_goes_on_by_its_card_as_it_was_where_that_is_gone(run: Run, card: Path) -> None:
    run(*BEGIN)
    gone(card)
    ran = run("weigh", "--trimmed", "8 lb")
    assert "go on by the card as it was (jarcast amend c9 card=old)" in " ".join(ran.err.split())
    assert run("amend", "c9", "card=old").code == 0
    assert run("weigh", "--note", "still", "--json").document["forecast"]["floor_known"]


def test_a_comment_or_other_line_ends_are_no_change_of_a_card(run: Run, card: Path) -> None:
    run(*BEGIN)
    text = card.read_text(encoding="utf-8")
    card.write_bytes(f"# Mine.\n{text}".replace("\n", "\r\n").encode())
    assert run("weigh", "--trimmed", "8 lb").code == 0


def test_what_a_changed_card_may_be_settled_by_is_said(run: Run, card: Path) -> None:
    run(*BEGIN)
    ran = run("amend", "c9", "card=mine")
    assert ran.code == 1
    assert "say card=old or card=new" in ran.err
    run("begin", "--produce", "fennel", "--as-bought", "3 lb", "--batch", "free")
    assert run("amend", "free", "card=old").code == 1


def test_a_closed_batch_is_told_of_a_changed_card(run: Run, card: Path) -> None:
    run(*BEGIN)
    watered(card)
    closed = run("close", "--jars", "9", "--yes")
    assert "has changed since" in " ".join(closed.err.split())


# Pickled carrots (AIB 539, Guide 6): 2 3/4 lb of carrots prepared fill 4 pints, 11 oz in each.
CROP = ("--produce", "carrot", "--pack", "hot", "--jar", "pint", "--recipe", "pickled-carrots")


@pytest.mark.parametrize(("jars", "closer"), [("4", True), ("9", False)])
def test_jars_packed_closer_than_the_card_are_told_by_record_and_close(
    run: Run, jars: str, closer: bool
) -> None:
    grams = ("--trimmed", "4 lb")
    ran = run("record", *CROP, *grams, "--jars", jars, "--yes")
    assert ("Pack looser" in ran.err) == closer
    assert run("begin", *CROP, *grams, "--batch", "o", "--yes").code == 0
    closed = run("close", "--jars", jars, "--yes")
    assert ("Pack looser" in closed.err) == closer


def test_where_the_packing_cannot_be_checked_that_is_said(run: Run) -> None:
    # By the cup: pickled cauliflower; and a batch that was never weighed.
    by_cup = ("--produce", "cauliflower", "--recipe", "pickled-cauliflower", "--jar", "half-pint")
    ran = run("record", *by_cup, "--trimmed", "4 lb", "--jars", "9", "--yes")
    assert "Pack check: not possible, as the card measures its produce by the cup" in ran.err
    ran = run("record", *CROP, "--jars", "9", "--yes")
    assert "not possible, as what went into the jars was not weighed" in " ".join(ran.err.split())
