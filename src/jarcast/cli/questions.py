"""The questions of jarcast guide, in the order of the work, and their usual answers."""

from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from msgspec import Struct

from jarcast.cli.common import Packer, packer
from jarcast.cli.counter import Desk
from jarcast.cli.prompts import prompt
from jarcast.domain.batch import number_text
from jarcast.domain.crop_text import cut_as_pack
from jarcast.domain.names import cut_key, makes_its_own_brine, produce_key, put_up_as
from jarcast.domain.stages import is_hot
from jarcast.errors import BatchError, MeasureError, cut_short
from jarcast.measures import parse_hours, parse_volume, parse_weight

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.app.work import Work


def _always(_: "Underway") -> bool:
    return True


def _salted(at: "Underway") -> bool:
    return at.batch.cure_hours != 0


def _hot(at: "Underway") -> bool:
    return is_hot(at.batch.pack)


def with_brine(at: "Underway") -> bool:
    """Whether a brine is made for the batch at all."""
    produce = put_up_as(produce_key(at.batch.produce), at.batch.cure_hours)
    return not makes_its_own_brine(produce, cut_key(at.batch.cut))


def _brine_made(at: "Underway") -> bool:
    return at.batch.brine_made_ml is not None


class Question(Struct, frozen=True):
    """One question: the column it fills, its words, and the batches it is asked of."""

    column: str
    words: str
    due: "Callable[[Underway], bool]" = _always


_IN_WORDS = {"produce": "carrot", "cut": "sticks", "pack": "raw or hot"}


def check_words(column: str, answer: str) -> None:
    """Raise BatchError for a number or an amount, where a question asks for words."""
    example = _IN_WORDS.get(column, "")
    if not example or not answer:
        return
    if not any(sign.isalpha() for sign in answer) or _is_amount(answer):
        none = "" if column == "produce" else ", or '-' for none"
        raise BatchError(f"'{cut_short(answer)}' is no {column}; say it such as {example}{none}")
    if column == "pack" and cut_as_pack(answer):
        raise BatchError(f"'{cut_short(answer)}' is a cut; a pack is raw or hot, or '-' for none")


def _is_amount(text: str) -> bool:
    for read in (parse_weight, parse_volume, parse_hours):
        with suppress(MeasureError):
            read(text)
            return True
    return False


PRODUCE = Question("produce", "What is put up")
QUESTIONS = (
    PRODUCE,
    Question("cut", "Cut (sticks, slices, whole...)"),
    Question("pack", "Pack (raw or hot)"),
    Question("jar", "Jar (pint, quart, pint-wide...)"),
    Question("recipe", "Recipe"),
    Question("as_bought", "Weight as bought"),
    Question("trimmed", "Weight trimmed"),
    Question("cure_hours", "Hours in salt (0: not salted)"),
    Question("salt", "Salt", _salted),
    Question("cured", "Weight cured, rinsed and drained", _salted),
    Question("cooked", "Weight cooked", _hot),
    Question("brine_made", "Brine made", with_brine),
    Question("jars", "Jars filled (last jar half full? write 1/2)"),
    Question("brine_left", "Brine left in the pot", _brine_made),
    Question("sealed", "Jars that sealed"),
    Question("note", "Note"),
)


def usual_answer(here: Desk, column: str) -> str:
    """The answer of the last like batch, where that is likely to hold again; '' else."""
    from jarcast.app.open_batch import as_last, last_like

    typed, batches = here.found.typed, here.kitchen.batches
    last = last_like(batches, typed["produce"], typed.get("cut", ""))
    if column == "jar" and last is None and batches:
        return here.kitchen.habits.usual_jar
    if last is None:
        return ""
    if column == "cut":
        return last.cut
    if column == "cure_hours" and last.cure_hours is not None:
        return number_text(last.cure_hours)
    return as_last(last).get(column, "")


def cards_for(here: Desk) -> list[str]:
    """Keys of the recipe cards for what is put up, those for its cut first."""
    from jarcast.cli.cards import card_folder
    from jarcast.recipes import card_shelf

    produce, cut = (here.found.typed.get(column, "") for column in ("produce", "cut"))
    shelf = card_shelf(card_folder(here.path))
    cards = {**shelf.shipped, **shelf.own}
    fit = [key for key, card in cards.items() if card.produce == produce_key(produce)]
    return sorted(fit, key=lambda key: (cards[key].cut != cut_key(cut), key))


def who_packs(work: "Work", said: str | None) -> Packer:
    """Who packs, asked at the terminal where several are known or one was named. Raises Back."""
    from jarcast.app.work import PERSON

    own = work.kitchen
    before = own.settings.get(PERSON, "")
    if said is None and (before or len(own.people) > 1):
        said = prompt("Who packs it ('-' for nobody named)", before)
    return packer(work, said)
