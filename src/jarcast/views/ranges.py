"""A range and what came, shown so that they read as they lie: never inside by rounding alone."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from jarcast.measures import Units, format_volume, format_weight, parse_volume
from jarcast.measures.numbers import count
from jarcast.views.words import exactly, halves

if TYPE_CHECKING:
    from jarcast.forecast.request import Request

Shown = tuple[str, str, str]  # lowest, highest, what came
_Say = Callable[[float], str]


def jars_beside(low: float, high: float, was: float) -> Shown:
    """A range of jars to the half, and the jars that came as they were counted.

    An end that would read on the wrong side of what came is told by it: 'just over 4'.
    """
    several = exactly(was).startswith("about")  # several sorts, counted in one
    return _shown((low, high, was), halves, count, halves if several else exactly)


def volumes_beside(low: float, high: float, was: float, units: Units) -> Shown:
    """A range of brine and what was used, in ml, likewise: 'just under 9 cups'."""
    say = partial(format_volume, units=units)
    return _shown((low, high, was), say, parse_volume, say)


def weight_words(request: "Request", units: Units) -> str:
    """The latest known weight, or the range it was counted or guessed in, 8 times in 10."""
    low, high = (format_weight(grams, units) for grams in request.grams_between())
    if not request.grams_sd:
        return low
    number, _, unit = low.partition(" ")
    same = high.endswith(f" {unit}") and high.count(" ") == 1  # said once: '20 to 35 lb'
    return f"{number if same else low} to {high}"


def _shown(
    values: tuple[float, float, float], say: _Say, read: Callable[[str], float], came: _Say
) -> Shown:
    low, high, was = values
    shown = came(was)

    def end(value: float, *, lowest: bool) -> str:
        said = say(value)
        sign = 1.0 if lowest else -1.0
        if (sign * value <= sign * was) == (sign * read(said) <= sign * read(shown)):
            return said
        return shown if value == was else f"just {'over' if value > was else 'under'} {shown}"

    return end(low, lowest=True), end(high, lowest=False), shown
