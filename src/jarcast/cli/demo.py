"""jarcast demo."""

import datetime as dt
from typing import Annotated

import typer

from jarcast.cli.common import JsonOption, show, show_json
from jarcast.measures import Units


def demo(
    units: Annotated[Units, typer.Option("--units", help="us or metric.")] = Units.US,
    as_json: JsonOption = False,
) -> None:
    """Learn from an invented household, then forecast its next batch.

    Your ledger is neither read nor changed.

    \b
    Example:  jarcast demo --units metric
    """
    from jarcast.app.demo import run_demo
    from jarcast.batchtable import read_csv
    from jarcast.files.shipped import shipped
    from jarcast.views.demo import demo_document, demo_text

    # Its dates have nothing to do with today's.
    table = read_csv(shipped("data_demo", "batches.csv"), today=dt.date.max)
    result = run_demo([entry.batch for entry in table.entries])
    if as_json:
        show_json(demo_document(result, units))
    else:
        show(demo_text(result, units))
