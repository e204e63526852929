"""Showing measures the way a kitchen writes them."""

import math
import re
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache

from jarcast.errors import MeasureError
from jarcast.measures.units import (
    CUP_ML,
    GALLON_ML,
    OUNCE_G,
    TBSP_ML,
    TSP_ML,
    VOLUME,
    WEIGHT,
    Kind,
    Units,
)

# The signs a kitchen's parts are printed with (Unicode, Number Forms and Latin-1).
SIGNS = {
    "1/2": "½", "1/4": "¼", "3/4": "¾", "1/3": "⅓", "2/3": "⅔",
    "1/8": "⅛", "3/8": "⅜", "5/8": "⅝", "7/8": "⅞",
}  # fmt: skip
_WRITTEN = re.compile(r"(?:(?<=\d) )?(?<![\w/.,-])(\d/\d)(?![\w/])")
_MANY_CUPS = 64  # 4 gallons: from here on a range is in gallons
_ON_STEP = 1e-9  # relative: floats this close to a step stand on it

_WHOLE = (Fraction(0), Fraction(1))
_HALVES = (*_WHOLE, Fraction(1, 2))
_QUARTERS = (*_HALVES, Fraction(1, 4), Fraction(3, 4))
_CUP_MARKS = (*_QUARTERS, Fraction(1, 3), Fraction(2, 3))

# Shown in this unit while the rounded amount is below so many of it, to the nearest of its marks.
_US_VOLUMES = (
    (TSP_ML, "tsp", 3, _QUARTERS),
    (TBSP_ML, "tbsp", 4, _HALVES),
    (CUP_ML, "cups", 4, _CUP_MARKS),
    (CUP_ML, "cups", 16, _QUARTERS),
)


@lru_cache(4096)  # in a table they are shown twice, and many are alike
def format_weight(grams: float, units: Units) -> str:
    """A weight as a kitchen writes it: '6 lb 4½ oz', or '640 g' and '2.70 kg'.

    US: to 1/4 oz below a pound, 1/2 oz below ten pounds, then whole ounces, and in grams below
    what that can show. Metric: to 0.1 g below 10 g, 1 g below a kilogram, then 10 g.
    Raises MeasureError for a weight that is negative or not finite.
    """
    exact = _exact(grams, WEIGHT)
    if units == Units.METRIC:
        return _metric_weight(exact)
    ounces = _nearest(exact / OUNCE_G, _QUARTERS)
    if ounces == 0 < round(exact, 1):
        return _metric_weight(exact)
    for below, marks in ((16, _HALVES), (160, _WHOLE)):
        if ounces >= below:
            ounces = _nearest(exact / OUNCE_G, marks)
    pounds, ounces = divmod(ounces, 16)
    return _parts((Fraction(pounds), "lb"), (ounces, "oz"))


@lru_cache(4096)
def format_volume(ml: float, units: Units) -> str:
    """A volume as a kitchen writes it: '4½ cups', '1 gal 2 qt', or '750 ml' and '1.25 l'.

    US: quarter teaspoons, half tablespoons from 1 tbsp, cups in quarters and thirds from 1/4 cup,
    in quarters from 4 cups, and gallons, quarts and whole cups from 16 cups. Metric: to 1 ml below
    100 ml, 5 ml below a litre, then 10 ml. Raises MeasureError for a volume that is negative or not
    finite.
    """
    exact = _exact(ml, VOLUME)
    if units == Units.METRIC:
        return _metric_volume(exact)
    if _nearest(exact / TSP_ML, _QUARTERS) == 0:
        return "0 cups"
    for size, name, below, marks in _US_VOLUMES:
        amount = _nearest(exact / size, marks)
        if amount < below:
            return _parts((amount, name))
    return _stepped_down(_nearest(exact / CUP_ML, _WHOLE))


def _stepped_down(cups: Fraction) -> str:
    gallons, cups = divmod(cups, 16)
    quarts, cups = divmod(cups, 4)
    return _parts((Fraction(gallons), "gal"), (Fraction(quarts), "qt"), (cups, "cups"))


def format_made(ml: float, units: Units, *, in_cups: bool = False) -> str:
    """A volume that is made, as ``format_volume``, but to half a cup from 16 cups to 64.

    What ``round_up_volume`` gives is shown unrounded. ``in_cups``: in cups alone from 16 on, for a
    sentence whose other amounts are in cups. Raises as ``format_volume``.
    """
    cups = _exact(ml, VOLUME) / CUP_ML
    if units == Units.METRIC or cups < 16 or (cups >= _MANY_CUPS and not in_cups):
        return format_volume(ml, units)
    halves = _nearest(cups, _HALVES)
    return _parts((halves, "cups")) if in_cups else _stepped_down(halves)


def format_span(low_ml: float, high_ml: float, units: Units) -> tuple[str, str]:
    """The ends of a range of volumes in one unit: ('6', '9½ cups'), ('1.25', '2.40 l').

    The unit of the upper end, cups below 4 gallons. Both with their unit where one is too small
    for it. Raises MeasureError as ``format_volume``.
    """
    ends = _exact(low_ml, VOLUME), _exact(high_ml, VOLUME)
    if units == Units.METRIC:
        low, high = (_metric_like(ends[1], ml) for ml in ends)
    else:
        size, name, marks = _us_unit(ends[1])
        low, high = (_parts((_nearest(ml / size, marks), name)) for ml in ends)
        if low.startswith("0 ") and ends[0] > 0:
            low = format_volume(low_ml, units)
    unit = high.partition(" ")[2]
    return (low.partition(" ")[0] if low.partition(" ")[2] in (unit, "cup") else low), high


def volumes_like(largest_ml: float, units: Units) -> Callable[[float], str]:
    """How the volumes of one sentence are shown, all in the unit of the largest of them.

    Each as ``format_volume`` writes it, but for cups from 16 on and for gallons, to the half; what
    would be none of the unit is shown in its own. Raises MeasureError as ``format_volume``.
    """
    largest = _exact(largest_ml, VOLUME)
    _, name, _ = _us_unit(largest)

    def say(ml: float) -> str:
        exact = _exact(ml, VOLUME)
        if units == Units.METRIC:
            return _metric_like(largest, exact)
        if name == "gal" and (half_gallons := _nearest(exact / GALLON_ML, _HALVES)):
            return _parts((half_gallons, name))
        if name == "cups" and _nearest(exact / CUP_ML, _QUARTERS) >= 16:
            return _parts((_nearest(exact / CUP_ML, _WHOLE), name))
        return format_volume(ml, units)

    return say


def _us_unit(largest: Fraction) -> tuple[Fraction, str, tuple[Fraction, ...]]:
    """The unit of a range by its upper end, its size in ml and its marks: cups below 4 gallons."""
    if largest >= _MANY_CUPS * CUP_ML:
        return GALLON_ML, "gal", _HALVES
    sizes = _US_VOLUMES if largest else ()  # nothing is no cups
    fits = (one for one in sizes if _nearest(largest / one[0], one[3]) < one[2])
    size, name, _, marks = next(fits, (CUP_ML, "cups", 0, _WHOLE))
    return size, name, marks


def _metric_like(largest: Fraction, ml: Fraction) -> str:
    """A volume in the unit of the largest; below a tenth of a litre in ml."""
    if not _metric_volume(largest).endswith(" l"):
        return _metric_volume(ml)
    if not ml:
        return "0 l"
    return f"{_hundredths(ml / 1000)} l" if ml >= 100 else _metric_volume(ml)


def _exact(value: float, kind: Kind) -> Fraction:
    if not math.isfinite(value) or value < 0:
        raise MeasureError(f"{value} cannot be a {kind.name}; it must be finite and 0 or more")
    return Fraction(value)


def _nearest(value: Fraction, marks: tuple[Fraction, ...]) -> Fraction:
    """The nearest whole number plus one of these marks (0 and 1 are among them)."""
    size = value.denominator
    whole, rest = divmod(value.numerator, size)  # whole numbers: fractions take ten times as long
    return whole + min(  # apart in parts of 12 * size, which all marks have
        marks, key=lambda mark: abs(12 * rest - mark.numerator * (12 // mark.denominator) * size)
    )


def _parts(*parts: tuple[Fraction, str]) -> str:
    """'2 gal 1 qt' of amounts and units; parts of nothing are left out, save a lone one."""
    kept = [part for part in parts if part[0]] or [parts[-1]]
    return " ".join(
        f"{number_text(amount)} {'cup' if name == 'cups' and 0 < amount <= 1 else name}"
        for amount, name in kept
    )


def number_text(number: Fraction) -> str:
    """A number as a kitchen prints it: '4½', '⅔', '8'; '1 3/16' where no sign says it."""
    whole, part = divmod(number, 1)
    if part == 0:
        return str(whole)
    sign = SIGNS.get(str(part))
    if sign is None:
        return f"{whole} {part}" if whole else str(part)
    return f"{whole or ''}{sign}"


def typeset(text: str) -> str:
    """A text with each part such as 1/2 as one sign: '9 1/2 cups' is '9½ cups'.

    For what a recipe card prints; dates, shares of tables and names stay as they are.
    """
    return _WRITTEN.sub(lambda found: SIGNS.get(found[1], found[0]), text)


def spelt_out(text: str) -> str:
    """The same with figures alone, for a terminal without the signs: '9½' is '9 1/2'."""
    for part, sign in SIGNS.items():
        text = re.sub(f"(?<=[0-9]){sign}", f" {part}", text).replace(sign, part)
    return text


def _metric_weight(grams: Fraction) -> str:
    if round(grams, 1) < 10:
        return f"{float(round(grams, 1)):g} g"
    return f"{round(grams)} g" if round(grams) < 1000 else f"{_hundredths(grams / 1000)} kg"


def _metric_volume(ml: Fraction) -> str:
    if round(ml) < 100:
        return f"{round(ml)} ml"
    fives = 5 * round(ml / 5)
    return f"{fives} ml" if fives < 1000 else f"{_hundredths(ml / 1000)} l"


def _hundredths(value: Fraction) -> str:
    whole, part = divmod(round(100 * value), 100)
    return f"{whole}.{part:02d}"


# Up to so many ml, in steps of so many ml.
_STEPS: dict[Units, tuple[tuple[float, Fraction], ...]] = {
    Units.US: (
        (float(8 * CUP_ML), CUP_ML / 4),
        (float(64 * CUP_ML), CUP_ML / 2),
        (math.inf, CUP_ML),
    ),
    Units.METRIC: (
        (2000.0, Fraction(50)),
        (5000.0, Fraction(100)),
        (10_000.0, Fraction(250)),
        (math.inf, Fraction(500)),
    ),
}


def round_up_volume(ml: float, units: Units) -> float:
    """A volume in ml rounded up to a measure a kitchen has; never below what came in.

    US: quarter cups up to 8 cups, half cups up to 64, then whole cups. Metric: 50 ml up to 2 l,
    100 ml up to 5 l, 250 ml up to 10 l, then 500 ml. A volume within 1e-9 (relative) of a step
    stands on it. Raises MeasureError for a volume that is negative or not finite.
    """
    exact = _exact(ml, VOLUME)
    step = _step(ml, units)
    steps = math.ceil(exact / step * (1 - Fraction(_ON_STEP)))
    return max(float(ml), float(steps * step))


def round_down_volume(ml: float, units: Units) -> float:
    """A volume in ml rounded down to one of the same steps. Raises as ``round_up_volume``."""
    exact, step = _exact(ml, VOLUME), _step(ml, units)
    return float(math.floor(exact / step * (1 + Fraction(_ON_STEP))) * step)


def _step(ml: float, units: Units) -> Fraction:
    return next(step for most, step in _STEPS[units] if ml <= most)
