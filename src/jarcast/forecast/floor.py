"""The floor of a forecast: the least brine by its recipe's own proportion to the produce.

Only what was weighed and measured enters it, and no learned yield.
"""

from __future__ import annotations

from jarcast.domain.packing import SoFar
from jarcast.domain.stages import AS_BOUGHT, STAGE_OF, TRIMMED
from jarcast.forecast.outcome import MOST_SHORT, Outcome
from jarcast.forecast.request import Request
from jarcast.recipes import (
    FLOOR_NAMES,
    Recipe,
    basis_column,
    brine_floor_ml,
    card_stage,
    floor_stage,
    why_no_floor,
)


def weights(request: Request, start_g: Outcome) -> dict[str, float | None]:
    """Weights in g by the stages a floor may go by; of one told as a range its upper end."""
    weights = {FLOOR_NAMES[stage]: getattr(request, stage) for stage in (AS_BOUGHT, TRIMMED)}
    told = start_g.quantile(0.9) if request.grams_sd else request.grams
    return {**weights, FLOOR_NAMES[request.stage]: told}


def floor_of(recipe: Recipe, request: Request, start_g: Outcome) -> tuple[float | None, str, str]:
    """The least brine in ml, None where it is not known; why not; the later stage it goes by.

    Both in words, '' where it is known, and where it goes by the card's own stage.
    """
    known = weights(request, start_g)
    if why := why_no_floor(recipe, **known):
        return None, why, ""
    stage = floor_stage(recipe, **known)
    later = "" if stage == card_stage(recipe) else stage.removesuffix("_g")
    return brine_floor_ml(recipe, **known), "", later


def left_to_make_ml(floor_ml: float, so_far: SoFar) -> float:
    """What a floor still asks for, in ml, in the middle of packing."""
    if so_far.produce_left_g == 0:  # nothing is left to pour it over
        return 0.0
    made = so_far.brine_made_ml
    if made is None:  # only what was measured counts: no forecast enters the floor
        made = (so_far.brine_ml or 0.0) + (so_far.pot_left_ml or 0.0)
    return max(floor_ml - made, 0.0)


def too_likely(short_chance: float, recipe: Recipe | None, why_none: str) -> str:
    """Why no order is made for so large a chance of running short where no floor is known."""
    way = way_to_one(recipe, f"ask for {MOST_SHORT:g} or less")
    return (
        f"a chance of {short_chance:g} of running short of brine cannot be used: above "
        f"{MOST_SHORT:g} the recipe's own least amount must be known, and it is not: "
        f"{why_none.partition(': ')[2]}. {way}"
    )


def way_to_one(recipe: Recipe | None, otherwise: str) -> str:
    """How a floor would be known, in words, or what to do ``otherwise``."""
    if recipe is None:
        return f"Name the tested recipe's card and weigh what it weighs, or {otherwise}"
    if recipe.safety is None:
        return f"Add its [source] to the card, or {otherwise}"
    if recipe.tested.grams is None:
        return otherwise.capitalize()
    return f"Give the weight {STAGE_OF[basis_column(recipe)].label}, or {otherwise}"
