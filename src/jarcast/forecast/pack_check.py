"""Whether the jars hold more produce than those the recipe was tested with."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar, size_of
from jarcast.domain.names import cut_key, produce_key
from jarcast.domain.stages import AS_BOUGHT, COOKED, CURED, STAGE_COLUMNS, weighed
from jarcast.forecast.answer import Forecast
from jarcast.forecast.recipe import basis_weight_g
from jarcast.forecast.request import Request
from jarcast.measures import Units
from jarcast.recipes import PackCheck, Recipe, basis_column, pack_check, why_no_yardstick

Ask = Callable[..., Forecast]

EXACT = 1.0 - 1e-9  # what is exactly as printed is not more than printed


def check_packing(
    forecast: Forecast,
    ask: Ask,
    units: Units,
    *,
    packed_before: bool,
    batches: Sequence[Batch] = (),
    shelf: Mapping[str, Jar] = SHELF,
) -> PackCheck | None:
    """Grams in a jar, at the card's basis, beside those of the printed yield.

    ``ask`` forecasts by the keywords of ``Habits.forecast``; ``packed_before`` tells whether a
    batch of one's own told how closely this crop is packed, and ``batches`` are these, where known.

    The jars being filled come first: where they hold more than was tested, that is told. Otherwise
    the grams are those of one's own batches, drawn for the batch the recipe was printed for, in
    the first sort of jar asked for, and of these jars where there are none. None where neither is
    known, or the card gives no yardstick.
    """
    recipe, request = forecast.recipe, forecast.request
    if recipe is None or recipe.safety is None or recipe.tested.grams is None or recipe.own_liquid:
        return None
    packed = packed_g_per_jar(forecast)
    if packed is None and not packed_before:
        return None
    grams, jar = recipe.tested.grams, request.turns[0].jar.key
    own = _as_printed(ask, recipe, request)
    share = min(own.ready_g.median / grams, 1.0)
    found = None
    if packed is not None:
        found = pack_check(recipe, [packed * EXACT], jar, ready_share=share, units=units)
        if found is not None and found.message:
            return found
    if not packed_before:
        return found
    # A jar topped up with brine holds little and must not hide how closely the others are packed.
    jars = own.jars.draws
    if own.chain is not None:
        jars = np.minimum(jars, own.chain.full_jars)
    per_jar = grams / jars
    found = pack_check(recipe, per_jar.tolist(), jar, ready_share=share, units=units)
    if found is None or not found.message:
        return found
    # What is believed of others is no packing of one's own: some batch must have been so close.
    seen = _seen(recipe, request, batches, shelf)
    checks = [pack_check(recipe, [g], jar, ready_share=share, units=units) for g in seen]
    if not checks or any(one is None or one.message for one in checks):
        return found
    return pack_check(recipe, seen, jar, ready_share=share, units=units)


def _seen(
    recipe: Recipe, request: Request, batches: Sequence[Batch], shelf: Mapping[str, Jar]
) -> list[float]:
    """Grams of the card's basis in each jar of one's own batches of this crop, all weighed so.

    Brought to the first sort of jar asked for; [] where there are none, or one of them does not
    tell what its jars held for sure.
    """
    crop = (request.produce, request.cut)
    like = [b for b in batches if (produce_key(b.produce), cut_key(b.cut)) == crop]
    basis, inches = basis_column(recipe), request.headspace_in
    found = []
    for batch in like:
        grams, ready = getattr(batch, basis), weighed(batch)
        if grams is None or batch.doubt_of(basis) or not batch.fill_volume_ml(shelf):
            return []
        last = getattr(batch, ready[-1].column)
        jarred = max(1.0 - (batch.not_jarred_g or 0.0) / last, 0.0)
        counts = zip(batch.jars, batch.jar, strict=True)
        volume = sum(count * shelf[key].fill_volume_ml(inches) for count, key in counts)
        found.append(grams * jarred / volume * request.turns[0].fill_ml * EXACT)
    return found


def _as_printed(ask: Ask, recipe: Recipe, request: Request) -> Forecast:
    """A forecast of the batch the recipe was printed for, in the first sort of jar asked for."""
    weight: dict[str, Any] = {basis_column(recipe): recipe.tested.grams}
    return ask(
        cut=request.cut,
        pack=request.pack,
        jar=request.turns[0].jar.key,
        **weight,
        cure_hours=request.cure_hours,
        recipe=recipe,
        person=request.person,
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


def packing_of(
    recipe: Recipe, batch: Batch, shelf: Mapping[str, Jar], units: Units
) -> tuple[PackCheck | None, str]:
    """How closely a finished batch was packed beside its card, by its own weights alone.

    Gives the check, or None and why there is none, in words ('' where none is needed). A weight of
    a later stage than the card's is less than that would be, and what was not jarred is taken off,
    so that the grams are at least so many in each jar.
    """
    basis = basis_column(recipe)
    stages = STAGE_COLUMNS[STAGE_COLUMNS.index(basis) :]
    weights = [grams for s in stages if (grams := getattr(batch, s)) is not None]
    size = size_of(batch.jar[0]) if batch.jar else ""
    if recipe.safety is None or (weights and size not in recipe.safety.jars):
        return None, ""
    if not weights or recipe.tested.grams is None:
        return None, why_no_yardstick(recipe, weighed=bool(weights))
    ready = weights[-1]
    jarred = max(1.0 - (batch.not_jarred_g or 0.0) / ready, 0.0) if ready else 0.0
    inches = recipe.safety.headspace_in
    volume = sum(
        count * shelf[key].fill_volume_ml(inches)
        for count, key in zip(batch.jars, batch.jar, strict=True)
    )
    jars = volume / shelf[batch.jar[0]].fill_volume_ml(inches)
    grams = weights[0] * jarred / jars * EXACT if jars else 0.0
    share = min(ready / weights[0], 1.0) if weights[0] else 1.0
    check = pack_check(recipe, [grams], size, ready_share=share, units=units)
    if check is not None:
        return check, ""
    both = getattr(batch, basis) is not None and (len(weights) > 1 or basis != AS_BOUGHT)
    return None, why_no_yardstick(recipe, ready_share=share if both else None)


def _is_ready(forecast: Forecast) -> bool:
    """Whether the latest weight is that of the produce as it goes into the jars."""
    request = forecast.request
    if request.grams_sd or request.stage == AS_BOUGHT:
        return False
    if request.stage == COOKED:
        return True
    return request.pack == "raw" and (request.stage == CURED or forecast.cured == 0.0)


def _first_sort_jars(request: Request, count: float) -> float:
    """So many jars, filled in the order of the sorts, as jars of the first sort."""
    volume, left = 0.0, count
    for turn in request.turns:
        here = min(left, turn.count)
        volume, left = volume + here * turn.fill_ml, left - here
    return volume / request.turns[0].fill_ml
