"""A batch said in one line: shown as it was understood, asked back where it was not."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from jarcast.cli.common import asking, tell
from jarcast.errors import BatchError

if TYPE_CHECKING:
    from jarcast.domain.jars import Jar
    from jarcast.notebook.line import Line

WordsArgument = Annotated[
    list[str] | None,
    typer.Argument(
        help='The batch in one line: "carrot sticks: 8 lb bought, 9 pints, 10 cups brine, 2 left".',
        show_default=False,
    ),
]


def said(
    words: Sequence[str],
    options: Mapping[str, str | None],
    shelf: "Mapping[str, Jar]",
    *,
    as_json: bool = False,
) -> dict[str, str | None]:
    """What a line says by column, and what the options beside it say.

    What cannot be placed is asked back at a terminal. Raises BatchError where nobody can be asked,
    and where line and options say the same column.
    """
    from jarcast.notebook.line import understood

    text = " ".join(words)
    given = {column: value for column, value in options.items() if value is not None}
    line = _read(text, given, shelf)
    left_out = set[tuple[str, str]]()
    while asked := [one for one in line.asked if one not in left_out]:
        if not asking(as_json):
            told = "; ".join(f"'{part}': {why}" if part else why for part, why in asked)
            raise BatchError(f"nothing was recorded: {told}")
        part, why = asked[0]
        tell(understood(line))
        shown = f"'{part}': " if part else ""
        question = f"{shown}{why} (empty leaves it out)"
        answer = str(typer.prompt(question, default="", show_default=False, err=True)).strip()
        if answer:
            within = part and part in text
            text = text.replace(part, answer, 1) if within else f"{text}, {answer}"
            line = _read(text, given, shelf)
        else:
            left_out.add(asked[0])
    tell(understood(line))
    if twice := [column for column in given if column in line.cells]:
        column = twice[0].replace("_", "-").removesuffix("-in")
        raise BatchError(f"the line tells {column}, and so does --{column}; give it once")
    return {**options, **line.cells}


def _read(text: str, given: Mapping[str, str], shelf: "Mapping[str, Jar]") -> "Line":
    """The line, without the questions that the options beside it answer."""
    from jarcast.notebook.dated import read_dated

    line = read_dated(text, shelf)
    answered = {"what was put up": "produce", "how many jars": "jars"}
    asked = tuple(
        (words, why)
        for words, why in line.asked
        if not any(why.startswith(start) and given.get(c) for start, c in answered.items())
    )
    return replace(line, asked=asked)
