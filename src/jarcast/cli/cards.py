"""Recipe cards by name or by file: those that ship, and those beside a ledger."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jarcast.recipes import Recipe


def card_folder(path: Path) -> Path:
    """Folder for recipe cards of one's own: beside the ledger at ``path``."""
    return path.parent / "recipes"


def names_file(text: str) -> bool:
    """Whether a card is named by its file."""
    return text.casefold().endswith(".toml") or "/" in text or os.sep in text


def find_card(text: str, path: Path) -> "Recipe":
    """The card of this name, shipped or beside the ledger at ``path``, or in this file.

    Raises RecipeError.
    """
    from jarcast.recipes import card_shelf, load_card

    if names_file(text):
        return load_card(Path(text).expanduser())
    return card_shelf(card_folder(path)).find(text)
