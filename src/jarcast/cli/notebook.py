"""Notebooks and ledgers brought in: what would come of them is told, asked about, then taken."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import typer
from msgspec import Struct
from msgspec.structs import replace

from jarcast.cli.common import asking, show, show_json, tell
from jarcast.errors import BatchError, JarcastError, OtherValuesError
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.batchtable.importer import Imported
    from jarcast.batchtable.meant import Column
    from jarcast.ledger.adding import Answers
    from jarcast.notebook.rehearsal import Hints, Question, Rehearsal


class Wish(Struct, frozen=True):
    """What was typed: files, what their headings mean, and how to go about it."""

    files: tuple[Path, ...]
    columns: tuple[str, ...] = ()
    dates: str = ""
    person: str = ""
    dry_run: bool = False
    yes: bool = False
    as_json: bool = False
    units: Units = Units.US

    @property
    def ask(self) -> bool:
        """Whether there is someone to ask."""
        return not self.yes and not self.dry_run and asking(self.as_json)


def show_rehearsal(rehearsal: "Rehearsal", wish: Wish) -> None:
    """What would come in, as the answer of ``--dry-run``."""
    from jarcast.views.notebook import rehearsal_document, rehearsal_text

    if wish.as_json:
        show_json(rehearsal_document(rehearsal))
    else:
        show(rehearsal_text(rehearsal))


def bring(work: "Work", wish: Wish) -> "tuple[Imported, Rehearsal] | None":
    """Rehearse notebooks, and take them in where that is wished; None where it was only told.

    Raises JarcastError where something must be told first, or nobody is there to be asked.
    """
    from jarcast.app.notebook import hints_of, remember_hints, take
    from jarcast.notebook.days import ORDERS
    from jarcast.notebook.headings import read_map

    if wish.dates and wish.dates not in ORDERS:
        raise JarcastError(f"--dates {wish.dates}: the order is one of {', '.join(ORDERS)}")
    told = [read_map(text, work.shelf) for text in wish.columns]
    hints = hints_of(work, told, wish.dates, wish.person)
    rehearsal, said = _rehearsed(work, wish, hints)
    if wish.dry_run:
        show_rehearsal(rehearsal, wish)
        return None
    if rehearsal.asked:
        questions = "; ".join(question.text for question in rehearsal.asked)
        raise JarcastError(f"{questions}. Nothing was imported")
    if not rehearsal.entries:
        raise JarcastError(_none_found(rehearsal))
    if not wish.yes:
        if not wish.ask:
            raise JarcastError("nothing was imported; if that is right, run it again with --yes")
        if said is None:
            tell("Nothing was imported.")
            return None
    if said is not None:
        new = {key: column for key, column in said.columns.items() if column.heading}
        remember_hints(work, [*told, *new.values()], said.order or wish.dates)
    return answered(lambda answers: take(work, rehearsal, answers), wish), rehearsal


def _none_found(rehearsal: "Rehearsal") -> str:
    """That there is no batch, with the first reason why."""
    first = next(iter((*rehearsal.left, *rehearsal.refused)), None)
    why = f": {first[0]}: {first[1]}" if first and not rehearsal.columns else ""
    return f"no batch was found, and nothing was imported{why}"


def _rehearsed(work: "Work", wish: Wish, hints: "Hints") -> "tuple[Rehearsal, Hints | None]":
    """What would come in, and what was told at the terminal; None for that it shall not.

    Headings are corrected there, and what must be told first is asked, until the answer is yes.
    """
    from jarcast.app.merging import with_free_names
    from jarcast.app.notebook import with_repeats
    from jarcast.notebook.rehearsal import Hints, files_in, rehearse
    from jarcast.views.notebook import rehearsal_text

    files = files_in(wish.files)
    said = Hints()
    while True:
        both = replace(
            hints, columns={**hints.columns, **said.columns}, order=said.order or hints.order
        )
        read = rehearse(files, both, work.shelf)
        rehearsal = with_repeats(work, with_free_names(work, read, wish.person))
        if wish.ask and rehearsal.asked:
            said = _told(rehearsal, rehearsal.asked[0], said)
            continue
        if not wish.dry_run:
            tell(rehearsal_text(rehearsal))
        if not wish.ask or not (rehearsal.entries or rehearsal.columns):
            return rehearsal, said
        answer = _take_it(bool(rehearsal.columns))
        if answer != "c":
            return rehearsal, said if answer == "y" else None
        said = _corrected(rehearsal, said)


def _take_it(headings: bool) -> str:
    """'y', 'n' or, where there are headings to correct, 'c'."""
    correct = ", or c to correct the headings" if headings else ""
    while True:
        answer = _typed(f"Import it like this? y or n{correct}").casefold()[:1]
        if answer in ("y", "n") or (answer == "c" and headings):
            return answer


def _told(rehearsal: "Rehearsal", question: "Question", said: "Hints") -> "Hints":
    """One question answered: the unit of a column, or which number of a date is the day."""
    from jarcast.batchtable.meant import Column, unit_in

    if question.date:
        words = f"In '{question.date}', is the day (d) or the month (m) first?"
        first = ""
        while first not in ("d", "m"):
            first = _typed(words).casefold()[:1]
        return replace(said, order=f"{first}{'m' if first == 'd' else 'd'}y")
    column = _column(rehearsal, question.heading)
    while True:
        words = f"Which unit is the column '{column.heading}'? Empty leaves it out"
        unit = _typed(words)
        stated = unit_in(unit, column.name.partition("/")[0])
        if not unit or stated:
            break
        tell(f"'{unit[:40]}' is not a unit for it; use lb, oz, kg, cups, qt or ml.")
    named = replace(column, unit=stated) if unit else Column(column.heading)
    return _with(said, named)


def _corrected(rehearsal: "Rehearsal", said: "Hints") -> "Hints":
    """Each heading in turn, as it is read unless something else is typed."""
    from jarcast.notebook.headings import read_map

    tell(
        "For each heading: Enter leaves it as it is, - skips it, and jars:pint or trimmed:lb says "
        "what it is."
    )
    for column in dict.fromkeys(c for columns in rehearsal.columns for c in columns if c.heading):
        now = ":".join(filter(None, (column.name, column.unit))) or "not read"
        while answer := _typed(f"{column.heading} ({now})"):
            try:
                meant = "" if answer == "-" else answer
                said = _with(said, read_map(f"{column.heading}={meant}"))
                break
            except BatchError as error:
                tell(f"{error}.")
    return said


def _column(rehearsal: "Rehearsal", heading: str) -> "Column":
    from jarcast.notebook.rehearsal import names_under

    found = next(c for columns in rehearsal.columns for c in columns if c.heading == heading)
    return replace(found, name=names_under(heading, rehearsal.columns))


def _with(said: "Hints", column: "Column") -> "Hints":
    return replace(said, columns={**said.columns, column.heading.casefold(): column})


def _typed(words: str) -> str:
    return str(typer.prompt(words, default="", show_default=False, err=True)).strip()


def answered(take: "Callable[[Answers], Imported]", wish: Wish) -> "Imported":
    """Take something in; at a terminal ask of each batch with other values which of them stand.

    Raises OtherValuesError where nobody can be asked.
    """
    from jarcast.ledger.adding import Answers

    try:
        return take(Answers(units=wish.units))
    except OtherValuesError as error:
        if not wish.ask or len(error.batches) < len(error.problems):
            raise
        tell("In the ledger with other values:")
        coming, standing = set[str](), set[str]()
        for name, apart in error.batches:
            tell(f"  {name}: {apart}")
            yes = typer.confirm("Take the values here?", err=True)
            (coming if yes else standing).add(name)
    return take(Answers(frozenset(coming), frozenset(standing)))


def merge(work: "Work", file: Path, wish: Wish) -> "tuple[Imported, Rehearsal] | None":
    """Take in the standing batches of another ledger; None where that was only told."""
    from jarcast.app.merging import rehearse_ledger

    return take_rehearsed(work, rehearse_ledger(work, file, wish.person), wish)


def take_rehearsed(
    work: "Work", rehearsal: "Rehearsal", wish: Wish
) -> "tuple[Imported, Rehearsal] | None":
    """Take in what has another name here, once that is told; None where it was only told."""
    from jarcast.app.notebook import take
    from jarcast.views.notebook import rehearsal_text

    if wish.dry_run:
        show_rehearsal(rehearsal, wish)
        return None
    if rehearsal.doubts or rehearsal.left:
        tell(rehearsal_text(rehearsal))
    return answered(lambda answers: take(work, rehearsal, answers), wish), rehearsal
