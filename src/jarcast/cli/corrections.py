"""jarcast withdraw and jarcast history."""

from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    show,
    show_json,
    work_at,
)
from jarcast.ledger.whole_names import names_ever, standing_names, whole_name

if TYPE_CHECKING:
    from jarcast.ledger import Ledger

NameArgument = Annotated[str, typer.Argument(help="Name of the batch; part of it will do.")]


def withdraw(batch: NameArgument, ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """Take a batch out, so it no longer counts. Nothing is deleted.

    \b
    Example:  jarcast withdraw "carrots 3"
    """
    from jarcast.ledger.annotations import check_known, withdraw
    from jarcast.views.batches import quoted

    with work_at(ledger) as work:
        opened = work.ledger
        batch = whole_name(opened, batch, standing_names(opened))
        check_known(opened, batch)  # a mistyped name makes no ledger
        with work.writing("withdraw"):
            changed = withdraw(opened, batch)
    if as_json:
        show_json({"format": "jarcast withdraw", "version": 1, "batch": batch, "changed": changed})
        return
    done = "is withdrawn: it no longer counts" if changed else "was withdrawn before"
    show(f"{batch} {done}. Nothing was deleted; 'jarcast undo {quoted(batch)}' takes it back.")


def history(
    batch: NameArgument,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show everything that was entered of a batch, open or closed, and what each entry changed.

    \b
    Example:  jarcast history "carrots 3"
    """
    from jarcast.ledger.history import batch_history
    from jarcast.views.history import history_document, history_text

    with work_at(ledger) as work:
        opened = work.ledger
        with opened.looking():
            batch = whole_name(opened, batch, names_ever(opened))
            events = batch_history(opened, batch)
            standing = _standing(opened, batch)
        shown = kitchen_units(work, units)
    if as_json:
        show_json(history_document(batch, standing, events))
    else:
        show(history_text(batch, standing, events, shown))


def _standing(ledger: "Ledger", name: str) -> str:
    """Where a batch stands now: 'closed', 'withdrawn', 'open', 'dropped' or 'undone'."""
    from jarcast.ledger.steps import dropped_batches, open_batches

    if ledger.find(name) is not None:
        return "closed"
    if ledger.knows(name):
        return "withdrawn"
    if any(one.name == name for one in open_batches(ledger)):
        return "open"
    return "dropped" if any(one.name == name for one in dropped_batches(ledger)) else "undone"
