"""jarcast habits."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from jarcast.cli.charting import ChartOption, check_chart, save_chart
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.domain.names import produce_key
from jarcast.errors import BatchError, JarcastError
from jarcast.measures import Units

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jarcast.app.work import Kitchen
    from jarcast.learning.slips import Slip
    from jarcast.trackrecord.summary import HabitSummary

_DAY_OR_YEAR = ["%Y-%m-%d", "%Y"]


def habits(
    produce: Annotated[str, typer.Option("--produce", help="Only this produce.")] = "",
    since: Annotated[
        dt.datetime | None,
        typer.Option(
            "--since", formats=_DAY_OR_YEAR, help="What changed since then: 2024 or 2024-06-01."
        ),
    ] = None,
    chart: ChartOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what was learned about your trimming, salting, packing and brine.

    Each value stands beside the published one, with the batches it is based on, and changes since
    earlier seasons are told where they are sure. Values that do not fit your other batches are
    listed with a guess at the slip; nothing is ever changed for you.

    \b
    Example:  jarcast habits --produce cucumber --since 2024
    """
    from jarcast.cli.crops import none_of_text
    from jarcast.learning.slips import find_slips
    from jarcast.trackrecord.summary import summarise
    from jarcast.views.habits import habits_document, habits_text

    path = ledger_path(ledger)
    check_chart(chart, path)
    with work_at(ledger) as work:
        own = work.kitchen
        day = None if since is None else since.date()
        _check_since(own, day)
        summary = summarise(own.habits, own.batches, day)
        slips = find_slips(own.habits.learned.verdicts(), own.batches)
        if produce:
            wanted = produce_key(produce)
            kept = tuple(crop for crop in summary.crops if crop.produce == wanted)
            summary = replace(summary, crops=kept)
        if chart is not None and not summary.crops:
            of = f"of '{produce}' " if produce and own.batches else ""
            raise JarcastError(f"there is nothing to draw in {chart}: no batch {of}is recorded yet")
        shown = kitchen_units(work, units)
        if as_json:
            show_json(habits_document(summary, slips))
        else:
            show(habits_text(summary, slips, shown, dt.date.today(), day, produce))
            if not summary.crops and own.batches:
                tell(none_of_text(own, produce))
        if chart is not None:
            _draw(chart, own, summary, slips, shown, produce)


def _check_since(own: "Kitchen", day: dt.date | None) -> None:
    last = max((batch.date for batch in own.batches), default=None)
    if day is not None and last is not None and day > last:
        raise BatchError(f"--since {day}: no batch is that recent; the last one is of {last}")


def _draw(
    chart: Path,
    own: "Kitchen",
    summary: "HabitSummary",
    slips: "Sequence[Slip]",
    units: Units,
    produce: str,
) -> None:
    """The habits over time, as a chart."""
    from jarcast.trackrecord.trends import habits_in_time
    from jarcast.views.charts.habits import MOST_CROPS, habits_chart

    odd = {(slip.batch, slip.column) for slip in slips}
    crops = habits_in_time(
        own.habits, own.batches, summary, most=MOST_CROPS, produce=produce, odd=odd,
        packed=own.packed,
    )  # fmt: skip
    save_chart(chart, lambda: habits_chart(crops, units, len(summary.crops)))
