"""What to buy for a scaled recipe, by volume and by weight."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from jarcast.measures import Units, format_volume, format_weight
from jarcast.recipes.card import Kind
from jarcast.recipes.portions import Portion


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """One thing to buy, for brine and cure together: volume in ml and weight in g where known."""

    name: str
    ml: float | None
    grams: float | None
    text: str


def shopping_list(portions: Iterable[Portion], units: Units) -> tuple[ShoppingLine, ...]:
    """One line for each thing, what is used twice together; water is not bought."""
    gathered: dict[str, list[Portion]] = {}
    for portion in portions:
        if portion.ingredient.kind is not Kind.WATER:
            gathered.setdefault(portion.ingredient.name, []).append(portion)
    return tuple(_bought(name, parts, units) for name, parts in gathered.items())


def _bought(name: str, parts: list[Portion], units: Units) -> ShoppingLine:
    volumes = [part.ml for part in parts]
    weights = [part.grams for part in parts]
    ml = None if None in volumes else math.fsum(volume or 0.0 for volume in volumes)
    grams = None if None in weights else math.fsum(weight or 0.0 for weight in weights)
    shown = [format_volume(ml, units)] if ml is not None else []
    shown += [format_weight(grams, units)] if grams is not None else []
    if not shown:
        shown = [" + ".join(part.text for part in parts)]
    return ShoppingLine(name, ml, grams, f"{name}: {' or '.join(shown)}")
