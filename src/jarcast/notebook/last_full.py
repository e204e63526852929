"""A last jar that words call part full: '14 pints, last one half full' are 13 1/2.

The words are those of picklers: common practice, no source.
"""

from collections.abc import Mapping
from contextlib import suppress

from jarcast.domain.batch import number_text
from jarcast.domain.jar_text import Counted, read_jars
from jarcast.domain.jars import Jar, so_many
from jarcast.errors import BatchError
from jarcast.notebook.ingredients import in_any_case

_PARTS: Mapping[str, float] = {
    "half": 1 / 2, "1/2": 1 / 2, "\u00bd": 1 / 2,
    "third": 1 / 3, "1/3": 1 / 3, "\u2153": 1 / 3,
    "two thirds": 2 / 3, "two-thirds": 2 / 3, "2/3": 2 / 3, "\u2154": 2 / 3,
    "quarter": 1 / 4, "1/4": 1 / 4, "\u00bc": 1 / 4,
    "three quarters": 3 / 4, "three-quarters": 3 / 4, "3/4": 3 / 4, "\u00be": 3 / 4,
}  # fmt: skip
_PART = "|".join(sorted(_PARTS, key=len, reverse=True))
_LAST = in_any_case(
    r"(?:\b(?:with|but|and|the)\s+)*"
    r"\b(?:(?P<last>last|final)(?:\s+(?:one|jar|pint|quart|of them))*|one)"
    r"(?:\s+(?:was|is|being|came out))?(?:\s+(?:only|just|about|abt\.?|around|roughly|barely|an?))*"
    rf"\s+(?:(?P<part>{_PART})|part(?:ly|ially)?)[\s-]+(?:of the way\s+)?(?:full|filled)\b"
)


def said_of_last(text: str) -> str:
    """The words of a text that call the last jar part full; '' for none."""
    found = _LAST.search(text)
    return found[0].strip() if found else ""


def with_its_part(jars: str, words: str, shelf: Mapping[str, Jar]) -> str:
    """A whole count of jars with its last one part full, as ``words`` have it.

    The count as it stands where it is no whole number: it tells of the part itself. '' where the
    words do not say how full it was, or whether it is one of those counted.
    """
    last = _LAST.search(words)
    found: tuple[Counted, ...] = ()
    with suppress(BatchError):
        found = read_jars(jars, shelf)
    if last is None or not found or any(not one.number or one.number % 1 for one in found):
        return jars
    if last["part"] is None or last["last"] is None:  # 'one half full' may come on top
        return ""
    part = _PARTS[last["part"].casefold()]
    counts = [(one.number or 0.0, one.sort) for one in found]
    counts[-1] = counts[-1][0] - 1.0 + part, counts[-1][1]
    return " + ".join(
        so_many(number, sort) if sort else number
        for number, sort in ((number_text(round(count, 3)), sort) for count, sort in counts)
    )
