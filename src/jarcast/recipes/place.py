"""Where jars are put up: what of a kitchen a card's process and its cautions go by."""

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from jarcast.recipes.card import Recipe
from jarcast.recipes.cautions import Situation


class Place(Struct, frozen=True):
    """The altitude in feet, None where it is not known, and whether the canner is a steam canner.

    They go together to whatever shows a process, so that none is shown without the other: a time
    that is right in boiling water may be too long for an atmospheric steam canner.
    """

    altitude_ft: float | None
    steam: bool


UNSAID = Place(None, steam=False)  # a kitchen that has not said


def situation_at(place: Place, recipe: Recipe, sizes: Sequence[str], **known: Any) -> Situation:
    """What is known where a card's jars of these sizes are put up; ``known`` is the rest of it."""
    one = len(sizes) == 1
    return Situation(
        recipe=recipe,
        jar=sizes[0] if one else "",
        sizes=() if one else tuple(sizes),
        altitude_ft=place.altitude_ft,
        steam=place.steam,
        **known,
    )
