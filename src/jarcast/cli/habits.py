"""jarcast habits."""

from typing import Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    show,
    show_json,
)


def habits(
    produce: Annotated[str, typer.Option("--produce", help="Only this produce.")] = "",
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what was learned of your trim, cure, pack and brine.

    Each value stands beside the published one, with the batches it rests on. Values that do not
    fit your other batches are named, with a guess at the slip; nothing is ever changed by itself.

    \b
    Example:  jarcast habits --produce cucumber
    """
    from dataclasses import replace

    from jarcast.forecasting.habits import habits_from
    from jarcast.forecasting.summary import summarise
    from jarcast.kinds import produce_key
    from jarcast.learning.slips import find_slips
    from jarcast.ledger import Ledger
    from jarcast.views.habits import habits_document, habits_text

    path = ledger_path(ledger)
    with Ledger.open(path) as opened:
        batches = opened.batches()
    learned = habits_from(batches)
    summary = summarise(learned, batches)
    slips = find_slips(learned.learned.verdicts(), batches)
    if produce:
        wanted = produce_key(produce)
        kept = tuple(crop for crop in summary.crops if crop.produce == wanted)
        summary = replace(summary, crops=kept)
    shown = kitchen_units(path, units)
    if as_json:
        show_json(habits_document(summary, slips))
    else:
        show(habits_text(summary, slips, shown))
