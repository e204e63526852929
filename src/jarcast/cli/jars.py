"""jarcast kitchen jars: list the jars there are, and measure one of one's own."""

from enum import StrEnum
from typing import Annotated

import typer

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    read_option,
    show,
    show_json,
    work_at,
)
from jarcast.domain.batch import number_problem
from jarcast.domain.jars import DEFAULT_HEADSPACE_IN, REGULAR_BORE_MM, WIDE_BORE_MM
from jarcast.errors import BatchError
from jarcast.ledger.own_measures import add_jar, measured_by, measured_jar, measuring_error_ml
from jarcast.measures import parse_inches, parse_weight

app = typer.Typer(
    no_args_is_help=True, help="Jars: what each sort holds, and jars of your own, measured."
)


class Mouth(StrEnum):
    """The two mouths that lids are sold for."""

    REGULAR = "regular"
    WIDE = "wide"


@app.command("list")
def list_(
    headspace: Annotated[
        str | None, typer.Option("--headspace", help="Headspace to fill to; '1/2 in' if none.")
    ] = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the sorts of jar, built in and your own: what each holds, and how we know.

    \b
    Example:  jarcast kitchen jars list --headspace "1/4 in"
    """
    from jarcast.views.jars import shelf_document, shelf_text

    inches = _headspace(headspace)
    with work_at(ledger) as work:
        jars, measured = work.shelf, measured_by(work.ledger)
        shown = kitchen_units(work, units)
        if as_json:
            show_json(shelf_document(jars.values(), measured, inches))
        else:
            show(shelf_text(jars, measured, inches, shown))


@app.command("add")
def add(
    name: Annotated[str, typer.Argument(help="A name for the jar: 'tall jar'.")],
    water: Annotated[
        str,
        typer.Option(
            "--water", help="Weight of the water it holds up to the headspace: '900 g - 485 g'."
        ),
    ],
    headspace: Annotated[
        str | None,
        typer.Option("--headspace", help="Headspace it has; '1/2 in' if none."),
    ] = None,
    brim: Annotated[
        str | None, typer.Option("--brim", help="Weight of the water it holds to the brim.")
    ] = None,
    mouth: Annotated[
        Mouth | None,
        typer.Option(
            "--mouth", help=("Its mouth: regular or wide; regular if nothing says otherwise.")
        ),
    ] = None,
    bore: Annotated[
        str | None,
        typer.Option("--bore", help="Or the inside width of its neck: '70 mm'."),
    ] = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Measure a jar of your own by the water it holds, and give it a name.

    Weigh it empty, fill it with cold water up to the headspace, and weigh it again: the difference
    is --water (1 g is 1 ml). Measure it again under the same name and the new figures count;
    nothing is lost. No tested recipe lists such a jar, so a forecast by a recipe refuses it.

    \b
    Example:
      jarcast kitchen jars add "tall jar" --water "900 g - 485 g" --mouth wide
    """
    from jarcast.views.jars import added_document, added_text

    if mouth is not None and bore is not None:
        raise BatchError("--mouth and --bore say the same thing; give one of the two")
    inches, bore_in = _headspace(headspace), read_option("--bore", bore, parse_inches)
    bore_mm = None if bore_in is None else round(25.4 * bore_in, 6)  # 76 mm is 76
    if mouth is not None:
        bore_mm = WIDE_BORE_MM if mouth is Mouth.WIDE else REGULAR_BORE_MM
    grams = read_option("--water", water, parse_weight) or 0.0
    brim_g = read_option("--brim", brim, parse_weight)
    jar = measured_jar(name, grams, headspace_in=inches, brim_g=brim_g, bore_mm=bore_mm)
    given = {"water": water, "headspace": headspace, "brim": brim, "mouth": mouth, "bore": bore}
    typed = {what: str(text) for what, text in given.items() if text is not None}
    with work_at(ledger) as work:
        shown, error_ml = kitchen_units(work, units, later=True), measuring_error_ml(grams)
        with work.writing("jar"):
            before = add_jar(work.ledger, jar, typed)
        if as_json:
            show_json(added_document(jar, before, inches, error_ml, typed))
        else:
            show(added_text(jar, before, inches, error_ml, shown))


def _headspace(text: str | None) -> float:
    """Inches of the headspace, as typed or the usual one. Raises BatchError and MeasureError."""
    inches = read_option("--headspace", text, parse_inches)
    if inches is None:
        return DEFAULT_HEADSPACE_IN
    if why := number_problem("headspace_in", inches):
        raise BatchError(f"--headspace '{text}': {why}")
    return inches
