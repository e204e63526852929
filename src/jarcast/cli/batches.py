"""jarcast batches."""

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen
    from jarcast.domain.batch import Batch
    from jarcast.ledger import Ledger

_DAY = ["%Y-%m-%d"]


def batches(
    produce: Annotated[str, typer.Option("--produce", help="Only batches of this.")] = "",
    cut: Annotated[str, typer.Option("--cut", help="Only this cut.")] = "",
    person: Annotated[
        str | None, typer.Option("--person", help="Only those this person packed; '' nobody named.")
    ] = None,
    since: Annotated[
        dt.datetime | None, typer.Option("--since", formats=_DAY, help="Only from this day on.")
    ] = None,
    until: Annotated[
        dt.datetime | None, typer.Option("--until", formats=_DAY, help="Only up to this day.")
    ] = None,
    withdrawn: Annotated[
        bool, typer.Option("--withdrawn", help="Those that were withdrawn, as they stood.")
    ] = False,
    count: Annotated[
        bool,
        typer.Option("--tally", help="Jars by year, crop and size; what sealed, what a jar cost."),
    ] = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the batches recorded so far, oldest first.

    \b
    Examples:
      jarcast batches --produce cucumber --since 2025-06-01
      jarcast batches --tally
    """
    from jarcast.cli.crops import none_of_text
    from jarcast.domain.names import cut_key, person_key, produce_key

    with work_at(ledger) as work:
        path, own = work.path, work.kitchen
        everything = _withdrawn(work.ledger) if withdrawn else own.batches
        found = [
            batch
            for batch in everything
            if (not produce or produce_key(batch.produce) == produce_key(produce))
            and (not cut or cut_key(batch.cut) == cut_key(cut))
            and (person is None or person_key(batch.person) == person_key(person))
            and (since is None or batch.date >= since.date())
            and (until is None or batch.date <= until.date())
        ]
        if count and (as_json or found):
            _tally(found, as_json=as_json)
        elif as_json or found:
            names = set() if withdrawn else {batch.batch for batch in found}
            _show(own, names, found, kitchen_units(work, units), as_json=as_json)
        elif everything:
            show(f"None of the {len(everything)} batches in {path} is like that.")
            tell(none_of_text(own, produce))
        elif withdrawn:
            show(f"No batch in {path} is withdrawn.")
        elif out := _withdrawn(work.ledger):
            show(
                f"All {len(out)} in {path} are withdrawn; 'jarcast batches --withdrawn' lists them."
            )
        else:
            show(f"No batches yet in {path}.")
            show("'jarcast record' adds one; 'jarcast import' reads a whole CSV file.")


def _tally(found: "list[Batch]", *, as_json: bool) -> None:
    from jarcast.views.tally import tally_document, tally_text

    if as_json:
        show_json(tally_document(found))
    else:
        show(tally_text(found))


def _withdrawn(opened: "Ledger") -> "list[Batch]":
    """The withdrawn batches as they stood, by name."""
    from jarcast.ledger.annotations import withdrawn

    return [opened.history(name)[-1].entry.batch for name in sorted(withdrawn(opened))]


def _show(
    own: "Kitchen", judged: set[str], found: "list[Batch]", units: Units, *, as_json: bool
) -> None:
    """The batches, and beside them what does not fit in those that are judged."""
    from jarcast.cli.confirm import flags_in, odd_in
    from jarcast.views.batches import (
        batches_document,
        batches_text,
        flags_document,
        flags_text,
        slips_document,
        slips_text,
    )

    flags, odd = flags_in(own, judged), odd_in(own, judged)
    if as_json:
        beside = {"flags": flags_document(flags), "odd": slips_document(odd)}
        show_json({**batches_document(found), **beside})
        return
    show(batches_text(found, units, own.people))
    tell(flags_text(flags, units))
    tell(slips_text(odd))
