"""A forecast by a tested recipe: what the card decides, and what is only read from it.

The card has the last word on headspace and jars, and says what is put up unless that is given.
The brine ordered is its whole formula by one factor. Nothing here makes or changes a number of a
card, and no learned yield enters the floor.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from msgspec.structs import replace

from jarcast.domain.amount import check_amount
from jarcast.domain.fields import MOST_HEADSPACE_IN
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.names import cut_key, produce_key
from jarcast.domain.stages import AS_BOUGHT, STAGE_COLUMNS, TRIMMED
from jarcast.errors import BatchError, ForecastError, RecipeError, cut_short
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.request import Choices, Request
from jarcast.measures import Units, round_down_volume
from jarcast.recipes import (
    Recipe,
    Scaled,
    basis_column,
    check_jar,
    check_pack,
    scale_for_produce,
    scale_to_volume,
    why_low_acid,
)

# A headspace read off a ruler in millimetres is the card's inches within one of them.
SAME_HEADSPACE_IN = 1.0 / 25.4


def choices_by(recipe: Recipe, given: Choices) -> Choices:
    """What was given, completed from the card; the headspace is the card's.

    Raises ForecastError for another produce or another headspace than the card's, RecipeError for
    a pack that the card does not list, and a card with too little acid for its process.
    """
    if why := why_low_acid(recipe):
        raise RecipeError(f"{recipe.name}: {why}")
    produce = produce_key(given.produce)
    if produce and produce != recipe.produce:
        raise ForecastError(
            f"the recipe {recipe.name} is for {recipe.produce}, not for {produce}; leave the "
            f"produce out, or use a recipe tested for {produce}"
        )
    return Choices(
        produce=recipe.produce,
        cut=cut_key(given.cut) or recipe.cut,
        pack=check_pack(recipe, given.pack) or (recipe.packs[0] if len(recipe.packs) == 1 else ""),
        jar=given.jar or recipe.tested.jar,
        headspace_in=_headspace(recipe, given.headspace_in),
    )


def _headspace(recipe: Recipe, given: float | None) -> float | None:
    if given is not None:
        given = check_amount("headspace", given, MOST_HEADSPACE_IN)
    if recipe.safety is None:
        return given
    inches = recipe.safety.headspace_in
    if given is not None and not abs(given - inches) <= SAME_HEADSPACE_IN:
        raise ForecastError(
            f"a headspace of {given:g} in was given, and {inches:g} in is what the recipe "
            f"{recipe.name} was tested with; the headspace comes from the recipe, so leave it out"
        )
    return inches


def allowed_jars(recipe: Recipe, shelf: Mapping[str, Jar]) -> Callable[[str], object] | None:
    """A check for each sort of jar asked for; None where the card has no tested sizes."""
    return None if recipe.safety is None else partial(_allow_jar, recipe, shelf)


def _allow_jar(recipe: Recipe, shelf: Mapping[str, Jar], name: str) -> None:
    """Raises RecipeError, naming the listed jars, for any other, one's own included."""
    key = _known_key(name, shelf)
    if key and shelf[key] != SHELF.get(key):
        tested = ", ".join(recipe.safety.jars if recipe.safety else ())
        raise RecipeError(
            f"'{name}' is a jar you measured yourself: the card of {recipe.name} lists {tested}, "
            "and its process is for those jars only, whatever yours holds. Use a listed jar, or "
            "keep what goes in yours in the refrigerator and forecast it without the recipe"
        )
    try:
        check_jar(recipe, name)
    except RecipeError as error:
        if key:
            raise
        raise RecipeError(f"there is no jar '{cut_short(name)}'; {error}") from error


def _known_key(name: str, shelf: Mapping[str, Jar]) -> str:
    """Key of a jar on a shelf; '' where there is none such."""
    try:
        return jar_key(name, shelf)
    except BatchError:
        return ""


def basis_weight_g(recipe: Recipe, request: Request) -> float | None:
    """Weight in g at the stage the card was written for, where that stage was weighed."""
    grams: float | None = getattr(request, basis_column(recipe))
    return grams


def printed_yield(recipe: Recipe, request: Request) -> tuple[float, float] | None:
    """Jars (lowest, highest) of the card's own size for this produce by its printed yield.

    None where the stage it was written for was not weighed.
    """
    weight = basis_weight_g(recipe, request)
    if weight is None or recipe.tested.grams is None:
        return None
    low, high = (jars * weight / recipe.tested.grams for jars in recipe.tested.jars)
    return low, high


def printed_volume_ml(recipe: Recipe, request: Request) -> float | None:
    """Fill volume in ml of the fewest jars printed for this produce; None where not known."""
    printed = printed_yield(recipe, request)
    if printed is None:
        return None
    headspace = None if recipe.safety is None else recipe.safety.headspace_in
    return printed[0] * SHELF[recipe.tested.jar].fill_volume_ml(headspace)


def fewer_than_printed(
    recipe: Recipe, request: Request, jars_by_sort: Sequence[Outcome]
) -> bool | None:
    """Whether these jars are fewer than by the card's printed yield; None: not known."""
    printed = printed_volume_ml(recipe, request)
    if printed is None:
        return None
    sorts = zip(jars_by_sort, request.turns, strict=True)
    return sum(jars.median * turn.fill_ml for jars, turn in sorts) < printed


def least_times(recipe: Recipe, request: Request) -> float:
    """Times the printed batch at the least, of what makes its own liquid; 0 where not known.

    Of a stage after the card's: produce was no lighter before it.
    """
    if not recipe.own_liquid or recipe.tested.grams is None or request.grams_sd:
        return 0.0
    stages = STAGE_COLUMNS[STAGE_COLUMNS.index(basis_column(recipe)) :]
    known = {request.stage: request.grams, **_exact(request)}
    weights = (known[stage] for stage in stages if known.get(stage) is not None)
    return next(weights, 0.0) / recipe.tested.grams


def _exact(request: Request) -> dict[str, float]:
    weights = {AS_BOUGHT: request.as_bought_g, TRIMMED: request.trimmed_g}
    return {stage: grams for stage, grams in weights.items() if grams is not None}


def times_of(recipe: Recipe, ml: float) -> float:
    """Times the printed recipe that so much brine in ml is; 0 where a card prints none."""
    printed = 0.0 if recipe.safety is None or recipe.own_liquid else recipe.safety.volume_ml
    return ml / printed if printed else 0.0


def ordered_formula(
    recipe: Recipe, request: Request, order_ml: float, units: Units
) -> Scaled | None:
    """The whole formula for an order of brine, in ml, in measures of this kitchen; 0 for no order.

    Its ``made_ml`` stands on a step of the kitchen's cups, and is never less than the order.
    What makes its own liquid follows its produce instead, where the card's stage was weighed.
    None for a card without a source, and where there is nothing to scale by.
    """
    if recipe.safety is None or not recipe.safety.formula:
        return None
    if not recipe.own_liquid:
        if order_ml <= 0.0:
            return None
        scaled = scale_to_volume(recipe, order_ml, units)
        made_ml = max(order_ml, round_down_volume(scaled.made_ml, units))
        return replace(scaled, made_ml=made_ml)
    weight = basis_weight_g(recipe, request)
    if weight is None or recipe.tested.grams is None:
        return None
    return scale_for_produce(recipe, weight, recipe.tested.basis, units)
