"""What a person usually does, where neither the asker nor the recipe says."""

from jarcast.domain.jars import size_of
from jarcast.forecast.habits import Habits
from jarcast.recipes import Recipe, packs_of


def cut_if_unsaid(habits: Habits, recipe: Recipe | None, produce: str, cut: str) -> str:
    """The usual cut where neither the asker nor the recipe names one; '' where one is named."""
    if cut.strip() or (recipe is not None and recipe.cut):
        return ""
    return habits.usual_cut(produce or ("" if recipe is None else recipe.produce))


def usual_choices(habits: Habits, recipe: Recipe | None, produce: str, cut: str) -> tuple[str, str]:
    """Pack and jar of this person's habit where the card allows them; '' leaves it to the card."""
    jar = habits.usual_jar
    if recipe is None:
        return habits.usual_pack(produce, cut), jar
    pack = habits.usual_pack(recipe.produce, cut or recipe.cut)
    if recipe.safety is not None and pack not in packs_of(recipe):
        pack = ""
    if recipe.safety is not None and size_of(jar) not in recipe.safety.jars:
        jar = ""
    return pack, jar
