"""What goes straight into each jar: it goes by the jars that are filled, never by the brine."""

import math
from collections.abc import Sequence

from jarcast.measures import Units
from jarcast.recipes.card import Ingredient, Kind, Recipe
from jarcast.recipes.shopping import ShoppingLine, bought_volume


def each_jar(recipe: Recipe, size: str) -> tuple[Ingredient, ...]:
    """What the card puts into each jar of this size; nothing for a card without safety numbers."""
    found = recipe.safety.per_jar if recipe.safety is not None else ()
    return tuple(addition.part for addition in found if addition.jar == size)


def each_jar_text(recipe: Recipe, sizes: Sequence[str]) -> list[str]:
    """A line for each size of jar into which something goes: 'in each pint: 1/2 tsp salt'."""
    found = ((size, each_jar(recipe, size)) for size in dict.fromkeys(sizes))
    return [f"in each {size}: {', '.join(p.line for p in parts)}" for size, parts in found if parts]


def jar_shopping(
    recipe: Recipe, sorts: Sequence[tuple[float, str]], units: Units
) -> tuple[ShoppingLine, ...]:
    """Salt and acid for so many jars of each size, whole jars, volumes in ml rounded up.

    Seasonings are not bought by this list.
    """
    sums: dict[str, float] = {}
    for count, size in sorts:
        for part in each_jar(recipe, size):
            if part.kind is not Kind.OTHER and part.ml is not None:
                name = f"{part.name} for the jars"
                sums[name] = sums.get(name, 0.0) + part.ml * math.ceil(count - 1e-9)
    return tuple(
        ShoppingLine(name, ml, None, f"{name}: {bought_volume(ml, units)}")
        for name, ml in sums.items()
    )
