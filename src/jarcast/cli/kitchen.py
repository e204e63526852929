"""jarcast kitchen: what is remembered of a kitchen, and the jars in it.

A thing to remember is an option and a setting here, and a line in the views.
"""

from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.app.chosen_beliefs import BELIEFS, chosen_file
from jarcast.cli import baskets, jars
from jarcast.cli.altitude import SETTING as ALTITUDE
from jarcast.cli.altitude import KeptAltitudeOption, parse_altitude, to_remember
from jarcast.cli.canner import KIND, Kind, kitchen_canner
from jarcast.cli.canner import SETTING as CANNER
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    alone,
    kitchen_units,
    packer,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.cli.last_jar import LastJarOption
from jarcast.domain.jars import SHELF, baskets_on
from jarcast.domain.last_jar import LastJar
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Work

app = typer.Typer(
    invoke_without_command=True,
    help="Show or change what is remembered of your kitchen; measure jars of your own.",
)
app.add_typer(jars.app, name="jars")
app.add_typer(baskets.app, name="baskets")


@app.callback()
def kitchen(
    context: typer.Context,
    altitude: KeptAltitudeOption = None,
    canner: Annotated[
        str | None, typer.Option("--canner", help="What your canner holds: '7 quarts / 8 pints'.")
    ] = None,
    last_jar: LastJarOption = None,
    canner_kind: Annotated[
        Kind | None,
        typer.Option(
            "--canner-kind",
            help="What kind it is: it changes no process; a steam canner has a rule of its own.",
        ),
    ] = None,
    person: Annotated[
        str | None,
        typer.Option("--person", help="Who packs unless you say otherwise; '' for nobody."),
    ] = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what is remembered of your kitchen, or change it.

    Its altitude, its canner, its last jar, who packs and its units are set here; starting beliefs
    by 'jarcast beliefs use', jars and baskets of your own by 'jarcast kitchen jars' and 'baskets'.

    \b
    Examples:
      jarcast kitchen
      jarcast kitchen --altitude "900 ft" --canner "7 quarts / 8 pints"
      jarcast kitchen --last-jar whole
    """
    if alone(context):
        with work_at(ledger) as work:
            _remember(work, altitude, canner, canner_kind, last_jar, person)
            _show(work, units, as_json=as_json)


def _remember(
    work: "Work",
    altitude: str | None,
    canner: str | None,
    kind: Kind | None,
    last_jar: LastJar | None,
    person: str | None,
) -> None:
    """Remember what was typed, after all of it was read. Raises JarcastError."""
    from jarcast.app.work import LAST_JAR
    from jarcast.harvest.plan.canner import canner_text, parse_canner

    holds = None if canner is None else parse_canner(canner, work.shelf)
    moved = None if altitude is None else to_remember(work, altitude)
    if person is not None:
        packer(work, person)
    if holds is not None:
        work.remember_with(CANNER, canner_text(holds))
    if kind is not None:
        work.remember_with(KIND, kind.value)
    if last_jar is not None:
        work.remember_with(LAST_JAR, last_jar.value)
    work.remember()
    tell(moved or "")


def _show(work: "Work", units: Units | None, *, as_json: bool) -> None:
    from jarcast.app.work import LAST_JAR, PERSON
    from jarcast.views.kitchen import Remembered, kitchen_document, kitchen_text

    shown, settings = kitchen_units(work, units), work.settings
    known = settings.get(ALTITUDE)
    canner = kitchen_canner(work, None, work.shelf)
    found = Remembered(
        altitude=known,
        altitude_ft=None if known is None else parse_altitude(known),
        units=shown,
        canner={} if canner is None else canner.holds,
        canner_kind=settings.get(KIND) or "",
        beliefs=chosen_file(settings.get(BELIEFS), work.path)[0],
        last_jar=settings.get(LAST_JAR),
        person=settings.get(PERSON, ""),
        own_baskets=tuple(baskets_on(work.shelf)),
        own_jars=tuple(key for key in work.shelf if key not in SHELF),
    )
    if as_json:
        show_json(kitchen_document(found))
    else:
        show(kitchen_text(found))
