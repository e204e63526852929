"""A card of one's own book, asked for question by question: read back whole, kept once approved."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli import new_card
from jarcast.cli.prompts import Back
from jarcast.recipes import load_card

Run = Callable[..., Any]

# An invented book; what it prints is made up, and only its shape matters.
BOOK = {
    "Title": "Aunt Olga's dill spears", "Book": "The Mill Lane Book of Jars", "Edition": "2019",
    "Page": "p. 41", "Produce": "cucumber", "Cut": "spears", "Kind": "", "How much": "8 lb",
    "Weighed": "as bought", "Printed yield": "7 to 9 pints", "Salting": "",
    "Ingredient of the brine": ["4 cups vinegar", "4 cups water", "1/4 cup canning salt", ""],
    "Acid": "5", "What goes into each jar": ["dill: pint 1 head, quart 2 heads", ""],
    "Seasoning": "", "Pack": "raw", "Headspace": "1/2 in", "Jars": "pint, quart",
    "How jars are processed": "", "Pint, raw": "0-1000: 10, 1,001-6,000: 15",
    "Quart, raw": "0-1000: 15, 1,001-6,000: 20", "Does it ask": "", "Anything": "",
}  # fmt: skip


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[str]]:
    """Answers the questions from a book; ``yes`` are the answers to what is confirmed."""

    def answer(book: dict[str, Any], *yes: bool) -> list[str]:
        said: list[str] = []
        left = {key: one if isinstance(one, str) else [*one] for key, one in book.items()}
        confirmed = iter(yes)

        def prompt(words: str, default: str = "") -> str:
            said.append(words)
            assert len(said) < 100, "asked without end"
            key = next(start for start in left if words.startswith(start))
            answers = left[key]
            found = answers if isinstance(answers, str) else answers.pop(0) if answers else ""
            if found == "back":
                raise Back
            if found == "-":
                return ""
            return found or default

        monkeypatch.setattr(new_card, "asking", lambda: True)
        monkeypatch.setattr(new_card, "prompt", prompt)
        monkeypatch.setattr(new_card.typer, "confirm", lambda *_, **__: next(confirmed))
        return said

    return answer


def test_a_card_is_asked_for_read_back_and_kept(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    asked(BOOK, True)
    ran = run("recipes", "new")
    assert ran.code == 0
    for shown in ("Aunt Olga's dill spears", "Mill Lane", "4 cups vinegar", "10 min", "½ in"):
        assert shown in ran.out
    (file,) = (ledger.parent / "recipes").glob("*.toml")
    card = load_card(file)
    assert card.safety is not None
    assert (card.produce, card.cut, card.packs) == ("cucumber", "spears", ("raw",))
    assert card.tested.jars == (7.0, 9.0)
    assert card.safety.least_acid_percent == 5.0
    assert [part.printed for part in card.safety.formula] == [
        "4 cups", "4 cups", "1/4 cup",
    ]  # fmt: skip
    assert [(row.jar, row.band, row.minutes) for row in card.safety.process] == [
        ("pint", "0-1000 ft", 10.0), ("pint", "1001-6000 ft", 15.0),
        ("quart", "0-1000 ft", 15.0), ("quart", "1001-6000 ft", 20.0),
    ]  # fmt: skip
    assert [(one.jar, one.part.line) for one in card.safety.per_jar] == [
        ("pint", "1 head dill"), ("quart", "2 heads dill"),
    ]  # fmt: skip
    assert run("forecast", "--recipe", card.key, "--as-bought", "8 lb").code == 0


def test_what_is_not_approved_is_not_kept(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    asked(BOOK, False, False)
    ran = run("recipes", "new")
    assert (ran.code, ran.out.splitlines()[-1]) == (0, "Nothing was kept.")
    assert not (ledger.parent / "recipes").exists()


def test_a_card_that_cannot_be_is_told_and_asked_again(
    run: Run, asked: Callable[..., list[str]]
) -> None:
    # Vinegar of 0.1 % is no vinegar; put right on the second round, with all else as it was said.
    asked({**BOOK, "Acid": ["0.1", "5"]}, True)
    ran = run("recipes", "new")
    assert ran.code == 0
    assert "vinegar" in ran.err
    assert "Go through it again" in ran.err
    assert not re.search(r"line [0-9]|\[", ran.err.partition("This cannot be right:")[2])


def test_one_goes_back_a_question(run: Run, asked: Callable[..., list[str]]) -> None:
    said = asked({**BOOK, "Page": ["back", "p. 41"], "Edition": ["1", "2019"]}, True)
    assert run("recipes", "new").code == 0
    assert [one.split()[0] for one in said[:6]] == [
        "Title", "Book", "Edition", "Page,", "Edition", "Page,",
    ]  # fmt: skip


def test_away_from_a_terminal_nobody_is_asked(run: Run) -> None:
    ran = run("recipes", "new")
    assert (ran.code, ran.out) == (1, "")
    assert "recipes add" in ran.err


def test_an_answer_of_which_a_part_would_be_lost_is_asked_again_at_once(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    slips = {"Pint, raw": ["0-1000: 1 hour", "0-1000: 10 to 15", "0-1000: 10"],
             "Pack": ["raw or boiled", "raw"], "Jars": ["pot", "pint"]}  # fmt: skip
    asked({**BOOK, **slips, "What goes into each jar": ""}, True)
    ran = run("recipes", "new")
    assert ran.code == 0
    assert ran.err.count("cannot be read, so none of it is used") == 2
    (file,) = (ledger.parent / "recipes").glob("*.toml")
    card = load_card(file)
    assert card.safety is not None
    assert [(row.band, row.minutes) for row in card.safety.process] == [("0-1000 ft", 10.0)]


def test_a_title_that_is_taken_is_told_before_anything_else_is_typed(
    run: Run, asked: Callable[..., list[str]]
) -> None:
    asked(BOOK, True)
    assert run("recipes", "new").code == 0
    said = asked({**BOOK, "Title": [BOOK["Title"], "Pickled beets", "Olga's other spears"]}, True)
    ran = run("recipes", "new")
    assert ran.code == 0
    assert "already" in ran.err
    assert "ships with jarcast" in ran.err
    assert [words.split()[0] for words in said[:4]] == ["Title", "Title", "Title", "Book"]


def test_a_ferment_is_asked_for_its_salt_and_weeks(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    ferment = {"Kind": "ferment", "Ingredient of the brine": "", "Acid": "",
               "Salt in percent": "2 to 2.5", "Weeks": "70-75: 3-4, 60-65: 5-6"}  # fmt: skip
    said = asked({**BOOK, **ferment}, True)
    assert run("recipes", "new").code == 0
    assert not any(words.startswith("Acid") for words in said)  # where there is no vinegar
    (file,) = (ledger.parent / "recipes").glob("*.toml")
    card = load_card(file)
    assert card.safety is not None
    assert card.safety.ferment_salt == (0.02, 0.025)
    assert card.safety.ferment is not None
    assert card.safety.ferment.warmth == (((70, 75), (3, 4)), ((60, 65), (5, 6)))


def test_what_was_typed_is_shown_where_it_cannot_be_written(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    (ledger.parent / "recipes").write_text("a file where the folder would be")
    asked(BOOK, True)
    ran = run("recipes", "new")
    assert ran.code == 1
    assert "could not be added" in ran.err
    assert '"1001-6000" = 20' in ran.out


def test_short_times_are_in_sterile_jars_whatever_was_answered(
    run: Run, asked: Callable[..., list[str]]
) -> None:
    # USDA Complete Guide, revised 2015, Guide 1, p. 1-14: jars of less than 10 min are sterilised.
    short = {"Pint, raw": "0-1000: 5, 1001-6000: 10", "Does it ask": "no"}
    asked({**BOOK, **short}, True)
    ran = run("recipes", "new")
    assert "under 10 min, so fill sterile jars" in " ".join(ran.out.split())


def test_answers_to_questions_that_are_no_longer_asked_are_not_kept(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    # At first a ferment that is processed; on the second round neither.
    turned = {
        "Kind": ["ferment", "cover brine"], "How jars are processed": ["boiling-water canner", "-"],
        "Salt in percent": "2", "Weeks": "70-75: 3-4",
    }  # fmt: skip
    asked({**BOOK, **turned}, False, True, True)
    assert run("recipes", "new").code == 0
    (file,) = (ledger.parent / "recipes").glob("*.toml")
    card = load_card(file)
    assert card.safety is not None
    assert (card.safety.process, card.safety.ferment, card.safety.ferment_salt) == ((), None, None)


def test_capitals_are_forgiven_where_a_word_is_chosen(
    run: Run, asked: Callable[..., list[str]], ledger: Path
) -> None:
    asked({**BOOK, "Kind": "Cover Brine", "Weighed": "As bought", "Pack": "Raw"}, True)
    ran = run("recipes", "new")
    assert (ran.code, "say one of" in ran.err) == (0, False)
    (file,) = (ledger.parent / "recipes").glob("*.toml")
    assert load_card(file).packs == ("raw",)


def test_enter_is_told_to_end_a_list_only_where_it_does(
    run: Run, asked: Callable[..., list[str]]
) -> None:
    said = asked(BOOK, False, True, True)
    assert run("recipes", "new").code == 0
    brine = [words for words in said if words.startswith("Ingredient of the brine")]
    # Four cups of vinegar, water, salt, and the end; then Enter takes what was said before.
    assert ["Enter" in words for words in brine[:4]] == [False, True, True, True]
    assert "(Enter: none)" not in brine[0]
    again = brine[4:]
    assert len(again) >= 2
    assert not any("Enter" in words for words in again[:3])
