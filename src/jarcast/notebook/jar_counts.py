"""Which counts of jars in a line are the batch's: what is in doubt is asked, never added up."""

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress

from msgspec import Struct

from jarcast.domain.batch import number_text
from jarcast.domain.crop_text import vocabulary
from jarcast.domain.jar_text import on_shelf, read_jars
from jarcast.domain.jars import Jar, so_many
from jarcast.domain.names import cut_in, plain_words, produce_key
from jarcast.errors import BatchError, MeasureError
from jarcast.measures import parse_volume
from jarcast.notebook.crop_name import produce_in
from jarcast.notebook.pieces import NO_MEASURE
from jarcast.notebook.roles import Told

# Words beside a count that leave no doubt that the batch's jars are counted.
_PLAIN = frozenset({
    "a", "about", "abt", "after", "all", "also", "an", "and", "another", "approx",
    "around", "at", "bath", "big", "boiling", "bwb", "came", "can", "canned", "canning",
    "clean", "cold", "count", "did", "done", "ended", "final", "finished", "for", "from", "full",
    "gave", "get", "give", "gives", "glass", "good", "got", "had", "has", "have", "hot", "i", "in",
    "into", "it", "jar", "jarred", "jars", "large", "little", "lovely", "made", "make", "makes",
    "mason", "me", "more", "mouth", "my", "myself", "narrow", "nice", "of", "off", "on", "ones",
    "our", "out", "pack", "packed", "pickle", "pickled", "pickles", "plus", "process", "processed",
    "put", "raw", "reg", "regular", "result", "roughly", "sealed", "sized", "sizes", "small", "so",
    "some", "standard", "tall", "the", "them", "then", "these", "this", "those", "to", "today",
    "turned", "up", "us", "was", "water", "wb", "we", "went", "were", "wide",
    "with", "wm", "yield", "yielded", "yields", "dill", "dills", "dilly", "dilled", "filled",
})  # fmt: skip
_JOINED = re.compile(r"(?:\+|&|\b(?:and|plus|also|then|another|more))\W*$", re.IGNORECASE)
# Words of a sum, or of the same jars told otherwise: plain where nothing else is counted.
_AGAIN = re.compile(
    r"\bin all\b|\ball told\b|[=~\u2248]|\b(?:about|abt|approx\w*|roughly|some)\b", re.IGNORECASE
)
_INSTEAD = re.compile(
    r"\b(?:no(?: wait| sorry)?|wait|sorry|oops|actually|i mean|make (?:that|it)|correction)\W*$",
    re.IGNORECASE,
)
_CUT_BEHIND = re.compile(r"\W*(?:of )?(?:\w+ly )?([a-z]+)", re.IGNORECASE)
# Cut produce lies looser in a measure than in the jar, but not twice as loose; common practice, no
# source.
_LOOSEST = 2.0


class JarCount(Struct):
    """A count of jars in a line.

    ``beyond`` is that another crop is named before it, ``aside`` that it stands in brackets, and
    ``noted`` the words of its clause that are in the note.
    """

    told: Told
    clause: str
    beyond: bool = False
    aside: bool = False
    noted: str = ""

    @property
    def text(self) -> str:
        """The count as it was written."""
        return self.told.measure.text

    @property
    def joined(self) -> bool:
        """Whether the words before it say that it comes on top of the one before."""
        return bool(_JOINED.search(self.told.front))

    @property
    def instead(self) -> bool:
        """Whether the words before it put it in place of the one before: '8 pts, no, 9 pts'."""
        return bool(_INSTEAD.search(self.told.front))

    @property
    def of_cut(self) -> bool:
        """Whether it is followed by a cut: '3 qts sliced' may be measured produce."""
        found = _CUT_BEHIND.match(self.told.back)
        return bool(found and cut_in(found[1].casefold()))


class Counts(Struct):
    """The counts of a line, told apart: ``jars`` as a text, '' for none.

    ``trimmed`` is a measure of cut produce, ``cut`` the words behind it. ``asked`` are counts in
    doubt, each with the question.
    """

    jars: str = ""
    trimmed: str = ""
    cut: str = ""
    taken: list[str] = []
    asked: list[tuple[JarCount, str]] = []


def told_apart(found: Sequence[JarCount], crop: str, shelf: Mapping[str, Jar]) -> Counts:
    """The counts of a line. Where none is plain, a single one is the batch's."""
    counts = Counts()
    aside = not all(one.aside for one in found)  # of '8 pts (2 wide pts)' the two may be of the 8
    plain = [
        one for one in found
        if not one.beyond and _plain(one, crop) and not (aside and one.aside and not one.joined)
        and (one is found[0] or not _AGAIN.search(one.told.words))
    ]  # fmt: skip
    if not plain and len(found) == 1:
        plain = list(found)
    if len({*filter(None, (produce_in(one.told.back) for one in plain))}) > 1:
        plain = []  # '12 pints of carrots and 3 quarts of beets' are two batches
    if cut := _measured(plain, shelf):
        counts.trimmed, counts.cut = cut.text, cut.told.back.strip()
        plain.remove(cut)
    counts.asked += ((one, among(one.text)) for one in found if one is not cut and one not in plain)
    _add_up(plain, counts, shelf)
    return counts


def among(text: str) -> str:
    """The question whether a count in doubt is one of jars that were filled."""
    return f"is '{text}' to be added to the jars that were filled? Write '+ {text}' if so"


def _add_up(plain: Sequence[JarCount], counts: Counts, shelf: Mapping[str, Jar]) -> None:
    """Several sorts are added; one sort is counted twice only where the words say so."""
    added: list[str] = []
    for one in plain:
        sorts = {sort for text in added for sort in _sorts(text, shelf)}
        if added and one.instead:
            counts.taken.append(f"{one.text} taken in place of {added[-1]}")
            added[-1] = one.text
        elif one.joined or not sorts & _sorts(one.text, shelf):
            added.append(one.text)
        else:
            both = f"{' + '.join(added)} and {one.text}"
            why = f"jars are said twice, {both}: which? Write '+ {one.text}' if both count"
            counts.asked.append((one, why))
    counts.jars = " + ".join(added)


def without_half(text: str, shelf: Mapping[str, Jar]) -> str:
    """A count without a half that stands beside whole jars of its sort: '9 pints and 1/2 pint'.

    It may be half a jar, or a jar of half the size; '' where there is none.
    """
    with suppress(BatchError):
        found = on_shelf(read_jars(text, shelf), shelf)
        for at, (number, sort) in enumerate(found):
            others = found[:at] + found[at + 1 :]
            if number == 0.5 and sort in {other for _, other in others}:
                return " + ".join(so_many(number_text(n), key) for n, key in others)
    return ""


def _sorts(text: str, shelf: Mapping[str, Jar]) -> set[str]:
    with suppress(BatchError):
        return {sort for _, sort in on_shelf(read_jars(text, shelf), shelf)}
    return set()


def _plain(one: JarCount, crop: str) -> bool:
    """Whether nothing but the crop and words of counting stand beside a count."""
    own = {*plain_words(crop), *produce_key(crop).split()}
    words = plain_words(NO_MEASURE.sub(" ", f"{_INSTEAD.sub(' ', one.told.front)} {one.told.back}"))
    return all(
        word in _PLAIN or word in own or cut_in(word) or _names(word, own) or not word.strip("'./%")
        for word in words
    )


def _names(word: str, own: set[str]) -> bool:
    """Whether a word names the crop otherwise: 'cukes' beside cucumber spears."""
    key = produce_key(word)
    return key in vocabulary() and key in own


def _measured(plain: Sequence[JarCount], shelf: Mapping[str, Jar]) -> JarCount | None:
    """The measure of cut produce among counts of jars: '3 qts sliced, 5 pts'."""
    cut = [one for one in plain if one.of_cut]
    jars = [one for one in plain if not one.of_cut]
    if len(cut) != 1 or not jars or plain[0] is not cut[0]:
        return None
    with suppress(MeasureError, BatchError):
        holds = sum(
            number * shelf[sort].capacity_ml
            for one in jars
            for number, sort in on_shelf(read_jars(one.text, shelf), shelf)
        )
        if holds <= parse_volume(cut[0].text) <= _LOOSEST * holds:
            return cut[0]
    return None
