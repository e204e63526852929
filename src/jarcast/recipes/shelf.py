"""Where recipe cards are found: those that ship with jarcast and those of one's own."""

import contextlib
import difflib
import os
import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from msgspec import Struct

from jarcast.errors import RecipeError, cut_short
from jarcast.files.reading import private_folder, read_file
from jarcast.files.shipped import shipped
from jarcast.files.whole import made_in, to_disk
from jarcast.recipes.card import Recipe
from jarcast.recipes.parsing import MOST_BYTES, load_card

SUFFIX = ".toml"


class CardShelf(Struct, frozen=True):
    """All cards by key, and the files that could not be read with the reason for each."""

    shipped: Mapping[str, Recipe]
    own: Mapping[str, Recipe]
    broken: tuple[tuple[Path, RecipeError], ...] = ()

    def find(self, name: str) -> Recipe:
        """The card of this key or name, case, spaces and dashes forgiven; part of it will do.

        'beets' is pickled beets before any other that has beets in its name.

        Raises RecipeError where no card, or more than one, answers to it.
        """
        cards = {**self.shipped, **self.own}
        wanted = card_key(name)
        by_key = {card_key(key): card for key, card in cards.items()}
        titled: dict[str, list[Recipe]] = {}
        for card in cards.values():
            titled.setdefault(card_key(card.name), []).append(card)
        by_name = {title: same[0] for title, same in titled.items()}
        for known in (by_key, by_name):
            for asked in (wanted, f"pickled-{wanted}"):
                if asked in known:
                    return _only(name, titled[asked] if known is by_name else [known[asked]])
        parts = {card.key: card for key, card in by_key.items() if wanted and wanted in key}
        if len(parts) == 1:
            return next(iter(parts.values()))
        if parts:
            raise RecipeError(
                f"'{name}' could be any of: {', '.join(sorted(parts))}; say which one"
            )
        raise RecipeError(self._unknown(name, wanted, {**by_name, **by_key}))

    def like(self, card: Recipe) -> tuple[Recipe, ...]:
        """The other cards whose titles read like that of this one, in whatever letters."""
        title = look(card.name)
        return tuple(
            other
            for other in (*self.shipped.values(), *self.own.values())
            if other.key != card.key and look(other.name) == title
        )

    def kept(self, key: str) -> Recipe | None:
        """The card of exactly this key: nothing near it stands in for it. None if not there.

        Raises RecipeError where its file is there and cannot be used.
        """
        found = self.own.get(key) or self.shipped.get(key)
        for path, why in self.broken if found is None else ():
            if card_key(path.stem) == card_key(key):
                raise RecipeError(f"the card {path} cannot be used: {why}", why.problems)
        return found

    def _unknown(self, name: str, wanted: str, cards: Mapping[str, Recipe]) -> str:
        shown = cut_short(name)
        for path, why in self.broken:
            if card_key(path.stem) == wanted:
                return f"the card '{shown}' is there but cannot be used: {why}"
        close = difflib.get_close_matches(wanted, list(cards), n=3)
        keys = list(dict.fromkeys(cards[key].key for key in close))
        hint = f"near it: {', '.join(keys)}" if keys else "'jarcast recipes list' lists them"
        return f"there is no recipe card '{shown}'; {hint}"


def _only(name: str, cards: list[Recipe]) -> Recipe:
    """The card of a title; raises RecipeError where several have it."""
    if len(cards) > 1:
        keys = ", ".join(sorted(card.key for card in cards))
        raise RecipeError(
            f"'{cut_short(name)}' is the title of several cards; choose by name: {keys}"
        )
    return cards[0]


def card_key(name: str) -> str:
    """A name as a key: 'Pickled Beets' -> 'pickled-beets'."""
    return re.sub(r"[\W_]+", "-", name.casefold()).strip("-")


# Letters and digits that are read as one another; of other scripts those that look Latin.
_READ_AS = str.maketrans(
    "0135|"
    "\u0430\u0435\u043e\u0440\u0441\u0443\u0445\u0456\u043a\u0432\u043d\u0442\u043c"  # Cyrillic
    "\u03b1\u03b5\u03b9\u03ba\u03bd\u03bf\u03c1\u03c4\u03c5",  # Greek
    "oleslaeopcyxikbhtmaeikvoptu",
)


def look(name: str) -> str:
    """A name as it looks at a glance: accents, case, signs and letters of other scripts apart."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    read = plain.translate(_READ_AS).replace("i", "l").replace("rn", "m").replace("vv", "w")
    return re.sub(r"[\W_]+", "", read)


def own_folder() -> Path:
    """The folder for cards of one's own, in the platform's place for user data."""
    from platformdirs import user_data_path

    return user_data_path("jarcast") / "recipes"


@cache  # they stay as they are while a program runs
def shipped_recipes() -> Mapping[str, Recipe]:
    """Every card that ships with jarcast, by key."""
    folder = shipped("models", "recipes")
    return MappingProxyType({path.stem: load_card(path) for path in _files(folder)})


def card_shelf(folder: Path | None = None) -> CardShelf:
    """Every card, shipped ones and those in ``folder`` (one's own folder unless given).

    A card of one's own that cannot be read, or bears the name of a shipped one, is set aside
    with the reason; the others stay usable.
    """
    known = shipped_recipes()
    own: dict[str, Recipe] = {}
    broken: list[tuple[Path, RecipeError]] = []
    for path in _files(own_folder() if folder is None else folder):
        try:
            _free_key(path.stem, known)
            own[path.stem] = load_card(path)
        except RecipeError as why:
            broken.append((path, why))
    return CardShelf(known, MappingProxyType(own), tuple(broken))


def card_words(key: str, folder: Path | None = None, file: Path | None = None) -> str | None:
    """The text of the card of exactly this key, or in this file; None where it cannot be read."""
    if file is None and key in shipped_recipes():
        file = shipped("models", "recipes", f"{key}{SUFFIX}")
    elif file is None:
        file = _own_file(key, folder)
    try:
        return read_file(file, MOST_BYTES).decode("utf-8-sig")
    except (OSError, ValueError):
        return None


def add_card(path: Path, folder: Path | None = None) -> Recipe:
    """Check a card and copy it, as it is written, into one's own folder.

    Raises RecipeError where the card cannot be used, or its name is taken by another card.
    """
    load_card(path)
    key = card_key(path.stem)
    if not key:
        raise RecipeError(
            f"'{path.name}' gives the card no name; call the file something like dill.toml"
        )
    try:
        content = path.read_bytes()
    except OSError as why:
        raise RecipeError(f"the card {path} cannot be read: {why.strerror}") from None
    return keep_card(content, key, folder)


def keep_card(content: bytes, key: str, folder: Path | None = None) -> Recipe:
    """Write a card that was checked into one's own folder, under its key; the card.

    Raises RecipeError where the name is taken by another card, or it cannot be written.
    """
    target = _target(key, folder)
    try:
        if not _write_new(target, content) and target.read_bytes() != content:
            raise RecipeError(
                f"you have another card '{key}' already ({target}); rename the new file, or move "
                "the old one away first"
            )
    except OSError as why:
        reason = why.strerror or "it cannot be written"
        raise RecipeError(f"the card could not be added to {target.parent}: {reason}") from None
    return load_card(target)


def check_free(title: str, folder: Path | None = None) -> None:
    """Raise RecipeError where a card of this title would have no name, or one that is taken."""
    key = card_key(title)
    if not key:
        raise RecipeError(
            f"'{cut_short(title)}' gives the card no name; it needs a letter or a digit"
        )
    if _target(key, folder).exists():
        raise RecipeError(f"you have a card '{key}' already; give this one another title")


def _target(key: str, folder: Path | None) -> Path:
    _free_key(key, shipped_recipes())
    return _own_file(key, folder)


def _own_file(key: str, folder: Path | None) -> Path:
    return (own_folder() if folder is None else folder) / f"{key}{SUFFIX}"


def _free_key(key: str, known: Mapping[str, Recipe]) -> None:
    shipped_one = next((one for one in known if look(one) == look(key)), "")
    if shipped_one:
        like = "is" if card_key(key) == shipped_one else f"looks like '{shipped_one}',"
        raise RecipeError(
            f"'{card_key(key)}' {like} the name of a card that ships with jarcast; call yours "
            "something else, so the two cannot be mixed up"
        )


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == SUFFIX)
    except OSError:  # no folder: no cards of one's own yet
        return []


def _write_new(target: Path, content: bytes) -> bool:
    """Write a whole file or nothing, where none is yet; False where there is one, left as it is.

    Asking first whether it is there would let two cards added at once overwrite one another.
    """
    private_folder(target.parent)
    with made_in(target.parent) as new:
        new.write_bytes(content)
        to_disk(new)
        return _put_in_place(new, target)


def _put_in_place(whole: Path, target: Path) -> bool:
    """Give a file that is whole its name; False where another file has it."""
    try:
        os.link(whole, target)
    except FileExistsError:
        return False
    except OSError:  # a disk without hard links, such as a memory stick
        try:
            with target.open("xb") as file:
                file.write(whole.read_bytes())
        except FileExistsError:
            return False
        except BaseException:
            with contextlib.suppress(OSError):
                target.unlink()
            raise
    return True
