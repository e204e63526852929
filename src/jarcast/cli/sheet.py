"""jarcast sheet."""

import inspect
from pathlib import Path
from typing import Annotated, Any

import typer

from jarcast.cli.charting import PAGE_ENDINGS, check_ending, write_whole
from jarcast.cli.common import ledger_path, show, show_json
from jarcast.cli.forecast import ask, forecast
from jarcast.cli.kept_brine import kept_text


def sheet(file: Path, **options: Any) -> None:
    """Write a forecast as one sheet for the kitchen: big numbers, and boxes to write in.

    One page of HTML that needs nothing beside itself, for a screen and for A4 or Letter paper. The
    options are those of 'jarcast forecast'.

    \b
    Example:
      jarcast sheet --recipe pickled-carrots --trimmed "5 lb" carrots.html
    """
    from jarcast.views.forecast import usual_cut_lines
    from jarcast.views.pages.sheet import sheet_page

    path, as_json = ledger_path(options.pop("ledger")), options.pop("as_json")
    check_ending(file, PAGE_ENDINGS, "sheet", path)
    asked = ask(path, **options, as_json=as_json)
    page = sheet_page(
        asked.forecast,
        asked.units,
        options["level"],
        options["short_chance"],
        altitude_ft=asked.altitude_ft,
        packing=asked.packing,
        kept=kept_text(asked.recipe, path, asked.units),
    )
    write_whole(file, page.encode())
    if as_json:
        show_json({"format": "jarcast sheet", "version": 1, "file": str(file)})
    else:
        for line in usual_cut_lines(asked.usual_cut):
            show(line)
        show(f"Sheet written to {file}. Open it in a browser; it prints on one page.")


def _options() -> list[inspect.Parameter]:
    """The file, then every option of ``forecast`` but the chart: one list of options for both."""
    file = Annotated[
        Path,
        typer.Argument(help="The page to write, ending in .html.", readable=False),
    ]
    given = inspect.signature(forecast).parameters.values()
    return [
        inspect.Parameter(
            "file",
            inspect.Parameter.POSITIONAL_OR_KEYWORD,
            annotation=file,
            default=Path("jarcast-sheet.html"),
        ),
        *(option for option in given if option.name != "chart"),
    ]


# Typer reads a command's options off its signature.
sheet.__signature__ = inspect.Signature(_options())  # type: ignore[attr-defined]
sheet.__annotations__ = {option.name: option.annotation for option in _options()}
