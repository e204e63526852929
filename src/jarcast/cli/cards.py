"""Recipe cards by name or by file, and the card of a batch: which one is meant, kept, found again.

A card holds numbers that nothing else may decide, so a batch that was begun by one never goes on as
if it had none. A recipe may also be a name alone: that holds nothing.
"""

import os
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import asdict

from jarcast.cli.common import tell
from jarcast.errors import RecipeError
from jarcast.ledger.card_texts import CardText, card_kept

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.ledger.steps import OpenBatch
    from jarcast.recipes import Recipe


OLD, NEW = "old", "new"  # what 'jarcast amend NAME card=' may say


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


def card_of_batch(found: "OpenBatch", work: "Work") -> "Recipe | None":
    """The card of an open batch; None where it has none, or a name alone.

    It is the card that the batch was begun by, or its text as the ledger keeps it, where that was
    chosen. Raises RecipeError for a card that is broken, gone or changed, with the ways to go on.
    """
    recipe, kept = found.typed.get("recipe", ""), None
    if found.card_digest:
        kept = card_kept(work.ledger, found.card_digest)
    quoted = shlex.quote(found.name)
    on_by_old = f"jarcast amend {quoted} card={OLD}" if kept is not None else ""
    if found.by_old_card and kept is not None:
        return as_kept(kept)
    try:
        card = card_named(recipe, work.path, was_card=found.card)
    except RecipeError as error:
        old = f"go on by the card as it was ({on_by_old}), " if on_by_old else ""
        other = f'{old}or name another recipe: jarcast amend {quoted} recipe="..."'
        raise RecipeError(f"{error}; {other}") from error
    if card is None or kept is None or card_text(recipe, work.path) == kept:
        return card
    if changed := changes(as_kept(kept), card):
        raise RecipeError(
            f"the card of {card.name} has changed since '{found.name}' was begun "
            f"({changed}). Nothing is forecast until you say which holds: the old one "
            f"({on_by_old}), or the new one (jarcast amend {quoted} card={NEW})"
        )
    return card


def as_kept(kept: CardText) -> "Recipe":
    """A card read from its text in the ledger. Raises RecipeError."""
    from jarcast.recipes import read_card

    return read_card(kept.text, Path(kept.key).stem, "the card kept in the ledger")


def text_in_use(found: "OpenBatch", work: "Work") -> CardText | None:
    """The words of the card that an open batch goes by; None for a name alone."""
    if found.by_old_card and (kept := card_kept(work.ledger, found.card_digest)) is not None:
        return kept
    return card_text(found.typed.get("recipe", ""), work.path)


def same_brine(old: CardText, new: "Recipe | None") -> bool:
    """Whether a card has the brine that it had by these words: its formula, and its vinegar."""
    try:
        before = as_kept(old).safety
    except RecipeError:
        return False
    now = None if new is None else new.safety
    if before is None or now is None:
        return before is now
    return (before.formula, before.least_acid_percent) == (now.formula, now.least_acid_percent)


def changes(old: "Recipe", new: "Recipe") -> str:
    """What of a card is otherwise than it was, field by field; '' where nothing is."""

    def fields(card: "Recipe") -> dict[str, object]:
        found = {name: value for name, value in asdict(card).items() if name != "safety"}
        return found | ({} if card.safety is None else asdict(card.safety))

    before, after = fields(old), fields(new)
    names = [n for n in before | after if n != "key" and before.get(n) != after.get(n)]
    return ", ".join(_FIELD_WORDS.get(name, name.replace("_", " ")) for name in names)


_FIELD_WORDS = {
    "formula": "brine",
    "least_acid_percent": "vinegar",
    "headspace_in": "headspace",
    "jars": "jars",
}


def card_text(text: str, path: Path) -> CardText | None:
    """The words of the card that the recipe of a batch names; None for a name that is no card's."""
    from jarcast.recipes import card_words

    text = text.strip()
    if not text:
        return None
    file = Path(text) if names_file(text) else None
    words = card_words(text, card_folder(path)) if file is None else card_words("", file=file)
    return None if words is None else CardText(text, words)


def card_named(text: str, path: Path, *, was_card: bool | None = None) -> "Recipe | None":
    """The card that the recipe of a batch names; None for a name that is no card's.

    ``was_card`` tells whether it was a card's key or file when it was said, None where that was
    not noted: then a card of this name is taken, and one that cannot be read is no free name. A
    batch's card holds its numbers fast, so one that is broken or gone is never passed over: raises
    RecipeError, naming its file and how to mend it.
    """
    from jarcast.recipes import card_shelf

    text = text.strip()
    if not text or was_card is False:
        return None
    file = Path(text) if names_file(text) else card_folder(path) / f"{text}.toml"
    mend = f"mend it ('jarcast recipes check {shlex.quote(str(file))}' says what is wrong)"
    try:
        if names_file(text):
            return find_card(text, path)
        found = card_shelf(card_folder(path)).kept(text)
    except RecipeError as error:
        raise RecipeError(f"{error}; {mend} or put it back") from error
    if found is None and was_card:
        raise RecipeError(f"the recipe's card {file} is gone; put it back")
    try:
        return found or find_card(text, path)
    except RecipeError:
        return None


def is_card(text: str, path: Path) -> bool | None:
    """Whether a recipe as it is kept is a card's key or file, not a name; None for no recipe."""
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
        tell(f"{error}. '{text.strip()[:60]}' is kept as a name only, with no card's numbers.")
        return None, text.strip()
    return card, card.key
