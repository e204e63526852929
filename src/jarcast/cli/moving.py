"""jarcast import and jarcast export."""

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct, field

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    refuse_ledger,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.cli.notebook import Wish, answered, bring, merge, take_rehearsed
from jarcast.cli.target import put_out
from jarcast.cli.written import asked_back_text, untested_in, unusual_in
from jarcast.errors import JarcastError
from jarcast.files.output import is_output
from jarcast.views.words import counted

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.batchtable.importer import Imported
    from jarcast.domain.contradictions import Flag
    from jarcast.learning.slips import Slip
    from jarcast.ledger.adding import Answers
    from jarcast.measures import Units
    from jarcast.notebook.rehearsal import Rehearsal

_MOST_JUDGED = 2000  # batches: beyond them odd values are left to 'jarcast habits'
_MOST_FLAGS = 20  # contradictions told at once; 'jarcast batches' tells them all


def import_(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE...",
            help="A batch table; notebooks of your own (.csv .tsv .xlsx .ods .txt, a folder); or "
            "another ledger.",
            readable=False,
        ),
    ],
    columns: Annotated[
        list[str] | None,
        typer.Option(
            "--map",
            metavar="HEADING=COLUMN:UNIT",
            help="What one of your headings means: 'Pints=jars:pint'; 'Price=' skips it.",
        ),
    ] = None,
    dates: Annotated[
        str | None,
        typer.Option(
            metavar="dmy|mdy|ymd", help=("The order of day, month and year in your dates.")
        ),
    ] = None,
    person: Annotated[
        str | None,
        typer.Option(
            "--person",
            "--kitchen",
            metavar="NAME",
            help="Who packed the batches that name nobody; needed for a ledger, '' for nobody.",
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would be imported.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Import a notebook without asking.")] = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Import a batch table, or notebooks with headings of your own.

    A batch table goes in whole or not at all. A notebook is read through first: its headings are
    matched by meaning, and you see what would come in, what is doubtful and what is left out. Then
    it asks; --yes answers for you. Rows that cannot be read are left out and listed.

    A batch table needs the columns batch, date, produce, jar, jars. The others are optional: cut,
    pack, headspace_in, as_bought, trimmed, salt, cure_hours, cured, cooked, brine_made, brine_left,
    sealed, recipe, note. Weights and volumes carry their unit ('6 lb 4 oz'), or are plain numbers
    in columns ending in _g and _ml.

    A batch that is already there is skipped; where it has empty cells, they are filled. Different
    values are shown side by side and asked about at a terminal, and refused elsewhere. Batches of
    another ledger, or of another kitchen's file with --kitchen, keep their person, and get a new
    name where theirs is taken.

    \b
    Examples:
      jarcast import notebook.csv
      jarcast import bea.sqlite3 --person Bea
    """
    said = (tuple(files), tuple(columns or ()), dates or "", person or "", dry_run, yes, as_json)
    with work_at(ledger) as work:
        wish = Wish(*said, units or kitchen_units(work, None))
        brought = _brought(work, wish, person is not None)
        if brought is None:
            return
        taken, rehearsal = brought
        judged = _judged(work, set(taken.added.kept), cards=not as_json)
        shown = kitchen_units(work, units)
    if as_json:
        _show_json(taken, judged, rehearsal)
        tell(judged.jars)
    else:
        _show(taken, judged, rehearsal, work.path, shown)


def _brought(work: "Work", wish: "Wish", named: bool) -> "tuple[Imported, Rehearsal | None] | None":
    """Take in what the files are: another ledger, a batch table, or notebooks.

    None where that was only told. ``named`` tells whether --person was said.
    """
    from jarcast.app.merging import is_ledger, with_free_names
    from jarcast.app.notebook import has_own_headings, rehearse_table

    file = wish.files[0]
    if ledgers := [one for one in wish.files if is_ledger(one)]:
        if len(wish.files) > 1 or not named:
            raise JarcastError(
                f"{ledgers[0]} is a ledger: import it by itself, and say whose it is with --person "
                "NAME"
            )
        return merge(work, file, wish)
    if len(wish.files) > 1 or wish.columns or wish.dates or not has_own_headings(file):
        return bring(work, wish)
    if wish.dry_run or (wish.person and file.is_file()):  # a pipe is read once alone
        table = rehearse_table(file, work.shelf, wish.person)
        freed = with_free_names(work, table, wish.person)
        if wish.dry_run or freed is not table:
            return take_rehearsed(work, freed, wish)
    return _table(work, file, wish), None


def _table(work: "Work", file: Path, wish: "Wish") -> "Imported":
    """Take in a batch table, whole or not at all."""
    from jarcast.batchtable.importer import import_csv
    from jarcast.cli.progress import Progress

    def take(answers: "Answers") -> "Imported":
        with Progress("importing") as progress:
            return import_csv(
                file, work.ledger, work.shelf, tell=progress,
                most_named=None if wish.as_json else _MOST_JUDGED, answers=answers,
                person=wish.person,
            )  # fmt: skip

    return answered(take, wish)


class _Judged(Struct, frozen=True):
    """What is asked back of the batches taken in: odd values, near names, what is unusual.

    And what becomes of their jars, where these are still to be seen to.
    """

    odd: "Sequence[Slip]" = ()
    near: "Mapping[tuple[str, str], Sequence[str]]" = field(default_factory=dict)
    near_packs: "Mapping[tuple[str, str], Sequence[str]]" = field(default_factory=dict)
    rare: "Sequence[tuple[str, Flag]]" = ()
    untested: "Sequence[tuple[str, str]]" = ()
    jars: str = ""


def _judged(work: "Work", added: set[str], *, cards: bool) -> _Judged:
    """Judge the batches taken in; ``cards`` tells whether by their recipes' cards, too.

    A whole archive is not judged on the way in: that takes as long as taking it in.
    """
    from jarcast.cli.after_jars import jars_in
    from jarcast.cli.confirm import odd_in
    from jarcast.cli.crops import near_in, near_packs_in

    if not work.ledger.at_most(_MOST_JUDGED):
        return _Judged()
    own = work.kitchen
    return _Judged(
        odd=odd_in(own, added),
        near=near_in(own, added),
        near_packs=near_packs_in(own, added),
        rare=unusual_in(own, added),
        untested=untested_in(own, added, work.path) if cards else (),
        jars=jars_in(own, added, dt.date.today(), work.path),
    )


def _show_json(taken: "Imported", judged: _Judged, rehearsal: "Rehearsal | None") -> None:
    from jarcast.views.batches import flags_document, near_document, slips_document
    from jarcast.views.notebook import left_out, told_documents

    show_json(
        {
            "format": "jarcast import",
            "version": 1,
            "added": taken.added.kept,
            "skipped": taken.skipped.kept,
            "filled": taken.filled.kept,
            "doubts": told_documents(() if rehearsal is None else rehearsal.doubts),
            "left_out": told_documents(
                () if rehearsal is None else (*left_out(rehearsal), *rehearsal.left)
            ),
            "ignored_columns": list(taken.ignored_columns),
            "flags": flags_document(taken.flags),
            "odd": slips_document(judged.odd),
            "near_names": near_document(judged.near),
            "near_packs": near_document(judged.near_packs, "pack"),
            "unusual": flags_document(judged.rare),
        }
    )


def _show(
    taken: "Imported", judged: _Judged, rehearsal: "Rehearsal | None", path: Path, units: "Units"
) -> None:
    from jarcast.views.batches import flags_text, near_text, slips_text
    from jarcast.views.notebook import left_out_text

    tell(near_text(judged.near))
    tell(near_text(judged.near_packs, "pack"))
    show(f"{counted(taken.added.count, 'batch', 'batches')} added to {path}.")
    if taken.skipped.count:
        show(f"{counted(taken.skipped.count, 'batch', 'batches')} already there, skipped.")
    if taken.filled.count:
        show(f"{counted(taken.filled.count, 'batch', 'batches')} already there, filled in.")
    if rehearsal is not None:
        tell(left_out_text(rehearsal))
    elif taken.ignored_columns:
        tell(
            "Columns that are not in the batch table were ignored: "
            f"{', '.join(taken.ignored_columns)}."
        )
    tell(flags_text(taken.flags[:_MOST_FLAGS], units))
    if (more := len(taken.flags) - _MOST_FLAGS) > 0:
        tell(f"  ... and {more} more; 'jarcast batches' shows them all.")
    asked: list[tuple[str, Flag | str]] = [*judged.rare, *judged.untested]
    tell(asked_back_text(asked[:_MOST_FLAGS], units))
    tell(slips_text(judged.odd))
    tell(judged.jars)


def export(
    file: Annotated[
        Path | None,
        typer.Argument(
            help="The CSV file to write; '-' or none is standard output.", readable=False
        ),
    ] = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write all batches as a CSV file.

    'jarcast import' reads it back exactly.

    \b
    Example:  jarcast export batches.csv
    """
    from jarcast.batchtable import write_csv
    from jarcast.views.batches import batch_document, batches_document

    path = ledger_path(ledger)
    if is_output(file):
        file = None
    if file is not None:
        refuse_ledger(file, path)
    with work_at(ledger) as work, work.going_through() as batches:
        count = len(batches)
        if file is not None:
            write_csv(batches, file)
        elif as_json:
            for _ in batches:  # so that one that cannot be read leaves no half of an answer
                pass
            show_json(batches_document(), "batches", map(batch_document, batches))
        else:
            put_out(partial(write_csv, batches))
    if file is not None and as_json:
        show_json({"format": "jarcast export", "version": 1, "batches": count})
    elif file is not None:
        show(f"{counted(count, 'batch', 'batches')} written to {file}.")
