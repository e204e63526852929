"""What to buy for a scaled recipe, by volume and by weight."""

import math
from collections.abc import Iterable
from fractions import Fraction

from msgspec import Struct

from jarcast.measures import Units
from jarcast.recipes.card import Ingredient, Kind, Recipe
from jarcast.recipes.kitchen import (
    Rounding,
    round_volume,
    round_weight,
    volume_text,
    weight_text,
)
from jarcast.recipes.portions import Portion

_SAME = 1e-9  # relative: an amount this close to a mark stands on it


class ShoppingLine(Struct, frozen=True):
    """One thing to buy, for brine and cure together: volume in ml and weight in g where known.

    ``text`` has both rounded up to a mark of the kitchen's measures.
    """

    name: str
    ml: float | None
    grams: float | None
    text: str


def shopping_list(portions: Iterable[Portion], units: Units) -> tuple[ShoppingLine, ...]:
    """One line for each thing, what is used twice together; water is not bought."""
    gathered: dict[str, list[Portion]] = {}
    for portion in portions:
        if portion.ingredient.kind is not Kind.WATER:
            gathered.setdefault(portion.ingredient.name, []).append(portion)
    return tuple(_bought(name, parts, units) for name, parts in gathered.items())


def _bought(name: str, parts: list[Portion], units: Units) -> ShoppingLine:
    volumes = [part.ml for part in parts]
    weights = [part.grams for part in parts]
    ml = None if None in volumes else math.fsum(volume or 0.0 for volume in volumes)
    grams = None if None in weights else math.fsum(weight or 0.0 for weight in weights)
    shown = []
    if ml is not None:
        shown.append(bought_volume(ml, units))
    if grams is not None:
        weight = weight_text(round_weight(_exact(grams), units, Rounding.UP), units)
        shown.append(weight.replace(" + ", " "))
    if not shown:
        shown = [" + ".join(part.text for part in parts)]
    return ShoppingLine(name, ml, grams, f"{name}: {' or '.join(shown)}")


def bought_volume(ml: float, units: Units) -> str:
    """A volume rounded up to a measure of the kitchen, in words."""
    return volume_text(round_volume(_exact(ml), units, Rounding.UP), units)


def _exact(amount: float) -> Fraction:
    return Fraction(amount * (1.0 - _SAME))


class PrintedPart(Struct, frozen=True):
    """One thing of a card as it is printed, to be bought by its factor.

    ``measure`` is 'ml', 'g', 'count', or 'times' for what the card gives without a measure, as
    ``name`` then has it whole. ``kind`` is the ingredient's, ``acid_percent`` the least strength
    the card asks of a vinegar.
    """

    name: str
    kind: str
    amount: float
    measure: str
    acid_percent: float | None = None


def printed_parts(recipe: Recipe, *, cure: bool = False) -> tuple[PrintedPart, ...]:
    """What a card's formula, or its cure, is made of, as printed; water is not bought."""
    if cure:
        parts = () if recipe.cure is None else recipe.cure.ingredients
    else:
        parts = () if recipe.safety is None else recipe.safety.formula
    return tuple(_printed(part, recipe) for part in parts if part.kind is not Kind.WATER)


def _printed(part: Ingredient, recipe: Recipe) -> PrintedPart:
    dry = part.kind in (Kind.SALT, Kind.SUGAR)
    ways = (("g", part.grams), ("ml", part.ml)) if dry else (("ml", part.ml), ("g", part.grams))
    first = (("count", part.count), *ways)
    measure, amount = next(((way, n) for way, n in first if n is not None), ("times", 1.0))
    strength = recipe.safety.least_acid_percent if recipe.safety is not None else None
    name = part.line if measure == "times" else part.name
    acid = strength if part.kind is Kind.VINEGAR else None
    return PrintedPart(name, part.kind.value, amount, measure, acid)


def measured_out(
    portions: Iterable[Portion], parts: Iterable[PrintedPart], times: float
) -> list[float]:
    """What a scaled formula takes of each printed part, in the part's own measure.

    ``portions`` are the formula's, or the cure's, that ``parts`` are printed in, ``times`` how many
    times it is made. 0 where an amount is not known in that measure.
    """
    bought = [one for one in portions if one.ingredient.kind is not Kind.WATER]
    found = []
    for part, one in zip(parts, bought, strict=True):
        measured = {"ml": one.ml, "g": one.grams, "count": float(one.amount)}
        found.append(measured.get(part.measure, times) or 0.0)
    return found
