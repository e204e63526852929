"""Readings in the middle of packing that cannot be: each is refused, with what to do about it."""

import numpy as np

from jarcast.domain.contradictions import MOST_G_PER_ML
from jarcast.domain.packing import SoFar
from jarcast.domain.pots import is_less
from jarcast.domain.slips import guess
from jarcast.domain.stages import STAGE_OF, too_heavy
from jarcast.errors import ForecastError
from jarcast.forecast.request import Request
from jarcast.learning.arrays import Array
from jarcast.measures.told import volumes_told, weight_told, weights_told

# Both are common practice, no source. Whole sprigs of dill, the lightest of what is packed, lie
# some fifteen times looser in a cup than is expected of a crop nobody has published.
LOOSER = 25.0  # times less in the jars than is expected: no pack is so loose
_PART_JAR = 0.25  # a part-full jar is judged by eye: it may hold so much more, in jars
FEW = 0.02  # share of the draws that a reading must leave
_OR_LEAVE_OUT = "weigh again, or leave out the one you doubt"


def check_brine(so_far: SoFar, volume: float) -> None:
    """Refuse more brine in the jars than their ``volume`` in ml, and more left than was made.

    Before the first jar a pot may read a little more than was made of it, as a weight may.
    """
    if volume > 0.0 and so_far.brine_ml is not None and so_far.brine_ml > volume:
        brine, hold = volumes_told(so_far.brine_ml, volume)
        raise ForecastError(
            f"so far: {brine} of brine in {so_far.jars:g} jars is more than they hold ({hold}); "
            "measure again, or leave it out"
        )
    read = next((one for one in so_far.readings if one.pot_left_ml is not None), so_far)
    made, left = read.brine_made_ml, read.pot_left_ml
    if made is None or left is None:
        return
    if is_less(made, left) if volume > 0.0 else too_heavy(left, made):
        there, had = volumes_told(left, made)
        raise ForecastError(
            f"so far: {there} of brine left in the pot is more than was made ({had}); count every "
            "pot you made, or leave out the one you doubt"
        )


def packed_grams(request: Request, so_far: SoFar, *, weighed: bool) -> float | None:
    """Ready produce in the jars, where it was weighed on one side or the other.

    ``weighed`` tells whether the latest weight known is that of all the ready produce. Raises
    ForecastError for more of it than there was.
    """
    most = request.grams  # no link makes produce heavier than it was, but by the doubt of a scale
    for name, grams in (
        ("packed", so_far.produce_g),
        ("left", so_far.produce_left_g),
        ("packed and left together", so_far.ready_g),
    ):
        if grams is not None and not request.grams_sd and too_heavy(grams, most):
            more, there = weights_told(grams, most)
            known = f"{STAGE_OF[request.stage].label} ({there})"
            raise ForecastError(f"so far: {more} {name} is more than {known}; {_OR_LEAVE_OUT}")
    if so_far.produce_g is not None:
        return so_far.produce_g
    if so_far.produce_left_g is None or not weighed:
        return None
    packed = request.grams - so_far.produce_left_g
    if packed <= 0.0:
        raise ForecastError(
            f"so far: {so_far.jars:g} jars are packed and {weight_told(so_far.produce_left_g)} are "
            f"left, which is all there was: {_known(request)}; {_OR_LEAVE_OUT}"
        )
    return packed


def check_count(request: Request, so_far: SoFar, usual: float) -> None:
    """Refuse more jars than all the produce can fill, however loosely it is packed.

    ``usual`` is what would be expected in so many, in g.
    """
    if not too_heavy(usual, LOOSER * request.grams_between()[1]):
        return
    usual = so_far.jars * request.grams / usual
    raise ForecastError(
        f"so far: {_jars(so_far)} are more than {_known(request)} can fill, however loosely packed "
        f"(about {usual:.2g} would be usual); count again, or weigh again"
    )


def check_packed(
    packed: Array, known: float | None, request: Request, so_far: SoFar, room: tuple[float, float]
) -> None:
    """Refuse so much, or so little, produce in the jars that no pack explains it.

    ``packed`` (draws,) is what stands in them by the scale, in g, and ``known`` the same as it was
    read, None where it hangs on yields to come: then it may be little, as there may have been more
    than any draw foretold. ``room`` is the volume of the jars in ml, and what is expected in them
    in g. A part-full jar may hold more than the eye says.
    """
    volume, usual = room
    part = _PART_JAR if so_far.jars != round(so_far.jars) else 0.0
    most = MOST_G_PER_ML * volume * (1.0 + part / so_far.jars)
    if (packed <= most).mean() < FEW:
        hold = "it holds" if so_far.jars == 1 else "they hold"
        why = f"is more than {hold} ({volumes_told(volume)[0]})"
        asked = f": was some of it eaten, or is some in another bowl? If not, {_OR_LEAVE_OUT}"
    elif known is not None and LOOSER * known < usual:
        why = f"is next to nothing (about {weight_told(usual)} would be usual)"
        asked = f"; {_OR_LEAVE_OUT}"
    else:
        return
    if so_far.produce_g is None:
        grams = float(np.median(packed)) if known is None else known
        of = f"{weight_told(request.grams)} {STAGE_OF[request.stage].label}"
        what = f"{weight_told(grams)} ({of}, {weight_told(so_far.produce_left_g or 0.0)} left)"
        mend = asked
    else:
        what = f"{weight_told(so_far.produce_g)} of produce"
        slip = guess("produce", so_far.produce_g / usual) or "the wrong unit?"
        mend = f": {slip} Weigh again, or leave it out"
    raise ForecastError(f"so far: {what} in {_jars(so_far)} {why}{mend}")


def _known(request: Request) -> str:
    return f"{STAGE_OF[request.stage].label} ({weight_told(request.grams)})"


def _jars(so_far: SoFar) -> str:
    return f"{so_far.jars:g} jar{'' if so_far.jars == 1 else 's'}"
