"""Ranges in words: their ends, and what came beside them, never inside by rounding alone."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from jarcast.measures import (
    GALLON_ML,
    Units,
    format_span,
    format_volume,
    format_weight,
    parse_volume,
    volumes_like,
)
from jarcast.measures.numbers import count
from jarcast.views.words import exactly, halves

if TYPE_CHECKING:
    from jarcast.forecast.known import Known
    from jarcast.forecast.outcome import Outcome
    from jarcast.forecast.request import Request

Shown = tuple[str, str, str]  # lowest, highest, what came
_Say = Callable[[float], str]
_MOST_IN_CUPS = 4.0 * float(GALLON_ML)


def percent(share: float, places: int = 0) -> str:
    """A share in words: '81 %'."""
    return f"{round(100 * share, places or None) + 0} %"  # + 0: no minus before a 0.0


def density_text(density: float) -> str:
    """A pack density in words: '0.62 g/ml'."""
    return f"{density:.2f} g/ml"


def share_range(known: "Known") -> tuple[str, str]:
    """A share and the range it lies in: to a tenth of a per cent where whole ones read alike."""
    fine = percent(known.low) == percent(known.high)
    return known_range(known, partial(percent, places=int(fine)))


def known_range(known: "Known", show: _Say) -> tuple[str, str]:
    """A middle and its range: ('2 cups', '1½ to 3 cups'); '' where both ends read alike."""
    low, high = show(known.low), show(known.high)
    return show(known.middle), "" if low == high else ends_words(low, high)


def range_words(said: tuple[str, str]) -> str:
    """Both in one: '2 cups (1½ to 3 cups)', '1 cup'."""
    middle, ends = said
    return f"{middle} ({ends})" if ends else middle


def ends_words(low: str, high: str) -> str:
    """'1½ to 3 cups': a unit that both ends share, and no other, is said once; '1 cup'."""
    if low == high:
        return low
    if len(_units(low)) == 1 and _units(low) == _units(high):
        low = low.removesuffix(f" {_units(low)[0]}")
    return f"{low} to {high}"


def _units(text: str) -> list[str]:
    return [word for word in text.split() if word == "%" or word[0].isalpha()]


def jars_beside(low: float, high: float, was: float) -> Shown:
    """A range of jars to the half, and the jars that came as they were counted.

    An end that would read on the wrong side of what came is told by it: 'just over 4'.
    """
    several = exactly(was).startswith("about")  # several sorts, counted in one
    return _shown((low, high, was), halves, count, halves if several else exactly)


def volumes_beside(low: float, high: float, was: float, units: Units) -> Shown:
    """A range of brine and what was used, in ml, likewise: 'just under 9 cups'."""
    say = alike(max(high, was), units)
    return _shown((low, high, was), say, parse_volume, say)


def alike(largest_ml: float, units: Units) -> _Say:
    """How volumes of which one was measured stand side by side: in cups below 4 gallons.

    Others as a kitchen writes each: half gallons are too coarse for what was measured.
    """
    if units is Units.US and largest_ml < _MOST_IN_CUPS:
        return volumes_like(largest_ml, units)
    return partial(format_volume, units=units)


def volume_range(outcome: "Outcome", units: Units, level: float) -> tuple[str, str, str]:
    """The middle of a volume and the ends of its range, in one unit: '20 cups', '16', '24 cups'."""
    ends = outcome.interval(level)
    return (volumes_like(ends[1], units)(outcome.median), *format_span(*ends, units))


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
