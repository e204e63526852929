"""jarcast batches."""

import datetime as dt
from functools import cache
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    show,
    show_json,
    show_lines,
    tell,
    work_at,
)
from jarcast.domain.contradictions import Flag, contradictions
from jarcast.domain.names import cut_key, person_key, produce_key
from jarcast.measures import Units

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from jarcast.app.work import Work
    from jarcast.domain.batch import Batch
    from jarcast.ledger import Ledger
    from jarcast.ledger.passing import Passing

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

    def like(batch: "Batch") -> bool:
        return (
            (not produce or produce_key(batch.produce) == produce_key(produce))
            and (not cut or cut_key(batch.cut) == cut_key(cut))
            and (person is None or person_key(batch.person) == person_key(person))
            and (since is None or batch.date >= since.date())
            and (until is None or batch.date <= until.date())
        )

    with work_at(ledger) as work:
        shown = kitchen_units(work, units, later=not work.ledger.newest())
        with work.going_through() as every:
            everything = _withdrawn(work.ledger) if withdrawn else every
            found = _Found(everything, like)
            some = next(iter(found), None) is not None
            if count and (as_json or some):
                _tally([*found], as_json=as_json)
            elif as_json or some:
                _show(work, every, found, shown, judged=not withdrawn, as_json=as_json)
            else:
                _say_none(work, every, len(everything), produce, withdrawn=withdrawn)


class _Found:
    """Those batches that are like what is asked for, each time they are gone through."""

    def __init__(self, among: "Iterable[Batch]", like: "Callable[[Batch], bool]") -> None:
        self._among, self.like = among, like

    def __iter__(self) -> "Iterator[Batch]":
        return filter(self.like, self._among)


def _say_none(
    work: "Work", every: "list[Batch] | Passing", count: int, produce: str, *, withdrawn: bool
) -> None:
    """Say that none of so many batches is like what was given."""
    from jarcast.cli.crops import none_of_text

    if count:
        show(f"None of the {count} batches in {work.path} is like that.")
        tell(none_of_text(work.kitchen_of(every), produce))
    elif withdrawn:
        show(f"No batch in {work.path} is withdrawn.")
    elif out := _withdrawn(work.ledger):
        show(
            f"All {len(out)} in {work.path} are withdrawn; 'jarcast batches --withdrawn' "
            "lists them."
        )
    else:
        show(f"No batches yet in {work.path}.")
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
    work: "Work",
    every: "list[Batch] | Passing",
    found: _Found,
    units: Units,
    *,
    judged: bool,
    as_json: bool,
) -> None:
    """The batches, and beside them what does not fit in those that are judged."""
    from jarcast.cli.confirm import odd_in
    from jarcast.views.batches import (
        batch_document,
        batches_document,
        batches_lines,
        flags_document,
        flags_text,
        slips_document,
        slips_text,
    )

    flags: list[tuple[str, Flag]] = []

    def looked_at(batch: "Batch") -> "Batch":
        if judged and found.like(batch):
            flags.extend((batch.batch, flag) for flag in contradictions(batch, work.shelf))
        return batch

    own = work.kitchen_of(map(looked_at, every))
    odd = odd_in(own, {one.batch for one in own.batches if found.like(one)} if judged else ())
    if as_json:
        beside = {"flags": flags_document(flags), "odd": slips_document(odd)}
        show_json({**batches_document(), **beside}, "batches", map(batch_document, found))
        return

    def named(person: str) -> str:
        people = packers()
        return people.get(person_key(person), person)

    packers = cache(lambda: own.named(one.person for one in every))
    show_lines(batches_lines(found, units, named))
    tell(flags_text(flags, units))
    tell(slips_text(odd))
