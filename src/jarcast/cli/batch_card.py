"""The card of a batch's recipe: which one is meant, and what a batch keeps to find it again.

A card holds numbers that nothing else may decide, so a batch that was begun by one never goes on as
if it had none. A recipe may also be a name alone: that holds nothing.
"""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from jarcast.cli.common import tell
from jarcast.errors import RecipeError

if TYPE_CHECKING:
    from jarcast.recipes import Recipe


def other_recipe(name: str) -> str:
    """How an open batch goes on without a card that cannot be used any more."""
    return f'or name another recipe: jarcast amend {shlex.quote(name)} recipe="..."'


def card_named(text: str, path: Path, *, was_card: bool | None = None) -> "Recipe | None":
    """The card that the recipe of a batch names; None for a name that is no card's.

    ``was_card`` tells whether it was a card's key or file when it was said, None where that was
    not noted: then a card of this name is taken, and one that cannot be read is no free name. A
    batch's card holds its numbers fast, so one that is broken or gone is never passed over: raises
    RecipeError, naming its file and how to mend it.
    """
    from jarcast.cli.recipes import card_folder, find_card, names_file
    from jarcast.recipes import card_shelf

    text = text.strip()
    if not text or was_card is False:
        return None
    file = Path(text) if names_file(text) else card_folder(path) / f"{text}.toml"
    mend = f"mend it ('jarcast recipes check {shlex.quote(str(file))}' tells what is due)"
    try:
        if names_file(text):
            return find_card(text, path)
        found = card_shelf(card_folder(path)).kept(text)
    except RecipeError as error:
        raise RecipeError(f"{error}; {mend} or put it back") from error
    if found is None and was_card:
        raise RecipeError(f"the recipe's card {file} is not there any more; put it back")
    try:
        return found or find_card(text, path)
    except RecipeError:
        return None


def is_card(text: str, path: Path) -> bool | None:
    """Whether a recipe as it is kept is a card's key or file, not a name; None for no recipe."""
    from jarcast.cli.recipes import card_folder, names_file
    from jarcast.recipes import card_shelf

    text = text.strip()
    if not text:
        return None
    return names_file(text) or card_shelf(card_folder(path)).kept(text) is not None


def card_chosen(text: str, path: Path) -> "tuple[Recipe | None, str]":
    """The card that is meant by a text just typed, and the text to keep for it.

    A name that is no card's is kept as a name, and that is said. Raises RecipeError for a card's
    file that cannot be used, and for a name that several cards answer to.
    """
    from jarcast.cli.recipes import card_folder, find_card, names_file
    from jarcast.recipes import card_key, card_shelf

    if not text.strip():
        return None, ""
    if names_file(text):
        return find_card(text, path), str(Path(text).expanduser().resolve())
    try:
        card = find_card(text, path)
    except RecipeError as error:
        shelf = card_shelf(card_folder(path))
        broken = (file.stem for file, _ in shelf.broken)
        if any(card_key(text) in card_key(key) for key in (*shelf.shipped, *shelf.own, *broken)):
            raise
        tell(f"{error}. '{text.strip()[:60]}' is kept as a name alone: no card's numbers here.")
        return None, text.strip()
    return card, card.key
