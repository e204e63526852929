"""jarcast buy."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.asked import line_said
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    show,
    show_json,
    work_at,
)
from jarcast.cli.crops import AsNamedOption
from jarcast.cli.typed import CureHoursOption
from jarcast.domain.jar_text import counts, on_shelf, read_jars, turns_text, with_sorts
from jarcast.errors import BatchError
from jarcast.measures.numbers import plain

if TYPE_CHECKING:
    from jarcast.domain.jars import Jar


def buy(
    jars: Annotated[
        list[str],
        typer.Argument(help="Jars you want: '24 pints + 6 quarts', or 'beet, slices: 12 pints'."),
    ],
    produce: Annotated[str, typer.Option("--produce", help="What is put up.")] = "",
    cut: Annotated[
        str, typer.Option("--cut", help="sticks, slices...; as you usually do if not given.")
    ] = "",
    pack: Annotated[str, typer.Option("--pack", help="raw or hot.")] = "",
    jar: Annotated[
        str,
        typer.Option("--jar", help="Sort of jar, if not given with the count; your usual one."),
    ] = "",
    recipe: Annotated[str | None, typer.Option("--recipe", help="A tested recipe.")] = None,
    cure_hours: CureHoursOption = None,
    chance: Annotated[
        float, typer.Option("--chance", help="How sure you want to be of filling that many.")
    ] = 0.9,
    batches: Annotated[
        int, typer.Option("--batches", help="Split over this many batches of one size.", min=1)
    ] = 1,
    as_named: AsNamedOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how much to buy to fill so many jars, of one crop or several.

    \b
    Examples:
      jarcast buy 24 --produce carrot --cut sticks --chance 0.9
      jarcast buy "24 pints + 6 quarts" --produce cucumber --cut spears
      jarcast buy "carrot, sticks: 24 pints" "by pickled-beets: 12 pints"
    """
    from jarcast.harvest.to_buy import how_much
    from jarcast.views.buy import buy_document, buy_text, list_document, list_text

    said = {
        "produce": produce, "cut": cut, "pack": pack, "jar": jar, "recipe": recipe or "",
        "cure_hours": cure_hours or "",
    }  # fmt: skip
    asked = _asked(jars, said)
    with work_at(ledger) as work:
        found = []
        for text, cells in asked:
            wanted, jar = wanted_jars(text, cells["jar"], work.shelf, hint="JARS")
            of_crop = {**{name: cell or None for name, cell in cells.items()}, "jar": jar or None}
            line, usual_cut = line_said(work, of_crop, sure=as_named, as_json=as_json)
            amount = how_much(
                work.kitchen.habits, line, jars=wanted, chance=chance, batches=batches
            )
            found.append((amount, usual_cut))
        shown = kitchen_units(work, units)
        if len(found) > 1:
            show_json(list_document(found)) if as_json else show(list_text(found, shown))
        elif as_json:
            show_json(buy_document(*found[0]))
        else:
            show(buy_text(found[0][0], shown, usual_cut=found[0][1]))


def _asked(texts: list[str], said: dict[str, str]) -> list[tuple[str, dict[str, str]]]:
    """The jars wanted of each crop, and what is said of it, by option.

    Either '24 pints', with the crop in options, or 'carrot, sticks: 24 pints' for each. Raises an
    error of usage, and BatchError.
    """
    from jarcast.harvest.plan.typed_line import cells_of

    if not any(":" in text for text in texts):
        return [(" ".join(texts), said)]
    given = [f"--{name.replace('_', '-')}" for name, value in said.items() if value]
    if given:
        raise BatchError(
            f"{', '.join(given)}: with several crops, put that in each one, such as 'carrot, "
            "sticks, raw: 24 pints', 'by pickled-beets: 12 pints', 'okra: 9 pints; cure_hours=0'"
        )
    found = []
    for text in texts:
        crop, colon, rest = text.partition(":")
        wanted, *more = rest.split(";")
        if not colon:
            raise BatchError(
                f"'{text[:60]}' names no crop; write it like 'carrot, sticks: 24 pints'"
            )
        try:
            cells = cells_of(";".join([f"{crop}:", *more]))
        except BatchError as error:
            raise BatchError(f"'{text[:60]}': {error}") from error
        if unknown := cells.keys() - said.keys():
            raise BatchError(f"'{text[:60]}': {', '.join(sorted(unknown))} is not asked here")
        found.append((wanted.strip(), {**said, **cells}))
    return found


def wanted_jars(text: str, jar: str, shelf: "Mapping[str, Jar]", hint: str) -> tuple[float, str]:
    """How many jars are wanted in all, and of which sorts: '' where that is not said.

    ``hint`` is what they were typed as. Raises BatchError for jars that are not counted, or
    of another sort than ``jar`` says.
    """
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
