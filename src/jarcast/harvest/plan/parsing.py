"""A plan from a CSV or TOML file and from typed lines: all of it, or every problem at once."""

import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.batchtable.csv_file import CsvFile
from jarcast.batchtable.gathering import Gathering
from jarcast.batchtable.guard import unguard
from jarcast.batchtable.header import MOST_COLUMNS, column_name
from jarcast.batchtable.rows import Problem
from jarcast.domain.fields import NUMBERS, VOLUMES
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError
from jarcast.files.reading import open_to_read, why_unread
from jarcast.harvest.plan.cells import Cards, Judge, LineChecker
from jarcast.harvest.plan.line import COLUMNS, MOST_LINES, Plan, PlanLine
from jarcast.harvest.plan.toml_in import toml_cells
from jarcast.harvest.plan.typed_line import cells_of

LONGEST_FILE = 4 * 1000 * 1000  # bytes
# What 'jarcast harvest --csv' appends: a plan with its results is a plan again.
RESULTS = (
    "state", "jars_median", "jars_low", "jars_high", "brine_ml_median", "brine_ml_low",
    "brine_ml_high", "brine_to_make_ml", "loads_median",
)  # fmt: skip
KEPT_RESULTS = ("jars_planned", "jars_filled", "batches")  # and of a plan that is kept
OURS = "jarcast_"  # goes before the name of a result where the plan has such a column of its own

Trial = Callable[[tuple[PlanLine, ...]], Iterable[tuple[str, str]]]  # places, and why not
Cells = tuple[str, dict[str, str]]  # where a line stands, and what it says by column


class OwnTable(Struct):
    """A plan's own file: its headings, those that are not of a plan, and every row."""

    columns: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    rows: list[tuple[str, ...]] = field(default_factory=list)


def read_plan(
    path: str | Path | None,
    typed: Iterable[str] = (),
    *,
    cards: Cards,
    shelf: Mapping[str, Jar] = SHELF,
    judge: Judge | None = None,
    trial: Trial | None = None,
) -> Plan:
    """Read a plan from a file (TOML by its ending, CSV else), then the typed lines.

    ``cards`` finds a recipe card by its name; ``judge`` gives what else is to be told of the cells
    of a line, and ``trial`` of whole lines where others have problems, so that it is told with the
    rest. Raises BatchError when the file cannot be read,
    there is no line at all, or any cell cannot be taken; ``problems`` then holds a line for each.
    """
    gathering = Gathering("the plan" if path is None else str(path))
    table = OwnTable()
    found: list[Cells] = []
    if path is not None:
        text = _read(Path(path))
        if Path(path).suffix.casefold() == ".toml":
            found = toml_cells(text, gathering)
        else:
            found, table = _csv_cells(text, str(path), gathering)
    found += _typed(typed, gathering, shelf)
    checker = LineChecker(cards, shelf)
    checker = checker if judge is None else replace(checker, judge=judge)
    return checked_plan(found, table, checker, gathering, trial)


def checked_plan(
    found: Sequence[Cells],
    table: OwnTable,
    checker: LineChecker,
    gathering: Gathering,
    trial: Trial | None = None,
) -> Plan:
    """The plan of these lines, the rows of its file beside the first. Raises as ``read_plan``."""
    _check_count(len(found), gathering)
    lines = tuple(_lines(found, table.rows, checker, gathering))
    if gathering.count and trial is not None:
        for place, why in trial(lines):
            gathering.problem(place, Problem("", None, why))
    gathering.by_line()
    gathering.finish()
    if not lines:
        raise BatchError(
            f"{gathering.name}: has no lines; write one for each batch, with its produce and a "
            "weight such as '20-35 lb'"
        )
    return Plan(lines, table.ignored, table.columns)


def _lines(
    found: Sequence[Cells],
    rows: Sequence[tuple[str, ...]],
    checker: LineChecker,
    gathering: Gathering,
) -> Iterator[PlanLine]:
    names: dict[str, str] = {}
    for at, (place, cells) in enumerate(found):
        line, problems = checker.check(place, cells)
        gathering.problems(place, problems)
        name = cells.get("name", "")
        if name and names.setdefault(name, place) != place:
            why = f"is the name of {names[name]} as well; each batch needs its own"
            gathering.problem(place, Problem("name", name, why))
        if line is not None:
            yield replace(line, own=rows[at]) if at < len(rows) else line


def _check_count(count: int, gathering: Gathering) -> None:
    if count > MOST_LINES:
        raise BatchError(
            f"{gathering.name}: has {count} lines, and {MOST_LINES} at most are read; a line is "
            "one batch, so split the plan by weeks"
        )


def _read(path: Path) -> bytes:
    """The whole file. Raises BatchError for what is not a file, is empty or far too long."""
    try:
        with open_to_read(path) as file:
            content = file.read(LONGEST_FILE + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise BatchError(why_unread(path, error, "the plan")) from error
    if len(content) > LONGEST_FILE:
        raise BatchError(
            f"{path} is longer than {LONGEST_FILE // 10**6} MB, too long for a plan; name the "
            "right file"
        )
    if not content.removeprefix(b"\xef\xbb\xbf").strip(b" \t\r\n,;"):
        raise BatchError(f"{path} is empty; its first line should look like: {_HEADER}")
    return content


_HEADER = "produce,cut,pack,jar,as_bought"


def _csv_cells(content: bytes, name: str, gathering: Gathering) -> tuple[list[Cells], OwnTable]:
    """What every row says of a plan, and the whole table as it was written."""
    # A reader that can be peeked into, over what was read already.
    file = CsvFile(io.BufferedReader(io.BytesIO(content)), name)
    columns = _columns(file.header, name)
    results = _results(columns)
    places, ignored = _header(file.header, columns, results, name)
    found: list[Cells] = []
    own = [at for at in range(len(columns)) if at not in results]
    table = OwnTable(tuple(unguard(file.header[at]) for at in own), ignored)
    try:
        for record in file:
            place = f"line {record.line}"
            if len(record.cells) != len(file.header):
                why = (
                    f"{len(record.cells)} cells where the header has {len(file.header)}; put "
                    "quotes around a cell with a separator in it, and write one for each empty cell"
                )
                gathering.problem(place, Problem("", None, why))
                continue
            cells = {column: unguard(record.cells[at]).strip() for at, column in places}
            found.append((place, {column: cell for column, cell in cells.items() if cell}))
            table.rows.append(tuple(unguard(record.cells[at]) for at in own))
            _check_count(len(found), gathering)
    except BatchError as error:
        if len(found) > MOST_LINES:
            raise
        gathering.broken(str(error))  # the file breaks off here
    return found, table


def _results(columns: Sequence[str]) -> set[int]:
    """Places of the results of an earlier answer; without its jars, such a name is one's own."""
    if not {"jars_median", f"{OURS}jars_median"} & {*columns}:
        return set()
    names = (*RESULTS, *KEPT_RESULTS)
    ours = {f"{OURS}{name}" if f"{OURS}{name}" in columns else name for name in names}
    return {at for at, column in enumerate(columns) if column in ours}


def _columns(cells: Sequence[str], name: str) -> list[str]:
    if len(cells) > MOST_COLUMNS:
        raise BatchError(f"{name}: {len(cells)} columns; a plan has {len(COLUMNS)} at most")
    return list(map(column_name, cells))


def _header(
    cells: Sequence[str], columns: Sequence[str], results: set[int], name: str
) -> tuple[list[tuple[int, str]], tuple[str, ...]]:
    places: list[tuple[int, str]] = []
    ignored: list[str] = []
    for at, (cell, column) in enumerate(zip(cells, columns, strict=True)):
        if column in {other for _, other in places}:
            raise BatchError(f"{name}: column {column} is there twice; keep one of the two")
        if column in COLUMNS:
            places.append((at, column))
        elif at not in results and cell.strip():
            ignored.append(cell.strip())
    if not {"produce", "recipe"} & {column for _, column in places}:
        plain = ", ".join(n for n in ignored if n in (*NUMBERS, *VOLUMES))
        hint = f" ({plain} belongs to the batch table)" if plain else ""
        raise BatchError(
            f"{name}: has no produce or recipe column{hint}; a plan's first line names its "
            f"columns, like this: {_HEADER}"
        )
    return places, tuple(ignored)


def _typed(texts: Iterable[str], gathering: Gathering, shelf: Mapping[str, Jar]) -> list[Cells]:
    found: list[Cells] = []
    for number, text in enumerate(texts, start=1):
        place = f"--line {number}"
        try:
            found.append((place, cells_of(text, shelf)))
        except BatchError as error:
            gathering.problem(place, Problem("", text, str(error)))
    return found
