"""jarcast kitchen: what is remembered of a kitchen, and the jars in it.

A thing to remember is an option and a setting here, and a line in the views.
"""

from pathlib import Path
from typing import Annotated

import typer

from jarcast.cli import jars
from jarcast.cli.altitude import (
    KeptAltitudeOption,
    parse_altitude,
    remember_altitude,
    remembered_altitude,
)
from jarcast.cli.canner import kitchen_canner, remember_canner
from jarcast.cli.chosen_beliefs import chosen_file
from jarcast.cli.common import (
    BELIEFS,
    JsonOption,
    LedgerOption,
    UnitsOption,
    alone,
    kitchen_shelf,
    kitchen_units,
    ledger_path,
    show,
    show_json,
)
from jarcast.measures import Units

app = typer.Typer(
    invoke_without_command=True,
    help="Show or change what is remembered of your kitchen; measure jars of your own.",
)
app.add_typer(jars.app, name="jars")


@app.callback()
def kitchen(
    context: typer.Context,
    altitude: KeptAltitudeOption = None,
    canner: Annotated[
        str | None, typer.Option("--canner", help="What your canner holds: '7 quarts / 8 pints'.")
    ] = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what is remembered of your kitchen, or change it.

    Its altitude, its canner and its units are set here; starting beliefs by 'jarcast beliefs use',
    jars of your own by 'jarcast kitchen jars add'.

    \b
    Examples:
      jarcast kitchen
      jarcast kitchen --altitude "900 ft" --canner "7 quarts / 8 pints"
    """
    if alone(context):
        path = ledger_path(ledger)
        _remember(path, altitude, canner)
        _show(path, units, as_json=as_json)


def _remember(path: Path, altitude: str | None, canner: str | None) -> None:
    """Remember what was typed, after all of it was read. Raises JarcastError."""
    from jarcast.harvest.plan.canner import parse_canner

    holds = None if canner is None else parse_canner(canner, kitchen_shelf(path))
    if altitude is not None:
        remember_altitude(path, altitude)
    if holds is not None:
        remember_canner(path, holds)


def _show(path: Path, units: Units | None, *, as_json: bool) -> None:
    from jarcast.ledger import Ledger
    from jarcast.ledger.own_jars import own_jars
    from jarcast.views.kitchen import Remembered, kitchen_document, kitchen_text

    known, shown = remembered_altitude(path), kitchen_units(path, units)
    with Ledger.open(path) as opened:
        measured, beliefs = own_jars(opened), opened.setting(BELIEFS)
    canner = kitchen_canner(path, None, kitchen_shelf(path))
    found = Remembered(
        altitude=known,
        altitude_ft=None if known is None else parse_altitude(known),
        units=shown,
        canner={} if canner is None else canner.holds,
        beliefs=chosen_file(beliefs)[0],
        own_jars=tuple(measured),
    )
    if as_json:
        show_json(kitchen_document(found))
    else:
        show(kitchen_text(found))
