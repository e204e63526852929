"""A card's printed yield, as one reading of its crop by another hand.

It enters what is believed of the crop before a forecast by that card, where no batch of one's own
of that produce tells better, and nothing else: neither the person nor the scatter of batches. What
else is believed is weighed against it by precision. A card that makes its own liquid boils down
by as much as it says; any other packs so closely, unless no jar could hold that.
"""

import math

from msgspec.structs import replace

from jarcast.domain.jars import SHELF
from jarcast.domain.stages import Link, is_hot, links_after
from jarcast.forecast.request import Request
from jarcast.learning.model.beliefs import Belief, CropBelief, People
from jarcast.learning.model.links import NEAREST_LIMIT, cure_strength, density_limit
from jarcast.recipes import Recipe, basis_column

# How far what cooks get lies from a printed yield, in logs, beside their hands: as printed yields
# and reports of models/sources/real-yields.csv lie from the forecasts.
PRINTED_SD = 0.2


def believed_by(recipe: Recipe, request: Request, crop: CropBelief, people: People) -> CropBelief:
    """What is believed of the crop once its card's printed yield has been read.

    The belief as it was where the card gives no weight, or prints more than its jars can hold.
    """
    tested = recipe.tested
    if tested.grams is None:
        return crop
    alone = crop if crop.unprinted is None else replace(crop, density=crop.unprinted)
    headspace = None if recipe.safety is None else recipe.safety.headspace_in
    fill_ml = tested.middle_jars * SHELF[tested.jar].fill_volume_ml(headspace)
    change, variance = _down_to_jars(recipe, request, alone)
    read = math.log(tested.grams / fill_ml) + change  # log density that its yield comes to
    reading = variance + PRINTED_SD**2 + people.pack.between_people**2 + people.pack.noise**2
    if recipe.own_liquid:
        spread = math.hypot(alone.density.spread, alone.cook_keep.spread)
        known = _weighed(Belief(alone.density.centre, spread), read, reading)
        boiled = alone.cook_keep.centre * alone.density.centre / known.centre
        return replace(alone, cook_keep=replace(alone.cook_keep, centre=boiled))
    if math.exp(read) > NEAREST_LIMIT * density_limit(alone):
        return crop
    return replace(alone, density=_weighed(alone.density, read, reading))


def _weighed(belief: Belief, read: float, variance: float) -> Belief:
    """A belief and a reading of its logarithm, each by its precision."""
    own, other = belief.spread**-2, 1.0 / variance
    middle = (own * math.log(belief.centre) + other * read) / (own + other)
    return Belief(math.exp(middle), (own + other) ** -0.5)


def _down_to_jars(recipe: Recipe, request: Request, crop: CropBelief) -> tuple[float, float]:
    """Log of the ready weight over the card's, and its variance, by what is believed."""
    ahead = links_after(basis_column(recipe))
    change = variance = 0.0
    if Link.TRIM in ahead:
        share = crop.trim_yield.centre
        change += math.log(share)
        variance += ((1.0 - share) * crop.trim_yield.spread) ** 2
    if Link.CURE in ahead and recipe.cure:
        strength = cure_strength(recipe.cure.usual_hours)
        change += strength * math.log(crop.cure_keep.centre)
        variance += (strength * crop.cure_keep.spread) ** 2
    if Link.COOK in ahead and is_hot(request.pack):
        change += math.log(crop.cook_keep.centre)
        variance += crop.cook_keep.spread**2
    return change, variance
