"""jarcast record."""

import datetime as dt
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from jarcast.cli import not_jarred
from jarcast.cli.after_jars import after_jars, cautions_document, kept_record, tell_after
from jarcast.cli.cards import card_named, card_text
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    Packer,
    PersonOption,
    UnitsOption,
    asking,
    kitchen_units,
    packer,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.cli.confirm import flags_in, odd_in
from jarcast.cli.counter import YesOption, odd_in_batch, say_odd, stand_by
from jarcast.cli.crops import crop_meant, pack_meant, unknown_text
from jarcast.cli.kept_brine import KeepBrineOption, to_keep
from jarcast.cli.said_line import WordsArgument, said
from jarcast.cli.typed import (
    AsBoughtOption,
    BrineLeftOption,
    BrineMadeOption,
    CookedOption,
    CostOption,
    CuredOption,
    CureHoursOption,
    CutOption,
    DateOption,
    HeadspaceOption,
    NameOption,
    NoteOption,
    NotJarredOption,
    SaltOption,
    TrimmedOption,
)
from jarcast.domain.fields import ALL_COLUMNS
from jarcast.domain.unusual import unusual
from jarcast.errors import BatchError, OtherValuesError, RecipeError
from jarcast.measures import Units
from jarcast.views.kept_brine import put_by_words

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen, Work
    from jarcast.domain.batch import Batch
    from jarcast.domain.contradictions import Flag
    from jarcast.forecast.oddities import Oddity
    from jarcast.ledger import Entry
    from jarcast.ledger.kept_brine import Kept
    from jarcast.recipes import Caution
    from jarcast.trackrecord.hindsight import TrackRecord


def record(
    words: WordsArgument = None,
    produce: Annotated[
        str | None, typer.Option("--produce", help="What was put up: carrot...")
    ] = None,
    jars: Annotated[
        str | None,
        typer.Option(
            "--jars",
            help="Jars filled, the part-full one as its part: '7.5', '6 pints and 5.5 quarts'.",
        ),
    ] = None,
    jar: Annotated[
        str | None,
        typer.Option("--jar", help="Sort of jar, unless --jars says it; 'pint-wide + pint'."),
    ] = None,
    cut: CutOption = None,
    pack: Annotated[str | None, typer.Option("--pack", help="raw or hot.")] = None,
    date: DateOption = None,
    batch: NameOption = None,
    as_bought: AsBoughtOption = None,
    trimmed: TrimmedOption = None,
    salt: SaltOption = None,
    cure_hours: CureHoursOption = None,
    cured: CuredOption = None,
    cooked: CookedOption = None,
    headspace: HeadspaceOption = None,
    brine_made: BrineMadeOption = None,
    brine_left: BrineLeftOption = None,
    rest: NotJarredOption = None,
    sealed: Annotated[str | None, typer.Option("--sealed", help="Jars that sealed.")] = None,
    cost: CostOption = None,
    recipe: Annotated[str | None, typer.Option("--recipe", help="Name of your recipe.")] = None,
    keep_brine: KeepBrineOption = None,
    person: PersonOption = None,
    note: NoteOption = None,
    yes: YesOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record a finished batch: in one line of words, by options, or both.

    What you did not weigh, leave out. In a line, put with each measure the word for what it is, in
    any order: bought, trimmed, salt, drained, cooked, brine, left, sealed.

    \b
    Examples:
      jarcast record "carrot sticks: 8 lb bought, 6 lb 4 oz trimmed, 9 1/2 pints,
          10 cups brine, 1 1/2 left"
      jarcast record --produce carrot --cut sticks --pack raw --as-bought "8 lb" \\
          --trimmed "6 lb 4 oz" --jar pint --jars 9.5 --brine-made "10 cups" \\
          --brine-left "1 1/2 cups"
    """
    cells: dict[str, str | None] = {
        "batch": batch, "date": date, "produce": produce, "cut": cut, "pack": pack, "jar": jar,
        "headspace_in": headspace, "as_bought": as_bought, "trimmed": trimmed, "salt": salt,
        "cure_hours": cure_hours, "cured": cured, "cooked": cooked, "jars": jars,
        "brine_made": brine_made, "brine_left": brine_left, "sealed": sealed, "recipe": recipe,
        "note": note, "not_jarred": rest, "person": person, "cost": cost,
    }  # fmt: skip
    if not words:
        for option, value in (("--produce", produce), ("--jars", jars)):
            if value is None:
                raise typer.BadParameter(
                    "missing; or describe the batch in one line", param_hint=option
                )
    if jars is not None and jar is None and not any(sign.isalpha() for sign in jars):
        raise typer.BadParameter(
            f"which sort are they? Add --jar pint, or say --jars '{jars} pint'.",
            param_hint="--jars",
        )
    with work_at(ledger) as work:
        if words:
            cells = said(words, cells, work.shelf, as_json=as_json)
        _write_down(work, cells, keep_brine, units, yes=yes, as_json=as_json)


def _write_down(
    work: "Work",
    cells: dict[str, str | None],
    keep_brine: str | None,
    units: Units | None,
    *,
    yes: bool,
    as_json: bool,
) -> None:
    """Check what was typed, write it down in one action, and tell what came of it."""
    from jarcast.app.record import write_down
    from jarcast.cli.written import already_there_text

    own, name = work.kitchen, (cells["batch"] or "").strip()
    crop = (cells["produce"] or "", cells["cut"] or "")
    meant = crop_meant(own, crop, sure=yes, as_json=as_json, insist="--yes")
    if cells["pack"]:
        cells["pack"] = pack_meant(own, cells["pack"], sure=yes, as_json=as_json, insist="--yes")
    who = packer(work, cells["person"], batch=name)
    cells |= {"produce": meant[0], "cut": meant[1] or cells["cut"], "person": who.name}
    shown = kitchen_units(work, units, later=True)
    entry, sure = _checked(work, cells, shown, yes=yes, as_json=as_json)
    kept = None
    if keep_brine is not None:
        card = partial(card_named, entry.batch.recipe, work.path)
        words = partial(card_text, entry.batch.recipe, work.path)
        kept = to_keep(keep_brine, entry.batch, card, words, shown, yes=yes, as_json=as_json)
    try:
        written, added = write_down(work, entry, named=bool(name), sure=sure, kept=kept)
    except OtherValuesError as error:
        told = already_there_text(work, entry, shown) or str(error)
        raise BatchError(told, error.problems) from error
    if not added and kept is not None:
        tell("The batch was already there, so no more brine was kept.")
        kept = None
    if not added and not name:
        tell(
            "You entered the same batch just before and saw no answer. If this is another batch "
            "like it, give it a name: --batch NAME."
        )
    now = own.with_batch(written)
    put_up = replace(entry.batch, batch=written.batch)
    record = kept_record(work.ledger, put_up.batch) if added else None
    find, today = partial(card_named, put_up.recipe, work.path), dt.date.today()
    cautions = after_jars(put_up, find, own.shelf, shown, today=today)
    if as_json:
        _show_json(now, put_up, added, kept, record, who, cautions)
    else:
        _show(work.path, now, put_up, shown, added, record)
        if who.as_last:
            show(who.text)
        if kept is not None:
            show(put_by_words(kept.ml, put_up.recipe, shown))
    _tell_more(work, put_up, None if yes else sure, shown)
    tell_after(own, put_up, cautions, shown)


def _checked(
    work: "Work", cells: dict[str, str | None], units: Units, *, yes: bool, as_json: bool
) -> "tuple[Entry, frozenset[str]]":
    """The entry, and the columns whose odd values were stood by; with what had to be asked back.

    Raises BatchError.
    """
    from jarcast.app.record import make_entry

    own, today = work.kitchen, dt.date.today()
    try:
        entry = make_entry(cells, today, own.shelf)
    except BatchError:
        from jarcast.cli.counted import asked_back

        crop = (cells["produce"] or "", cells["cut"] or "")
        cells = asked_back(cells, crop, own.shelf, as_json=as_json)
        entry = make_entry(cells, today, own.shelf)
    if yes or not asking(as_json):
        return entry, frozenset()
    if rest := not_jarred.ask(own, entry.batch, as_json=as_json):
        entry = make_entry({**cells, "not_jarred": rest}, today, own.shelf)
    return entry, stand_by(_odd(own, entry.batch, work.path), units)


def _odd(own: "Kitchen", batch: "Batch", path: Path) -> "list[Oddity | Flag | str]":
    """What is odd about a batch before it is recorded. Raises BatchError."""
    try:
        card = card_named(batch.recipe, path)
    except RecipeError:  # told once the batch is written down
        card = None
    return odd_in_batch(own, batch, ALL_COLUMNS, card)


def _tell_more(work: "Work", batch: "Batch", sure: frozenset[str] | None, units: Units) -> None:
    """What is to be known of a batch that was recorded.

    ``sure`` are the columns that were stood by; None where whoever wrote it wants no more said of
    salt and hours that are hardly meant.
    """
    if sure is not None and (found := unusual(replace(batch, confirmed=sure), ALL_COLUMNS)):
        say_odd(found, units)
    tell(unknown_text(work.kitchen, batch.produce))


def _show(
    path: Path,
    own: "Kitchen",
    batch: "Batch",
    units: Units,
    added: bool,
    record: "TrackRecord | None",
) -> None:
    from jarcast.views.batches import batches_text, slips_text

    show(batches_text([batch], units))
    if batch.not_jarred_g is not None:
        show(not_jarred.text(batch, units))
    done = "Recorded in" if added else "Already there, with the same values, in"
    show(f"{done} {path}.")
    if record is not None:
        from jarcast.views.hindsight import kept_text

        show(kept_text(record, units))
    tell(slips_text(odd_in(own, [batch.batch])))


def _show_json(
    own: "Kitchen",
    batch: "Batch",
    added: bool,
    kept: "Kept | None",
    record: "TrackRecord | None",
    who: Packer,
    cautions: "Sequence[Caution]",
) -> None:
    from jarcast.views.batches import batch_document, flags_document, slips_document

    scored = []
    if record is not None:
        from jarcast.views.hindsight import scored_documents

        scored = scored_documents(record.scored)
    show_json(
        {
            "format": "jarcast record",
            "version": 1,
            "added": added,
            "batch": batch_document(batch),
            "flags": flags_document(flags_in(own, [batch.batch])),
            "odd": slips_document(odd_in(own, [batch.batch])),
            "unusual": flags_document((batch.batch, one) for one in unusual(batch, ALL_COLUMNS)),
            "kept_forecasts": scored,
            "kept_brine_ml": None if kept is None else kept.ml,
            "cautions": cautions_document(cautions),
            **who.document,
        }
    )
