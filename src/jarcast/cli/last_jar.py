"""What becomes of the last jar of a batch: told once, and remembered."""

from contextlib import suppress
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import remember_now, tell
from jarcast.cli.prompts import Back, prompt
from jarcast.domain.last_jar import LastJar
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping

    from jarcast.app.work import Work

LastJarOption = Annotated[
    LastJar | None,
    typer.Option(
        "--last-jar",
        help="What becomes of a rest that does not fill a jar: it is left in a part-full one, has "
        "a smaller one where that will do, is topped up with brine, or is eaten. 'whole': now "
        "this, now that, but jars are whole. 'learn' leaves it to the batches.",
    ),
]
_HOW = (
    "One thing more, asked once: a rest that does not fill a jar. 'never ask' leaves it to your "
    "batches; 'jarcast kitchen --last-jar' changes it."
)
_PART_FULL = "Do you leave the last jar part full? (yes, sometimes, no, or never ask)"
_ANSWERS = {
    "yes": LastJar.PART,
    "y": LastJar.PART,
    "sometimes": LastJar.LEARN,
    "no": LastJar.WHOLE,
    "n": LastJar.WHOLE,
    "never ask": LastJar.LEARN,
    "never": LastJar.LEARN,
}
_REST = "What becomes of the rest? (topped up, smaller jar, eaten, or varies)"
_RESTS = {
    "topped up": LastJar.TOPPED,
    "topped": LastJar.TOPPED,
    "smaller jar": LastJar.SMALLER,
    "smaller": LastJar.SMALLER,
    "eaten": LastJar.EATEN,
    "varies": LastJar.WHOLE,
}


def ask(work: "Work") -> None:
    """Ask of the last jar, at the terminal; who gives no answer leaves it to the batches."""
    from jarcast.app.work import LAST_JAR

    tell(wrapped(_HOW))
    said = LastJar.LEARN
    with suppress(typer.Abort, KeyboardInterrupt, EOFError):
        said = _asked()
    work.remember_with(LAST_JAR, said.value)
    remember_now(work, "That")


def _asked() -> LastJar:
    """Whether it is left part full; where it is not, what becomes of the rest."""
    while True:
        try:
            said = _answer(_PART_FULL, _ANSWERS, "never ask")
        except Back:
            tell("The batch is closed: this is the only thing left to ask.")
            continue
        if said is not LastJar.WHOLE:
            return said
        with suppress(Back):
            return _answer(_REST, _RESTS, "varies")


def _answer(question: str, answers: "Mapping[str, LastJar]", default: str) -> LastJar:
    """One of these answers; asked again until it is one. Raises Back when asked to."""
    while True:
        answer = prompt(question, default).casefold() or default
        if answer in answers:
            return answers[answer]
        choices = question[question.index("(") + 1 : -1]
        tell(f"'{answer[:40]}': answer {choices}.")
