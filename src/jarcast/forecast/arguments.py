"""What a program may give to a forecast that is made: jars, units, whole numbers."""

import math
from numbers import Integral, Real

from jarcast.errors import ForecastError, in_short
from jarcast.measures import Units


def check_jars(jars: object) -> None:
    """Refuse what is no number of jars above 0. Raises ForecastError."""
    if not isinstance(jars, Real) or not (math.isfinite(jars) and float(jars) > 0):
        shown = f"{jars:g}" if isinstance(jars, Real) else in_short(jars)
        raise ForecastError(f"brine for {shown} jars: more than 0 are due")


def as_units(units: Units | str) -> Units:
    """The units that are named. Raises ForecastError for others than the two there are."""
    try:
        return Units(units)
    except ValueError:
        raise ForecastError(f"units: {in_short(units)} is neither 'us' nor 'metric'") from None


def is_whole(value: object) -> bool:
    """Whether a value is a whole number; yes and no are none."""
    return isinstance(value, Integral) and not isinstance(value, bool)


def check_whole(name: str, value: object, of: str, mend: str = "") -> None:
    """Refuse what is no whole number from 1 up; ``of`` is what it counts.

    ``mend`` ends the message. Raises ForecastError.
    """
    if not is_whole(value) or value < 1:  # type: ignore[operator]
        raise ForecastError(f"{name}={in_short(value)}: a number of {of} is due, 1 or more{mend}")
