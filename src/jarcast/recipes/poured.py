"""Whether a recipe's brine stays clean until it is poured into the jar.

One rule for all that follows from it: whether a second pot can be made for the same batch, and
whether what is left in the pot may be kept for the next one. Brine that produce was heated in, or
that was drawn off produce, has given acid away and taken water in.
"""

from jarcast.domain.names import cut_key, makes_its_own_brine, pack_key, produce_key
from jarcast.domain.stages import is_hot
from jarcast.recipes.card import Recipe, Style

_HEATED = "the produce of a hot pack is, or may be, heated in the brine"


def why_not_clean(recipe: Recipe | None, pack: str, produce: str = "", cut: str = "") -> str:
    """Why the brine of a batch has touched produce, or may have; '' where it is poured over it.

    ``recipe`` is None for a batch without a card, of which ``produce`` and ``cut`` tell. A pack
    that is not said may be a hot one.
    """
    if recipe is not None:
        if recipe.own_liquid:
            drawn = "salted" if recipe.style is Style.FERMENT else "cooked"
            return f"the liquid of a {recipe.style} is that of the produce it is {drawn} with"
        if recipe.stands_in_brine:
            return "the produce of this recipe stands in its brine before the jars"
        pack = pack_key(pack) or (recipe.packs[0] if len(recipe.packs) == 1 else "")
    elif makes_its_own_brine(produce_key(produce), cut_key(cut)):
        return "it makes its own liquid"
    if is_hot(pack):
        return _HEATED
    if pack_key(pack) != "raw":
        return f"it is not said whether it is packed raw (--pack raw), and {_HEATED}"
    return ""
