"""What the commands that draw share: the terminal's canvas, and files for charts and pages."""

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import elsewhere, refuse_ledger, tell
from jarcast.errors import JarcastError
from jarcast.files.output import refuse_output

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from jarcast.views.pictures import Canvas

ChartOption = Annotated[
    Path | None,
    typer.Option(
        "--chart",
        help="Also save a chart (.svg or .png).",
        readable=False,
    ),
]
CHART_ENDINGS = (".svg", ".png")
PAGE_ENDINGS = (".html", ".htm")


def canvas() -> "Canvas | None":
    """Standard output as something to draw on; None where it is no terminal.

    With TERM=dumb or NO_COLOR, or signs that its encoding lacks, it is drawn on with plain ones.
    """
    stream = sys.stdout
    if elsewhere() or stream is None or not stream.isatty():
        return None
    from jarcast.views.pictures import Canvas

    plain = os.environ.get("TERM") == "dumb" or bool(os.environ.get("NO_COLOR"))
    blocks = not plain and _has_blocks(stream.encoding or "ascii")
    return Canvas(shutil.get_terminal_size().columns, blocks)


def _has_blocks(encoding: str) -> bool:
    from jarcast.views.pictures import BLOCKS

    try:
        BLOCKS.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def check_ending(file: Path, endings: tuple[str, ...], what: str, ledger: Path) -> None:
    """Refuse a file whose ending says that it is something else, and the ledger itself.

    Raises JarcastError.
    """
    refuse_output(file, what, f"{what}{endings[0]}")
    if file.suffix.casefold() not in endings:
        due = " or ".join(endings)
        raise JarcastError(
            f"{file}: a {what} is written as {due}, by the file's ending; call it such as "
            f"{file.stem or what}{endings[0]}"
        )
    refuse_ledger(file, ledger)


def check_chart(file: Path | None, ledger: Path) -> None:
    """Refuse, before anything is reckoned, a chart that could not be drawn. Raises JarcastError."""
    if file is not None:
        check_ending(file, CHART_ENDINGS, "chart", ledger)


def save_chart(file: Path | None, draw: "Callable[[], Figure]") -> None:
    """Draw a chart into a file, whole or not at all, where one is named. Raises JarcastError."""
    if file is None:
        return
    from jarcast.views.charts import chart_bytes

    write_whole(file, chart_bytes(draw(), file.suffix.casefold().removeprefix(".")))
    tell(f"Chart written to {file}.")


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole, or leave what was there as it was. Raises JarcastError."""
    from jarcast.files import whole as whole_file

    whole_file.write_whole(path, lambda stream: stream.write(content))
