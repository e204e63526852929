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
    """Change values of a batch already written down.

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
