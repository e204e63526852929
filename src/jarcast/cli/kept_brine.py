"""Clean brine kept for the next pot of the same recipe: put by, shown, and taken."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from jarcast.cli.cards import names_file, same_brine
from jarcast.cli.common import asking, read_option
from jarcast.domain.rules import bare
from jarcast.errors import BatchError
from jarcast.ledger.kept_brine import Kept, KeptBrine, check_recipe, check_taken, taken_by
from jarcast.measures import Units, format_volume, parse_volume
from jarcast.views.kept_brine import kept_brine_text

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen, Work
    from jarcast.domain.batch import Batch
    from jarcast.forecast.request import Request
    from jarcast.ledger.card_texts import CardText
    from jarcast.recipes import Recipe

KeepBrineOption = Annotated[
    str | None,
    typer.Option(
        "--keep-brine",
        help=(
            "Clean brine kept for the recipe's next pot, never touched by produce; '0 cups' if "
            "none is left."
        ),
    ),
]
KeptBrineOption = Annotated[
    str | None,
    typer.Option("--kept-brine", help="How much of this recipe's kept brine went into the pot."),
]


def key_of(recipe: str) -> str:
    """The key of a recipe, however it was typed: a card's key, its file, or a name."""
    from jarcast.recipes import card_key

    text = recipe.strip()
    return card_key(Path(text).stem if text and names_file(text) else text)


def to_keep(
    text: str | None,
    batch: "Batch",
    find: "Callable[[], Recipe | None]",
    words: "Callable[[], CardText | None]",
    units: Units,
    *,
    yes: bool = False,
    as_json: bool = False,
) -> "Kept | None":
    """Brine of a finished batch to be kept, asked once at a terminal whether it is clean.

    ``find`` gives the card of its recipe, ``words`` its text, None for a name alone. Raises
    BatchError for a batch without a recipe, more than was left, and brine that is not clean, by
    the card or as it is said; RecipeError as ``find`` does.
    """
    ml = read_option("--keep-brine", text, parse_volume)
    if text is None or ml is None or (ml == 0.0 and not batch.recipe.strip()):
        return None  # nothing is nothing, of any recipe
    check_recipe(key_of(batch.recipe))
    if ml > 0.0 and (why := _why_not_clean(find(), batch)):
        raise BatchError(
            f"--keep-brine '{text}': {why}. Nothing was recorded; close or record the batch "
            "without --keep-brine"
        )
    left = batch.brine_left_ml
    if left is not None and ml > 1.01 * left:
        raise BatchError(
            f"--keep-brine '{text}' is more than the {format_volume(left, units)} that was left"
        )
    question = "Is it clean, and has it never touched produce?"
    if ml > 0.0 and not yes and asking(as_json) and not typer.confirm(question, err=True):
        raise BatchError(
            "brine that touched produce is not used again for canning, and nothing was recorded; "
            "close or record the batch without --keep-brine"
        )
    return Kept(key_of(batch.recipe), ml, text.strip(), words())


def _why_not_clean(card: "Recipe | None", of: "Batch | Request") -> str:
    """Why no brine of a batch is clean, with what follows; '' where it may be."""
    from jarcast.recipes import why_not_clean

    why = why_not_clean(card, of.pack, of.produce, of.cut)
    return f"{why}. {bare('used brine').removesuffix('.')}" if why else ""


def to_take(
    text: str | None, batch: "Batch", find: "Callable[[], Recipe | None]", own: "Kitchen"
) -> "Kept | None":
    """Kept brine to be taken for a batch by its recipe. Raises BatchError; RecipeError as ``find``.

    What was kept of a recipe whose brine touches produce is never taken.
    """
    ml = read_option("--kept-brine", text, parse_volume)
    if text is None or not ml:
        return None
    taken, card = Kept(key_of(batch.recipe), ml, text.strip()), find()
    there = own.brine.get(taken.recipe)
    check_taken(there, taken)
    if why := _why_not_clean(card, batch) or _why_another(there, card):
        raise BatchError(f"--kept-brine '{text}': {why}. Nothing was noted; make it anew")
    return taken


def _why_another(kept: "KeptBrine | None", card: "Recipe | None") -> str:
    """That kept brine is by another formula than the card has now; '' where it is not."""
    if kept is None or all(same_brine(one, card) for one in kept.cards):
        return ""
    return (
        f"it was kept of '{kept.recipe}' by the card as it was then, and the card's brine has "
        "changed since"
    )


def refuse_kept_of_another(batch: str, recipe: str, work: "Work") -> None:
    """Raise BatchError for another recipe than that whose kept brine is in a batch's pot."""
    for other in taken_by(work.ledger, batch):
        if other != key_of(recipe):
            raise BatchError(
                f"kept brine of '{other}' is in the pot of '{batch}', so it stays a batch of that "
                "recipe; to put up another, drop it and begin anew"
            )


def kept_of(
    recipe: str, card: "Recipe | None", of: "Batch | Request", own: "Kitchen"
) -> "KeptBrine | None":
    """What is kept of the clean brine of a recipe; None where nothing is, or none can be.

    ``of`` is a batch, or what a forecast is asked for. It is not counted.
    """
    found = own.brine.get(key_of(recipe))
    if found is None or _why_not_clean(card, of) or _why_another(found, card):
        return None
    return found


def kept_text(found: "KeptBrine | None", recipe: str, units: Units) -> str:
    """That brine of a recipe is kept, and how to use it; '' where none is."""
    if found is None:
        return ""
    return kept_brine_text(found.ml, recipe, (found.on.isoformat(), found.batch), units)


def kept_document(found: "KeptBrine | None") -> dict[str, Any] | None:
    """The same for JSON; None where nothing is kept."""
    if found is None:
        return None
    return {"ml": found.ml, "on": found.on.isoformat(), "batch": found.batch}
