"""jarcast recipes: list, show, check, add, write and scale tested recipe cards."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.altitude import AltitudeOption, kitchen_place
from jarcast.cli.cards import card_folder, find_card
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    read_option,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.domain.jar_text import on_shelf, read_jars, says_sorts
from jarcast.errors import BatchError, MeasureError, RecipeError, cut_short
from jarcast.measures import Units, parse_volume, parse_weight
from jarcast.measures.numbers import count
from jarcast.views.words import filled_words

if TYPE_CHECKING:
    from jarcast.recipes import Recipe, Scaled

app = typer.Typer(
    no_args_is_help=True,
    help="Tested recipe cards: list them, read one, scale a recipe.",
)

NameArgument = Annotated[
    str, typer.Argument(help="Name of a card, part of it will do; or a card's file.")
]
FileArgument = Annotated[Path, typer.Argument(help="A recipe card: a TOML file.")]
JarOption = Annotated[
    str | None, typer.Option("--jar", help="A tested jar; that of the printed yield if none.")
]


@app.command("list")
def list_(ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """List the recipe cards: those that come with jarcast, and your own.

    \b
    Example:  jarcast recipes list
    """
    from jarcast.recipes import card_shelf
    from jarcast.views.recipes import broken_text, shelf_document, shelf_text

    shelf = card_shelf(card_folder(ledger_path(ledger)))
    if as_json:
        show_json(shelf_document(shelf))
    else:
        show(shelf_text(shelf))
        tell(broken_text(shelf))


@app.command("show")
def show_(
    name: NameArgument,
    jar: JarOption = None,
    pack: Annotated[str, typer.Option("--pack", help="raw or hot; both if none.")] = "",
    altitude: AltitudeOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show a recipe card: its safety numbers, the batch it was tested with, its cautions.

    \b
    Example:  jarcast recipes show pickled-beets --altitude "3000 ft"
    """
    from jarcast.views.recipes import Shown, card_document, card_text

    path = ledger_path(ledger)
    card = find_card(name, path)
    with work_at(ledger) as work:
        feet = kitchen_place(work, altitude).altitude_ft
        shown = Shown(jar or card.tested.jar, pack, feet, kitchen_units(work, units))
    if as_json:
        show_json(card_document(card, shown))
    else:
        show(card_text(card, shown))


@app.command()
def check(file: FileArgument, ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """Check a recipe card of your own; problems are named by line and field.

    \b
    Example:  jarcast recipes check dill.toml
    """
    from jarcast.recipes import card_shelf, load_card
    from jarcast.views.recipes import check_document, check_text

    card = load_card(file)
    like = card_shelf(card_folder(ledger_path(ledger))).like(card)
    if as_json:
        show_json(check_document(card, like))
    else:
        show(check_text(card, like))


@app.command()
def add(file: FileArgument, ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """Add a recipe card of your own to the folder beside your ledger.

    The card is checked first, and copied as it is written.

    \b
    Example:  jarcast recipes add dill.toml
    """
    from jarcast.recipes import add_card, card_shelf
    from jarcast.views.recipes import check_document, check_text

    folder = card_folder(ledger_path(ledger))
    card = add_card(file, folder)
    like = card_shelf(folder).like(card)
    if as_json:
        show_json({**check_document(card, like), "format": "jarcast recipe added"})
    else:
        show(check_text(card, like))
        show(f"Added to {folder}; its name is {card.key}.")


@app.command()
def new(units: UnitsOption = None, ledger: LedgerOption = None) -> None:
    """Write a card from your own book by answering questions; you check it before it is kept.

    \b
    Example:  jarcast recipes new
    """
    from jarcast.cli.new_card import new_card

    folder = card_folder(ledger_path(ledger))
    with work_at(ledger) as work:
        card = new_card(folder, kitchen_units(work, units))
    if card is None:
        show("Nothing was kept.")
    else:
        show(f"Added to {folder}; its name is {card.key}.")


@app.command()
def scale(
    name: NameArgument,
    brine: Annotated[
        str | None, typer.Option("--brine", help="Finished brine to make: '10 cups', '2.5 l'.")
    ] = None,
    weight: Annotated[
        str | None,
        typer.Option(
            "--weight",
            help="Produce, at the stage the card measures it (as bought or trimmed): '5 lb'.",
        ),
    ] = None,
    jars: Annotated[
        str | None,
        typer.Option(
            "--jars", help="Jars by the card's printed yield: '12', '6 pints and 5 quarts'."
        ),
    ] = None,
    jar: JarOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Scale a whole recipe by one factor, and list what to buy.

    \b
    Examples:
      jarcast recipes scale pickled-beets --brine "10 cups"
      jarcast recipes scale pickled-beets --weight "12 lb"
      jarcast recipes scale pickled-bell-peppers --jars 12 --jar half-pint
    """
    from jarcast.views.recipes import scaled_document, scaled_text

    path = ledger_path(ledger)
    card = find_card(name, path)
    if sum(way is not None for way in (brine, weight, jars)) != 1:
        raise RecipeError("say how much, with just one of --brine, --weight and --jars")
    if jar is not None and jars is None:
        raise RecipeError("--jar says which jars --jars counts; add --jars, or leave --jar out")
    with work_at(ledger) as work:
        shown, place = kitchen_units(work, units), kitchen_place(work, None)
    scaled, asked = _scaled(card, (brine, weight, jars), jar, shown)
    if as_json:
        show_json(scaled_document(scaled))
    else:
        show(scaled_text(scaled, asked, place))


def _scaled(
    card: "Recipe",
    ways: tuple[str | None, str | None, str | None],
    jar: str | None,
    units: Units,
) -> "tuple[Scaled, str]":
    """The card scaled by the one way that was given, and that way in words."""
    from jarcast.recipes import scale_for_jars, scale_for_produce, scale_to_volume

    brine, weight, jars = ways
    if brine is not None:
        volume = read_option("--brine", brine, parse_volume) or 0.0
        return scale_to_volume(card, volume, units), f"{brine} of brine"
    if weight is not None:
        basis = card.tested.basis
        amount = _produce(card, weight)
        return scale_for_produce(card, amount, basis, units), f"{weight} {basis}"
    sorts = _sorts(card, jars or "", jar)
    return scale_for_jars(card, sorts, units), filled_words(sorts)


def _sorts(card: "Recipe", jars: str, jar: str | None) -> list[tuple[float, str]]:
    """Jars as they are typed, counts and sorts. Raises RecipeError."""
    try:
        found = read_jars(jars)
        if not says_sorts(found):
            sorts = [(count(jars), jar or card.tested.jar)]
        else:
            sorts = on_shelf(found)
    except BatchError as error:
        raise RecipeError(f"--jars '{cut_short(jars)}': {error}") from error
    if jar is not None and says_sorts(found):
        raise RecipeError(f"--jars '{cut_short(jars)}' names its sorts; leave out --jar")
    if not all(number > 0 for number, _ in sorts):
        raise RecipeError(f"--jars '{cut_short(jars)}': a number of jars must be above 0")
    return sorts


def _produce(card: "Recipe", text: str) -> float:
    """Grams of produce, or ml for a card that measures it by the cup."""
    by_cup = card.tested.grams is None
    try:
        return read_option("--weight", text, parse_volume if by_cup else parse_weight) or 0.0
    except MeasureError as error:
        measured = "by the cup" if by_cup else "by weight"
        if card.tested.several_ways:
            measured = f"in several ways ({card.tested.printed}): scale it by jars"
        raise MeasureError(f"{error}. {card.name} measures its produce {measured}") from error
