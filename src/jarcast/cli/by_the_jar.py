"""jarcast forecast --jars: brine and produce by the jar, before anything is weighed."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import typer

from jarcast.cli.altitude import kitchen_place
from jarcast.cli.asked import line_said
from jarcast.cli.buy import wanted_jars
from jarcast.cli.common import kitchen_units, packer, show, show_json
from jarcast.cli.typed import check_chances
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Work


def answer_by_the_jar(
    work: "Work",
    jars: str,
    said: Mapping[str, str | None],
    level: float,
    short_chance: float,
    seed: int,
    units: Units | None,
    *,
    as_named: bool,
    as_json: bool,
) -> None:
    """Show what so many jars take; ``said`` are options of ``forecast`` by their names.

    Raises JarcastError, or BadParameter for jars that are not counted.
    """
    from jarcast.harvest.by_the_jar import by_the_jar
    from jarcast.views.by_the_jar import by_the_jar_document, by_the_jar_text
    from jarcast.views.forecast import as_usual

    check_chances(short_chance, level)
    wanted, jar = wanted_jars(jars, said["jar"] or "", work.shelf, hint="--jars")
    line, usual_cut = line_said(work, {**said, "jar": jar or None}, sure=as_named, as_json=as_json)
    who = packer(work, said["person"], remember=False)
    found = by_the_jar(work.kitchen.habits, {**line, "person": who.name}, jars=wanted, seed=seed)
    ways = kitchen_units(work, units), level, short_chance
    place = kitchen_place(work, None)
    if as_json:
        document = by_the_jar_document(found, *ways, place=place)
        show_json({**document, "as_usual": as_usual(usual_cut), **who.document})
    else:
        show(by_the_jar_text(found, *ways, usual_cut=usual_cut, place=place))
        if who.as_last:
            show(f"\n{who.text}")


def refuse_beside_jars(said: Mapping[str, object]) -> None:
    """Raise BadParameter where --jars stands beside what goes by a weight."""
    beside = [option for option, value in said.items() if value is not None]
    if beside:
        raise typer.BadParameter(
            "it tells what so many jars take before anything is weighed: leave out "
            f"{', '.join(beside)}, or --jars",
            param_hint="--jars",
        )
