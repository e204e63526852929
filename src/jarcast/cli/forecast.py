"""jarcast forecast."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from jarcast.cli.altitude import AltitudeOption
from jarcast.cli.asked import Asked, ask
from jarcast.cli.by_the_jar import answer_by_the_jar, refuse_beside_jars
from jarcast.cli.canner import canner_load
from jarcast.cli.charting import (
    PAGE_ENDINGS,
    ChartOption,
    canvas,
    check_chart,
    check_ending,
    save_chart,
    write_whole,
)
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    Packer,
    PersonOption,
    UnitsOption,
    ledger_path,
    packer,
    show,
    show_json,
    work_at,
)
from jarcast.cli.crops import AsNamedOption
from jarcast.cli.kept_brine import kept_document, kept_of, kept_text
from jarcast.cli.typed import CureHoursOption, LevelOption, SeedOption, TrimmedOption
from jarcast.domain.stages import STAGES
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Work


def forecast(
    produce: Annotated[
        str,
        typer.Option(
            "--produce", help="What you put up: carrot, cucumber... A recipe names its own."
        ),
    ] = "",
    cut: Annotated[
        str, typer.Option("--cut", help="sticks, slices...; your usual cut if not given.")
    ] = "",
    pack: Annotated[
        str, typer.Option("--pack", help="raw or hot; your usual pack if not given.")
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
    trimmed: TrimmedOption = None,
    cured: Annotated[
        str | None, typer.Option("--cured", help="Weight salted, rinsed and drained.")
    ] = None,
    cooked: Annotated[
        str | None, typer.Option("--cooked", help="Weight blanched or simmered, for a hot pack.")
    ] = None,
    jars: Annotated[
        str | None,
        typer.Option(
            "--jars", help=("With nothing weighed yet: what so many jars take, '7 quarts'.")
        ),
    ] = None,
    cure_hours: CureHoursOption = None,
    salt: Annotated[
        str | None, typer.Option("--salt", help="Salt for the cure: '200 g', '3/4 cup'.")
    ] = None,
    headspace: Annotated[
        str | None,
        typer.Option("--headspace", help="Your recipe's headspace; '1/2 in' if not given."),
    ] = None,
    recipe: Annotated[
        str | None,
        typer.Option(
            "--recipe", help="A tested recipe ('jarcast recipes list'), or a card's file."
        ),
    ] = None,
    altitude: AltitudeOption = None,
    person: PersonOption = None,
    short_chance: Annotated[
        float, typer.Option("--short-chance", help="Chance of running short of brine.")
    ] = 0.05,
    level: LevelOption = 0.8,
    keep: Annotated[
        str | None,
        typer.Option(
            "--keep",
            help="Save this forecast under the batch's name; 'jarcast hindsight' scores it later.",
        ),
    ] = None,
    seed: SeedOption = 0,
    as_named: AsNamedOption = False,
    chart: ChartOption = None,
    sheet: Annotated[
        Path | None,
        typer.Option(
            "--sheet",
            help=(
                "Write it as one page for the kitchen instead: big numbers, and boxes to fill in. "
                "The file ends in .html."
            ),
            readable=False,
        ),
    ] = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Forecast one batch: how many jars, and how much brine to make.

    The latest weight you have is used: as bought, trimmed, cured or cooked. Give the earlier ones
    too if you have them: a recipe's proportion of brine goes by the stage it was written for. With
    nothing weighed, --jars says what so many jars take.

    \b
    Examples:
      jarcast forecast --produce carrot --cut sticks --trimmed "6 lb"
      jarcast forecast --produce cucumber --cut slices --cured "2.4 kg" \\
          --jar "5 pint-wide, then pint"
      jarcast forecast --produce cucumber --cut spears --jars "7 quarts"
      jarcast forecast --recipe pickled-beets --as-bought "10 lb" \\
          --altitude "3000 ft"
      jarcast forecast --recipe pickled-carrots --trimmed "5 lb" \\
          --sheet carrots.html
    """
    path = ledger_path(ledger)
    said = {
        "produce": produce, "cut": cut, "pack": pack, "jar": jar, "recipe": recipe,
        "cure_hours": cure_hours, "salt": salt, "headspace": headspace, "person": person,
    }  # fmt: skip
    typed = (as_bought, trimmed, cured, cooked)
    weighed = {stage.typed: text for stage, text in zip(STAGES, typed, strict=True)}
    if jars is not None:
        refuse_beside_jars({
            **{f"--{name.replace('_', '-')}": text for name, text in weighed.items()},
            "--keep": keep, "--chart": chart, "--sheet": sheet, "--altitude": altitude,
        })  # fmt: skip
        with work_at(ledger) as work:
            answer_by_the_jar(work, jars, said, level, short_chance, seed, units,
                              as_named=as_named, as_json=as_json)  # fmt: skip
        return
    check_chart(chart, path)
    if sheet is not None:
        check_ending(sheet, PAGE_ENDINGS, "sheet", path)
    with work_at(ledger) as work:
        who = packer(work, person, remember=False)
        asked = ask(
            work, said, weighed, altitude=altitude, person=who.name, short_chance=short_chance,
            level=level, keep=keep, seed=seed, units=units, as_named=as_named, as_json=as_json,
        )  # fmt: skip
        ways = (asked.units, level, short_chance)
        if sheet is not None:
            _write_sheet(work, sheet, asked, ways, as_json=as_json)
        else:
            _answer(work, asked, ways, who, as_json=as_json)
    if chart is not None:
        from jarcast.views.charts.forecast import forecast_chart

        save_chart(chart, lambda: forecast_chart(asked.forecast, *ways))


def _answer(
    work: "Work", asked: Asked, ways: tuple[Units, float, float], who: Packer, *, as_json: bool
) -> None:
    """Show a forecast; ``ways`` are the units, the level and the chance of running short."""
    from jarcast.views.forecast import as_usual, forecast_document, forecast_text

    result = asked.forecast
    beside: dict[str, Any] = {
        "place": asked.place,
        "packing": asked.packing,
        "load": canner_load(work, result),
    }
    found = kept_of(asked.recipe, result.recipe, result.request, work.kitchen)
    if as_json:
        kept = kept_document(found)
        document = forecast_document(result, *ways, **beside)
        usual = as_usual(asked.usual_cut)
        show_json({**document, "as_usual": usual, "kept_brine": kept, **who.document})
        return
    beside |= {"usual_cut": asked.usual_cut, "packed_by": who.name if who.as_last else ""}
    show(forecast_text(result, *ways, **beside, canvas=canvas()))
    if told := kept_text(found, asked.recipe, asked.units):
        show(f"\n{told}")


def _write_sheet(
    work: "Work", file: Path, asked: Asked, ways: tuple[Units, float, float], *, as_json: bool
) -> None:
    """Write a forecast as one page of HTML, for a screen and for paper, and say where."""
    from jarcast.views.forecast import usual_cut_lines
    from jarcast.views.pages.sheet import sheet_page

    result = asked.forecast
    kept = kept_of(asked.recipe, result.recipe, result.request, work.kitchen)
    told = kept_text(kept, asked.recipe, asked.units)
    beside: dict[str, Any] = {"place": asked.place, "packing": asked.packing}
    write_whole(file, sheet_page(result, *ways, **beside, kept=told).encode())
    if as_json:
        show_json({"format": "jarcast sheet", "version": 1, "file": str(file)})
        return
    for line in usual_cut_lines(asked.usual_cut):
        show(line)
    show(f"Sheet written to {file}. Open it in a browser; it prints on one page.")
