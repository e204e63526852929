"""A crop as a person names it: 'cauliflower florets', 'dill spears', 'califlower'.

What is published, and its synonyms, is the vocabulary: a cut typed with the produce is told apart
where the rest is in it, and a name that is nearly one of it may be a slip of the pen.
"""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from functools import cache, lru_cache

from msgspec import Struct
from msgspec.json import decode

from jarcast.domain.dishes import DISHES
from jarcast.domain.names import (
    PRODUCE_WORDS,
    cut_in,
    cut_key,
    pack_key,
    parts_of,
    plain_words,
    produce_key,
)
from jarcast.errors import BatchError
from jarcast.files.shipped import shipped

_FILLING = ("into", "in")  # 'cut into sticks'
# Short for cucumbers pickled with dill, spears unless another cut is said; common practice, no
# source. 'dill' alone is the herb.
_DILLS = "dills"
_PACKS = ("raw", "hot", "cold", "fresh", "boiled", "cooked")
# Nobody has published these, and they lie near a name that is: they are meant as they stand.
_OTHERS = frozenset({"broccolini", "chive", "tamarillo"})


class _Named(Struct):
    produce: str


class _Published(Struct):
    crops: list[_Named]


@cache
def vocabulary() -> frozenset[str]:
    """Names of single produce that are published, as keys, and their synonyms."""
    held = decode(shipped("models", "starting-beliefs.json").read_bytes(), type=_Published)
    published = {part for crop in held.crops for part in crop.produce.split(" + ")}
    return frozenset(published | PRODUCE_WORDS)


@lru_cache(256)
def read_crop(produce: str, cut: str = "") -> tuple[str, str]:
    """Produce and cut told apart where both were typed as the produce; else as they are.

    'Cauliflower florets' is ('cauliflower', 'florets'). Raises BatchError where another cut is
    said beside it.
    """
    words = plain_words(produce)
    if "+" in produce or "&" in produce or (not any(map(cut_in, words)) and _DILLS not in words):
        return produce, cut
    if produce_key(produce) in vocabulary():
        return produce, cut
    rest = list(words)
    while rest and cut_in(rest[0]):
        rest.pop(0)
    while rest and (cut_in(rest[-1]) or rest[-1] in _FILLING):
        rest.pop()
    said = cut_key(" ".join(word for word in words if cut_in(word)))
    if rest == [_DILLS] or (rest == ["dill"] and said):
        return "cucumber", _one_cut(produce, said, cut) or "spears"
    key = produce_key(" ".join(rest))
    if not said or key not in vocabulary():
        return produce, cut
    return key, _one_cut(produce, said, cut)


def _one_cut(produce: str, found: str, cut: str) -> str:
    if found and cut.strip() and cut_key(cut) != found:
        raise BatchError(
            f"produce '{produce}' says {found}, and cut says '{cut}'; say one of the two"
        )
    return cut if cut.strip() else found


@lru_cache(256)
def near_name(produce: str, own: frozenset[str] = frozenset()) -> str:
    """The name that is likely meant, where a produce is not known but nearly is; '' otherwise.

    ``own`` are keys of produce known beside what is published: those of one's own batches. Each
    part of a mixture is looked at by itself.
    """
    known = (
        vocabulary() | _OTHERS | DISHES.keys() | {part for key in own for part in key.split(" + ")}
    )
    parts = list(parts_of(produce_key(produce)))
    if produce_key(produce) in own or all(part in known for part in parts):
        return ""
    meant = [part if part in known else _nearest(part, known) for part in parts]
    return "" if meant == parts else " + ".join(meant)


@lru_cache(256)
def near_pack(pack: str, own: frozenset[str] = frozenset()) -> str:
    """'raw' or 'hot', where a pack is neither and nearly a word for it; '' otherwise.

    ``own`` are keys of packs of one's own batches. There are so few words that one slip is taken
    for one in three letters already.
    """
    key = pack_key(pack)
    words = [word for word in key.split() if not _near_one(word, ("pack", "packed"))]
    if key in own or len(words) != 1:
        return ""
    meant = pack_key(_near_one(words[0], _PACKS))
    return "" if meant == key else meant


def cut_as_pack(pack: str, own: frozenset[str] = frozenset()) -> str:
    """The cut that was said where a pack is due, 'whole'; '' where none was.

    ``own`` are keys of packs of one's own batches.
    """
    key = pack_key(pack)
    words = key.split()
    return cut_key(key) if words and key not in own and all(map(cut_in, words)) else ""


def _near_one(word: str, words: Sequence[str]) -> str:
    """The one of these few words that another is nearest to, '' where it is near none."""
    near = [
        (apart, other)
        for other in words
        if abs(len(word) - len(other)) <= 2
        and (apart := _slips(word, other)) <= (1 if len(other) < 6 else 2)
    ]
    return min(near)[1] if near else ""


def _nearest(name: str, known: AbstractSet[str]) -> str:
    """The known name nearest to this one, where one is near; else the name itself.

    Of two as near, the one that differs in its vowels alone: 'beat' is beet rather than bean.
    """
    found = [
        (apart, _consonants(other) != _consonants(name), other)
        for other in known
        if _may_be(name, other) and (apart := slips_between(name, other)) is not None
    ]
    return min(found)[2] if found else name


def _consonants(name: str) -> str:
    return "".join(letter for letter in name if letter not in "aeiou")


def _may_be(name: str, other: str) -> bool:
    """A quick look: no name is near that begins otherwise or is three letters longer."""
    return bool({*name[:2]} & {*other[:2]}) and abs(len(name) - len(other)) <= 2


def slips_between(name: str, other: str) -> int | None:
    """How many slips lie between two names; None where they are too many for their length.

    Word by word, so that 'sea bean' is no 'wax bean'. A space more or less is no slip.
    """
    if name.replace(" ", "") == other.replace(" ", ""):
        return 0
    words, others = name.split(), other.split()
    if len(words) != len(others):
        return None
    slips = 0
    for word, meant in zip(words, others, strict=True):
        apart = _slips(word, meant)
        if apart > _allowed(min(len(word), len(meant))):
            return None
        slips += apart
    return slips


def _allowed(letters: int) -> int:
    """Slips that may lie between two words of so many letters; common practice, no source."""
    return 0 if letters < 4 else 1 if letters < 8 else 2


def _slips(one: str, other: str) -> int:
    """Letters left out, added, mistaken, or two side by side swapped, between two words.

    The optimal string alignment distance (Damerau 1964, Levenshtein 1966).
    """
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, a in enumerate(one, start=1):
        row = [i]
        for j, b in enumerate(other, start=1):
            best = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                best = min(best, before[j - 2] + 1)
            row.append(best)
        before, last = last, row
    return last[-1]
