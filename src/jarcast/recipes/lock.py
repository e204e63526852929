"""What the lock answers: which jar, which process row, how little brine.

Everything comes from the card as it stands. A band that the card lacks has no answer here:
nothing is interpolated, and no learned yield enters.
"""

from jarcast.domain.stages import AS_BOUGHT, STAGE_COLUMNS, TRIMMED
from jarcast.errors import RecipeError
from jarcast.recipes.acid import why_low_acid
from jarcast.recipes.card import Basis, ProcessRow, Recipe
from jarcast.recipes.listed import check_jar, check_pack, needs_safety

# A stage's column -> what a card's floor calls it: recipes say prepared where we say trimmed.
FLOOR_NAMES = {column: column for column in STAGE_COLUMNS} | {TRIMMED: "prepared_g"}
FLOOR_STAGES = tuple(FLOOR_NAMES.values())  # whose weights a floor can go by, in their order


def process_rows_for(
    recipe: Recipe, jar: str, *, pack: str = "", altitude_ft: float | None = None
) -> tuple[ProcessRow, ...]:
    """The card's process rows for a jar, and for pack and altitude where given.

    A row without a pack is the source's one time for the pack its directions describe, and stands
    for it. Raises RecipeError for a jar or a pack that the card does not list, a card without
    safety numbers, and one with too little acid for its process.
    """
    size = check_jar(recipe, jar)
    if why := why_low_acid(recipe):
        raise RecipeError(f"{recipe.name}: {why}")
    wanted = check_pack(recipe, pack)
    return tuple(
        row
        for row in needs_safety(recipe).process
        if row.jar == size
        and (not wanted or row.pack in ("", wanted))
        and (altitude_ft is None or row.holds(altitude_ft))
    )


def brine_floor_ml(recipe: Recipe, **weights: float | None) -> float | None:
    """Least brine in ml for this produce: the card's own proportion of brine to produce.

    ``weights`` are in grams, by stage: ``as_bought_g``, ``prepared_g`` (the trimmed weight),
    ``cured_g``, ``cooked_g``. Of a later stage than the card's it is a lower bound, in which there
    is no learned yield: what was bought weighs at least what was trimmed. Only a soak can make
    produce heavier; the bound is then more than the recipe's own, which errs on the safe side.
    None means: floor not known, and ``why_no_floor`` says why.
    """
    if why_no_floor(recipe, **weights):
        return None
    weight = weights[floor_stage(recipe, **weights)]
    return needs_safety(recipe).volume_ml * (weight or 0.0) / (recipe.tested.grams or 1.0)


def floor_stage(recipe: Recipe, **weights: float | None) -> str:
    """The stage that a floor goes by: the card's own, or the next one weighed; '' for none."""
    unknown = weights.keys() - set(FLOOR_STAGES)
    if unknown:
        raise TypeError(f"'{min(unknown)}' is not a stage; choose from {', '.join(FLOOR_STAGES)}")
    stages = FLOOR_STAGES[FLOOR_STAGES.index(card_stage(recipe)) :]
    return next((stage for stage in stages if weights.get(stage) is not None), "")


def card_stage(recipe: Recipe) -> str:
    """The stage at which a card has its produce, as ``brine_floor_ml`` names it."""
    return FLOOR_NAMES[basis_column(recipe)]


def basis_column(recipe: Recipe) -> str:
    """The column of a batch that has its produce at the stage at which the card has it."""
    return AS_BOUGHT if recipe.tested.basis is Basis.AS_BOUGHT else TRIMMED


def why_no_floor(recipe: Recipe, **weights: float | None) -> str:
    """Why no floor is known by these ``weights``, in words; '' where it is, if only at least."""
    if recipe.safety is None:
        return "floor not known: the card does not say where it comes from"
    if recipe.own_liquid:
        return f"no floor: a {recipe.style} makes liquid of its own"
    if recipe.tested.several_ways:
        return "floor not known: the card has some of its produce by weight and some by the cup"
    if recipe.tested.grams is None:
        return "floor not known: the card measures its produce by the cup, not by weight"
    if not floor_stage(recipe, **weights):
        basis = recipe.tested.basis
        return f"floor not known: the card is for produce weighed {basis}, which was not weighed"
    return ""
