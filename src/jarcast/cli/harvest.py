"""jarcast harvest."""

from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.altitude import AltitudeOption, kitchen_altitude
from jarcast.cli.canner import kitchen_canner
from jarcast.cli.cards import find_card
from jarcast.cli.chances import check_chances
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
from jarcast.cli.crops import AsNamedOption, near_of
from jarcast.errors import BatchError, ForecastError

if TYPE_CHECKING:
    from jarcast.app.harvest import Answer
    from jarcast.app.work import Kitchen
    from jarcast.harvest.plan.line import Plan
    from jarcast.recipes import Recipe


def harvest(
    plan: Annotated[
        Path | None,
        typer.Argument(help="The plan: a CSV file, or a TOML file with a [[line]] for each batch."),
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--line", help="One batch more: 'carrot, sticks, pint: 20-35 lb'."),
    ] = None,
    canner: Annotated[
        str | None,
        typer.Option("--canner", help="What it holds: '7 quarts / 8 pints'. Remembered."),
    ] = None,
    have: Annotated[
        str | None,
        typer.Option("--have", help="Jars at hand: '14 pint-wide, 9 quart'; which goes where."),
    ] = None,
    bottle: Annotated[
        list[str] | None,
        typer.Option(
            "--bottle", help="A size shops sell: '1 gal' of vinegar, 'sugar=5 lb', 'lids=12'."
        ),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option("--price", help="What it costs: 'vinegar=4.50 / 1 gal', 'lids=3.20 / 12'."),
    ] = None,
    altitude: AltitudeOption = None,
    short_chance: Annotated[
        float, typer.Option("--short-chance", help="Chance that a thing bought falls short.")
    ] = 0.05,
    level: Annotated[float, typer.Option("--level", help="How often the range should hold.")] = 0.8,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Write the plan with its results to this file.")
    ] = None,
    as_named: AsNamedOption = False,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)] = 0,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Forecast many batches at once: jars, brine, what to buy, loads of the canner.

    A plan has a line for each batch. A weight may be guessed at as a range, or counted in bushels.
    A line with the name of a batch in the ledger is done, and the rest is forecast anew.

    \b
    Examples:
      jarcast harvest plan.csv --canner "7 quarts / 8 pints"
      jarcast harvest --line "carrot, sticks, pint: 20-35 lb" \\
          --line "by pickled-beets: 2 bushels"
      jarcast harvest plan.csv --bottle "1 gal" --price "vinegar=4.50 / 1 gal"
    """
    from jarcast.app.harvest import Asked, answer
    from jarcast.app.people import new_here
    from jarcast.app.plan_csv import write_plan
    from jarcast.app.plan_progress import progress
    from jarcast.harvest.plan.at_hand import parse_have
    from jarcast.harvest.plan.shop import parse_price, parse_size
    from jarcast.harvest.plan.times import own_times

    check_chances(short_chance, level)
    with work_at(ledger) as work:
        here = work.kitchen
        planned = _planned(plan, line or (), work.path, here)
        if not as_named:
            _refuse_near(planned, here)
        so_far = progress(planned, here.batches, here.open)
        times = own_times(here.steps)
        asked = Asked(
            sizes=tuple(parse_size(text, here.shelf) for text in bottle or ()),
            prices=tuple(parse_price(text, here.shelf) for text in price or ()),
            canner=kitchen_canner(work, canner, here.shelf),
            altitude_ft=kitchen_altitude(work, altitude),
            units=kitchen_units(work, units),
            short_chance=short_chance,
            have=None if have is None else parse_have(have, here.shelf),
            times=times,
            seed=seed,
            person=packer(work, None).name,
        )
        tell(new_here(here, *(one.person for one in planned.lines)))
        found = answer(planned, so_far, here.habits, asked)
    if csv is not None:
        write_plan(found, csv, level)
    _show(found, level, as_json=as_json)
    if csv is not None:
        tell(f"The plan with its results is in {csv}.")


def _planned(file: Path | None, lines: Sequence[str], path: Path, here: "Kitchen") -> "Plan":
    """The plan of a file and of what was typed. Raises ForecastError for none, and BatchError."""
    from jarcast.harvest.plan.parsing import read_plan

    if file is None and not lines:
        raise ForecastError(
            "a harvest needs a plan: name its file, or give batches with --line "
            "'carrot, sticks, pint: 20-35 lb'"
        )
    return read_plan(file, lines, cards=_cards(path), shelf=here.shelf)


def _refuse_near(plan: "Plan", here: "Kitchen") -> None:
    """Raise BatchError, line by line, where a produce is nearly a known name."""
    from jarcast.batchtable.rows import shortened

    near = {one.place: (one.produce, near_of(here, one.produce)) for one in plan.lines}
    lines = tuple(
        f"{place}, '{shortened(produce)}': did you mean {meant}?"
        for place, (produce, meant) in near.items()
        if meant
    )
    if lines:
        said = "nothing is published of a produce, and it is nearly a known name"
        raise BatchError("\n  ".join([f"{said} (--as-named keeps it as it is):", *lines]), lines)


def _show(found: "Answer", level: float, *, as_json: bool) -> None:
    from jarcast.views.harvest import beside_text, harvest_text
    from jarcast.views.harvest_json import harvest_document

    if as_json:
        show_json(harvest_document(found, level))
        return
    show(harvest_text(found, level))
    tell(beside_text(found))


def _cards(path: Path) -> "Callable[[str], Recipe]":
    """Finds recipe cards by name; each is read once, however many lines name it."""
    return cache(lambda name: find_card(name, path))
