"""Whether a card has acid enough for a process in boiling water.

Low-acid vegetables need a pressure canner and a tested process (USDA Complete Guide to Home
Canning, AIB 539, Guide 1: a pressure canner, at 10 to 15 psi). No acidity is worked out here: a
card is held against the least acid that a published pickle has, and one with less is refused.
"""

import re
from fractions import Fraction

from jarcast.measures import CUP_ML, POUND_G
from jarcast.recipes.card import Kind, ProcessRow, Recipe, SafetyNumbers, Style

# Least acid of the published pickles that go into boiling water, all of 5 % vinegar and bottled
# lemon juice, from AIB 539, Guide 6. By weight: marinated mushrooms, 2 1/2 cups to 7 lb; of
# tomatoes, which bring acid of their own, green-tomato relish, 4 cups to 15 lb. By the cup, and as
# a part of the liquid: three-bean salad, 3/4 cup to 5 1/2 cups and in 2 1/4 cups of liquid.
_LEAST_PER_G = Fraction(5, 2) * CUP_ML / (7 * POUND_G)
_TOMATO_PER_G = 4 * CUP_ML / (15 * POUND_G)
_LEAST_PER_ML = Fraction(3, 4) / Fraction(11, 2)
_LEAST_SHARE = Fraction(3, 4) / Fraction(9, 4)
FULL_STRENGTH = 5.0  # percent; AIB 539, Guide 6: vinegar of 5 %. Stronger counts for no more.
PRESSURE_PSI = 10.0  # AIB 539, Guide 1: what low-acid foods are canned at, and more
_EXACT = 1.0 - 1e-9  # what is exactly as published is not less
_SOURS = re.compile("vinegar|lemon|lime", re.IGNORECASE)
_NO_PRESSURE = ("boil", "water bath", "water-bath", "atmospheric", "oven")
# Least salt of a published ferment, by weight of the produce: sauerkraut, 3/4 cup of canning salt
# to 25 lb, AIB 539, Guide 6, some 1.9 %. Half of that is let pass, which is no advice: it only
# tells a slip, or a word that was meant to open this lock, from a recipe.
_LEAST_SALT = 0.01

NEEDS_PRESSURE = (
    "low-acid vegetables need a pressure canner and a tested process (USDA Complete Guide to Home "
    "Canning, AIB 539, Guide 1), so no boiling-water process is taken from this card"
)
MEND = "compare it with its source, or leave [[process]] out: the jars then go in the refrigerator"


def why_low_acid(recipe: Recipe) -> str:
    """Why a card's process cannot stand, as it is no ferment and has too little acid; '' if it can.

    A process at pressure stands as its source has it, and so does a card without a process.
    """
    safety = recipe.safety
    if safety is None or all(at_pressure(row) for row in safety.process):
        return ""
    if recipe.style is Style.FERMENT and _salted(recipe, safety):
        return ""
    why = _too_little(recipe, safety)
    return f"{why}: {NEEDS_PRESSURE}; {MEND}" if why else ""


def at_pressure(row: ProcessRow) -> bool:
    """Whether a process row is a pressure canner's: it says so, and at what pressure."""
    method = row.method.casefold()
    named = "pressure" in method and not any(word in method for word in _NO_PRESSURE)
    return row.pressure_psi is not None and row.pressure_psi >= PRESSURE_PSI and named


def acid_ml(safety: SafetyNumbers) -> float:
    """Vinegar and lemon juice of the formula in ml, as of 5 %; without a stated strength none."""
    strength = min((safety.least_acid_percent or 0.0) / FULL_STRENGTH, 1.0)
    return sum(
        (part.ml or 0.0) * (strength if part.kind is Kind.VINEGAR else 1.0)
        for part in safety.formula
        if part.kind.acid
    )


def _too_little(recipe: Recipe, safety: SafetyNumbers) -> str:
    """What is wrong with the acid of a card, in words; '' where there is enough."""
    kinds = {part.kind for part in safety.formula}
    if not any(kind.acid for kind in kinds):
        named = next((p.name for p in safety.formula if _SOURS.search(p.name)), "")
        hint = f" ('{named}' counts once its kind says so)" if named else ""
        return f"the formula has no vinegar and no bottled lemon juice{hint}"
    if Kind.VINEGAR in kinds and safety.least_acid_percent is None:
        return "how strong its vinegar must be is not said (vinegar_percent)"
    acid = acid_ml(safety)
    liquid = sum(part.ml or 0.0 for part in safety.formula if part.kind.liquid)
    if acid < float(_LEAST_SHARE) * liquid * _EXACT:
        return (
            "less than a third of the formula's liquid is vinegar (of 5 %) or bottled lemon juice, "
            "and no published pickle has so little"
        )
    if acid < _least_ml(recipe) * _EXACT:
        return (
            f"the formula has {acid:.0f} ml of vinegar (of 5 %) and bottled lemon juice to "
            f"{recipe.tested.printed} of produce, and no published pickle has under "
            f"{_least_ml(recipe):.0f} ml to so much"
        )
    return ""


def _least_ml(recipe: Recipe) -> float:
    """Least acid in ml for the produce the card is printed for."""
    tested = recipe.tested
    grams, ml = tested.grams or 0.0, tested.ml or 0.0
    if not grams and not ml:
        grams = sum(part.grams or 0.0 for part in tested.parts)
        ml = sum(part.ml or 0.0 for part in tested.parts)
    per_g = _TOMATO_PER_G if "tomato" in recipe.produce else _LEAST_PER_G
    return float(per_g) * grams + float(_LEAST_PER_ML) * ml


def _salted(recipe: Recipe, safety: SafetyNumbers) -> bool:
    """Whether a ferment has the salt that it sours in, as far as its card tells how much it is."""
    if safety.ferment_salt is not None:
        return safety.ferment_salt[0] >= _LEAST_SALT
    cure = recipe.cure.ingredients if recipe.cure is not None else ()
    salt = [part for part in (*safety.formula, *cure) if part.kind is Kind.SALT]
    produce = recipe.tested.grams
    if produce is None or any(part.grams is None for part in salt):
        return bool(salt)
    return sum(part.grams or 0.0 for part in salt) >= _LEAST_SALT * produce
