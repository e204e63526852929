"""What is remembered of a kitchen, as text and as JSON."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from msgspec import Struct

from jarcast.measures import Units
from jarcast.views.words import jar_words, wrapped

_UNITS = {Units.US: "pounds and cups (us)", Units.METRIC: "kilograms and litres (metric)"}
_NO_ALTITUDE = (
    "not known; set it with jarcast kitchen --altitude '900 ft', and your recipes' process times "
    "go by it."
)
_NO_CANNER = (
    "not known, taken as 7 jars; jarcast kitchen --canner '7 quarts / 8 pints' sets what it "
    "holds, and brine and harvests go by its loads."
)
_LAST_JAR = {
    "part": "left part full where the produce ends, as you said",
    "smaller": "one of half the size where that will do, topped up, as you said",
    "topped": "topped up with brine, as you said",
    "eaten": "filled or left out, as a small rest is eaten, as you said",
    "whole": "always whole, as you said",
    "learn": "learned from your batches; or set it with jarcast kitchen --last-jar part (or "
    "smaller, topped, eaten, whole)",
}
_NO_JARS = "none; measure one with 'jarcast kitchen jars add'."


class Remembered(Struct, frozen=True):
    """What is remembered of a kitchen.

    ``altitude`` as it was typed; ``canner`` jars of each size that it holds, empty where that is
    not known, ``canner_kind`` '' where it is not; ``beliefs`` a file of starting beliefs, None for
    the published ones; ``own_jars`` and ``own_baskets`` names of one's own; ``last_jar`` what
    was said of the last jar, None where nothing was; ``person`` who packs, '' for nobody.
    """

    altitude: str | None
    altitude_ft: float | None
    units: Units
    canner: Mapping[str, int]
    canner_kind: str
    beliefs: Path | None
    own_jars: tuple[str, ...]
    own_baskets: tuple[str, ...] = ()
    last_jar: str | None = None
    person: str = ""


def kitchen_text(found: Remembered) -> str:
    """What is remembered, a line each."""
    canner = " / ".join(f"{room} {jar_words(size, room)}" for size, room in found.canner.items())
    lines = {
        "Altitude": found.altitude or _NO_ALTITUDE,
        "Units": _UNITS[found.units],
        "Canner": canner or _NO_CANNER,
        **({"Kind of canner": found.canner_kind} if found.canner_kind else {}),
        "Last jar": _LAST_JAR.get(found.last_jar or "learn", _LAST_JAR["learn"]),
        **({"Who packs": found.person} if found.person else {}),
        "Starting beliefs": "published yields" if found.beliefs is None else str(found.beliefs),
        "Own jars": ", ".join(found.own_jars) or _NO_JARS,
        **({"Own baskets": ", ".join(found.own_baskets)} if found.own_baskets else {}),
    }
    return "\n".join(wrapped(f"{what}: {said}") for what, said in lines.items())


def kitchen_document(found: Remembered) -> dict[str, Any]:
    """What is remembered of a kitchen for JSON; version 1 of 'jarcast kitchen'."""
    return {
        "format": "jarcast kitchen",
        "version": 1,
        "altitude": found.altitude,
        "altitude_ft": found.altitude_ft,
        "units": found.units.value,
        "canner": dict(found.canner),
        "canner_kind": found.canner_kind or None,
        "beliefs": None if found.beliefs is None else str(found.beliefs),
        "own_jars": list(found.own_jars),
        **({"own_baskets": list(found.own_baskets)} if found.own_baskets else {}),
        "last_jar": found.last_jar,
        **({"person": found.person} if found.person else {}),
    }
