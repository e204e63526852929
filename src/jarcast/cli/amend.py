"""jarcast amend."""

import datetime as dt
from typing import Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen,
    kitchen_units,
    ledger_path,
    show,
    show_json,
    tell,
)
from jarcast.cli.counter import Desk, add, all_open, desk, expect
from jarcast.cli.weigh import step_text


def _amend_open(here: Desk, typed: dict[str, str], *, as_json: bool) -> None:
    """Change values of a batch that is not closed yet: one step more, which counts from now on."""
    from jarcast.recording import kitchen_cells

    cells = kitchen_cells(typed)
    here.read(cells)  # what cannot be is refused before anything is written
    before = expect(here.read(), here, telling=False)
    here = add(here, cells)
    at = here.read()
    now = expect(at, here)
    if not as_json:
        show(step_text(here, at, now, before))
        return
    from jarcast.views.counter_documents import before_document, step_document

    show_json(
        step_document("amend", at, now, here.units, [], before=before_document(before, here.units))
    )


def amend(
    batch: Annotated[str, typer.Argument(help="Name of the batch, as 'jarcast batches' has it.")],
    changes: Annotated[
        list[str],
        typer.Argument(help="What to change, as COLUMN=VALUE; 'note=' takes a value away."),
    ],
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Change values of a batch already written down, or still open.

    The columns are those of the batch table: trimmed, jars, brine_left... What stood before is
    never lost: the new value supersedes it, and 'jarcast history' shows both.

    \b
    Example:  jarcast amend "carrots 3" trimmed="6 lb 4 oz" jars=9.5
    """
    from jarcast.cli.confirm import flags_in, odd_in
    from jarcast.errors import BatchError
    from jarcast.ledger import Ledger
    from jarcast.ledger.marks import check_standing
    from jarcast.recording import amend as amend_batch
    from jarcast.views.batches import (
        batch_document,
        batches_text,
        flags_document,
        flags_text,
        slips_document,
        slips_text,
    )

    typed = {}
    for change in changes:
        column, equals, text = change.partition("=")
        if not equals:
            raise BatchError(f"'{change[:60]}': write a change as COLUMN=VALUE, such as jars=9.5")
        typed[column.strip().replace("-", "_").replace(" ", "_")] = text
    path = ledger_path(ledger)
    if any(one.name == batch for one in all_open(path)):
        _amend_open(desk(path, units, batch, as_json=as_json), typed, as_json=as_json)
        return
    with Ledger.open(path) as opened:
        check_standing(opened, batch)
    entry, changed = amend_batch(path, batch, typed, dt.date.today(), kitchen(path).shelf)
    own = kitchen(path)
    flags, odd = flags_in(own, [batch]), odd_in(own, [batch])
    shown = kitchen_units(path, units)
    if as_json:
        show_json(
            {
                "format": "jarcast amend",
                "version": 1,
                "changed": changed,
                "batch": batch_document(entry.batch),
                "flags": flags_document(flags),
                "odd": slips_document(odd),
            }
        )
        return
    show(batches_text([entry.batch], shown))
    show("Amended; what stood before is kept." if changed else "Nothing to change: it stands so.")
    tell(flags_text(flags, shown))
    tell(slips_text(odd))
