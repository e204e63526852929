"""A notebook into the ledger: which files are notebooks, and what was rehearsed as one action."""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec.structs import replace

from jarcast.app.work import Work
from jarcast.batchtable import read_csv
from jarcast.batchtable.header import column_name, known_columns
from jarcast.batchtable.importer import Imported, packed_by
from jarcast.batchtable.meant import Column, meaning
from jarcast.domain.contradictions import contradictions_in
from jarcast.domain.fields import KITCHEN
from jarcast.domain.jars import Jar
from jarcast.ledger.adding import MOST_AT_ONCE, Answers
from jarcast.ledger.annotations import confirm_within
from jarcast.ledger.own_measures import add_jar
from jarcast.notebook.rehearsal import KINDS, Hints, Rehearsal, holds_batches, looks_kept
from jarcast.notebook.repeated import repeated_in

_KEY = "heading "  # settings that remember what a heading means: 'heading pints' -> 'jars:pint'
_MOST_HEADINGS = 200  # looked at for what they mean
_ORDER = "dates"  # the setting of the order of numbers in dates


def has_own_headings(file: Path) -> bool:
    """Whether a file is to be read as a batch table: with our headings, or as no notebook can be.

    A batch table with a further heading that means a weight or a volume is a notebook: nothing
    that was weighed is lost without a word.
    """
    if file.is_dir():
        return False
    if file.suffix.lower() not in KINDS or file.suffix.lower() != ".csv":
        return file.suffix.lower() not in KINDS
    try:
        if not file.is_file():  # of a pipe nothing may be read here
            return True
        with file.open(encoding="utf-8-sig", newline="") as opened:
            first = opened.readline(10_000)
    except (OSError, ValueError):
        return True
    separator = max("\t;,", key=first.count)
    cells = next(csv.reader([first], delimiter=separator), [])
    if len(cells) > _MOST_HEADINGS:
        return True  # a notebook has a few; what this is, the reader of tables says
    unknown = [cell for cell in cells if cell.strip() and not known_columns([cell])]
    # A word alone may stand for much: 'weather left' is no brine. A unit beside it tells.
    lost = [cell for cell in unknown if (c := meaning(cell)).name in KITCHEN and c.unit]
    known = known_columns(cells)
    if not known:
        return not _meant(unknown) and not holds_batches(file) and not looks_kept(file)
    named = {column_name(cell) for cell in cells}
    lacking = not {"batch", "date", "produce", "jars"} <= named
    return 2 * known >= len(cells) and not lost and not (lacking and _meant(unknown))


def _meant(cells: Sequence[str]) -> bool:
    """Whether one of these headings means a column."""
    return any(meaning(cell).name for cell in cells)


def hints_of(work: Work, told: Sequence[Column] = (), order: str = "", person: str = "") -> Hints:
    """What is known of notebooks here: what was remembered, and what is told now."""
    known = _remembered(work) | {column.heading.casefold(): column for column in told}
    return Hints(known, order, work.settings.get(_ORDER, ""), person)


def _remembered(work: Work) -> dict[str, Column]:
    """What headings mean in this kitchen, by heading in lower case."""
    told = {}
    for key, value in work.settings.items():
        if key.startswith(_KEY):
            name, _, unit = value.partition(":")
            heading = key.removeprefix(_KEY)
            told[heading] = Column(heading, name, unit)
    return told


def remember_hints(work: Work, told: Sequence[Column], order: str = "") -> None:
    """Remember what headings were told to mean, and the order of dates. Raises LedgerError.

    It is an action of its own, and comes before the import: that is the last one, for undo.
    """
    for column in told:
        work.remember_with(_KEY + column.heading.casefold(), f"{column.name}:{column.unit}")
    if order:
        work.remember_with(_ORDER, order)
    work.remember()


def rehearse_table(file: Path, shelf: Mapping[str, Jar], person: str = "") -> Rehearsal:
    """What a batch table would bring. Raises BatchError as ``read_csv`` does."""
    table = read_csv(file, shelf)
    entries = [packed_by(one, person) if person else one for one in table.entries]
    return Rehearsal(
        tuple((f"{file}, batch '{one.batch.batch}'", one) for one in entries),
        tuple((f"{file}, batch '{name}'", flag.message) for name, flag in table.flags),
        ignored=table.ignored_columns,
    )


def with_repeats(work: Work, rehearsal: Rehearsal) -> Rehearsal:
    """The same, with what is told of batches that stand in this ledger under another name."""
    told = repeated_in(rehearsal.entries, work.kitchen.batches) if rehearsal.entries else []
    return replace(rehearsal, doubts=(*rehearsal.doubts, *told))


def take(work: Work, rehearsal: Rehearsal, answers: Answers) -> Imported:
    """Take in what was rehearsed, as one action.

    Raises OtherValuesError where a batch is there with other values that ``answers`` do not tell
    of, and LedgerError.
    """
    entries = [entry for _, entry in rehearsal.entries]
    with work.writing("import") as action:
        for jar, typed in rehearsal.jars:
            add_jar(work.ledger, jar, typed)
        with work.ledger.adding("import", answers=answers) as adding:
            for at in range(0, len(entries), MOST_AT_ONCE):
                some = entries[at : at + MOST_AT_ONCE]
                for twice in adding.take(some).twice:
                    adding.problems.append(f"'{some[twice.at].batch.batch}' comes twice")
        new = set(adding.added.kept)
        for entry in entries:
            if entry.batch.confirmed and entry.batch.batch in new:
                confirm_within(work.ledger, action, entry.batch.batch, entry.batch.confirmed)
    work.anew()
    flags = tuple(
        (entry.batch.batch, flag)
        for entry in entries
        for flag in contradictions_in(entry.batch, entry.batch.fill_volume_ml(work.shelf))
    )
    return Imported(adding.added, adding.skipped, adding.filled, rehearsal.ignored, flags)
