"""Prompts at a terminal: one line typed, nothing, yes or no; in the guide also 'back'."""

import typer

from jarcast.cli.common import tell

BACK = "back"


class Back(Exception):  # noqa: N818 - it is no error
    """The question before is to be asked again."""


def prompt(words: str, default: str = "") -> str:
    """What is typed at a prompt; '' for '-' and for nothing. Raises Back when asked to."""
    answer = str(typer.prompt(words, default=default, show_default=bool(default), err=True))
    answer = answer.strip()
    if answer.casefold() == BACK:
        raise Back
    return "" if answer == "-" else answer


def confirmed(question: str, *, default: bool = False, guided: bool = False) -> bool:
    """Yes or no; Enter is the ``default``. ``guided``: 'back' is an answer, and raises Back."""
    signs, answers = "[Y/n]" if default else "[y/N]", {"y": True, "yes": True, "": default}
    while True:
        said = str(typer.prompt(f"{question} {signs}", default="", show_default=False, err=True))
        answer = said.strip().casefold()
        if guided and answer == BACK:
            raise Back
        if answer in ("n", "no", *answers):
            return answers.get(answer, False)
        tell(f"'{answer[:40]}': answer y or n{', or back' if guided else ''}.")
