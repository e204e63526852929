"""A jar that words call part full: '14 pints, last one half full' are 13 1/2.

The words are those of picklers: common practice, no source.
"""

from collections.abc import Mapping, Sequence
from contextlib import suppress

from msgspec import Struct

from jarcast.domain.batch import number_text
from jarcast.domain.jar_text import Counted, read_jars
from jarcast.domain.jars import Jar, jar_key, so_many
from jarcast.errors import BatchError
from jarcast.measures.numbers import NUMBER_WORDS
from jarcast.notebook.ingredients import in_any_case

_PARTS: Mapping[str, float] = {
    "half": 1 / 2, "1/2": 1 / 2, "\u00bd": 1 / 2,
    "third": 1 / 3, "1/3": 1 / 3, "\u2153": 1 / 3,
    "two thirds": 2 / 3, "two-thirds": 2 / 3, "2/3": 2 / 3, "\u2154": 2 / 3,
    "quarter": 1 / 4, "1/4": 1 / 4, "\u00bc": 1 / 4,
    "three quarters": 3 / 4, "three-quarters": 3 / 4, "3/4": 3 / 4, "\u00be": 3 / 4,
}  # fmt: skip
_PART = f"(?P<part>{'|'.join(sorted(_PARTS, key=len, reverse=True))})"
_SORT = r"(?P<sort>(?:half[ -]|wide )?(?:pint|pt|quart|qt|lit(?:er|re))s?)"
_ABOUT = r"(?:\s+(?:only|just|about|abt\.?|around|roughly|barely|an?))*"
_FULL = r"[\s-]+(?:of the way\s+)?(?P<state>full|filled|empty)\b"
_UNTOLD = (
    r"(?:part(?:ly|ially)?[\s-]+(?:full|filled)|(?:was ?n.?t|not)(?: quite| all)? (?:full|filled))"
)
_LAST = in_any_case(
    r"(?:\b(?:with|but|and|the)\s+)*\b(?:last|final)"
    rf"(?:\s+(?P<many>two|three|2|3))?(?:\s+(?:one|jar|of them|{_SORT})s?)*"
    rf"(?:\s+(?:was|were|is|being|came out))?{_ABOUT}"
    rf"\s+(?:{_PART}(?:{_FULL}|(?=\W*$|\s*[,;.)]))|{_UNTOLD}\b)"
)
# '8 pts + 1 pt half full', '8 pts and a half-full one': on top of those counted.
_JOINED = in_any_case(
    rf"(?:\+|&|\band|\bplus)\s+(?:an?|one|1)\s+(?:{_SORT}(?:\s+jar)?(?:\s+(?:was|is|only|about))*\s+)?"
    rf"{_PART}{_FULL}(?:\s+(?:one|jar|pint|pt|quart|qt)\b)?"
)
# Neither how full nor whether it is one of those counted: that is asked.
_UNSURE = in_any_case(
    rf"\bone{_ABOUT}\s+(?:jar\s+)?(?:{_PART}{_FULL}|{_UNTOLD}\b)"
    r"|(?:\b(?:and|plus)|\+|&)\s+(?:an?|one|1)\s+(?:partial|part[\s-]+(?:full|filled))"
    r"(?:\s+(?:one|jar|pint|quart))?(?=\W*$|\s*[,;.)])"
)


class PartFull(Struct, frozen=True):
    """What words say of a jar that was not full.

    ``part`` is how full, None where that is not said, or not whether it is one of those counted;
    ``many`` jars of this ``sort``, '' where none is named; ``joined`` where they come on top.
    """

    words: str
    part: float | None
    many: int = 1
    sort: str = ""
    joined: bool = False


def part_full(text: str) -> PartFull | None:
    """What a text says of a jar that was not full; None where it says nothing."""
    if found := _JOINED.search(text):
        return PartFull(
            found[0], _part(found["part"], found["state"]), 1, found["sort"] or "", True
        )
    if found := _LAST.search(text):
        words, part = found[0].strip(), _part(found["part"], found["state"])
        many = found["many"] or "1"
        many_jars = int(many) if many.isdigit() else NUMBER_WORDS[many.casefold()]
        return PartFull(words, part, many_jars, found["sort"] or "")
    if found := _UNSURE.search(text):
        return PartFull(found[0].strip(), None)
    return None


def _part(part: str | None, state: str | None) -> float | None:
    if part is None:
        return None
    full = _PARTS[part.casefold()]
    return 1.0 - full if (state or "").casefold() == "empty" else full


def counted_so(jars: str, said: PartFull, shelf: Mapping[str, Jar]) -> str:
    """A whole count of jars with the one that was not full as its part.

    The count as it stands where it is no whole number: it tells of the part itself. '' where that
    cannot be told.
    """
    found: tuple[Counted, ...] = ()
    with suppress(BatchError):
        found = read_jars(jars, shelf)
    if not found or any(not one.number or one.number % 1 for one in found):
        return jars
    at = _place(found, said.sort, shelf)
    if said.part is None or at is None or (found[at].number or 0.0) < said.many:
        return ""
    counts = [one.number or 0.0 for one in found]
    counts[at] += said.part if said.joined else said.many * (said.part - 1.0)
    return " + ".join(
        so_many(number, one.sort) if one.sort else number
        for number, one in zip(
            (number_text(round(count, 3)) for count in counts), found, strict=True
        )
    )


def _place(found: Sequence[Counted], sort: str, shelf: Mapping[str, Jar]) -> int | None:
    """Which of the counts is meant: the last of the sort named, else the last; None for none."""
    if not sort or len(found) == 1:
        return len(found) - 1
    with suppress(BatchError):
        key = jar_key(sort, shelf)
        same = [i for i, one in enumerate(found) if one.sort in (key, f"{key}-wide")]
        return same[-1] if same else None
    return None
