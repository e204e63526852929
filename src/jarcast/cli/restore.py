"""jarcast restore."""

from pathlib import Path
from typing import Annotated

import typer

from jarcast.cli.common import JsonOption, LedgerOption, ledger_path, show, show_json
from jarcast.files.output import refuse_output


def restore(
    copy: Annotated[
        str | None, typer.Argument(help="The copy to bring back; without it they are listed.")
    ] = None,
    salvage: Annotated[
        Path | None,
        typer.Option(
            "--salvage",
            help="A new ledger for whatever can still be read from a damaged one.",
            readable=False,
        ),
    ] = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the copies of the ledger, or bring one back.

    A copy is made before the first entry of a day and before a newer jarcast changes how the ledger
    is kept; the last ten are kept, beside the ledger. Bringing one back loses nothing: the present
    ledger is set aside first, and can be brought back the same way.

    If no copy is recent enough, --salvage makes a new ledger of every batch that can still be read
    whole, and lists what is missing. The damaged one is left as it is.

    \b
    Example:  jarcast restore
              jarcast restore 2025-08-31-101500-daily
    """
    from jarcast.ledger.backups import folder_of
    from jarcast.ledger.restoring import listed
    from jarcast.ledger.restoring import restore as bring_back
    from jarcast.views import restore as views

    path = ledger_path(ledger)
    if salvage is not None:
        if copy is not None:
            raise typer.BadParameter("a COPY is brought back whole; leave out --salvage")
        refuse_output(salvage, "ledger", "salvaged.sqlite3")
        from jarcast.ledger.salvaging import salvage as read_what_can_be

        saved = read_what_can_be(path, salvage)
        if as_json:
            show_json(views.salvaged_document(path, saved))
        else:
            show(views.salvaged_text(path, saved))
        return
    if copy is None:
        found, folder = listed(path), folder_of(path)
        if as_json:
            show_json(views.copies_document(path, folder, found))
        else:
            show(views.copies_text(path, folder, found))
        return
    done = bring_back(path, copy)
    if as_json:
        show_json(views.restored_document(path, done.copy, done.set_aside))
    else:
        show(views.restored_text(path, done.copy, done.set_aside))
