"""jarcast hindsight."""

from typing import Annotated

import typer

from jarcast.cli.charting import ChartOption, check_chart, save_chart
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    show,
    show_json,
    work_at,
)


def hindsight(
    every: Annotated[
        bool, typer.Option("--all", help="Replay every batch, not only the latest 100.")
    ] = False,
    chart: ChartOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Look back: how often the ranges held, and how far off forecasts were.

    Forecasts kept with 'jarcast forecast --keep' are scored once their batch is recorded. The
    history is also replayed, one step ahead and never looking forward, beside what a running
    average of your own ratios would have said: the latest 100 batches, each from all before it, or
    all of them. What you said of the last jar does not enter. A long history takes a while; nothing
    is changed.

    \b
    Example:  jarcast hindsight --units metric
    """
    from jarcast.app.track_record import entered, kept
    from jarcast.cli.progress import Progress
    from jarcast.trackrecord.hindsight import ENOUGH, look_back
    from jarcast.views.hindsight import hindsight_document, hindsight_text

    path = ledger_path(ledger)
    check_chart(chart, path)
    with work_at(ledger) as work:
        own = work.kitchen
        record, forecasts = entered(work.ledger), kept(work.ledger)
        with Progress("looking back") as progress:
            found = look_back(
                record, forecasts, own.beliefs, own.shelf,
                latest=None if every else ENOUGH, tell=progress,
            )  # fmt: skip
        shown = kitchen_units(work, units)
        if as_json:
            show_json(hindsight_document(found))
        elif record:
            show(hindsight_text(found, shown))
        else:
            show(f"No batches yet in {path}, so there is nothing to look back on.")
        if chart is not None:
            from jarcast.views.charts.hindsight import hindsight_chart

            save_chart(chart, lambda: hindsight_chart(found.replayed, shown))
