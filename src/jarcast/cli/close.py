"""jarcast close."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli import not_jarred
from jarcast.cli.after_jars import after_jars, cautions_document, kept_record, tell_after
from jarcast.cli.cards import text_in_use
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    asking,
    show,
    show_json,
    work_at,
)
from jarcast.cli.counter import BatchOption, Desk, YesOption, desk, odd_values, stand_by
from jarcast.cli.kept_brine import KeepBrineOption, to_keep
from jarcast.cli.pots import pots_typed
from jarcast.cli.prompts import confirmed
from jarcast.cli.typed import (
    BrineLeftOption,
    BrineMadeOption,
    CostOption,
    NoteOption,
    NotJarredOption,
)
from jarcast.domain.batch import Batch, number_text
from jarcast.domain.contradictions import Flag, contradictions
from jarcast.domain.fields import ALL_COLUMNS
from jarcast.domain.jar_text import in_turns, planned, read_jars, with_sorts
from jarcast.domain.jars import so_many
from jarcast.domain.unusual import unusual
from jarcast.errors import AskedBackError, BatchError
from jarcast.measures.numbers import count
from jarcast.views.kept_brine import put_by_words

if TYPE_CHECKING:
    from jarcast.forecast.oddities import Oddity
    from jarcast.ledger import Entry
    from jarcast.ledger.kept_brine import Kept

_ASK = {
    "produce": "What was put up",
    "jar": "Sort of jar (pint, quart...)",
    "jars": "Jars filled (last jar half full? write 1/2)",
}


def close(
    jars: Annotated[
        str | None,
        typer.Option(
            "--jars",
            help="Jars filled, the part-full one as its part: '9.5', '6 pint + 5.5 quart'.",
        ),
    ] = None,
    jar: Annotated[
        str | None, typer.Option("--jar", help="Sort of jar, if not said; 'pint-wide + pint'.")
    ] = None,
    brine_made: BrineMadeOption = None,
    brine_left: BrineLeftOption = None,
    sealed: Annotated[
        str | None,
        typer.Option("--sealed", help="Jars that sealed; 'jarcast amend' adds it later."),
    ] = None,
    cost: CostOption = None,
    rest: NotJarredOption = None,
    keep_brine: KeepBrineOption = None,
    note: NoteOption = None,
    batch: BatchOption = None,
    yes: YesOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Close an open batch: record it, and see how its forecasts did.

    \b
    Example:  jarcast close --jars 9.5 --brine-left "1 1/2 cups" --sealed 9
    """
    said = {
        "jars": jars, "jar": jar, "brine_left": brine_left, "sealed": sealed, "note": note,
        "not_jarred": rest, "cost": cost,
    }  # fmt: skip
    with work_at(ledger) as work:
        here = desk(work, units, batch, as_json=as_json)
        typed = {column: text for column, text in said.items() if text is not None}
        if brine_made is not None:
            typed |= pots_typed(here.read(), brine_made, None, here.units, yes=yes, as_json=as_json)
        typed = with_sorts(typed, here.kitchen.shelf)
        typed = with_sorts({**typed, **missing(here, typed, as_json=as_json)}, here.kitchen.shelf)
        _check_sorts(here, typed, yes=yes, as_json=as_json)
        finish(here, typed, keep_brine, yes=yes, as_json=as_json)


def _check_sorts(here: Desk, typed: Mapping[str, str], *, yes: bool, as_json: bool) -> None:
    """Ask whether one count of several sorts is dealt out rightly. Raises BatchError if not."""
    dealt = dealt_out(here, typed)
    if not dealt or yes:
        return
    if asking(as_json) and sorts_confirmed(dealt):
        return
    raise AskedBackError(
        f"--jars '{typed['jars']}' does not say how many of each sort, and nothing was recorded; "
        f"say it with the sorts, such as --jars '{dealt}'"
    )


def dealt_out(here: Desk, typed: Mapping[str, str]) -> str:
    """One count of jars dealt out to several planned sorts, '12 pint + 6.5 quart'; else ''."""
    shelf, said = here.kitchen.shelf, here.found.typed_with(typed)
    turns = in_turns(said, shelf)
    sorts = {one.sort for one in read_jars(turns, shelf, turns=True)}
    try:
        jars = count(said.get("jars", "").strip())
    except BatchError:  # several counts
        return ""
    if len(sorts) < 2:
        return ""
    found = planned(turns, jars, shelf)
    return " + ".join(so_many(number_text(number), sort) for sort, number in found.items())


def sorts_confirmed(dealt: str, *, guided: bool = False) -> bool:
    """Whether jars dealt out to their sorts are right, asked at the terminal; in the guide Back."""
    return confirmed(f"Of each sort, in turn: {dealt}. Is that right?", guided=guided)


def missing(here: Desk, typed: Mapping[str, str], *, as_json: bool = False) -> dict[str, str]:
    """What every batch needs and this one lacks, asked at the terminal. Raises BatchError."""
    from jarcast.app.open_batch import missing_to_close

    lacking = missing_to_close(here.found.typed_with(typed))
    if lacking and not asking(as_json):
        named = ", ".join(f"--{column}" for column in lacking)
        raise BatchError(f"cannot close '{here.found.name}' yet; still missing: {named}")
    return {column: str(typer.prompt(_ASK[column], err=True)) for column in lacking}


def finish(
    here: Desk,
    typed: Mapping[str, str],
    keep_brine: str | None = None,
    *,
    yes: bool,
    as_json: bool = False,
) -> None:
    """Write the batch down, and show it as 'record' does, with how its forecasts did."""
    from jarcast.app.open_batch import entry_of
    from jarcast.views.batches import batches_text

    name = here.found.name
    entry = entry_of(name, here.found.typed_with(typed), here.today, here.kitchen.shelf)
    if rest := not_jarred.ask(here.kitchen, entry.batch, yes=yes, as_json=as_json):
        typed = {**typed, "not_jarred": rest}
        entry = entry_of(name, here.found.typed_with(typed), here.today, here.kitchen.shelf)
    odd = odd_values(here, here.read(typed), typed)
    odd += [
        one for one in unusual(entry.batch, ALL_COLUMNS) if not set(one.columns) <= here.found.sure
    ]
    sure = stand_by(odd, here.units, yes=yes, as_json=as_json) | here.found.sure
    batch = entry.batch
    card, words = (lambda: here.card), partial(text_in_use, here.found, here.work)
    kept = to_keep(keep_brine, batch, card, words, here.units, yes=yes, as_json=as_json)
    write(here, entry, typed, sure, kept)
    own = here.kitchen
    cautions = after_jars(batch, card, own.shelf, here.units)
    if as_json:
        more = {
            "kept_brine_ml": None if kept is None else kept.ml,
            "cautions": cautions_document(cautions),
        }
        tell_after(own, batch, cautions, here.units)
        show_json({**_document(here, entry, odd), **more})
        return
    show(batches_text([batch], here.units))
    if said := not_jarred.text(batch, here.units):
        show(said)
    show(f"Closed, and recorded in {here.path}.")
    _show_record(here, batch)
    if kept is not None:
        show(put_by_words(kept.ml, batch.recipe, here.units))
    tell_after(own, batch, cautions, here.units)


def write(
    here: Desk,
    entry: "Entry",
    typed: Mapping[str, str],
    sure: frozenset[str],
    kept: "Kept | None" = None,
) -> None:
    """One reading in the ledger, the odd values in it that are stood by, and brine kept of it."""
    from jarcast.ledger import steps

    with here.work.writing("close"):
        found = here.found
        steps.close(here.work.ledger, found.name, entry, typed, sure, found.newest, kept)


def _show_record(here: Desk, batch: "Batch") -> None:
    from jarcast.views.hindsight import kept_text
    from jarcast.views.open_batch import went_text

    record = kept_record(here.work.ledger, here.found.name)
    if record is not None:
        show(
            "\n".join(
                t
                for t in (went_text(record, here.units, batch), kept_text(record, here.units))
                if t
            )
        )


def _document(
    here: Desk, entry: "Entry", odd: "Sequence[Oddity | Flag | str]"
) -> dict[str, object]:
    """A closed batch for JSON; version 1 of 'jarcast close'."""
    from jarcast.views.batches import batch_document, flags_document
    from jarcast.views.hindsight import scored_documents
    from jarcast.views.sanity import odd_documents

    name, record = here.found.name, kept_record(here.work.ledger, here.found.name)
    flags = [(name, flag) for flag in contradictions(entry.batch, here.kitchen.shelf)]
    return {
        "format": "jarcast close",
        "version": 1,
        "batch": batch_document(entry.batch),
        "flags": flags_document(flags),
        "kept_forecasts": [] if record is None else scored_documents(record.scored),
        "odd": odd_documents(odd, here.units),
    }
