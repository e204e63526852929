"""jarcast forecast."""

from typing import Annotated

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
)
from jarcast.errors import ForecastError


def forecast(
    produce: Annotated[str, typer.Option("--produce", help="What is put up: carrot, cucumber...")],
    cut: Annotated[str, typer.Option("--cut", help="sticks, slices, whole, shredded...")] = "",
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
    short_chance: Annotated[
        float, typer.Option("--short-chance", help="Chance of running short of brine.")
    ] = 0.05,
    level: Annotated[float, typer.Option("--level", help="How often the range should hold.")] = 0.8,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)] = 0,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Forecast one batch: how many jars, and how much brine to make.

    The latest weight you have counts: as bought, trimmed, cured or cooked.

    \b
    Examples:
      jarcast forecast --produce carrot --cut sticks --trimmed "6 lb"
      jarcast forecast --produce cucumber --cut slices --cured "2.4 kg" \\
          --jar "5 pint-wide, then pint"
    """
    from jarcast.forecasting.habits import habits_from
    from jarcast.ledger import Ledger
    from jarcast.measures import parse_hours, parse_inches, parse_salt, parse_weight
    from jarcast.views.forecast import forecast_document, forecast_text

    for name, chance in (("--short-chance", short_chance), ("--level", level)):
        if not 0.0 < chance < 1.0:
            raise ForecastError(f"{name}: a chance lies between 0 and 1; {chance} was given")
    path = ledger_path(ledger)
    with Ledger.open(path) as opened:
        habits = habits_from(opened.batches())
    result = habits.forecast(
        produce=produce,
        cut=cut,
        pack=pack or habits.usual_pack(produce, cut),
        jar=habits.usual_jar if jar is None else jar,
        as_bought_g=read_option("--as-bought", as_bought, parse_weight),
        trimmed_g=read_option("--trimmed", trimmed, parse_weight),
        cured_g=read_option("--cured", cured, parse_weight),
        cooked_g=read_option("--cooked", cooked, parse_weight),
        cure_hours=read_option("--cure-hours", cure_hours, parse_hours),
        salt_g=read_option("--salt", salt, parse_salt),
        headspace_in=read_option("--headspace", headspace, parse_inches),
        seed=seed,
    )
    shown = kitchen_units(path, units)
    if as_json:
        show_json(forecast_document(result, shown, level, short_chance))
    else:
        show(forecast_text(result, shown, level, short_chance))
