"""A range and what came, shown so that they read as they lie: never inside by rounding alone."""

from collections.abc import Callable, Sequence
from functools import partial

from jarcast.measures import Units, format_volume, parse_volume
from jarcast.measures.units import CUP_ML
from jarcast.views.words import exactly, halves

Shown = tuple[str, str, str]  # lowest, highest, what came
_Say = Callable[[float], str]


def jars_beside(low: float, high: float, was: float) -> Shown:
    """A range of jars and the jars that came: to the half, finer where that would contradict."""
    finer = [partial(_decimals, digits=digits) for digits in range(1, 7)]
    typed = None if exactly(was).startswith("about") else exactly  # several sorts, counted in one
    return _shown((low, high, was), [halves, *finer], _number, typed)


def volumes_beside(low: float, high: float, was: float, units: Units) -> Shown:
    """A range of brine and what was used, in ml: as a kitchen says it, finer where it must be."""
    metric = units == Units.METRIC
    size, name = (1.0, "ml") if metric else (float(CUP_ML), "cups")
    finer = [
        partial(_decimals, digits=digits, size=size, unit=f" {name}") for digits in range(1, 7)
    ]
    return _shown((low, high, was), [partial(format_volume, units=units), *finer], parse_volume)


def _shown(
    values: tuple[float, float, float],
    ways: Sequence[_Say],
    read: Callable[[str], float],
    typed: _Say | None = None,
) -> Shown:
    """The three in the first of these ways that keeps their order; ``typed`` shows the last."""
    low, high, was = values
    shown = ("", "", "")
    for say in ways:
        shown = say(low), say(high), (typed or say)(was)
        below, above, came = map(read, shown)
        if (low <= was) == (below <= came) and (was <= high) == (came <= above):
            break
    return shown


def _decimals(value: float, digits: int, size: float = 1.0, unit: str = "") -> str:
    number = f"{value / size:.{digits}f}"
    return f"{number.rstrip('0').rstrip('.')}{unit}"


def _number(text: str) -> float:
    """What a count of jars reads as: '9 1/2' is 9.5."""
    total = 0.0
    for part in text.split():
        top, _, bottom = part.partition("/")
        total += float(top) / float(bottom or 1)
    return total
