"""jarcast harvest."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from jarcast.cli.altitude import AltitudeOption, kitchen_place
from jarcast.cli.canner import kitchen_canner
from jarcast.cli.cards import find_card
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    packer,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.cli.crops import AsNamedOption, cut_not_pack, near_of, near_pack_of
from jarcast.cli.kept_plans import day_of, drop_plan, found_kept, keep_plan, list_plans
from jarcast.cli.target import refuse_two_outputs, write_text
from jarcast.cli.typed import LevelOption, SeedOption, check_chances
from jarcast.errors import BatchError, ForecastError
from jarcast.files.output import is_output

if TYPE_CHECKING:
    from jarcast.app.harvest import Answer, Kept
    from jarcast.app.plan_progress import Progress
    from jarcast.app.work import Kitchen, Work
    from jarcast.batchtable.rows import Problem
    from jarcast.harvest.plan.cells import Judge
    from jarcast.harvest.plan.line import Plan, PlanLine
    from jarcast.recipes import Recipe

    Cards = Callable[[str], Recipe]


def harvest(
    plan: Annotated[
        Path | None,
        typer.Argument(help="The plan: a CSV file, a TOML file, or the name of one that is kept."),
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--line", help="One more batch: 'carrot, sticks, pint: 20-35 lb'."),
    ] = None,
    keep: Annotated[
        str | None, typer.Option("--keep", help="Keep the plan under this name.")
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(
            "--since", help=("With --keep: count batches from this day on; else from today.")
        ),
    ] = None,
    drop: Annotated[bool, typer.Option("--drop", help="Drop a kept plan.")] = False,
    canner: Annotated[
        str | None,
        typer.Option("--canner", help="What it holds: '7 quarts / 8 pints'. Remembered."),
    ] = None,
    have: Annotated[
        str | None,
        typer.Option(
            "--have", help=("Jars you have: '14 pint-wide, 9 quart'; tells which batch gets them.")
        ),
    ] = None,
    bottle: Annotated[
        list[str] | None,
        typer.Option(
            "--bottle", help="A size stores sell: '1 gal' of vinegar, 'sugar=5 lb', 'lids=12'."
        ),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option("--price", help="What it costs: 'vinegar=4.50 / 1 gal', 'lids=3.20 / 12'."),
    ] = None,
    altitude: AltitudeOption = None,
    short_chance: Annotated[
        float, typer.Option("--short-chance", help="Chance of running short of each thing you buy.")
    ] = 0.05,
    level: LevelOption = 0.8,
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv", help="Write the plan with its results to this file; '-' is standard output."
        ),
    ] = None,
    shopping: Annotated[
        Path | None,
        typer.Option(
            "--shopping", help="Write the shopping list to this file, as CSV; '-' likewise."
        ),
    ] = None,
    as_named: AsNamedOption = False,
    seed: SeedOption = 0,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Forecast many batches at once: jars, brine, shopping list, canner loads.

    A plan has a line for each batch. A weight can be a guessed range, or a count of bushels.
    A line with the name of a batch in the ledger is done, and the rest is forecast anew. Without a
    plan those that are kept are listed.

    \b
    Examples:
      jarcast harvest plan.csv --canner "7 quarts / 8 pints"
      jarcast harvest --line "carrot, sticks, pint: 20-35 lb" \\
          --line "by pickled-beets: 2 bushels"
      jarcast harvest plan.csv --keep stall
      jarcast harvest plan.csv --bottle "1 gal" --price "vinegar=4.50 / 1 gal"
    """
    from jarcast.app.harvest import Asked, answer
    from jarcast.app.people import new_here
    from jarcast.harvest.plan.at_hand import parse_have
    from jarcast.harvest.plan.shop import parse_price, parse_size
    from jarcast.harvest.plan.times import own_times

    check_chances(short_chance, level)
    refuse_two_outputs({"--csv": csv, "--shopping": shopping}, as_json=as_json)
    day = day_of(since, keep)
    with work_at(ledger) as work:
        cards = _cards(work.path)
        if drop:
            drop_plan(work, str(plan or ""), as_json=as_json)
            return
        if plan is None and not line and list_plans(work, cards, as_json=as_json):
            return
        here = work.kitchen
        kept, planned, so_far = _asked_for(work, (plan, line or (), keep), cards, sure=as_named)
        asked = Asked(
            sizes=tuple(parse_size(text, here.shelf) for text in bottle or ()),
            prices=tuple(parse_price(text, here.shelf) for text in price or ()),
            canner=kitchen_canner(work, canner, here.shelf),
            place=kitchen_place(work, altitude),
            units=kitchen_units(work, units),
            short_chance=short_chance,
            have=None if have is None else parse_have(have, here.shelf),
            times=own_times(here.steps),
            seed=seed,
            person=packer(work, None).name,
        )
        tell(new_here(here, *(one.person for one in planned.lines)))
        found = replace(answer(planned, so_far, here.habits, asked), kept=kept)
        if keep is not None:
            keep_plan(work, keep, day, found)
    said = _write(found, level, csv, shopping)
    _show(found, level, as_json=as_json, beside=is_output(csv) or is_output(shopping))
    tell(said)


def _write(found: "Answer", level: float, csv: Path | None, shopping: Path | None) -> str:
    """Write the tables that were given; gives what to tell of those that are in a file."""
    from jarcast.app.plan_csv import rows, table
    from jarcast.batchtable.guard import guard
    from jarcast.views.shopping_rows import shopping_rows

    said = []
    if csv is not None:
        write_text(csv, table(rows(found, level)), "plan.csv")
        said += [] if is_output(csv) else [f"The plan with its results is in {csv}."]
    if shopping is not None:
        bought = [[*map(guard, row)] for row in shopping_rows(found)]
        write_text(shopping, table(bought), "shopping.csv")
        said += [] if is_output(shopping) else [f"The shopping list is in {shopping}."]
    return "\n".join(said)


def _asked_for(
    work: "Work", said: tuple[Path | None, Sequence[str], str | None], cards: "Cards", *, sure: bool
) -> "tuple[Kept | None, Plan, tuple[Progress, ...]]":
    """The plan and how far it has come; ``said`` is the plan, typed lines, and --keep."""
    from jarcast.app.kept_plans import is_kept
    from jarcast.app.plan_progress import progress

    plan, line, keep = said
    if plan is not None and (name := is_kept(work, str(plan))):
        _refuse_more(name, line, keep)
        return found_kept(work, name, cards)
    here = work.kitchen
    planned = _planned(plan, line, cards, here, sure=sure)
    return None, planned, progress(planned, here.batches, here.open, here.shelf)


def _refuse_more(name: str, lines: Sequence[str] | None, keep: str | None) -> None:
    """Raise BatchError where a plan that is kept should be changed, or kept anew."""
    if keep is not None:
        raise BatchError(f"the plan '{name}' is kept already; --keep goes with a file or --line")
    if lines:
        raise BatchError(
            f"the plan '{name}' is kept as it is: write it with --csv, add the line there, and "
            f"keep the file as '{name}' again"
        )


def _planned(
    file: Path | None, lines: Sequence[str], cards: "Cards", here: "Kitchen", *, sure: bool
) -> "Plan":
    """The plan of a file and of what was typed. Raises ForecastError for none, and BatchError."""
    from jarcast.app.harvest import unanswerable
    from jarcast.app.plan_progress import progress
    from jarcast.harvest.plan.line import Plan
    from jarcast.harvest.plan.parsing import read_plan

    def trial(read: "tuple[PlanLine, ...]") -> "Iterator[tuple[str, str]]":
        return unanswerable(progress(Plan(read), here.batches, here.open, here.shelf), here.habits)

    if file is None and not lines:
        raise ForecastError(
            "a harvest needs a plan: name its file, or give batches with --line "
            "'carrot, sticks, pint: 20-35 lb'"
        )
    judge = None if sure else _near(here)
    return read_plan(file, lines, cards=cards, shelf=here.shelf, judge=judge, trial=trial)


def _near(here: "Kitchen") -> "Judge":
    """Tells of a line's produce or pack that is nearly a known name, and none itself."""
    from jarcast.batchtable.rows import Problem

    def judge(cells: Mapping[str, str]) -> "Iterator[Problem]":
        said = "is no known name, but nearly one: did you mean {}? (--as-named "
        for column, near in (("produce", near_of), ("pack", near_pack_of)):
            cell = cells.get(column, "")
            if cell and (meant := near(here, cell)):
                why = f"{said.format(meant)}keeps it as it is)"
                yield Problem(column, cell, why)
        pack = cells.get("pack", "")
        if why := cut_not_pack(here, pack):
            yield Problem("pack", pack, f"{why} (--as-named keeps it as it is)")

    return judge


def _show(found: "Answer", level: float, *, as_json: bool, beside: bool) -> None:
    """Show the answer; ``beside`` a table that has standard output it is told."""
    from jarcast.views.harvest import beside_text, harvest_text
    from jarcast.views.harvest_json import harvest_document

    if as_json:
        show_json(harvest_document(found, level))
        return
    (tell if beside else show)(harvest_text(found, level))
    tell(beside_text(found))


def _cards(path: Path) -> "Cards":
    """Finds recipe cards by name; each is read once, however many lines name it."""
    return cache(lambda name: find_card(name, path))
