"""jarcast alone, for the open batches and what is next, and jarcast drop."""

import datetime as dt
from typing import TYPE_CHECKING

import typer

from jarcast.cli.altitude import kitchen_place
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    SureOption,
    asking,
    kitchen_units,
    show,
    show_json,
    work_at,
)
from jarcast.cli.counter import BatchOption, Desk, chosen, expect, load_of
from jarcast.errors import BatchError
from jarcast.measures import Units
from jarcast.views.words import counted

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.ledger import Ledger
    from jarcast.ledger.steps import OpenBatch


def what_next(work: "Work", units: Units | None, *, as_json: bool) -> None:
    """Show the open batches, what each should come to, and what to do next."""
    from jarcast.views.counter_documents import underway_document
    from jarcast.views.whats_next import next_text

    own, shown = work.kitchen, kitchen_units(work, units)
    desks = [Desk(work, shown, found, dt.date.today()) for found in own.open]
    seen = [(at, expect(at, here)) for here in desks for at in (here.read(),)]
    waiting = _waiting(work.ledger)
    if as_json:
        place = kitchen_place(work, None)
        batches = [underway_document(at, forecast, shown, place) for at, forecast in seen]
        document = {"batches": batches, "forecasts_waiting": waiting}
        show_json({"format": "jarcast open", "version": 1, **document})
    else:
        loads = [load_of(here, now) for here, (_, now) in zip(desks, seen, strict=True)]
        show(next_text(seen, len(own.batches), waiting, shown, loads))


def _waiting(opened: "Ledger") -> list[str]:
    """Batches that a forecast was kept for, and that are not recorded yet."""
    from jarcast.ledger.kept_forecasts import kept_forecasts

    kept = dict.fromkeys(one.batch for one in kept_forecasts(opened))
    return [name for name in kept if not opened.knows(name)]


def drop(
    batch: BatchOption = None,
    yes: SureOption = False,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """End an open batch without recording it; asks first, at a terminal.

    What you noted is kept, and 'jarcast undo' opens it again.

    \b
    Example:  jarcast drop --batch carrot
    """
    from jarcast.ledger.kept_brine import taken_by
    from jarcast.ledger.steps import StepKind, add_step
    from jarcast.views.batches import quoted

    with work_at(ledger) as work:
        found = chosen(work, batch, as_json=as_json)
        if not yes and asking(as_json) and not _sure(found):
            raise BatchError(f"nothing was dropped; '{found.name}' stays open")
        with work.writing("drop"):
            given_back = taken_by(work.ledger, found.name)
            add_step(work.ledger, found.name, StepKind.DROP, {})
    if as_json:
        steps = len(found.steps)
        show_json({"format": "jarcast drop", "version": 1, "batch": found.name, "steps": steps})
    else:
        show(f"Dropped '{found.name}': no batch was recorded. To open it again:")
        show(f"    jarcast undo {quoted(found.name)}")
        if given_back:
            show(f"The kept brine it used is kept again: {', '.join(given_back)}.")


def _sure(found: "OpenBatch") -> bool:
    steps = counted(len(found.steps), "step", "steps")
    return typer.confirm(f"Drop '{found.name}' and what you noted of it in {steps}?", err=True)
