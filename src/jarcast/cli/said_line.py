"""A batch said in one line: shown as it was understood, asked back where it was not."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from jarcast.cli.common import asking, tell
from jarcast.errors import BatchError, cut_short

if TYPE_CHECKING:
    from jarcast.domain.jars import Jar
    from jarcast.notebook.line import Line
    from jarcast.notebook.reading import Asked

WordsArgument = Annotated[
    list[str] | None,
    typer.Argument(
        help='The batch in one line: "carrot sticks: 8 lb bought, 9 pints, 10 cups brine, 2 left".',
        show_default=False,
    ),
]
_UNANSWERED = ("", "-", "skip", "leave it out")


def said(
    words: Sequence[str],
    options: Mapping[str, str | None],
    shelf: "Mapping[str, Jar]",
    *,
    as_json: bool = False,
) -> dict[str, str | None]:
    """What a line says by column, and what the options beside it say.

    What cannot be placed is asked back at a terminal. Raises BatchError where nobody can be asked,
    for a question without whose answer there is no batch, and where line and options say the same
    column.
    """
    from jarcast.notebook.line import understood

    given = {column: value for column, value in options.items() if value is not None}
    line, left_out = _answered(" ".join(words), given, shelf, as_json=as_json)
    if left_out:
        line = replace(line, cells=_with_note(line.cells, left_out, given))
    tell(understood(line))
    if left_out:
        kept = "" if "note" in given else ", and kept in the note"
        told = "; ".join(_told(one, line.without[one]) for one in left_out)
        tell(f"Not answered{kept}: {told}.")
    if twice := [column for column in given if column in line.cells]:
        column = twice[0].replace("_", "-").removesuffix("-in")
        raise BatchError(f"the line tells {column}, and so does --{column}; give it once")
    return {**options, **line.cells}


def _answered(
    text: str, given: Mapping[str, str], shelf: "Mapping[str, Jar]", *, as_json: bool
) -> "tuple[Line, list[Asked]]":
    """A line with the answers to its questions, and the questions that got none."""
    from jarcast.notebook.line import understood

    answers: dict[Asked, str] = {}
    left_out: list[Asked] = []
    line = _read(text, given, shelf, answers)
    why = answer = ""
    before = line.asked
    while asked := [one for one in line.asked if one not in left_out]:
        if not asking(as_json):
            told = "; ".join(f"'{part}': {due}" if part else due for part, due in asked)
            raise BatchError(f"nothing was recorded: {told}")
        one = asked[0]
        if answer and (one in answers or (one[1] == why and one not in before)):
            tell(f"'{cut_short(answer)}' does not answer that.")
        else:
            tell(understood(line))
        why, before = one[1], line.asked
        if answer := _ask(one, line.without[one]):
            answers[one] = answer
            line = _read(text, given, shelf, answers)
        else:
            answers.pop(one, None)
            left_out.append(one)
    return line, left_out


def _ask(asked: "Asked", without: str) -> str:
    """The answer to a question; '' for none. Raises BatchError where there is no batch without."""
    from jarcast.notebook.reading import NOTHING

    part, why = asked
    shown = f"'{part}': " if part else ""
    question = f"{shown}{why} (Enter: {without})"
    answer = str(typer.prompt(question, default="", show_default=False, err=True)).strip()
    if answer.casefold() not in _UNANSWERED:
        return answer
    if without == NOTHING:
        raise BatchError(f"nothing was recorded: {shown}{why}")
    return ""


def _with_note(
    cells: Mapping[str, str], left_out: "Sequence[Asked]", given: Mapping[str, str]
) -> dict[str, str]:
    """The cells of a line, what is left out of them kept in the note unless that is ``given``."""
    note = cells.get("note", "")
    if "note" in given:
        return dict(cells)
    for part, _ in left_out:
        if part and _plain(part) not in _plain(note):
            note = f"{note}; {part}" if note else part
    return {**cells, "note": note} if note else dict(cells)


def _plain(text: str) -> str:
    return " ".join(text.replace(":", " ").split())


def _told(asked: "Asked", without: str) -> str:
    part, why = asked
    return f"'{part}' ({without})" if part else f"{why.partition('?')[0]} ({without})"


def _read(
    text: str, given: Mapping[str, str], shelf: "Mapping[str, Jar]", answers: "Mapping[Asked, str]"
) -> "Line":
    """The line, without the questions that the options beside it answer."""
    from jarcast.notebook.dated import WHICH_DAY, read_dated
    from jarcast.notebook.line import HOW_MANY, WHICH_CROP
    from jarcast.notebook.reading import LEFT_OUT, NOTHING

    line = read_dated(text, shelf, answers)
    told = {WHICH_CROP: "produce", HOW_MANY: "jars", WHICH_DAY: "date"}
    asked = tuple(one for one in line.asked if told.get(one[1]) not in given)
    if "jars" in given:  # the batch has jars without those of the line
        of_jars = (one for one in asked if one[1] != WHICH_CROP and line.cells)
        without = {one: LEFT_OUT for one in of_jars if line.without[one] == NOTHING}
        line = replace(line, without={**line.without, **without})
    return replace(line, asked=asked)
