"""'-' where a file is to be written: standard output is meant, and a table alone goes there."""

from pathlib import Path

from jarcast.errors import JarcastError


def is_output(file: Path | None) -> bool:
    """Whether standard output is meant, as '-' is everywhere."""
    return file is not None and str(file) == "-"


def refuse_output(file: Path | None, what: str, such_as: str) -> None:
    """Raise JarcastError for a file that is no table, and would go to standard output."""
    if is_output(file):
        raise JarcastError(
            f"a {what} goes into a file, not to standard output ('-'); name one, such as {such_as}"
        )
