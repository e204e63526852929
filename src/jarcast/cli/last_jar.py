"""What becomes of the last jar of a batch: told once, and remembered."""

from contextlib import suppress
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import remember_now, tell
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.work import Work


class LastJar(StrEnum):
    """What a person says of the last jar."""

    PART = "part"
    WHOLE = "whole"
    LEARN = "learn"


LastJarOption = Annotated[
    LastJar | None,
    typer.Option(
        "--last-jar",
        help="Your last jar: sometimes part full, always whole, or learned from your batches.",
    ),
]
_ASK = "Do you ever leave the last jar part full? (yes, no, or never ask)"
_HOW = (
    "One question more, asked once. 'no' means that you fill it up or use the rest up; 'never ask' "
    "leaves it to your batches. 'jarcast kitchen --last-jar' changes it."
)
_ANSWERS = {
    "yes": LastJar.PART,
    "y": LastJar.PART,
    "no": LastJar.WHOLE,
    "n": LastJar.WHOLE,
    "never ask": LastJar.LEARN,
    "never": LastJar.LEARN,
}


def ask(work: "Work") -> None:
    """Ask of the last jar, at the terminal; who gives no answer leaves it to the batches."""
    from jarcast.app.work import LAST_JAR

    tell(wrapped(_HOW))
    said = None
    with suppress(typer.Abort, KeyboardInterrupt, EOFError):
        while said is None:
            answer = str(typer.prompt(_ASK, default="never ask", err=True)).strip().casefold()
            said = _ANSWERS.get(answer)
            if said is None:
                tell(f"'{answer[:40]}': answer yes, no or never ask.")
    work.remember_with(LAST_JAR, (said or LastJar.LEARN).value)
    remember_now(work, "That")
