"""jarcast forecast."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from msgspec import Struct

from jarcast.cli.altitude import AltitudeOption, kitchen_altitude
from jarcast.cli.charting import ChartOption, canvas, check_chart, save_chart
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
    tell,
)
from jarcast.cli.crops import AsNamedOption, crop_meant
from jarcast.cli.kept_brine import kept_document, kept_text
from jarcast.cli.sheet import SheetOption, check_sheet, write_sheet
from jarcast.errors import ForecastError
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits
    from jarcast.recipes import PackCheck, Recipe


def forecast(
    produce: Annotated[
        str,
        typer.Option(
            "--produce", help="What is put up: carrot, cucumber... A recipe names its own."
        ),
    ] = "",
    cut: Annotated[
        str, typer.Option("--cut", help="sticks, slices...; unless given, as you usually do.")
    ] = "",
    pack: Annotated[
        str, typer.Option("--pack", help="raw or hot; unless given, as you usually do.")
    ] = "",
    jar: Annotated[
        str | None,
        typer.Option(
            "--jar", help="pint, quart, pint-wide... or a list: '5 pint-wide, then pint'."
        ),
    ] = None,
    as_bought: Annotated[
        str | None, typer.Option("--as-bought", help="Weight as bought: '12 lb', '5.5 kg'.")
    ] = None,
    trimmed: Annotated[str | None, typer.Option("--trimmed", help="Weight trimmed.")] = None,
    cured: Annotated[
        str | None, typer.Option("--cured", help="Weight salted, rinsed and drained.")
    ] = None,
    cooked: Annotated[
        str | None, typer.Option("--cooked", help="Weight blanched or simmered, for a hot pack.")
    ] = None,
    cure_hours: Annotated[
        str | None, typer.Option("--cure-hours", help="Hours in salt; 0 means not salted.")
    ] = None,
    salt: Annotated[
        str | None, typer.Option("--salt", help="Salt for the cure: '200 g', '3/4 cup'.")
    ] = None,
    headspace: Annotated[
        str | None, typer.Option("--headspace", help="Headspace of your recipe; '1/2 in' if none.")
    ] = None,
    recipe: Annotated[
        str | None,
        typer.Option(
            "--recipe", help="A tested recipe ('jarcast recipes list'), or a card's file."
        ),
    ] = None,
    altitude: AltitudeOption = None,
    short_chance: Annotated[
        float, typer.Option("--short-chance", help="Chance of running short of brine.")
    ] = 0.05,
    level: Annotated[float, typer.Option("--level", help="How often the range should hold.")] = 0.8,
    keep: Annotated[
        str | None,
        typer.Option(
            "--keep",
            help="Keep it for the batch of this name; 'jarcast hindsight' scores it later.",
        ),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)] = 0,
    as_named: AsNamedOption = False,
    chart: ChartOption = None,
    sheet: SheetOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Forecast one batch: how many jars, and how much brine to make.

    The latest weight you have counts: as bought, trimmed, cured or cooked. Give the earlier ones
    too where you have them: a recipe's proportion of brine goes by the stage it was written for.

    \b
    Examples:
      jarcast forecast --produce carrot --cut sticks --trimmed "6 lb"
      jarcast forecast --produce cucumber --cut slices --cured "2.4 kg" \\
          --jar "5 pint-wide, then pint"
      jarcast forecast --recipe pickled-beets --as-bought "10 lb" \\
          --altitude "3000 ft"
      jarcast forecast --recipe pickled-carrots --trimmed "5 lb" \\
          --sheet carrots.html
    """
    from jarcast.views.forecast import as_usual, forecast_document, forecast_text

    path = ledger_path(ledger)
    check_chart(chart, path)
    check_sheet(sheet, path)
    asked = ask(
        path, produce=produce, cut=cut, pack=pack, jar=jar, as_bought=as_bought, trimmed=trimmed,
        cured=cured, cooked=cooked, cure_hours=cure_hours, salt=salt, headspace=headspace,
        recipe=recipe, altitude=altitude, short_chance=short_chance, level=level, keep=keep,
        seed=seed, units=units, as_named=as_named, as_json=as_json,
    )  # fmt: skip
    result, ways = asked.forecast, (asked.units, level, short_chance)
    beside: dict[str, Any] = {"altitude_ft": asked.altitude_ft, "packing": asked.packing}
    if sheet is not None:
        write_sheet(sheet, asked, path, level, short_chance, as_json=as_json)
    elif as_json:
        kept = kept_document(asked.recipe, path)
        document = forecast_document(result, *ways, **beside)
        usual = as_usual(asked.usual_cut)
        show_json({**document, "as_usual": usual, "kept_brine": kept})
    else:
        show(forecast_text(result, *ways, **beside, usual_cut=asked.usual_cut, canvas=canvas()))
        if told := kept_text(asked.recipe, path, asked.units):
            show(f"\n{told}")
    if chart is not None:
        from jarcast.views.charts.forecast import forecast_chart

        save_chart(chart, lambda: forecast_chart(result, *ways))


class Asked(Struct, frozen=True):
    """A forecast as it was asked for on the command line, and what it is shown by.

    ``usual_cut`` is the cut that was filled in as the usual one; '' where none was.
    """

    forecast: "Forecast"
    units: Units
    altitude_ft: float | None
    packing: "PackCheck | None"
    usual_cut: str
    recipe: str = ""


def ask(
    path: Path,
    *,
    produce: str,
    cut: str,
    pack: str,
    jar: str | None,
    as_bought: str | None,
    trimmed: str | None,
    cured: str | None,
    cooked: str | None,
    cure_hours: str | None,
    salt: str | None,
    headspace: str | None,
    recipe: str | None,
    altitude: str | None,
    short_chance: float,
    level: float,
    keep: str | None,
    seed: int,
    units: Units | None,
    as_named: bool = False,
    as_json: bool = False,
) -> Asked:
    """Forecast by the options of ``forecast``, from the ledger at ``path``. Raises JarcastError."""
    from jarcast.forecast.usual import cut_if_unsaid
    from jarcast.measures import parse_hours, parse_inches, parse_salt, parse_weight

    for name, chance in (("--short-chance", short_chance), ("--level", level)):
        if not 0.001 <= chance <= 0.999:
            raise ForecastError(f"{name}: a chance from 0.001 to 0.999 is due; {chance} was given")
    card = None
    if recipe is not None:
        from jarcast.cli.recipes import find_card

        card = find_card(recipe, path)
    own = kitchen(path)
    produce, cut = crop_meant(own, (produce, cut), sure=as_named, as_json=as_json)
    habits = own.habits
    usual_cut = cut_if_unsaid(habits, card, produce, cut)
    cut = cut or usual_cut
    usual_pack, usual_jar = _usual(habits, card, produce, cut)
    result = habits.forecast(
        produce=produce,
        cut=cut,
        pack=pack or usual_pack,
        jar=usual_jar if jar is None else jar,
        as_bought_g=read_option("--as-bought", as_bought, parse_weight),
        trimmed_g=read_option("--trimmed", trimmed, parse_weight),
        cured_g=read_option("--cured", cured, parse_weight),
        cooked_g=read_option("--cooked", cooked, parse_weight),
        cure_hours=read_option("--cure-hours", cure_hours, parse_hours),
        salt_g=read_option("--salt", salt, parse_salt),
        headspace_in=read_option("--headspace", headspace, parse_inches),
        recipe=card,
        seed=seed,
    )
    try:
        result.allow_short(short_chance)
    except ForecastError as error:
        raise ForecastError(f"--short-chance: {error}") from error
    feet = kitchen_altitude(path, altitude)
    shown = kitchen_units(path, units)
    packing = habits.pack_check(result, shown)
    if keep is not None:
        _keep(path, keep, result)
    if altitude and card is None:
        tell("The altitude counts once a recipe is named with --recipe.")
    return Asked(result, shown, feet, packing, usual_cut, "" if card is None else card.key)


def _keep(path: Path, name: str, result: "Forecast") -> None:
    from jarcast.app.track_record import keep
    from jarcast.ledger import Ledger

    with Ledger.open(path, writing=True) as opened:
        new = keep(opened, name, result)
    done = "Kept" if new else "The same forecast was kept before"
    tell(f"{done} for batch '{name.strip()}': it is scored when that batch is written down.")


def _usual(habits: "Habits", card: "Recipe | None", produce: str, cut: str) -> tuple[str, str]:
    """Pack and jar where nothing is said: as this person usually does, within the recipe."""
    if card is None:
        return habits.usual_pack(produce, cut), habits.usual_jar
    from jarcast.forecast.usual import usual_choices

    return usual_choices(habits, card, cut)
