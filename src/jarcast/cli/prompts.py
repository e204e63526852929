"""Prompts of jarcast guide: one line typed, nothing, or the wish to go back a question."""

import typer

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
