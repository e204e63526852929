"""jarcast buy."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    read_option,
    show,
    show_json,
    work_at,
)
from jarcast.cli.crops import AsNamedOption, crop_meant
from jarcast.errors import BatchError

if TYPE_CHECKING:
    from jarcast.domain.jars import Jar


def buy(
    jars: Annotated[str, typer.Argument(help="Jars wanted: 24, '12 quarts'.")],
    produce: Annotated[str, typer.Option("--produce", help="What is put up.")] = "",
    cut: Annotated[
        str, typer.Option("--cut", help="sticks, slices...; as you usually do if none.")
    ] = "",
    pack: Annotated[str, typer.Option("--pack", help="raw or hot.")] = "",
    jar: Annotated[
        str,
        typer.Option("--jar", help="Sort of jar, unless said with the count; as you usually do."),
    ] = "",
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
    as_named: AsNamedOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how much to buy for so many jars.

    \b
    Examples:
      jarcast buy 24 --produce carrot --cut sticks --chance 0.9
      jarcast buy "12 quarts" --produce cucumber --cut spears
    """
    from jarcast.cli.cards import find_card
    from jarcast.forecast.usual import cut_if_unsaid
    from jarcast.harvest.to_buy import how_much
    from jarcast.measures import parse_hours
    from jarcast.views.buy import buy_document, buy_text
    from jarcast.views.forecast import as_usual

    path = ledger_path(ledger)
    card = None if recipe is None else find_card(recipe, path)
    with work_at(ledger) as work:
        own = work.kitchen
        produce, cut = crop_meant(own, (produce, cut), sure=as_named, as_json=as_json)
        habits = own.habits
        wanted, jar = wanted_jars(jars, jar, habits.shelf, hint="JARS")
        usual_cut = cut_if_unsaid(habits, card, produce, cut)
        cut = cut or usual_cut
        line = {
            "produce": produce, "cut": cut, "pack": pack or habits.usual_pack(produce, cut),
            "jar": jar or ("" if card else habits.usual_jar), "recipe": card,
            "cure_hours": read_option("--cure-hours", cure_hours, parse_hours),
        }  # fmt: skip
        found = how_much(habits, line, jars=wanted, chance=chance, batches=batches)
        shown = kitchen_units(work, units)
        if as_json:
            show_json({**buy_document(found), "as_usual": as_usual(usual_cut)})
        else:
            show(buy_text(found, shown, usual_cut=usual_cut))


def wanted_jars(text: str, jar: str, shelf: "Mapping[str, Jar]", hint: str) -> tuple[float, str]:
    """How many jars are wanted in all, and of which sorts: '' where that is not said.

    ``hint`` is what they were typed as. Raises BatchError for jars that are not counted, or
    of another sort than ``jar`` says.
    """
    from jarcast.domain.jar_text import counts, on_shelf, read_jars, turns_text, with_sorts
    from jarcast.measures.numbers import plain

    if plain(text) or text.casefold() in ("nan", "inf"):
        return float(text), jar
    try:
        cells = with_sorts({"jars": text, "jar": jar}, shelf)
        wanted = sum(counts(cells["jars"], shelf))
        if cells["jar"] != jar:
            jar = turns_text(on_shelf(read_jars(text, shelf), shelf))
    except BatchError as error:
        raise typer.BadParameter(f"'{text[:60]}': {error}", param_hint=hint) from error
    return wanted, jar
