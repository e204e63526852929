"""jarcast undo."""

from typing import TYPE_CHECKING, Annotated

import typer

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
from jarcast.domain.events import UNDO, Done, Event
from jarcast.errors import BatchError

if TYPE_CHECKING:
    from jarcast.ledger import Ledger


def undo(
    batch: Annotated[
        str | None,
        typer.Argument(help="Take back the last action on this batch; part of its name will do."),
    ] = None,
    further: Annotated[
        bool,
        typer.Option(
            "--further",
            help="Leave earlier undos as they are, and take back what came before them.",
        ),
    ] = False,
    yes: SureOption = False,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take back the last thing you did, whatever it was; asks first, at a terminal.

    A batch recorded or brought in, a step, a change, a batch closed, dropped or withdrawn, a
    setting. Nothing is deleted, and 'jarcast history' shows it; an undo can be taken back too.

    \b
    Examples:
      jarcast undo
      jarcast undo "carrots 3"
    """
    from jarcast.ledger.undoing import last_done
    from jarcast.ledger.undoing import undo as take_back
    from jarcast.ledger.whole_names import names_ever, whole_name
    from jarcast.views.undo import undo_document, undo_text, undone_text

    with work_at(ledger) as work:
        opened = work.ledger
        with opened.looking():
            if batch is not None:
                batch = whole_name(opened, batch, names_ever(opened))
            done = last_done(opened, batch, further=further)
            event = _event(opened, done)
        if not yes and asking(as_json):
            show(undo_text(done, event, kitchen_units(work, None)))
            if not typer.confirm("Take it back?", err=True):
                raise BatchError("nothing was taken back")
        with work.writing(UNDO):
            take_back(opened, done)
    if as_json:
        show_json(undo_document(done))
    else:
        show(undone_text(done))


def _event(ledger: "Ledger", done: "Done") -> "Event | None":
    """What the action changed of its batch, where it is about one.

    None too where nothing was entered of it yet: a forecast is kept before its batch is begun.
    """
    from jarcast.ledger.history import batch_history

    if len(done.batches) != 1:
        return None
    try:
        history = batch_history(ledger, done.batches[0])
    except BatchError:
        return None
    return next((one for one in history if one.action == done.action), None)
