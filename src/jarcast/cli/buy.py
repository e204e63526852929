"""jarcast buy."""

from typing import Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen,
    kitchen_units,
    ledger_path,
    read_option,
    show,
    show_json,
)


def buy(
    jars: Annotated[float, typer.Argument(help="Jars wanted, such as 24.")],
    produce: Annotated[str, typer.Option("--produce", help="What is put up.")] = "",
    cut: Annotated[str, typer.Option("--cut", help="sticks, slices, whole...")] = "",
    pack: Annotated[str, typer.Option("--pack", help="raw or hot.")] = "",
    jar: Annotated[str, typer.Option("--jar", help="Sort of jar; a pint unless given.")] = "",
    recipe: Annotated[str | None, typer.Option("--recipe", help="A tested recipe.")] = None,
    cure_hours: Annotated[
        str | None, typer.Option("--cure-hours", help="Hours in salt; 0 means not salted.")
    ] = None,
    chance: Annotated[
        float, typer.Option("--chance", help="How surely at least so many jars.")
    ] = 0.9,
    batches: Annotated[
        int, typer.Option("--batches", help="Put up in so many batches of a size.", min=1)
    ] = 1,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how much to buy for so many jars.

    \b
    Example:  jarcast buy 24 --produce carrot --cut sticks --chance 0.9
    """
    from jarcast.cli.recipes import find_card
    from jarcast.forecasting.backwards import how_much
    from jarcast.measures import parse_hours
    from jarcast.views.buy import buy_document, buy_text

    path = ledger_path(ledger)
    card = None if recipe is None else find_card(recipe, path)
    habits = kitchen(path).habits
    line = {
        "produce": produce, "cut": cut, "pack": pack or habits.usual_pack(produce, cut),
        "jar": jar or ("" if card else habits.usual_jar), "recipe": card,
        "cure_hours": read_option("--cure-hours", cure_hours, parse_hours),
    }  # fmt: skip
    found = how_much(habits, line, jars=jars, chance=chance, batches=batches)
    shown = kitchen_units(path, units)
    if as_json:
        show_json(buy_document(found))
    else:
        show(buy_text(found, shown))
