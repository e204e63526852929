"""Salt of a ferment whose card states it as a share of the trimmed weight: told, and checked.

That share is the only salt such a card has. What it prints for its whole batch is the same salt
for one weight alone, and no proportion of anything else; so nothing is scaled from it.
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.stages import AS_BOUGHT, TRIMMED
from jarcast.measures import Units, typeset
from jarcast.recipes.block import span_text
from jarcast.recipes.card import Ingredient, Kind, Recipe
from jarcast.recipes.kitchen import (
    Rounding,
    grams_per_ml,
    round_volume,
    round_weight,
    volume_text,
    weight_text,
)
from jarcast.recipes.portions import Portion
from jarcast.recipes.shopping import ShoppingLine, shopping_list

_EXACT = 1e-9  # relative: a share this close to an end of the card's is that end
_ROUNDED = 1e-10  # relative: an amount this close to a mark stands on it
_BY = "of the trimmed weight"


class SaltShare(Struct, frozen=True):
    """Salt over the trimmed weight, as far as it is known.

    ``least``: the trimmed weight was not weighed, and the share is at least this; ``about``: it was
    counted or guessed.
    """

    share: float
    least: bool = False
    about: bool = False

    @property
    def sure(self) -> bool:
        """Whether both weights were weighed."""
        return not (self.least or self.about)


def salt_share_of(of: Any) -> SaltShare | None:
    """The share of salt of a batch, or of what a forecast is asked for; None without salt.

    What was bought weighs at least what was trimmed of it.
    """
    if of.salt_g is None:
        return None
    trimmed, about = _weight(of, TRIMMED)
    if trimmed:
        return SaltShare(of.salt_g / trimmed, about=about)
    bought, about = _weight(of, AS_BOUGHT)
    return SaltShare(of.salt_g / bought if bought and not about else 0.0, least=True)


def _weight(of: Any, column: str) -> tuple[float | None, bool]:
    """A weight in g, and whether it was counted or guessed."""
    if isinstance(of, Batch):
        return getattr(of, column), bool(of.doubt_of(column))
    if of.stage == column:
        return of.grams, bool(of.grams_sd)
    return getattr(of, column), False


def against_share(recipe: Recipe, found: SaltShare | None) -> tuple[str, Mapping[str, str]] | None:
    """The circumstance of salt that is not the card's share, or cannot be held against it.

    With the words it is filled with; None where all is well, or the card states no share.
    """
    if recipe.salt_share is None or found is None:
        return None
    low, high = recipe.salt_share
    words = {"salt": f"{share_text(recipe)} {_BY}"}
    if found.share > high * (1.0 + _EXACT):
        return "salt too high", {**words, "yours": _percent(found, high)}
    if found.share < low * (1.0 - _EXACT) and not found.least:
        return "salt too low", {**words, "yours": _percent(found, low)}
    return None if found.sure else ("salt not checked", words)


def _percent(found: SaltShare, end: float) -> str:
    """A share outside the card's in per cent, with as many places as tell it from the end."""
    share, limit = 100.0 * found.share, 100.0 * end
    places = next((n for n in range(2, 9) if f"{share:.{n}f}" != f"{limit:.{n}f}"), 9)
    known = "at least " if found.least else "about " if found.about else ""
    return f"{known}{share:.{places}f} %"


def share_text(recipe: Recipe) -> str:
    """A card's share of salt: '2.25 to 2.5 %'; '' where it states none."""
    if recipe.salt_share is None:
        return ""
    return f"{span_text(*(100.0 * share for share in recipe.salt_share))} %"


def salt_due_g(recipe: Recipe, trimmed_g: float | None) -> tuple[float, float] | None:
    """Least and most salt in g for so much trimmed; None where the card or the weight has none."""
    if recipe.salt_share is None or not trimmed_g:
        return None
    low, high = recipe.salt_share
    return low * trimmed_g, high * trimmed_g


def salt_amounts(recipe: Recipe, trimmed_g: float | None, units: Units) -> tuple[str, str]:
    """The salt for so much trimmed, by weight and by the card's own measure.

    Both ends are rounded inwards, so that either is within the share. '' where that is not known,
    or where no mark of the measure lies within it.
    """
    due = salt_due_g(recipe, trimmed_g)
    if due is None:
        return "", ""
    low, high = Fraction(due[0] * (1.0 - _ROUNDED)), Fraction(due[1] * (1.0 + _ROUNDED))
    return _weighed(low, high, units), _measured(recipe, low, high, units)


def salt_told(recipe: Recipe, trimmed_g: float | None, units: Units) -> str:
    """The salt of a batch in a sentence, '' where the card states no share of it."""
    if recipe.salt_share is None:
        return ""
    share = f"{share_text(recipe)} {_BY}"
    if not trimmed_g:
        return f"Salt: {share}. Weigh what you trimmed, and weigh the salt out by that."
    weighed, measured = salt_amounts(recipe, trimmed_g, units)
    beside = f" ({measured})" if measured else ""
    return f"Salt: {weighed}{beside}, {share}." if weighed else f"Salt: {share}."


def without_salt(recipe: Recipe, parts: tuple[Any, ...]) -> tuple[Any, ...]:
    """Parts of a formula, without the salt that goes by its share: ingredients or portions."""
    if recipe.salt_share is None:
        return parts
    return tuple(part for part in parts if _of(part).kind is not Kind.SALT)


def to_buy(
    recipe: Recipe, portions: tuple[Portion, ...], grams: float | None, units: Units
) -> tuple[ShoppingLine, ...]:
    """What to buy of these portions; of salt that goes by a share of ``grams`` its most.

    ``grams`` are of the produce as the card weighs it, which is never less than what is trimmed.
    """
    bought = shopping_list(portions, units)
    if recipe.salt_share is None:
        return bought
    salts = {part.ingredient.name for part in portions if part.ingredient.kind is Kind.SALT}
    return tuple(_most(recipe, one, grams, units) if one.name in salts else one for one in bought)


def _most(recipe: Recipe, salt: ShoppingLine, grams: float | None, units: Units) -> ShoppingLine:
    due = salt_due_g(recipe, grams)
    if due is None:
        return ShoppingLine(salt.name, None, None, f"{salt.name}: {share_text(recipe)} {_BY}")
    most = round_weight(Fraction(due[1] * (1.0 - _ROUNDED)), units, Rounding.UP)
    text = weight_text(most, units).replace(" + ", " ")
    return ShoppingLine(salt.name, None, due[1], f"{salt.name}: at most {text}")


def _of(part: Any) -> Ingredient:
    return part if isinstance(part, Ingredient) else part.ingredient


def _weighed(low: Fraction, high: Fraction, units: Units) -> str:
    """A range of weights on the marks of a scale within it, of the kitchen's own or in grams."""
    for way in (units, Units.METRIC):
        ends = round_weight(low, way, Rounding.UP), round_weight(high, way, Rounding.DOWN)
        if 0 < ends[0] <= ends[1]:
            return _span(*(weight_text(end, way) for end in ends))
    return ""


def _measured(recipe: Recipe, low: Fraction, high: Fraction, units: Units) -> str:
    """The same by the spoon and cup that the card prints its salt in; '' where none is within."""
    salt = _printed_salt(recipe)
    if salt is None or salt.weighed or salt.ml is None or units is Units.METRIC:
        return ""
    density = grams_per_ml(salt.name, salt.kind)
    if density is None:
        return ""
    ends = (
        round_volume(low / density, units, Rounding.UP),
        round_volume(high / density, units, Rounding.DOWN),
    )
    if not 0 < ends[0] <= ends[1]:
        return ""
    return f"{_span(*(volume_text(end, units) for end in ends))} {salt.name}"


def _printed_salt(recipe: Recipe) -> Ingredient | None:
    formula = () if recipe.safety is None else recipe.safety.formula
    cure = () if recipe.cure is None else recipe.cure.ingredients
    salts = [part for part in (*formula, *cure) if part.kind is Kind.SALT]
    return salts[0] if len(salts) == 1 else None


def _span(low: str, high: str) -> str:
    """'8½ to 9 oz': a unit that both share, and no other, is said once."""
    low, high = (typeset(end.replace("lb + ", "lb ")) for end in (low, high))
    if low == high:
        return low
    (first, unit), other = low.rsplit(" ", 1), high.rsplit(" ", 1)[1]
    alone = " " not in first and high.count(" ") == 1
    return f"{first if alone and unit == other else low} to {high}"
