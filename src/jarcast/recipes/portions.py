"""A formula times a factor, each ingredient in an amount a kitchen can measure.

Nothing here makes one part of a brine larger than another. After rounding, acid stands to every
other ingredient, and to the produce, at least as it does on the card: the largest acid is rounded
up, the factor is taken again from what it came to, and everything else follows that factor, acids
rounded up, the rest down. Salt, which takes no acid away, goes to the nearest mark; where salt is
what does the work (a cure, a ferment) it is rounded up. No part is ever measured out as nothing:
salt takes the smallest spoon there is, and for anything else the whole formula is made so large
that the smallest spoon of it is in proportion.
"""

from collections.abc import Iterable
from fractions import Fraction

from msgspec import Struct

from jarcast.measures import Units, number_text
from jarcast.recipes.card import SUGAR_ML_PER_G, Ingredient, Kind
from jarcast.recipes.kitchen import (
    Rounding,
    exact_ml,
    grams_per_ml,
    round_count,
    round_volume,
    round_weight,
    volume_text,
    weight_text,
)

_SAME = Fraction(1, 10**9)  # relative: volumes this close are the same


class Portion(Struct, frozen=True):
    """How much of one ingredient, as it is measured out.

    ``amount`` is the rounded amount in ml, in g where ``by_weight``, or a count; ``text`` says it
    in kitchen measures. ``ml`` and ``grams`` are None where unknown.
    """

    ingredient: Ingredient
    amount: Fraction
    by_weight: bool
    ml: float | None
    grams: float | None
    text: str

    @property
    def line(self) -> str:
        """Amount and name: '6 3/4 cups vinegar'."""
        return f"{self.text} {self.ingredient.name}"


def _amount(part: Ingredient, units: Units) -> tuple[Fraction, bool]:
    """The printed amount in ml, g or pieces, and whether it is a weight.

    Metric kitchens weigh salt and sugar; US ones measure them, unless the card prints a weight.
    """
    if part.count is not None:
        return Fraction(part.count).limit_denominator(48), False
    dry = part.kind in (Kind.SALT, Kind.SUGAR)
    if part.grams is not None and (part.weighed or (dry and units is Units.METRIC)):
        density = grams_per_ml(part.name, part.kind)
        if part.ml is not None and not part.weighed and density is not None:
            return exact_ml(part.ml) * density, True
        return Fraction(part.grams).limit_denominator(10**6), True
    return exact_ml(part.ml or 0.0), False


def _rounded(amount: Fraction, part: Ingredient, units: Units, way: Rounding) -> Fraction:
    if part.count is not None:
        return round_count(amount, way)
    _, by_weight = _amount(part, units)
    return (round_weight if by_weight else round_volume)(amount, units, way)


def _way(part: Ingredient, *, up_salt: bool) -> Rounding:
    if part.kind is Kind.SALT:
        return Rounding.UP if up_salt else Rounding.NEAREST
    return Rounding.UP if part.kind.acid else Rounding.DOWN


def _lead(formula: tuple[Ingredient, ...]) -> Ingredient:
    """The ingredient the rest follows: the largest acid, else the largest liquid, else any."""
    return max(formula, key=lambda part: (part.kind.acid, part.kind.liquid, part.ml or 0.0))


def measured(
    formula: tuple[Ingredient, ...], factor: Fraction, units: Units, *, up_salt: bool
) -> tuple[Fraction, tuple[Portion, ...]]:
    """The factor after rounding, and each ingredient's portion.

    The lead goes up mark by mark until the rounded brine is no less than was given.
    """
    if not formula:
        return factor, ()
    lead = _lead(formula)
    printed, _ = _amount(lead, units)
    least = max(factor, *(_least_factor(part, units) for part in formula))
    lead_amount = _rounded(printed * least, lead, units, Rounding.UP)
    while True:
        made = lead_amount / printed
        portions = tuple(_portion(part, lead, made, units, up_salt) for part in formula)
        wanted = factor * sum(_room(part, part.ml, part.grams) for part in formula)
        if finished_portions_ml(portions) >= wanted * (1 - _SAME):
            return made, portions
        lead_amount = _rounded(lead_amount + Fraction(1, 1000), lead, units, Rounding.UP)


def _least_factor(part: Ingredient, units: Units) -> Fraction:
    """The factor from which on an ingredient that is rounded down is no longer nothing."""
    printed, _ = _amount(part, units)
    if not printed or part.kind.acid or part.kind is Kind.SALT:
        return Fraction(0)
    return _rounded(Fraction(1, 10**9), part, units, Rounding.UP) / printed


def _portion(
    part: Ingredient, lead: Ingredient, made: Fraction, units: Units, up_salt: bool
) -> Portion:
    printed, by_weight = _amount(part, units)
    way = Rounding.UP if part is lead else _way(part, up_salt=up_salt)
    amount = _rounded(printed * made, part, units, way)
    if not amount and part.kind is Kind.SALT:
        amount = _rounded(printed * made, part, units, Rounding.UP)
    density = None if part.count is not None else grams_per_ml(part.name, part.kind)
    ml: Fraction | None = None if by_weight or part.count is not None else amount
    grams: Fraction | None = amount if by_weight else None
    if density is not None:
        ml = amount / density if by_weight else ml
        grams = amount if by_weight else amount * density
    if part.count is not None:
        text = number_text(amount)
    else:
        text = (weight_text if by_weight else volume_text)(amount, units)
    return Portion(
        ingredient=part,
        amount=amount,
        by_weight=by_weight,
        ml=None if ml is None else float(ml),
        grams=None if grams is None else float(grams),
        text=text,
    )


def _room(part: Ingredient, ml: float | None, grams: float | None) -> Fraction:
    """Room in ml of one ingredient in the finished brine."""
    if part.kind.liquid:
        return Fraction(ml or 0.0)
    return Fraction(SUGAR_ML_PER_G * (grams or 0.0)) if part.kind is Kind.SUGAR else Fraction(0)


def finished_portions_ml(portions: Iterable[Portion]) -> Fraction:
    """Finished volume in ml of the brine these portions make."""
    return sum((_room(made.ingredient, made.ml, made.grams) for made in portions), Fraction(0))
