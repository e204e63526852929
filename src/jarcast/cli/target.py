"""Where a file goes that a command is told to write: '-' is standard output, for a table alone."""

import io
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

from jarcast.cli.common import answering, plain_lines
from jarcast.errors import JarcastError
from jarcast.files.output import is_output

Fill = Callable[[TextIO], object]


def refuse_two_outputs(tables: dict[str, Path | None], *, as_json: bool) -> None:
    """Raise JarcastError where standard output would have to hold more than one document."""
    names = [name for name, file in tables.items() if is_output(file)]
    both = [*names, *(["--json"] if as_json else [])]
    if names and len(both) > 1:
        raise JarcastError(
            f"{' and '.join(both)} cannot all go to standard output; name a file for {names[0]}"
        )


def write_text(file: Path, fill: Fill, such_as: str) -> None:
    """Write a table into a file, whole or not at all, or to standard output. Raises JarcastError.

    ``such_as`` is a name to propose where ``file`` is a folder.
    """
    from jarcast.files.whole import write_whole_text

    if is_output(file):
        put_out(fill)
    else:
        write_whole_text(file, fill, such_as)


def put_out(fill: Fill) -> None:
    """Write a table to standard output; at a terminal nothing that was typed moves its cursor."""
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(newline="", encoding="utf-8")  # the csv module ends its own lines
    with answering() as stream:
        if stream.isatty():
            text = io.StringIO(newline="")
            fill(text)
            stream.write(plain_lines(text.getvalue().replace("\r\n", "\n")))
        else:
            fill(stream)
