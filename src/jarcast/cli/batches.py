"""jarcast batches."""

import datetime as dt
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
    tell,
)

_DAY = ["%Y-%m-%d"]


def batches(
    produce: Annotated[str, typer.Option("--produce", help="Only batches of this.")] = "",
    cut: Annotated[str, typer.Option("--cut", help="Only this cut.")] = "",
    since: Annotated[
        dt.datetime | None, typer.Option("--since", formats=_DAY, help="Only from this day on.")
    ] = None,
    until: Annotated[
        dt.datetime | None, typer.Option("--until", formats=_DAY, help="Only up to this day.")
    ] = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the batches written down so far, oldest first.

    \b
    Example:  jarcast batches --produce cucumber --since 2025-06-01
    """
    from jarcast.batch import contradictions
    from jarcast.kinds import cut_key, produce_key
    from jarcast.ledger import Ledger
    from jarcast.views.batches import batches_document, batches_text, flags_document, flags_text

    path = ledger_path(ledger)
    with Ledger.open(path) as opened:
        everything = opened.batches()
    found = [
        batch
        for batch in everything
        if (not produce or produce_key(batch.produce) == produce_key(produce))
        and (not cut or cut_key(batch.cut) == cut_key(cut))
        and (since is None or batch.date >= since.date())
        and (until is None or batch.date <= until.date())
    ]
    flags = [(batch.batch, flag) for batch in found for flag in contradictions(batch)]
    shown = kitchen_units(path, units)
    if as_json:
        show_json({**batches_document(found), "flags": flags_document(flags)})
    elif found:
        show(batches_text(found, shown))
        tell(flags_text(flags))
    elif everything:
        show(f"None of the {len(everything)} batches in {path} is like that.")
    else:
        show(f"No batches yet in {path}.")
        show("'jarcast record' writes one down; 'jarcast import' reads a CSV file of them.")
