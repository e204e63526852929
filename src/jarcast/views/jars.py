"""Jars as text and as JSON: the shelf, and a jar that was measured."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from jarcast.domain.jars import ML_PER_FL_OZ, Jar
from jarcast.measures import Units, number_text
from jarcast.views.words import jar_words, lined_up, shortened, wrapped

Measured = Mapping[str, Mapping[str, str]]  # what jars were measured by, as typed, by key

_ABOUT = (
    "Built-in jars are taken to hold their nominal size to the brim, with mouths of 60 and 76 mm "
    "(from memory); measure your own with 'jarcast kitchen jars add'."
)
_NO_RECIPE = (
    "No tested recipe lists it, whatever it holds: by a recipe, use a jar the recipe was tested "
    "in, and keep what goes in this one in the refrigerator."
)


def shelf_text(
    shelf: Mapping[str, Jar], measured: Measured, headspace_in: float, units: Units
) -> str:
    """Built-in jars and one's own, a line each, filled up to a headspace."""
    headings = ("jar", f"at {inches_words(headspace_in)}", "to the brim", "mouth", "from")
    built_in = [jar for jar in shelf.values() if jar.key not in measured]
    own = [jar for jar in shelf.values() if jar.key in measured]
    rows = [headings, *(_cells(jar, measured, headspace_in, units) for jar in (*built_in, *own))]
    lines = lined_up(rows)
    if own:
        lines[1 + len(built_in) : 1 + len(built_in)] = ["", "Your own:"]
    return "\n".join([*lines, "", wrapped(_ABOUT)])


def _cells(
    jar: Jar, measured: Measured, headspace_in: float, units: Units
) -> tuple[str, str, str, str, str]:
    return (
        shortened(jar.key, 40),
        volume_words(jar.fill_volume_ml(headspace_in), units),
        volume_words(jar.capacity_ml, units),
        f"{jar.bore_mm:.0f} mm{', wide' if jar.wide else ''}",
        _origin(measured[jar.key]) if jar.key in measured else "nominal size",
    )


def _origin(typed: Mapping[str, str]) -> str:
    water = f"{typed.get('water', 'measured')} of water"
    headspace = typed.get("headspace")
    return shortened(water if headspace is None else f"{water} at {headspace}", 40)


def volume_words(ml: float, units: Units) -> str:
    """What a jar holds: '415 ml', or '14.0 fl oz', which jars are called by."""
    return f"{ml:.0f} ml" if units == Units.METRIC else f"{ml / ML_PER_FL_OZ:.1f} fl oz"


def inches_words(inches: float) -> str:
    """A headspace: '½ in', or '0.47 in' where no sixteenth says it."""
    sixteenths = Fraction(inches).limit_denominator(16)
    if abs(float(sixteenths) - inches) > 1e-6:
        return f"{inches:.2f} in"
    return f"{number_text(sixteenths)} in"


def added_text(
    jar: Jar, before: Jar | None, headspace_in: float, error_ml: float, units: Units
) -> str:
    """A jar that was just measured: what it holds, how surely, and what it stands instead of."""
    at = inches_words(headspace_in)
    fill = volume_words(jar.fill_volume_ml(headspace_in), units)
    error = volume_words(error_ml, units)
    lines = [
        f"A {jar_words(jar.key, 1)} holds {fill} at {at} of headspace, give or take {error}: "
        "the scale's 5 g, and half a percent for the warmth of the water.",
        f"To the brim {volume_words(jar.capacity_ml, units)}, by a mouth {jar.bore_mm:.0f} mm "
        "wide; that counts at another headspace.",
    ]
    if before == jar:
        lines.append("Nothing to change: it says that already.")
    elif before is not None:
        old = volume_words(before.fill_volume_ml(headspace_in), units)
        lines.append(
            f"That replaces the earlier measure ({old} at {at}); batches in this jar count by the "
            "new measure from now on."
        )
    lines.append(_NO_RECIPE)
    return "\n".join(wrapped(line) for line in lines)


def jar_document(jar: Jar, headspace_in: float, typed: Mapping[str, str] | None) -> dict[str, Any]:
    """One jar for JSON; ``typed`` is None for a built-in one."""
    return {
        "jar": jar.key,
        "fill_ml": jar.fill_volume_ml(headspace_in),
        "brim_ml": jar.capacity_ml,
        "bore_mm": jar.bore_mm,
        "wide": jar.wide,
        "own": typed is not None,
        "measured_by": None if typed is None else dict(typed),
    }


def shelf_document(jars: Iterable[Jar], measured: Measured, headspace_in: float) -> dict[str, Any]:
    """The shelf for JSON; version 1 of 'jarcast jars'."""
    return {
        "format": "jarcast jars",
        "version": 1,
        "headspace_in": headspace_in,
        "jars": [jar_document(jar, headspace_in, measured.get(jar.key)) for jar in jars],
    }


def added_document(
    jar: Jar,
    before: Jar | None,
    headspace_in: float,
    error_ml: float,
    typed: Mapping[str, str],
) -> dict[str, Any]:
    """A jar that was just measured, for JSON; version 1 of 'jarcast jar added'."""
    return {
        "format": "jarcast jar added",
        "version": 1,
        "headspace_in": headspace_in,
        "added": before != jar,
        "error_ml": error_ml,
        **jar_document(jar, headspace_in, typed),
        "before": None if before is None else jar_document(before, headspace_in, {}),
    }
