"""Whether a card has acid enough for a process in boiling water.

Low-acid vegetables need a pressure canner and a tested process (USDA Complete Guide to Home
Canning, AIB 539, Guide 1: a pressure canner, at 10 to 15 psi). No acidity is worked out here: a
card is held against the least acid that a published pickle has, and one with less is refused.
"""

import re
from fractions import Fraction

from jarcast.domain.rules import is_meat
from jarcast.measures import CUP_ML, POUND_G
from jarcast.recipes.card import Ingredient, Kind, ProcessRow, Recipe, SafetyNumbers, Style

# Least acid of the published pickles that go into boiling water, all of 5 % vinegar and bottled
# lemon juice, from AIB 539, Guide 6. By weight: marinated mushrooms, 2 1/2 cups to 7 lb; of
# tomatoes, which bring acid of their own, green-tomato relish, 4 cups to 15 lb. By the cup, and as
# a part of the liquid: three-bean salad, 3/4 cup to 5 1/2 cups and in 2 1/4 cups of liquid.
_LEAST_PER_G = Fraction(5, 2) * CUP_ML / (7 * POUND_G)
_BESIDE_ML_PER_G = Fraction(3, 4) * CUP_ML / (7 * POUND_G)  # the mushrooms' onion and pimiento
_TOMATO_PER_G = 4 * CUP_ML / (15 * POUND_G)
_LEAST_PER_ML = Fraction(3, 4) / Fraction(11, 2)
_LEAST_SHARE = Fraction(3, 4) / Fraction(9, 4)
_TOMATOES = Fraction(10, 15)  # of the green-tomato relish by weight, or more: what its bound is for
# Most oil of a published pickle: marinated mushrooms, 2 cups to 2 1/2 cups of acid.
_MOST_OIL = Fraction(2, 1) / Fraction(5, 2)
FULL_STRENGTH = 5.0  # percent; AIB 539, Guide 6: vinegar of 5 %. Stronger counts for no more.
PRESSURE_PSI = 10.0  # AIB 539, Guide 1: what low-acid foods are canned at, and more
_EXACT = 1.0 - 1e-9  # what is exactly as published is not less
_SOURS = re.compile("vinegar|lemon|lime", re.IGNORECASE)
# What a measure of something is no liquid by, if its name says so.
_DRY = re.compile(
    r"\b(seeds?|peppers?|peppercorns?|pimientos?|jalapenos?|chil(i|e)s|garlic|gingers?|dill|herbs?"
    r"|leaf|leaves|sprigs?|heads?|cloves|allspice|cinnamon|sticks?|turmeric|mustard|celery|onions?"
    r"|horseradish|flour|starch|clear ?jel|powder|spices?|raisins|zest|peel|splenda|sweetener"
    r"|calcium chloride|alum|lime|chopped|diced|sliced|minced|ground|grated|shredded|dried)\b",
    re.IGNORECASE,
)
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
    if meat := next(filter(is_meat, _named(recipe)), None):
        return (
            f"'{meat}' is not pickled like vegetables, and no published recipe that was read takes "
            f"it in boiling water; {MEND}"
        )
    reasons = [_too_little(recipe, safety)]
    if recipe.style is Style.FERMENT:  # it needs one or the other: salt that it sours in, or acid
        reasons.insert(0, _too_little_salt(recipe, safety))
    return f"{', and '.join(reasons)}: {NEEDS_PRESSURE}; {MEND}" if all(reasons) else ""


def at_pressure(row: ProcessRow) -> bool:
    """Whether a process row is a pressure canner's: it says so, and at what pressure."""
    method = row.method.casefold()
    named = "pressure" in method and not any(word in method for word in _NO_PRESSURE)
    return row.pressure_psi is not None and row.pressure_psi >= PRESSURE_PSI and named


def acid_ml(safety: SafetyNumbers) -> float:
    """Vinegar and bottled lemon juice of the formula in ml, as of 5 %.

    None without a stated strength, and of lemons none but what is bottled: fresh ones differ (from
    memory; AIB 539 has bottled lemon juice throughout).
    """
    strength = min((safety.least_acid_percent or 0.0) / FULL_STRENGTH, 1.0)
    return sum(
        (part.ml or 0.0) * (strength if part.kind is Kind.VINEGAR else 1.0)
        for part in safety.formula
        if _sour(part)
    )


def _sour(part: Ingredient) -> bool:
    """Whether a part of the formula brings acid that counts."""
    return part.kind is Kind.VINEGAR or (
        part.kind is Kind.LEMON_JUICE and "bottled" in part.name.casefold()
    )


def _liquid_ml(recipe: Recipe, safety: SafetyNumbers) -> float:
    """Liquid of the formula in ml: what is measured by volume and is nothing dry by its name."""
    parts = (*safety.formula, *recipe.seasonings)
    liquid = sum(p.ml or 0.0 for p in parts if p.kind.liquid or _may_be_liquid(p))
    jars = recipe.tested.middle_jars
    by_jar = (p.part.ml or 0.0 for p in safety.per_jar if _may_be_liquid(p.part))
    return liquid + jars * max(by_jar, default=0.0)


def _may_be_liquid(part: Ingredient) -> bool:
    return part.kind is Kind.OTHER and not _DRY.search(part.name)


def _oily(part: Ingredient) -> bool:
    return part.kind is Kind.OIL or bool(re.search(r"\boil\b", part.name, re.IGNORECASE))


def _named(recipe: Recipe) -> list[str]:
    """What a card puts into jars, by its names: the produce, its parts, and what goes with them."""
    safety = recipe.safety
    parts = [*recipe.tested.parts, *recipe.seasonings]
    if safety is not None:
        parts += [*safety.formula, *(one.part for one in safety.per_jar)]
    return [recipe.produce, *(part.name for part in parts)]


def _too_little(recipe: Recipe, safety: SafetyNumbers) -> str:
    """What is wrong with the acid of a card, in words; '' where there is enough."""
    if not any(map(_sour, safety.formula)):
        return f"the formula has no vinegar and no bottled lemon juice{_nearly_sour(safety)}"
    kinds = {part.kind for part in safety.formula}
    if Kind.VINEGAR in kinds and safety.least_acid_percent is None:
        return "how strong its vinegar must be is not said (vinegar_percent)"
    acid, liquid = acid_ml(safety), _liquid_ml(recipe, safety)
    if acid < float(_LEAST_SHARE) * liquid * _EXACT:
        return (
            "less than a third of the formula's liquid is vinegar (of 5 %) or bottled lemon juice, "
            "and no published pickle has so little"
        )
    oil = sum(part.ml or 0.0 for part in safety.formula if _oily(part))
    if oil > float(_MOST_OIL) * acid / _EXACT:
        return (
            f"the formula has {oil:.0f} ml of oil to {acid:.0f} ml of vinegar (of 5 %) and bottled "
            "lemon juice, and no published pickle has more than 4 parts to 5"
        )
    if acid < _least_ml(recipe) * _EXACT:
        return (
            f"the formula has {acid:.0f} ml of vinegar (of 5 %) and bottled lemon juice to "
            f"{recipe.tested.printed} of produce, and no published pickle has under "
            f"{_least_ml(recipe):.0f} ml to so much"
        )
    return ""


def _nearly_sour(safety: SafetyNumbers) -> str:
    """What of a formula would count as acid if its card said more of it, in brackets; else ''."""
    for part in safety.formula:
        if part.kind is Kind.LEMON_JUICE:
            return f" ('{part.name}' counts once it says that it is bottled)"
        if _SOURS.search(part.name):
            return f" ('{part.name}' counts once its kind says so)"
    return ""


def _least_ml(recipe: Recipe) -> float:
    """Least acid in ml for the produce the card is printed for, by its amount or by its parts."""
    tested = recipe.tested
    grams = sum(part.grams or 0.0 for part in tested.parts)
    ml = sum(part.ml or 0.0 for part in tested.parts)
    per_g = _TOMATO_PER_G if _of_tomatoes(recipe) else _LEAST_PER_G

    def due(grams: float, ml: float) -> float:
        more = max(ml - float(_BESIDE_ML_PER_G) * grams, 0.0)
        return float(per_g) * grams + float(_LEAST_PER_ML) * more

    return max(due(tested.grams or 0.0, tested.ml or 0.0), due(grams, ml))


def _of_tomatoes(recipe: Recipe) -> bool:
    """Whether a card puts up tomatoes, by and large, which bring acid of their own."""
    weighed = [part for part in recipe.tested.parts if part.grams]
    if not weighed:
        return "tomato" in recipe.produce and "+" not in recipe.produce
    tomatoes = sum(part.grams or 0.0 for part in weighed if "tomato" in part.name.casefold())
    return tomatoes >= float(_TOMATOES) * sum(part.grams or 0.0 for part in weighed) * _EXACT


def _too_little_salt(recipe: Recipe, safety: SafetyNumbers) -> str:
    """What is wrong with the salt that a ferment sours in; '' where there is enough.

    By what its card measures out, and by the share it states: one of them has to tell.
    """
    cure = recipe.cure.ingredients if recipe.cure is not None else ()
    salt = [part for part in (*safety.formula, *cure) if part.kind is Kind.SALT]
    known = [] if safety.ferment_salt is None else [safety.ferment_salt[0]]
    produce = recipe.tested.grams
    if produce and salt and all(part.grams for part in salt):
        known.append(sum(part.grams or 0.0 for part in salt) / produce)
    if not known:
        return (
            "how much salt the ferment has for its produce is not said (ferment_salt_percent in "
            "[safety], as its source has it)"
        )
    if min(known) < _LEAST_SALT:
        return (
            f"the ferment has {100 * min(known):.2g} % of salt by weight of its produce, and no "
            "published ferment has half as little (AIB 539, Guide 6: 3/4 cup to 25 lb, some 1.9 %)"
        )
    return ""
