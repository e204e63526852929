"""Clean brine kept for the next pot of the same recipe: put by, shown, and taken."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from jarcast.cli.common import asking, read_option
from jarcast.errors import BatchError
from jarcast.measures import Units, format_volume, parse_volume

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen
    from jarcast.domain.batch import Batch
    from jarcast.ledger.kept_brine import Kept

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
    from jarcast.cli.cards import names_file
    from jarcast.recipes import card_key

    text = recipe.strip()
    return card_key(Path(text).stem if text and names_file(text) else text)


def to_keep(
    text: str | None, batch: "Batch", units: Units, *, yes: bool = False, as_json: bool = False
) -> "Kept | None":
    """Brine of a finished batch to be kept, asked once at a terminal whether it is clean.

    Raises BatchError for a batch without a recipe, more than was left, and brine that is not clean.
    """
    from jarcast.ledger.kept_brine import Kept, check_recipe

    ml = read_option("--keep-brine", text, parse_volume)
    if text is None or ml is None or (ml == 0.0 and not batch.recipe.strip()):
        return None  # nothing is nothing, of any recipe
    check_recipe(key_of(batch.recipe))
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
    return Kept(key_of(batch.recipe), ml, text.strip())


def to_take(text: str | None, recipe: str, own: "Kitchen") -> "Kept | None":
    """Kept brine to be taken for a batch of this recipe. Raises BatchError."""
    from jarcast.ledger.kept_brine import Kept, check_taken

    ml = read_option("--kept-brine", text, parse_volume)
    if text is None or not ml:
        return None
    taken = Kept(key_of(recipe), ml, text.strip())
    check_taken(own.brine.get(taken.recipe), taken)
    return taken


def kept_text(recipe: str, own: "Kitchen", units: Units) -> str:
    """That brine of a recipe is kept, and how to use it; '' where none is. It is not counted."""
    from jarcast.views.kept_brine import kept_brine_text

    found = own.brine.get(key_of(recipe))
    if found is None:
        return ""
    return kept_brine_text(found.ml, recipe, (found.on.isoformat(), found.batch), units)


def kept_document(recipe: str, own: "Kitchen") -> dict[str, Any] | None:
    """What is kept of the brine of a recipe, for JSON; None where nothing is."""
    found = own.brine.get(key_of(recipe))
    if found is None:
        return None
    return {"ml": found.ml, "on": found.on.isoformat(), "batch": found.batch}


def put_by_text(kept: "Kept | None", recipe: str, units: Units) -> str:
    """What was just put by, and what to heed; '' where nothing was."""
    from jarcast.views.kept_brine import put_by_words

    return "" if kept is None else put_by_words(kept.ml, recipe, units)
