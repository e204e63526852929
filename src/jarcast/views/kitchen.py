"""What is remembered of a kitchen, as text and as JSON."""

from typing import Any

from jarcast.measures import Units
from jarcast.views.words import wrapped

_UNITS = {Units.US: "us: pounds and cups", Units.METRIC: "metric: kilograms and litres"}
_NO_ALTITUDE = (
    "Altitude: not known; jarcast kitchen --altitude '900 ft' keeps it, and it picks the process "
    "times of your recipes."
)


def kitchen_text(altitude: str | None, units: Units) -> str:
    """The altitude as it was typed, and the units measures are shown in."""
    said = _NO_ALTITUDE if altitude is None else f"Altitude: {altitude}"
    return "\n".join([wrapped(said), f"Units: {_UNITS[units]}"])


def kitchen_document(
    altitude: str | None, altitude_ft: float | None, units: Units
) -> dict[str, Any]:
    """What is remembered of a kitchen for JSON; version 1 of 'jarcast kitchen'."""
    return {
        "format": "jarcast kitchen",
        "version": 1,
        "altitude": altitude,
        "altitude_ft": altitude_ft,
        "units": units.value,
    }
