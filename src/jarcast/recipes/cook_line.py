"""The line that a cook needs of a card: process, headspace, vinegar, jars, sterile or not.

Like the safety block it depends on the card and on jar, pack, altitude and units alone.
"""

from collections.abc import Sequence

from jarcast.domain.rules import limit, plain_method
from jarcast.measures import Units
from jarcast.recipes.acid import at_pressure
from jarcast.recipes.block import SEE_SOURCE, band_text, inches_text
from jarcast.recipes.card import Kind, ProcessRow, Recipe
from jarcast.recipes.ferment_salt import share_text
from jarcast.recipes.listed import check_jar
from jarcast.recipes.lock import process_rows_for

_SAID = {  # of a part, by what it is of; others are said as they stand
    "process": "{}",
    "jars": "{}",
    "vinegar": "vinegar of {}",
    "salt": "salt {}",
}


def cook_line(
    recipe: Recipe,
    jars: Sequence[str],
    *,
    pack: str = "",
    altitude_ft: float | None = None,
    units: Units = Units.US,
) -> str:
    """What a cook needs of the card's numbers for these jars, in one line.

    '' for a card without safety numbers. Raises RecipeError for a jar or pack that it does not
    list.
    """
    parts = cook_parts(recipe, jars, pack=pack, altitude_ft=altitude_ft, units=units)
    said = "; ".join(_SAID.get(of, f"{of} {{}}").format(text) for of, text in parts)
    return f"By the card of {recipe.name}: {said}." if parts else ""


def cook_parts(
    recipe: Recipe,
    jars: Sequence[str],
    *,
    pack: str = "",
    altitude_ft: float | None = None,
    units: Units = Units.US,
) -> list[tuple[str, str]]:
    """The same part by part, each with what it is of: ('headspace', '1/2 in').

    [] for a card without safety numbers. Raises as ``cook_line`` does.
    """
    safety = recipe.safety
    if safety is None:
        return []
    sizes = [check_jar(recipe, jar) for jar in jars]
    parts = [("process", _process(recipe, size, pack, altitude_ft, units)) for size in sizes]
    if not safety.process:
        parts = [("process", "no process, so these jars are for the refrigerator")]
    parts.append(("headspace", inches_text(safety.headspace_in, units)))
    if safety.least_acid_percent is not None:
        parts.append(("vinegar", f"{safety.least_acid_percent:g} % acid or stronger"))
    if recipe.salt_share is not None:
        parts.append(("salt", f"{share_text(recipe)} of the trimmed weight"))
    parts += [
        (f"in each {one.jar}", one.part.line)
        for one in safety.per_jar
        if one.jar in sizes and (one.part.kind is Kind.SALT or one.part.kind.acid)
    ]
    if safety.process:
        parts.append(("jars", "sterile jars" if sterile(recipe, sizes, pack) else "hot jars"))
    return parts


def sterile(recipe: Recipe, jars: Sequence[str], pack: str = "") -> bool:
    """Whether jars are sterilised: the card says so, or some time of theirs is under the limit.

    A time that only reaches the limit higher up counts as short everywhere, on the safe side.
    """
    rows = [row for jar in jars for row in process_rows_for(recipe, jar, pack=pack)]
    return any(row.sterile or short(row) for row in rows)


def short(row: ProcessRow) -> bool:
    """Whether a process row is too short to sterilise a jar."""
    return not at_pressure(row) and row.minutes < limit("sterile_minutes").refuse


def _process(recipe: Recipe, jar: str, pack: str, altitude_ft: float | None, units: Units) -> str:
    rows = process_rows_for(recipe, jar, pack=pack, altitude_ft=altitude_ft)
    if not rows:
        return f"the process for {jar} is {SEE_SOURCE}"
    ways: dict[tuple[str, str], list[ProcessRow]] = {}
    for row in rows:
        ways.setdefault((row.method, row.pack), []).append(row)
    return ", or ".join(
        ", ".join(
            [f"{jar}, {packed} pack" if packed else jar, _times(found, units), plain_method(method)]
        )
        for (method, packed), found in ways.items()
    )


def _times(rows: Sequence[ProcessRow], units: Units) -> str:
    """'35 min at 1001-3000 ft', or every band's."""
    return " / ".join(
        f"{row.time} {'' if row.to_ft is None else 'at '}{band_text(row, units)}" for row in rows
    )
