"""Amounts a kitchen can measure out: rounding up, down and to the nearest, exactly.

Amounts are exact fractions of a millilitre or gram, so that proportions after rounding can be
compared without a rounding of their own.
"""

import math
from enum import StrEnum
from fractions import Fraction

from jarcast.measures import (
    CUP_ML,
    GALLON_ML,
    OUNCE_G,
    QUART_ML,
    SALT_G_PER_CUP,
    TBSP_ML,
    TSP_ML,
    Units,
    number_text,
)
from jarcast.measures.parsing import UNEVEN_SALTS
from jarcast.recipes.card import Kind

# Household grams per US cup: USDA Standard Reference Release 28, household weights: NDB 02053,
# 02048, 09153, 19335 and 19334.
_GRAMS_PER_CUP = {
    "cider vinegar": 239,
    "brown sugar": 220,
    Kind.VINEGAR: 238,
    Kind.LEMON_JUICE: 244,
    Kind.SUGAR: 200,
    Kind.SALT: SALT_G_PER_CUP,
    Kind.WATER: 236,  # 0.9982 g/ml at 20 C, CRC Handbook, from memory
    Kind.OIL: 218,  # soybean salad oil in the same release, from memory
}
# Seeds, grams per tablespoon: the same release, NDB 02007 and 02024 (mustard there is ground).
_GRAMS_PER_TBSP = {"celery seed": Fraction("6.5"), "mustard seed": Fraction("6.3")}


class Rounding(StrEnum):
    """Which way an amount goes."""

    UP = "up"
    DOWN = "down"
    NEAREST = "nearest"


def grams_per_ml(name: str, kind: Kind) -> Fraction | None:
    """Household weight of an ingredient in g/ml, or None where there is no figure for it."""
    words = name.casefold()
    for seed, grams in _GRAMS_PER_TBSP.items():
        if seed in words:
            return grams / TBSP_ML
    if kind is Kind.SALT and any(word in words for word in UNEVEN_SALTS):
        return None
    for special in ("cider vinegar", "brown sugar"):
        if special in words:
            return _GRAMS_PER_CUP[special] / CUP_ML
    per_cup = _GRAMS_PER_CUP.get(kind)
    return None if per_cup is None else per_cup / CUP_ML


def exact_ml(ml: float) -> Fraction:
    """The measure a float stands for: '1 2/3 cups' is 80 teaspoons again, and not nearly 80.

    A printed kitchen measure is a small fraction of a teaspoon; anything else is kept to a
    billionth.
    """
    teaspoons = Fraction(ml) / TSP_ML
    printed = teaspoons.limit_denominator(48)
    if abs(printed - teaspoons) <= Fraction(1, 10**9) * teaspoons:
        return printed * TSP_ML
    return Fraction(ml).limit_denominator(10**9)


# Up to but not including this many of the unit, in multiples of these. Every limit is a multiple of
# the steps on both sides, so that rounding never leaves its range by more than one mark.
_Ladder = tuple[tuple[Fraction | float, tuple[Fraction, ...]], ...]
_US_VOLUME: _Ladder = (
    (TBSP_ML, (TSP_ML / 4,)),
    (CUP_ML / 4, (TSP_ML / 2,)),
    (CUP_ML, (TBSP_ML, CUP_ML / 3)),
    (2 * CUP_ML, (2 * TBSP_ML, CUP_ML / 3)),
    (4 * CUP_ML, (CUP_ML / 4, CUP_ML / 3)),
    (16 * CUP_ML, (CUP_ML / 4,)),
    (64 * CUP_ML, (CUP_ML / 2,)),
    (math.inf, (CUP_ML,)),
)
_METRIC_VOLUME: _Ladder = (
    (50, (Fraction(5, 2),)),
    (250, (Fraction(5),)),
    (1000, (Fraction(10),)),
    (5000, (Fraction(25),)),
    (20_000, (Fraction(50),)),
    (math.inf, (Fraction(100),)),
)
_US_WEIGHT: _Ladder = (
    (16 * OUNCE_G, (OUNCE_G / 4,)),
    (math.inf, (OUNCE_G / 2,)),
)
_METRIC_WEIGHT: _Ladder = (
    (Fraction(20), (Fraction(1, 2),)),
    (Fraction(250), (Fraction(1),)),
    (Fraction(1000), (Fraction(5),)),
    (math.inf, (Fraction(10),)),
)


def round_volume(ml: Fraction, units: Units, way: Rounding) -> Fraction:
    """A volume in ml rounded to a mark of the kitchen's spoons, cups or jugs."""
    return _round(ml, _US_VOLUME if units is Units.US else _METRIC_VOLUME, way)


def round_weight(grams: Fraction, units: Units, way: Rounding) -> Fraction:
    """A weight in g rounded to a mark of the kitchen's scale."""
    return _round(grams, _US_WEIGHT if units is Units.US else _METRIC_WEIGHT, way)


def round_count(count: Fraction, way: Rounding) -> Fraction:
    """A count of heads, cloves or the like, in quarters."""
    return _round(count, ((math.inf, (Fraction(1, 4),)),), way)


def _round(amount: Fraction, ladder: _Ladder, way: Rounding) -> Fraction:
    marks = next(steps for below, steps in ladder if amount < below)
    down = max(amount // step * step for step in marks)
    up = min(-(-amount // step) * step for step in marks)
    if way is Rounding.NEAREST:
        return up if up - amount <= amount - down else down
    return up if way is Rounding.UP else down


def volume_text(ml: Fraction, units: Units) -> str:
    """A rounded volume in words: '1 2/3 cups', '1/2 cup + 1 tbsp', '750 ml', '1.25 l'."""
    if units is Units.METRIC:
        return f"{float(ml):g} ml" if ml < 1000 else f"{float(ml / 1000):g} l"
    if ml < TBSP_ML:
        return f"{number_text(ml / TSP_ML)} tsp"
    if ml < CUP_ML / 4:
        return _joined(ml, (TBSP_ML, "tbsp"), (TSP_ML, "tsp"))
    if ml < 2 * CUP_ML and (ml / CUP_ML * 3).denominator != 1:  # thirds have a cup of their own
        return _cups_and_spoons(ml)
    if ml < GALLON_ML:
        return _cups(ml)
    return _joined(ml, (GALLON_ML, "gal"), (QUART_ML, "qt"), (CUP_ML, "cups"))


def _cups(ml: Fraction) -> str:
    return f"{number_text(ml / CUP_ML)} cup{'' if ml <= CUP_ML else 's'}"


def _cups_and_spoons(ml: Fraction) -> str:
    """'1/2 cup + 1 tbsp': quarter cups and what is over in tablespoons."""
    quarters, over = divmod(ml, CUP_ML / 4)
    spoons = f" + {number_text(over / TBSP_ML)} tbsp" if over else ""
    return _cups(quarters * CUP_ML / 4) + spoons


def weight_text(grams: Fraction, units: Units) -> str:
    """A rounded weight in words: '1 lb + 4 1/2 oz', '640 g', '2.7 kg'."""
    if units is Units.METRIC:
        return f"{float(grams):g} g" if grams < 1000 else f"{float(grams / 1000):g} kg"
    return _joined(grams, (16 * OUNCE_G, "lb"), (OUNCE_G, "oz"))


def _joined(amount: Fraction, *units: tuple[Fraction, str]) -> str:
    """The amount in units that step down, joined by ' + '; the last one takes the fraction."""
    parts = []
    for size, name in units[:-1]:
        whole, amount = divmod(amount, size)
        if whole:
            parts.append(f"{whole} {name}")
    size, name = units[-1]
    if amount or not parts:
        shown = name.removesuffix("s") if 0 < amount <= size else name
        parts.append(f"{number_text(amount / size)} {shown}")
    return " + ".join(parts)
