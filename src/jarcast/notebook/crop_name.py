"""The crop of a line out of its words: the longest known produce, its cut, and what is left."""

import re
from collections.abc import Sequence

from jarcast.domain.crop_text import read_crop, vocabulary
from jarcast.domain.dishes import DISHES
from jarcast.domain.names import cut_in, cut_key, plain_words, produce_key

FILLERS = frozenset({
    "a", "about", "after", "all", "an", "and", "around", "at", "came", "did", "for", "from", "got",
    "had", "i", "in", "into", "it", "made", "my", "of", "on", "our", "out", "pickled", "put",
    "roughly", "some", "the", "them", "then", "to", "total", "up", "was", "we", "weighed", "were",
    "with",
})  # fmt: skip
_PARTED = re.compile(r"\s*(?:[+&]|\band\b|\bwith\b)\s*", re.IGNORECASE)


def named(text: str) -> tuple[str, str, str]:
    """Produce, cut and other words of the words that name a crop; '' for what is not there."""
    words = [word for word in text.split() if plain_words(word) or word in ("+", "&")]
    while words and (words[0].casefold() in FILLERS or not plain_words(words[0])):
        words.pop(0)
    while words and (words[-1].casefold() in FILLERS or not plain_words(words[-1])):
        words.pop()
    text = " ".join(words)
    if not text:
        return "", "", ""
    produce, cut = read_crop(text)
    if (produce, cut) != (text, ""):
        return produce, cut, ""
    known = produce_key(text) in DISHES
    if known or all(part in vocabulary() for part in produce_key(text).split(" + ")):
        return text, "", ""
    return _mixture(text) or known_in([word for word in words if plain_words(word)])


def listed(text: str) -> str:
    """'cauliflower, carrots & peppers' as a mixture; '' where there are not two known ones."""
    parts = [part for one in text.split(",") for part in _PARTED.split(one) if plain_words(part)]
    known = [part for part in parts if produce_key(known_in(part.split())[0]) in vocabulary()]
    return " + ".join(part.strip() for part in parts) if len(known) > 1 else ""


def _mixture(text: str) -> tuple[str, str, str] | None:
    """'cucumber slices + onions' is 'cucumber + onions', sliced; None for what is no mixture.

    Of three and more, two that are known tell that the others are meant to be produce too.
    """
    parts = [part for part in _PARTED.split(text) if plain_words(part)]
    read = [known_in(part.split()) for part in parts]
    known = sum(produce_key(name) in vocabulary() for name, _, _ in read)
    if known < 2 or (known < len(read) and not (text.count("+") + text.count("&") >= 2)):
        return None
    cuts = list(dict.fromkeys(cut_key(cut) for _, cut, _ in read if cut))
    rest = " ".join(filter(None, (rest for _, _, rest in read)))
    return " + ".join(name for name, _, _ in read), cuts[0] if len(cuts) == 1 else "", rest


def known_in(words: Sequence[str]) -> tuple[str, str, str]:
    """The longest known produce among words, the cut, and the other words; else all as named."""
    known = vocabulary()
    cuts = list(filter(says_cut, words))
    cut = " ".join(cuts).strip(",")
    for length in range(min(len(words), 8), 0, -1):
        for first in range(len(words) - length + 1):
            phrase = " ".join(words[first : first + length])
            if {words[first].casefold(), words[first + length - 1].casefold()} & FILLERS:
                continue
            parts = produce_key(phrase).split(" + ")
            if all(part in known for part in parts):
                others = [*words[:first], *words[first + length :]]
                rest = " ".join(w for w in others if w not in cuts and w.casefold() not in FILLERS)
                return phrase, "" if all(w in phrase.split() for w in cuts) else cut, rest
    kept = [word for word in words if word not in cuts]
    return (" ".join(kept), cut, "") if kept else (" ".join(words), "", "")


def produce_in(text: str) -> str:
    """The key of the longest known produce that a text names; '' for none."""
    words, known = plain_words(text), vocabulary()
    for length in range(min(len(words), 4), 0, -1):
        for first in range(len(words) - length + 1):
            if (key := produce_key(" ".join(words[first : first + length]))) in known:
                return key
    return ""


def says_cut(text: str) -> bool:
    """Whether a text names a cut."""
    return any(map(cut_in, plain_words(text)))
