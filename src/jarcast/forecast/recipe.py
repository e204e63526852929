"""A forecast by a tested recipe: what the card decides, and what is only read from it.

The card has the last word on headspace and jars, and says what is put up unless that is given.
The brine ordered is its whole formula by one factor. Nothing here makes or changes a number of a
card, and no learned yield enters the floor.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.errors import BatchError, ForecastError, RecipeError
from jarcast.forecast.request import Choices
from jarcast.measures import Units
from jarcast.recipes import (
    Basis,
    PackCheck,
    Recipe,
    Scaled,
    check_jar,
    pack_check,
    scale_for_produce,
    scale_to_volume,
    why_low_acid,
)

if TYPE_CHECKING:
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits
    from jarcast.forecast.request import Request

# A headspace read off a ruler in millimetres is the card's inches within one of them.
SAME_HEADSPACE_IN = 1.0 / 25.4
EXACT = 1.0 - 1e-9  # what is exactly as printed is not more than printed


def choices_by(recipe: Recipe, given: Choices) -> Choices:
    """What was given, completed from the card; the headspace is the card's.

    Raises ForecastError for another produce or another headspace than the card's, RecipeError for
    a card with too little acid for its process.
    """
    if why := why_low_acid(recipe):
        raise RecipeError(f"{recipe.name}: {why}")
    produce = produce_key(given.produce)
    if produce and produce != recipe.produce:
        raise ForecastError(
            f"the recipe {recipe.name} is for {recipe.produce}, not for {produce}; leave the "
            f"produce out, or take a recipe tested for {produce}"
        )
    return Choices(
        produce=recipe.produce,
        cut=cut_key(given.cut) or recipe.cut,
        pack=pack_key(given.pack) or (recipe.packs[0] if len(recipe.packs) == 1 else ""),
        jar=given.jar or recipe.tested.jar,
        headspace_in=_headspace(recipe, given.headspace_in),
    )


def _headspace(recipe: Recipe, given: float | None) -> float | None:
    if recipe.safety is None:
        return given
    inches = recipe.safety.headspace_in
    if given is not None and not abs(given - inches) <= SAME_HEADSPACE_IN:
        raise ForecastError(
            f"a headspace of {given:g} in was given, and {inches:g} in is what the recipe "
            f"{recipe.name} was tested with; the headspace is the recipe's number, so leave it out"
        )
    return inches


def allowed_jars(recipe: Recipe, shelf: Mapping[str, Jar]) -> Callable[[str], object] | None:
    """A check for each sort of jar asked for; None where the card has no tested sizes."""
    return None if recipe.safety is None else partial(_allow_jar, recipe, shelf)


def _allow_jar(recipe: Recipe, shelf: Mapping[str, Jar], name: str) -> None:
    """Raises RecipeError, naming the tested jars, for any other: one's own measure is no size."""
    try:
        key = jar_key(name, shelf)
    except BatchError:
        key = ""
    if key and shelf[key] != SHELF.get(key):
        tested = ", ".join(recipe.safety.jars if recipe.safety else ())
        raise RecipeError(
            f"'{name}' is a jar you measured yourself: {recipe.name} was tested in {tested}, and "
            "its process holds for no other jar, whatever yours holds. Take a tested jar, or keep "
            "what goes in yours in the refrigerator and forecast it without the recipe"
        )
    check_jar(recipe, name)


def basis_weight_g(recipe: Recipe, request: Request) -> float | None:
    """Weight in g at the stage the card was written for, where that stage was weighed."""
    bought = recipe.tested.basis is Basis.AS_BOUGHT
    return request.as_bought_g if bought else request.trimmed_g


def printed_yield(forecast: Forecast) -> tuple[float, float] | None:
    """Jars (lowest, highest) of the card's own size for this produce by its printed yield.

    None without a card, or where the stage it was written for was not weighed.
    """
    recipe = forecast.recipe
    weight = None if recipe is None else basis_weight_g(recipe, forecast.request)
    if recipe is None or weight is None or recipe.tested.grams is None:
        return None
    low, high = (jars * weight / recipe.tested.grams for jars in recipe.tested.jars)
    return low, high


def fewer_than_printed(forecast: Forecast) -> bool | None:
    """Whether the produce fills fewer jars than by the card's printed yield, by fill volume.

    None where that yield is not known.
    """
    printed, recipe = printed_yield(forecast), forecast.recipe
    if printed is None or recipe is None:
        return None
    sorts = zip(forecast.jars_by_sort, forecast.request.turns, strict=True)
    volume = sum(jars.median * turn.fill_ml for jars, turn in sorts)
    headspace = None if recipe.safety is None else recipe.safety.headspace_in
    return volume < printed[0] * SHELF[recipe.tested.jar].fill_volume_ml(headspace)


def ordered_formula(forecast: Forecast, order_ml: float, units: Units) -> Scaled | None:
    """The whole formula for an order of brine, in ml, in measures of this kitchen.

    What makes its own liquid follows its produce instead, where the card's stage was weighed.
    None without a card, for one without a source, and where there is nothing to scale by.
    """
    recipe = forecast.recipe
    if recipe is None or recipe.safety is None or not recipe.safety.formula:
        return None
    if not recipe.own_liquid:
        ordered = forecast.has_brine and order_ml > 0.0  # 0: what was made is enough
        return scale_to_volume(recipe, order_ml, units) if ordered else None
    weight = basis_weight_g(recipe, forecast.request)
    if weight is None or recipe.tested.grams is None:
        return None
    return scale_for_produce(recipe, weight, recipe.tested.basis, units)


def check_packing(habits: Habits, forecast: Forecast, units: Units) -> PackCheck | None:
    """Grams in a jar, at the card's basis, beside those of the printed yield.

    The jars being filled come first: where they hold more than was tested, that is told. Otherwise
    the grams are those of one's own batches, drawn for the batch the recipe was printed for, in
    the first sort of jar asked for. None where neither is known, or the card gives no yardstick.
    """
    recipe, request = forecast.recipe, forecast.request
    if recipe is None or recipe.safety is None or recipe.tested.grams is None or recipe.own_liquid:
        return None
    packed = packed_g_per_jar(forecast)
    packed_before = habits.has_packed(request.produce, request.cut, request.pack)
    if packed is None and not packed_before:
        return None
    grams, jar = recipe.tested.grams, request.turns[0].jar.key
    own = _as_printed(habits, recipe, request)
    share = min(own.ready_g.median / grams, 1.0)
    if packed is not None:
        found = pack_check(recipe, [packed * EXACT], jar, ready_share=share, units=units)
        if found is not None and found.message:
            return found
    if not packed_before:
        return None
    per_jar = grams / own.jars.draws
    return pack_check(recipe, per_jar.tolist(), jar, ready_share=share, units=units)


def _as_printed(habits: Habits, recipe: Recipe, request: Request) -> Forecast:
    """A forecast of the batch the recipe was printed for, in the first sort of jar asked for."""
    bought, grams = recipe.tested.basis is Basis.AS_BOUGHT, recipe.tested.grams
    return habits.forecast(
        cut=request.cut,
        pack=request.pack,
        jar=request.turns[0].jar.key,
        as_bought_g=grams if bought else None,
        trimmed_g=None if bought else grams,
        cure_hours=request.cure_hours,
        recipe=recipe,
        draws=request.draws,
        seed=request.seed,
    )


def packed_g_per_jar(forecast: Forecast) -> float | None:
    """Grams at the card's basis in each jar packed so far, by what was weighed alone: at least so.

    Jars are counted as the first sort, by fill volume. Produce weighs no more ready than it did at
    an earlier stage, so ready grams are fewer than those of the basis; where the basis and a later
    stage were both weighed they are brought to it by the two. None where none was weighed.
    """
    recipe, request = forecast.recipe, forecast.request
    readings = () if request.so_far is None else request.so_far.readings
    weighed = (r for r in readings if r.produce_g is not None or r.produce_left_g is not None)
    noted = next(weighed, None)
    if recipe is None or noted is None or noted.jars <= 0:
        return None
    ready, packed = noted.ready_g, noted.produce_g
    if packed is None and _is_ready(forecast):
        packed = max(request.grams - (noted.produce_left_g or 0.0), 0.0)
    if packed is None:
        return None
    basis = basis_weight_g(recipe, request)
    latest = request.grams if ready is None and not request.grams_sd else ready
    times = 1.0 if not basis or not latest else max(basis / latest, 1.0)
    return packed * times / _first_sort_jars(request, noted.jars)


def _is_ready(forecast: Forecast) -> bool:
    """Whether the latest weight is that of the produce as it goes into the jars."""
    request = forecast.request
    if request.grams_sd or request.stage == "as_bought_g":
        return False
    if request.stage == "cooked_g":
        return True
    return request.pack == "raw" and (request.stage == "cured_g" or forecast.cured == 0.0)


def _first_sort_jars(request: Request, count: float) -> float:
    """So many jars, filled in the order of the sorts, as jars of the first sort."""
    volume, left = 0.0, count
    for turn in request.turns:
        here = min(left, turn.count)
        volume, left = volume + here * turn.fill_ml, left - here
    return volume / request.turns[0].fill_ml


def cut_if_unsaid(habits: Habits, recipe: Recipe | None, produce: str, cut: str) -> str:
    """The usual cut where neither the asker nor the recipe names one; '' where one is named."""
    if cut.strip() or (recipe is not None and recipe.cut):
        return ""
    return habits.usual_cut(produce or ("" if recipe is None else recipe.produce))


def usual_choices(habits: Habits, recipe: Recipe, cut: str) -> tuple[str, str]:
    """Pack and jar of this person's habit where the card allows them; '' leaves it to the card."""
    pack = habits.usual_pack(recipe.produce, cut or recipe.cut)
    if recipe.packs and pack not in recipe.packs:
        pack = ""
    jar = habits.usual_jar
    if recipe.safety is not None and jar.removesuffix("-wide") not in recipe.safety.jars:
        jar = ""
    return pack, jar
