"""What would come of a notebook if it were taken in: nothing is written here."""

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec import Struct, field

from jarcast.batchtable.meant import Column
from jarcast.batchtable.rows import Problem, RowChecker
from jarcast.domain.batch import free_name
from jarcast.domain.contradictions import contradictions_in
from jarcast.domain.fields import KITCHEN, NEEDED
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.ledger.entry import Entry
from jarcast.notebook.amounts import weigh_containers
from jarcast.notebook.crops import again, read_said
from jarcast.notebook.dated import read_lines
from jarcast.notebook.days import order_of, read_day, why_no_day, with_year, year_in
from jarcast.notebook.layout import has_headings, may_be_headings
from jarcast.notebook.line import read_line
from jarcast.notebook.no_headings import why_no_headings
from jarcast.notebook.repeated import repeated_among
from jarcast.notebook.said import Said
from jarcast.notebook.sheets import TABLES, WORKBOOKS, Sheet, read_sheets, read_text
from jarcast.notebook.sides import read_sides
from jarcast.notebook.tables import Found, read_table
from jarcast.notebook.titles import no_log

TEXTS = frozenset((".txt", ".md"))
KINDS = TABLES | WORKBOOKS | TEXTS

Told = tuple[tuple[str, str], ...]  # a place, and what is told of it


class Question(Struct, frozen=True):
    """What must be told first: the unit of the column ``heading``, or the order in ``date``."""

    text: str
    heading: str = ""
    date: str = ""


class Rehearsal(Struct, frozen=True):
    """What would be taken in, and what not; places name file and row.

    ``entries`` by place; ``doubts`` what is read with a doubt; ``left`` rows that are no batches;
    ``refused`` rows that cannot be batches, with why; ``unplaced`` measures of lines that have no
    place; ``columns`` what each heading is read as; ``ignored`` columns that are not read;
    ``asked`` what must be told first; ``jars`` of one's own that another ledger brings, each with
    what it was measured by.
    """

    entries: tuple[tuple[str, Entry], ...]
    doubts: Told = ()
    left: Told = ()
    refused: Told = ()
    unplaced: Told = ()
    columns: tuple[tuple[Column, ...], ...] = ()
    ignored: tuple[str, ...] = ()
    asked: tuple[Question, ...] = ()
    jars: tuple[tuple[Jar, Mapping[str, str]], ...] = ()


class Hints(Struct, frozen=True):
    """What is known of notebooks before they are read.

    ``columns`` by heading in lower case; ``order`` of the numbers in their dates, ``usual_order``
    where they leave it open; ``person`` who packed what names nobody.
    """

    columns: Mapping[str, Column] = {}
    order: str = ""
    usual_order: str = ""
    person: str = ""


def files_in(paths: Sequence[Path]) -> tuple[Path, ...]:
    """The files named, and those of the folders named, by name.

    Raises BatchError for a file of another kind, and a folder without one.
    """
    found: list[Path] = []
    for path in paths:
        inside = sorted(p for p in path.iterdir() if _fits(p)) if path.is_dir() else [path]
        if not inside or (not path.is_dir() and not _fits(path)):
            raise BatchError(f"{path}: a notebook is one of {', '.join(sorted(KINDS))}")
        found += inside
    return tuple(dict.fromkeys(found))


def holds_batches(file: Path) -> bool:
    """Whether a table has headings or labels that batches stand under, however far down."""
    try:
        return any(
            has_headings(sheet, {}, SHELF) or read_sides(sheet, {}, Found())
            for sheet in read_sheets(file)
        )
    except BatchError:
        return False


def looks_kept(file: Path) -> bool:
    """Whether a table has a row that may be headings, with rows of amounts under it."""
    try:
        return any(may_be_headings(sheet) for sheet in read_sheets(file))
    except BatchError:
        return False


def _fits(path: Path) -> bool:
    return path.suffix.lower() in KINDS


class _Rehearsing(Struct):
    """Notebooks while they are read through."""

    hints: Hints
    shelf: Mapping[str, Jar]
    checker: RowChecker
    found: Found = field(default_factory=Found)
    entries: list[tuple[str, Entry]] = field(default_factory=list)
    doubts: list[tuple[str, str]] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    asked: list[Question] = field(default_factory=list)
    names: set[str] = field(default_factory=set)


def rehearse(
    files: Sequence[Path],
    hints: Hints = Hints(),  # noqa: B008 - it is frozen
    shelf: Mapping[str, Jar] = SHELF,
    today: dt.date | None = None,
) -> Rehearsal:
    """Read notebooks through. Raises BatchError for a file that cannot be read."""
    at = _Rehearsing(hints, shelf, RowChecker(shelf, today or dt.date.today()))
    for file in files:
        before = len(at.found.said)
        _read(file, at)
        _batches(at, file, at.found.said[before:])
    at.asked += (_unit_asked(heading, at.found) for heading in at.found.unitless)
    doubts = (*at.found.noted, *at.doubts, *repeated_among(at.entries))
    return Rehearsal(
        tuple(at.entries), doubts, tuple(at.found.left), (*at.found.refused, *at.refused),
        tuple(at.found.unplaced), tuple(at.found.columns), tuple(at.found.ignored),
        tuple(at.asked),
    )  # fmt: skip


def _unit_asked(heading: str, found: Found) -> Question:
    names = names_under(heading, found.columns)
    column = names if "/" in names else "COLUMN"
    how = f"which unit is the column '{heading}'? Say --map \"{heading}={column}:UNIT\""
    return Question(f"{how}{_or_mend(found.alone.get(heading, ()))}", heading=heading)


def names_under(heading: str, tables: Sequence[Sequence[Column]]) -> str:
    """What a heading is read as: 'brine_made/brine_left' where two measures stand under it."""
    names = (c.name for columns in tables for c in columns if c.heading == heading)
    return "/".join(dict.fromkeys(names))


def _or_mend(places: Sequence[str]) -> str:
    """How to mend a few numbers alone among cells with units; '' where there are none."""
    if not places:
        return ""
    more = f" and {len(places) - 3} more" if len(places) > 3 else ""
    return f", or write the unit in {'; '.join(places[:3])}{more}"


def _read(file: Path, at: _Rehearsing) -> None:
    """What a file says: its sheets, or its lines."""
    told = at.hints.columns
    if file.suffix.lower() in TEXTS:
        text = read_text(file)
        lines = tuple((line.strip(),) for line in text.splitlines())
        if not read_sides(Sheet(str(file), lines), told, at.found, at.shelf):
            _read_lines(file, text, at)
        return
    for sheet in read_sheets(file):
        if not any(map(any, sheet.rows)):
            continue
        if file.suffix.lower() in WORKBOOKS and no_log((sheet.name,)):
            why = f"'{sheet.name}' names no log of batches; rename the sheet if it is one"
            at.found.left.append((sheet.place, why))
        elif has_headings(sheet, told, at.shelf):
            read_table(sheet, told, at.found, at.shelf)
        elif not read_sides(sheet, told, at.found, at.shelf):
            at.found.left.append((sheet.place, why_no_headings(sheet, told, at.shelf)))


def _read_lines(file: Path, text: str, at: _Rehearsing) -> None:
    year = crop = ""
    for dated in read_lines(text):
        place = f"{file}, line {dated.number}"
        if dated.struck:
            at.found.left.append((place, f"struck out: '{dated.text[:60]}'"))
            continue
        year = year_in(dated.date or dated.text) or year
        if not dated.date:
            at.found.left.append(
                (
                    place,
                    f"no date: '{dated.text[:60]}'; indent it if it goes on with the line above",
                )
            )
            continue
        mark, rest = again(dated.text)
        line = read_line(f"{crop}: {rest}" if mark and crop else dated.text, at.shelf)
        asked = tuple(f"'{words}': {why}" if words else why for words, why in line.asked)
        at.found.unplaced += ((place, why) for why in asked)
        above = (f"'{mark}' is taken as the crop above, {crop}",) if mark and crop else ()
        crop = " ".join(line.cells[c] for c in ("produce", "cut") if c in line.cells)
        cells = {**line.cells, "date": dated.date}
        at.found.said.append(Said(place, cells, (*above, *line.taken, *asked), year))


def _batches(at: _Rehearsing, file: Path, said: Sequence[Said]) -> None:
    """The batches of one file, in which one date may settle the order of all."""
    said = [_dated(one, file) for one in said]
    dates = [date for one in said if (date := one.cells.get("date"))]
    order = at.hints.order or order_of(dates) or at.hints.usual_order
    if not order and (date := _undecided(dates)):
        asked = f"{file}: is '{date}' day or month first? Add --dates dmy or mdy"
        at.asked.append(Question(asked, date=date))
    for one in said:
        cells, doubts = _cells(one, order)
        if at.hints.person:
            cells.setdefault("person", at.hints.person)
        if cells.get("batch", "") in at.names | {""}:
            cells["batch"] = _name(file, cells, at.names)
        at.names.add(cells["batch"])
        at.doubts += ((one.place, why) for why in doubts)
        _check(at, one.place, cells, one.wrong)


def _dated(said: Said, file: Path) -> Said:
    """A batch whose date has the year that stands above it, or in the name of its file or sheet."""
    date = said.cells.get("date", "")
    named = said.place.removeprefix(str(file.parent)).lstrip("/\\").partition(", row")[0]
    year = said.year or year_in(named)
    if (full := with_year(date, year)) == date:
        return said
    doubts = (*said.doubts, f"'{date}' gives no year; taken as {year}")
    return Said(said.place, {**said.cells, "date": full}, doubts, wrong=said.wrong)


def _check(
    at: _Rehearsing, place: str, cells: Mapping[str, str], wrong: Sequence[str] = ()
) -> None:
    """One batch from its cells, or why there is none."""
    entry, problems = at.checker.check(cells)
    if entry is None and (odd := [p for p in problems if _may_go(p, cells)]):
        cells = _without(cells, odd)
        told = (p for p in odd if not (at.found.unitless and "has no unit" in p.why))  # asked below
        at.doubts += ((place, f"{_told(p)}; it is left out, and kept in the note") for p in told)
        entry, problems = at.checker.check(cells)
    if entry is None or wrong:
        others = [p for p in problems if not (wrong and p.column in ("jar", "jars"))]
        why = "; ".join((*wrong, *map(_told, others)))
        at.refused.append((place, why))
        return
    flags = contradictions_in(entry.batch, entry.batch.fill_volume_ml(at.shelf))
    at.doubts += ((place, flag.message) for flag in flags)
    at.entries.append((place, entry))


def _told(problem: Problem) -> str:
    cell, why = f"'{problem.cell}' ", problem.why
    if problem.column == "date" and "year-month-day)" in why:  # no day and month to be mixed up
        why = why_no_day(str(problem.cell)) or why
    return f"{problem.column.replace('_', ' ')} {cell}{why.removeprefix(cell)}"


def _may_go(problem: Problem, cells: Mapping[str, str]) -> bool:
    """Whether a batch is one without the cell that has this problem."""
    return problem.column in cells and KITCHEN.get(problem.column, problem.column) not in NEEDED


def _without(cells: Mapping[str, str], odd: Sequence[Problem]) -> dict[str, str]:
    """Cells without those that cannot be read; what stood there goes to the note."""
    left = {problem.column for problem in odd}
    words = (f"{name.replace('_', ' ')}: {cells[name]}" for name in left if name != "note")
    note = "; ".join(filter(None, (cells.get("note", ""), *sorted(words))))
    return {**{name: text for name, text in cells.items() if name not in left}, "note": note}


def _undecided(dates: Sequence[str]) -> str:
    """A date whose numbers leave its order open; '' where there is none."""
    return next(
        (d for d in dates if not read_day(d) and read_day(d, "mdy") and read_day(d, "dmy")), ""
    )


def _cells(said: Said, order: str) -> tuple[dict[str, str], list[str]]:
    """The cells of a batch as the row checker takes them, and what is doubtful in them."""
    cells, doubts = dict(said.cells), list(said.doubts)
    if date := cells.get("date"):
        day = read_day(date, order)
        cells["date"] = day.isoformat() if day else date
    if produce := cells.get("produce"):
        read, doubt = read_said(produce, cells.get("cut", ""))
        cells = {**cells, **read, "recipe": cells.get("recipe", read.get("recipe", ""))}
        cells = {name: text for name, text in cells.items() if text}
        doubts += [doubt] if doubt else []
    doubts += weigh_containers(cells)
    return cells, doubts


def _name(file: Path, cells: Mapping[str, str], taken: set[str]) -> str:
    """A name made up for a batch: its file, so that two members' batches stay two, day and crop."""
    words = (file.stem, *(cells.get(c, "") for c in ("date", "produce", "cut")))
    return free_name(" ".join(filter(None, words)), taken.__contains__)
