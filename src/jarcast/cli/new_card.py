"""jarcast recipes new: a card of one's own book, asked for question by question."""

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer
from msgspec import Struct

from jarcast.cli.common import asking, show, tell
from jarcast.cli.prompts import Back, prompt
from jarcast.domain.rules import why_no_method
from jarcast.errors import JarcastError, RecipeError
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.recipes import Recipe

Answers = dict[str, tuple[str, ...]]

_HOW = (
    "Every number comes from your book: copy it as printed. Enter takes what is in [ ]; '-' "
    "leaves a question empty; 'back' goes back one; Ctrl-C stops, and nothing is kept."
)


class Question(Struct, frozen=True):
    """One question: its name, its words, and the reader that refuses what it cannot take whole.

    ``many`` is asked until an empty answer; ``needed`` does not take one.
    """

    name: str
    words: str
    read: Callable[[str], object] = str
    needed: bool = True
    many: bool = False


def questions(said: Answers, folder: Path) -> list[Question]:
    """What is to be asked, in the order in which a book is read, by what has been said."""
    from jarcast.recipes import Basis, Style, writing
    from jarcast.recipes.shelf import check_free

    ferment = [text.casefold() for text in said.get("style", ())] == [Style.FERMENT]
    found = [
        Question("title", "Title of the recipe", lambda text: check_free(text, folder)),
        Question("book", "Book or publisher"),
        Question("edition", "Edition or year"),
        Question("page", "Page, such as 'p. 112'"),
        Question("produce", "Produce, such as cucumber, or cucumber + onion"),
        Question("cut", "Cut, such as spears", needed=False),
        Question("style", f"Kind: {', '.join(Style)}", _one_of(*Style)),
        Question("amount", "How much produce, such as '7 lb'", writing.amount),
        Question("basis", f"Weighed {' or '.join(Basis)}", _one_of(*Basis)),
        Question("yield", "Printed yield, such as '8 pints' or '7 to 9 pints'",
                 writing.printed_yield),
        Question("cure", "Salting or soaking before the jars, as printed", needed=False),
    ]  # fmt: skip
    if said.get("cure"):
        found += [
            Question("cure hours", "Hours of that, such as '12' or '3 to 4'", writing.span,
                     needed=False),
            Question("cure ingredient", "What it takes, such as '1/2 cup canning salt'",
                     writing.ingredient, needed=False, many=True),
        ]  # fmt: skip
    found.append(_brine(ferment))
    if ferment:
        found += [
            Question("ferment salt", "Salt in percent of the weight, such as '2 to 2.5'",
                     writing.span, needed=False),
            Question("warmth", "Weeks by degrees F, such as '70-75: 3-4, 60-65: 5-6'",
                     writing.warmth, needed=False),
        ]  # fmt: skip
    return [*found, *_jars(said)]


def _brine(ferment: bool) -> Question:
    from jarcast.recipes import writing

    words = "Ingredient of the brine, such as '4 cups vinegar'"
    return Question("brine", words, writing.ingredient, needed=not ferment, many=True)


def _jars(said: Answers) -> list[Question]:
    from jarcast.recipes import writing

    def method(text: str) -> None:
        if why := why_no_method(text):
            raise RecipeError(why)
        if "pressure" in text.casefold():
            raise RecipeError(
                "a card with pressures is written as a file: see 'Writing a card' in "
                "models/recipes, then 'jarcast recipes add'"
            )

    found = []
    if any("vinegar" in line.casefold() for line in said.get("brine", ())):
        found.append(Question("acid", "Acid of the vinegar in percent, such as 5", writing.number))
    found += [
        Question("each jar", "What goes into each jar, such as 'salt: pint 1/2 tsp, quart 1 tsp'",
                 writing.each_jar, needed=False, many=True),
        Question("seasoning", "Seasoning of the batch, such as '2 tbsp mustard seed'",
                 writing.ingredient, needed=False, many=True),
        Question("pack", "Pack: raw, hot, or 'raw, hot'", _packs),
        Question("headspace", "Headspace, such as '1/2 in'", writing.inches),
        Question("jars", "Jars it lists, such as 'pint, quart'", writing.jars),
        Question("method", "How jars are processed, such as 'boiling-water canner'",
                 method, needed=False),
    ]  # fmt: skip
    if said.get("method"):
        found += [
            Question(f"minutes {pack} {jar}", f"{jar.capitalize()}, {pack} pack: minutes by feet, "
                     "such as '0-1000: 10, 1001-6000: 15'",
                     writing.minutes, needed=False)
            for pack, jar in writing.packs_and_jars(said)
        ]  # fmt: skip
        found.append(Question("sterile", "Does it ask for sterile jars: yes or no",
                              writing.yes_or_no, needed=False))  # fmt: skip
    words = "Anything else to know, a line each"
    return [*found, Question("note", words, needed=False, many=True)]


def _one_of(*words: str) -> Callable[[str], None]:
    def read(text: str) -> None:
        if text.casefold() not in words:
            raise RecipeError(f"say one of: {', '.join(words)}")

    return read


def _packs(text: str) -> None:
    from jarcast.recipes import writing

    packs = {pack for pack, _ in writing.packs_and_jars({"pack": (text,), "jars": ("pint",)})}
    if not packs or not packs <= {"raw", "hot"}:
        raise RecipeError("say raw, hot, or 'raw, hot'")


def new_card(folder: Path, units: Units) -> "Recipe | None":
    """Ask for a card, read it back, and keep it once approved; None where it is not.

    Raises RecipeError away from a terminal.
    """
    from jarcast.recipes import card_key, card_shelf, keep_card, read_card, writing
    from jarcast.views.recipes import Shown, card_text, check_text

    if not asking():
        raise RecipeError(
            "a card is asked for question by question, at a terminal; elsewhere write it as a "
            "file, check it with 'jarcast recipes check' and add it with 'jarcast recipes add'"
        )
    tell(_HOW)
    said: Answers = {"method": ("boiling-water canner",), "style": ("cover brine",)}
    while True:
        _ask(said, folder)
        asked = {question.name for question in questions(said, folder)}
        held = {name: lines for name, lines in said.items() if name in asked}
        text, key = writing.card_of(held), card_key(held["title"][0])
        try:
            card = read_card(text, key, "the card")
        except RecipeError as error:
            tell(
                "\n".join(
                    ["This cannot be right:", *_without_lines(error.problems or [str(error)])]
                )
            )
            tell("Go through it again; Enter keeps what you said.")
            continue
        show(card_text(card, Shown(card.tested.jar, "", None, units)))
        show(check_text(card, card_shelf(folder).like(card)))
        if typer.confirm("Is all of it just as in your book?", default=False, err=True):
            break
        if not typer.confirm("Go through it again?", default=True, err=True):
            return None
    try:
        return keep_card(text.encode(), key, folder)
    except RecipeError:
        show(text)  # so that what was typed is not lost
        raise


def _without_lines(problems: Sequence[str]) -> list[str]:
    """What is to be mended, without the lines and signs of a file that nobody has seen."""
    plain = (re.sub(r"\[+(\w+)\]+", r"\1", problem) for problem in problems)
    return [f"  {re.sub(r'^line [0-9]+, ', '', problem)}" for problem in plain]


def _ask(said: Answers, folder: Path) -> None:
    """Ask everything; what was said before stands until it is said anew."""
    at = 0
    while at < len(asked := questions(said, folder)):
        question = asked[at]
        before = said.get(question.name, ())
        try:
            said[question.name] = (_many if question.many else _one)(question, before)
        except Back:
            at = max(at - 1, 0)
            continue
        at += 1


def _one(question: Question, before: tuple[str, ...]) -> tuple[str, ...]:
    may_be_empty = not question.needed and not before
    words = f"{question.words} (Enter: none)" if may_be_empty else question.words
    while True:
        answer = prompt(words, before[0] if before else "")
        if not answer and not question.needed:
            return ()
        if why := _why_not(question, answer):
            tell(why)
        else:
            return (answer,)


def _many(question: Question, before: tuple[str, ...]) -> tuple[str, ...]:
    found: list[str] = []
    while True:
        default = before[len(found)] if len(found) < len(before) else ""
        may_end = not default and (found or not question.needed)
        more = f" (Enter: {'no more' if found else 'none'})" if may_end else ""
        try:
            answer = prompt(f"{question.words}{more}", default)
        except Back:
            if not found:
                raise
            found.pop()
            continue
        if not answer and (found or not question.needed):
            return tuple(found)
        if why := _why_not(question, answer):
            tell(why)
        else:
            found.append(answer)


def _why_not(question: Question, answer: str) -> str:
    if not answer:
        return "The card needs this: look in the book, or press Ctrl-C to stop."
    try:
        question.read(answer)
    except JarcastError as error:
        return str(error)
    return ""
