"""The sheet for the kitchen that jarcast forecast --sheet writes."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.asked import Asked
from jarcast.cli.charting import PAGE_ENDINGS, check_ending, write_whole
from jarcast.cli.common import show, show_json
from jarcast.cli.kept_brine import kept_of, kept_text

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen

SheetOption = Annotated[
    Path | None,
    typer.Option(
        "--sheet",
        help=(
            "Write it as one page for the kitchen instead: big numbers, and boxes to fill in. The "
            "file ends in .html."
        ),
        readable=False,
    ),
]


def check_sheet(file: Path | None, path: Path) -> None:
    """Raise JarcastError for a file that no sheet is written to, before the work.

    ``path`` is the ledger.
    """
    if file is not None:
        check_ending(file, PAGE_ENDINGS, "sheet", path)


def write_sheet(
    file: Path, asked: Asked, own: "Kitchen", level: float, short_chance: float, *, as_json: bool
) -> None:
    """Write a forecast as one page of HTML, for a screen and for paper, and say where."""
    from jarcast.views.forecast import usual_cut_lines
    from jarcast.views.pages.sheet import sheet_page

    result = asked.forecast
    kept = kept_of(asked.recipe, result.recipe, result.request, own)
    page = sheet_page(
        result,
        asked.units,
        level,
        short_chance,
        altitude_ft=asked.altitude_ft,
        packing=asked.packing,
        kept=kept_text(kept, asked.recipe, asked.units),
    )
    write_whole(file, page.encode())
    if as_json:
        show_json({"format": "jarcast sheet", "version": 1, "file": str(file)})
    else:
        for line in usual_cut_lines(asked.usual_cut):
            show(line)
        show(f"Sheet written to {file}. Open it in a browser; it prints on one page.")
