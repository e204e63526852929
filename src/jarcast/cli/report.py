"""jarcast report."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.charting import PAGE_ENDINGS, check_ending, write_whole
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
from jarcast.domain.contradictions import contradictions

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.trackrecord.hindsight import TrackRecord
    from jarcast.views.pages.report import Notebook

LONG = 100  # batches beyond which replaying takes longer than one waits for a page


def report(
    file: Annotated[
        Path, typer.Argument(help="The page to write, ending in .html.", readable=False)
    ] = Path("jarcast-report.html"),
    replay: Annotated[
        bool, typer.Option("--replay", help="Replay a long history too, however long it takes.")
    ] = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the notebook as one page: a summary, habits, how forecasts did, and the batches.

    One page of HTML that needs nothing beside itself. The history is replayed to see how forecasts
    did up to 100 batches, and beyond them with --replay. The latest 500 batches are listed.

    \b
    Example:  jarcast report notebook.html
    """
    from jarcast.views.pages.report import report_page

    path = ledger_path(ledger)
    check_ending(file, PAGE_ENDINGS, "report", path)
    with work_at(ledger) as work:
        book = _notebook(work, replay=replay or len(work.kitchen.batches) <= LONG)
        write_whole(file, report_page(book, kitchen_units(work, units)).encode())
    if as_json:
        replayed = book.replayed is not None
        show_json(
            {"format": "jarcast report", "version": 1, "file": str(file), "replayed": replayed}
        )
    else:
        show(f"Report written to {file}. Open it in a browser.")


def _notebook(work: "Work", *, replay: bool) -> "Notebook":
    from jarcast.learning.slips import find_slips
    from jarcast.trackrecord.summary import summarise
    from jarcast.trackrecord.trends import habits_in_time
    from jarcast.views.pages.report import CHARTED, Notebook

    found = work.kitchen
    batches, habits = found.batches, found.habits
    slips = find_slips(habits.learned.verdicts(), batches)
    summary = summarise(habits, batches)
    odd = {(slip.batch, slip.column) for slip in slips}
    crops = habits_in_time(habits, batches, summary, most=CHARTED, odd=odd, packed=found.packed)
    kept, replayed = _records(work, replay=replay)
    return Notebook(
        batches=batches,
        summary=summary,
        slips=slips,
        flags=[(b.batch, flag) for b in batches for flag in contradictions(b, found.shelf)],
        kept=kept,
        replayed=replayed,
        crops=crops,
    )


def _records(work: "Work", *, replay: bool) -> "tuple[TrackRecord, TrackRecord | None]":
    """How kept forecasts did, and the history replayed where that is wanted."""
    from jarcast.app.track_record import entered, kept
    from jarcast.cli.progress import Progress
    from jarcast.trackrecord.hindsight import look_back, score_kept

    found = work.kitchen
    record, forecasts = entered(work.ledger), kept(work.ledger)
    if not replay:
        return score_kept(record, forecasts, found.shelf), None
    with Progress("looking back") as progress:
        hindsight = look_back(record, forecasts, found.beliefs, found.shelf, tell=progress)
    return hindsight.kept, hindsight.replayed
