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
TWICE = "jars are said twice, "
HALF_SIZE: Mapping[str, str] = {"quart": "pint", "pint": "half-pint"}
_CUT_BEHIND = re.compile(r"\W*(?:of )?(?:\w+ly )?([a-z]+)", re.IGNORECASE)
# Cut produce lies looser in a measure than in the jar, but not twice as loose; common practice, no
# source.
_LOOSEST = 2.0


class JarCount(Struct):
    """A count of jars in a line.

    ``beyond`` is that another crop is named before it, ``aside`` that it stands in brackets,
    ``noted`` the words of its clause that are in the note, and ``said`` what an answer told of it:
    that is sure to be the batch's. ``out`` is that an answer told it is none of them.
    """

    told: Told
    clause: str
    beyond: bool = False
    aside: bool = False
    noted: str = ""
    said: Told | None = None
    out: bool = False

    @property
    def text(self) -> str:
        """The count as it was written, or answered."""
        return (self.said or self.told).measure.text

    @property
    def joined(self) -> bool:
        """Whether the words before it say that it comes on top of the one before."""
        return bool(_JOINED.search((self.said or self.told).front))

    @property
    def instead(self) -> bool:
        """Whether the words before it put it in place of the one before: '8 pts, no, 9 pts'."""
        return bool(_INSTEAD.search((self.said or self.told).front))

    @property
    def of_cut(self) -> bool:
        """Whether it is followed by a cut: '3 qts sliced' may be measured produce."""
        found = _CUT_BEHIND.match((self.said or self.told).back)
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
    own = [one for one in found if one.said is not one.told]  # others came with an answer
    sure = {id(one) for one in (*_all_plain(own, crop), *(one for one in found if one.said))}
    found = [one for one in found if not one.out]
    plain = [one for one in found if id(one) in sure]
    if cut := _measured(plain, shelf):
        counts.trimmed, counts.cut = cut.text, cut.told.back.strip()
        plain.remove(cut)
    counts.asked += ((one, among(one.text)) for one in found if one is not cut and one not in plain)
    _add_up(plain, counts, shelf)
    return counts


def _all_plain(found: Sequence[JarCount], crop: str) -> list[JarCount]:
    """The counts that are plainly the batch's by their words."""
    aside = not all(one.aside for one in found)  # of '8 pts (2 wide pts)' the two may be of the 8
    plain = [
        one for one in found
        if not one.beyond and _plain(one, crop) and not (aside and one.aside and not one.joined)
        and (one is found[0] or not _AGAIN.search(one.told.words))
    ]  # fmt: skip
    if not plain and len(found) == 1:
        plain = list(found)
    # '12 pints of carrots and 3 quarts of beets' are two batches
    two = len({*filter(None, (produce_in(one.told.back) for one in plain))}) > 1
    return [] if two else plain


def among(text: str) -> str:
    """The question whether a count in doubt is one of jars that were filled."""
    return f"is '{text}' to be added to the jars that were filled? Write '+ {text}' if so"


def _add_up(plain: Sequence[JarCount], counts: Counts, shelf: Mapping[str, Jar]) -> None:
    """Several sorts are added; one sort is counted twice only where the words say so."""
    added: list[str] = []
    for one in plain:
        sorts = {sort for text in added for sort in _sorts(text, shelf)}
        if added and one.instead:
            kept = _without_sorts(added, one.text, shelf)
            gone = " + ".join(text for text in added if text not in kept)
            if one.said is None:
                counts.taken.append(f"{one.text} taken in place of {gone}")
            added[:] = [*kept, one.text]
        elif (
            one.joined
            or not sorts & _sorts(one.text, shelf)
            or half_in(" + ".join((*added, one.text)), shelf)  # it is asked what that is
        ):
            added.append(one.text)
        else:
            both = f"{' + '.join(added)} and {one.text}"
            why = f"{TWICE}{both}: which? Say '{one.text}', or '+ {one.text}' if both count"
            counts.asked.append((one, why))
    counts.jars = " + ".join(added)


def _without_sorts(added: Sequence[str], text: str, shelf: Mapping[str, Jar]) -> list[str]:
    """Counts without those of the sorts of a text; without the last, where it has none of them."""
    sorts, kept = _sorts(text, shelf), list[str]()
    for one in added:
        if not sorts & _sorts(one, shelf):
            kept.append(one)
            continue
        counted = on_shelf(read_jars(one, shelf), shelf)
        kept += (so_many(number_text(n), key) for n, key in counted if key not in sorts)
    return kept if kept != list(added) else kept[:-1]


def with_count(jars: str, text: str, shelf: Mapping[str, Jar]) -> str:
    """A count of jars with that of another text in place of what it has of the same sorts."""
    return " + ".join([*_without_sorts([jars], text, shelf), text])


def more_of_its_sort(text: str, than: str, shelf: Mapping[str, Jar]) -> bool:
    """Whether a count of one sort is of more jars than another has of that sort."""
    with suppress(BatchError):
        found, others = (on_shelf(read_jars(each, shelf), shelf) for each in (text, than))
        return len(found) == 1 and any(
            sort == found[0][1] and number < found[0][0] for number, sort in others
        )
    return False


class Half(Struct, frozen=True):
    """A half beside whole jars of its sort: '9 pints and 1/2 pint'.

    It may be a jar of half the size, as ``smaller`` counts it, '' where there is none, or half a
    jar, as ``part`` does; ``whole`` are the others.
    """

    whole: str
    smaller: str
    part: str


def half_in(text: str, shelf: Mapping[str, Jar]) -> Half | None:
    """The half that stands beside whole jars of its sort in a count; None where there is none."""
    with suppress(BatchError):
        found = on_shelf(read_jars(text, shelf), shelf)
        for at, (number, sort) in enumerate(found):
            others = found[:at] + found[at + 1 :]
            if number == 0.5 and sort in {other for _, other in others}:
                part = next(n for n, other in others if other == sort) + number
                smaller = HALF_SIZE.get(sort.removesuffix("-wide"), "")
                return Half(
                    " + ".join(so_many(number_text(n), key) for n, key in others),
                    f"1 {smaller}" if smaller else "",
                    fractioned(so_many(number_text(part), sort)),
                )
    return None


def fractioned(text: str) -> str:
    """A count as cooks write it: '9.5 pint' is '9 1/2 pints'."""
    text = re.sub(r"(?<!\b0)(?<=\d)\.5\b", " 1/2", text)
    return re.sub(r"(?<!\b1 )(?<!\b0\.5 )\b(pint|quart)\b(?!-)", r"\1s", text)


def is_part(text: str, jars: str, shelf: Mapping[str, Jar]) -> bool:
    """Whether a text counts part of a jar, of a sort that has more than one: '1/2 pint' of 9."""
    with suppress(BatchError):
        found, whole = (on_shelf(read_jars(each, shelf), shelf) for each in (text, jars))
        several = {sort for number, sort in whole if number > 1}
        return any(number < 1 and sort in several for number, sort in found)
    return False


def same_sort(text: str, other: str, shelf: Mapping[str, Jar]) -> bool:
    """Whether two counts have a sort of jar in common."""
    return bool(_sorts(text, shelf) & _sorts(other, shelf))


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
