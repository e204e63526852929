"""Plans that are kept under a name, with what they came to on the day they were kept."""

import datetime as dt

from msgspec import Struct, json

from jarcast.app.harvest import Answer
from jarcast.app.work import Work
from jarcast.batchtable.gathering import Gathering
from jarcast.domain.batch import text_problem
from jarcast.errors import BatchError, cut_short
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.plan.cells import Cards, LineChecker
from jarcast.harvest.plan.line import Plan
from jarcast.harvest.plan.parsing import OwnTable, checked_plan
from jarcast.ledger.backups import legible
from jarcast.ledger.kept_plans import plans_in, write_plan_text

LEVEL = 0.8  # how often the ranges that are kept should hold
_LONGEST = 60  # signs of a name

Planned = tuple[float, float, float]  # jars: the middle, and both ends of the range


class KeptPlan(Struct, frozen=True):
    """A plan under its name: the day it was kept, and from which day on batches count for it.

    ``planned`` are the jars it was to fill, line by line, and ``total`` in all, as forecast that
    day.
    """

    name: str
    kept: dt.date
    since: dt.date
    plan: Plan
    planned: tuple[Planned, ...]
    total: Planned


class _Line(Struct, frozen=True):
    place: str
    cells: dict[str, str]
    own: tuple[str, ...]
    planned: Planned


class _Text(Struct, frozen=True):
    """What the ledger holds of it."""

    name: str
    kept: dt.date
    since: dt.date
    columns: tuple[str, ...]
    ignored: tuple[str, ...]
    total: Planned
    lines: tuple[_Line, ...]


def plan_name(text: str) -> str:
    """A name as it is kept. Raises BatchError for one that would be taken for a file."""
    name = " ".join(text.split())
    file = "/" in name or "\\" in name or name.casefold().endswith((".csv", ".toml"))
    if not name or file or len(name) > _LONGEST or text_problem(name):
        raise BatchError(
            f"'{cut_short(text)}' is not a name for a plan; use a word or two, such as 'stall', "
            "not a file"
        )
    return name


def kept_plans(work: Work, cards: Cards) -> dict[str, KeptPlan]:
    """Every plan that is kept, by its name in small letters, the first kept first.

    Raises BatchError where a recipe card that one of them names is there no more.
    """
    return {name: _read(work, name, text, cards) for name, text in plans_in(work.ledger).items()}


def is_kept(work: Work, text: str) -> str:
    """The name in small letters of the plan that is kept under this one; '' for none."""
    name = " ".join(text.split()).casefold()
    return name if name in plans_in(work.ledger) else ""


def keep(work: Work, name: str, since: dt.date, found: Answer) -> bool:
    """Keep a plan with what it comes to; gives whether it takes the place of one of its name."""
    lines = zip(found.plan.lines, found.forecasts, strict=True)
    text = _Text(
        name, dt.date.today(), since, found.plan.columns, found.plan.ignored_columns,
        (0.0, 0.0, 0.0) if found.jars is None else _planned(found.jars),
        tuple(
            _Line(line.place, dict(line.typed), line.own, _planned(forecast.jars))
            for line, forecast in lines
            if forecast is not None
        ),
    )  # fmt: skip
    before = bool(is_kept(work, name))
    with work.writing("keeping"):
        write_plan_text(work.ledger, name, json.encode(text).decode())
    return before


def drop(work: Work, name: str) -> None:
    """Keep a plan no more. Raises LedgerError."""
    with work.writing("drop"):
        write_plan_text(work.ledger, name, "")


def _planned(jars: Outcome) -> Planned:
    return (jars.median, *jars.interval(LEVEL))


def _read(work: Work, name: str, text: str, cards: Cards) -> KeptPlan:
    with legible(work.path, f"the plan '{name}'"):
        found = json.decode(text, type=_Text)
    gathering = Gathering(f"the plan '{found.name}'")
    cells = [(line.place, line.cells) for line in found.lines]
    table = OwnTable(found.columns, found.ignored, [line.own for line in found.lines])
    checker = LineChecker(cards, work.shelf, by_card=False)
    plan = checked_plan(cells, table, checker, gathering)
    planned = tuple(line.planned for line in found.lines)
    return KeptPlan(found.name, found.kept, found.since, plan, planned, found.total)
