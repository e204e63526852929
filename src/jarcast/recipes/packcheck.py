"""Whether one's own jars hold more produce than the tested recipe's.

It speaks only one way: a jar packed closer than was tested has less acid for each gram and heats
more slowly. A looser jar needs no words.
"""

import math
import statistics
from collections.abc import Iterable

from msgspec import Struct

from jarcast.domain.jars import SHELF
from jarcast.errors import RecipeError
from jarcast.measures import Units, format_weight
from jarcast.recipes.card import Recipe
from jarcast.recipes.listed import check_jar

# Produce cannot lie in a jar more densely than its tissue: at least 0.95 g/ml (whole cucumbers,
# food-engineering handbooks, from memory). A printed yield that would need more is no yardstick.
MOST_DENSITY = 0.95
EVEN_ODDS = 0.5


class PackCheck(Struct, frozen=True):
    """One's own grams of produce in a jar, at the card's basis, beside the recipe's.

    ``chance`` is the chance that one's own are more, ``own_g`` their median, ``printed_g`` the
    printed weight over the printed jars, lowest and highest. ``message`` is the caution, '' unless
    the chance is better than even.
    """

    chance: float
    own_g: float
    printed_g: tuple[float, float]
    message: str


def pack_check(
    recipe: Recipe,
    own_g_per_jar: Iterable[float],
    jar: str,
    *,
    ready_share: float = 1.0,
    units: Units = Units.US,
) -> PackCheck | None:
    """Compare draws of one's own grams per jar, at the card's basis, with the printed yield.

    Where the yield is printed as a range, any value in it is as likely as another. The printed
    weight per jar is brought to ``jar`` by fill volume. ``ready_share`` is the part of the basis
    weight that goes into the jar, used only to tell whether the printed yield is possible.

    None where there is no yardstick: no draws, no source, no printed weight, a recipe that makes
    its own liquid; and a printed yield that cannot fit, unless one's own grams are over all of it,
    which is too much in any case. Raises RecipeError for a jar the recipe was not tested in, and
    for draws that are not finite weights.
    """
    own = [float(grams) for grams in own_g_per_jar]
    if not all(math.isfinite(grams) and grams >= 0 for grams in own):
        raise RecipeError("grams in a jar must be finite and 0 or more; leave out what is unknown")
    printed = _printed_range(recipe, jar)
    if printed is None or not own:
        return None
    low, high = printed
    middle = statistics.median(own)
    if middle <= high and not _fits(recipe, ready_share):
        return None
    chance = statistics.fmean(_share_below(grams, low, high) for grams in own)
    message = ""
    if chance > EVEN_ODDS:
        weights = dict.fromkeys(format_weight(grams, units) for grams in printed)
        # The closest jars that were tested are as printed: only beyond them is less acid a fact.
        near = "near the most that it was tested with"
        told = "less acid for each gram and slower heat than was tested" if middle > high else near
        message = (
            f"You put about {format_weight(middle, units)} of produce ({recipe.tested.basis}) in a "
            f"jar where the tested recipe has {' to '.join(weights)}: {told}. Pack looser."
        )
    return PackCheck(chance, middle, printed, message)


def printed_g_per_jar(
    recipe: Recipe, jar: str, *, ready_share: float = 1.0
) -> tuple[float, float] | None:
    """Grams of produce in each jar by the printed yield, lowest and highest; None if no yardstick.

    Raises RecipeError for a jar the recipe was not tested in.
    """
    printed = _printed_range(recipe, jar)
    return printed if printed is not None and _fits(recipe, ready_share) else None


def _printed_range(recipe: Recipe, jar: str) -> tuple[float, float] | None:
    """The same, whether a jar can hold so much or not."""
    tested, safety = recipe.tested, recipe.safety
    if safety is None or recipe.own_liquid or tested.grams is None:
        return None
    fill = SHELF[check_jar(recipe, jar)].fill_volume_ml(safety.headspace_in)
    times = fill / SHELF[tested.jar].fill_volume_ml(safety.headspace_in)
    low, high = tested.jars
    return tested.grams / high * times, tested.grams / low * times


def _fits(recipe: Recipe, ready_share: float) -> bool:
    """Whether a jar can hold what the printed yield puts into it."""
    tested = recipe.tested
    headspace = None if recipe.safety is None else recipe.safety.headspace_in
    fill = SHELF[tested.jar].fill_volume_ml(headspace)
    return (tested.grams or 0.0) / tested.middle_jars * ready_share <= MOST_DENSITY * fill


def why_no_yardstick(
    recipe: Recipe, *, weighed: bool = True, ready_share: float | None = None
) -> str:
    """Why no packing can be held against a card, in words; '' where it can, or needs not be.

    ``weighed``: the produce was, at the card's stage or a later one. ``ready_share`` is the part of
    the card's weight that went into the jars; None where these are not both known. What makes
    its own liquid is cooked or salted with it, and no jar of it is packed against a brine.
    """
    tested = recipe.tested
    if recipe.safety is None or recipe.own_liquid:
        return ""
    if tested.grams is None:
        return "the card measures its produce by the cup"
    if not weighed:
        return f"what went into the jars was not weighed ({tested.basis} or later)"
    if _fits(recipe, 1.0 if ready_share is None else ready_share):
        return ""
    if ready_share is None:
        return f"its weights {tested.basis} and as it went into the jars are not both known"
    return "the card's printed yield would put more produce into a jar than fits"


def no_check_text(why: str) -> str:
    """The words for a pack check that is not possible."""
    return (
        f"Pack check: not possible, as {why}. Pack no closer than your tested recipe says."
        if why
        else ""
    )


def _share_below(grams: float, low: float, high: float) -> float:
    """Share of the printed range that lies below these grams."""
    if high <= low:
        return float(grams > low)
    return min(max((grams - low) / (high - low), 0.0), 1.0)
