"""What is answered to a question about a line: read as the answer to that question alone.

An answer is never put back into the line and read anew with it: what else stands there keeps its
figures, whatever signs it is written with, and an answer that fits settles its question for good.
"""

import re
from collections.abc import Mapping

from jarcast.domain.jars import Jar
from jarcast.notebook.ingredients import in_any_case
from jarcast.notebook.pieces import BARE, JARS, Measure, as_jars, clauses, measures
from jarcast.notebook.roles import NAMES, Told, role_of, tells, with_words

# What people say before the answer itself: 'no, 7 1/2 pints', 'it was 3 lb'.
_LEAD = in_any_case(
    r"^\s*(?:(?:no|nope|yes|yeah|yep|sorry|oops|ok(?:ay)?|well)(?:\s*[,.;:!]+\s*|\s+(?=[\d+]))"
    r"|(?:it|that|this|they|those|there)(?:\s(?:was|were|is|are)|['\u2019]s)\s+"
    r"|(?:i|we)\s(?:had|have|got|made|filled|meant?)\s+|make\s(?:it|that)\s+|say\s+)+(?=\S)"
)
_YES, _NO = frozenset(("y", "yes", "yeah", "yep", "sure")), frozenset(("n", "no", "nope"))
_BOTH = in_any_case(r"(?:both|both count|add(?: them| both| it| up)?|\+)\W*")
_NUMBER_FIRST = re.compile(r"^[\d\s./\u00bc-\u00be\u2150-\u215e-]+(?:x\s)?")


def without_lead(answer: str) -> str:
    """An answer without the words that people begin one with, and without colons."""
    return _LEAD.sub("", answer).replace(":", " ").strip()


def says_yes(answer: str) -> bool:
    """Whether an answer is a plain yes."""
    return answer.casefold().strip(" .!") in _YES


def says_no(answer: str) -> bool:
    """Whether an answer is a plain no."""
    return answer.casefold().strip(" .!") in _NO


def says_both(answer: str) -> bool:
    """Whether an answer is that both of two count."""
    return bool(_BOTH.fullmatch(answer))


def adds(answer: str) -> bool:
    """Whether an answer comes on top: '+ 4 pts'."""
    return answer.lstrip().startswith("+")


def told_in(answer: str, shelf: Mapping[str, Jar]) -> list[Told]:
    """The measures of an answer, each with the words beside it."""
    found: list[Told] = []
    for clause in clauses(answer):
        inside = list(measures(clause, shelf))
        found += with_words(clause, inside) if inside else []
    return found


def amount(answer: str, kinds: frozenset[str], shelf: Mapping[str, Jar], unit: str = "") -> str:
    """The first measure of an answer that is of these kinds; a number alone takes the ``unit``."""
    for told in told_in(answer, shelf):
        if BARE in told.measure.kinds and unit:
            return f"{told.measure.text} {unit}"
        if kinds & told.measure.kinds:
            return told.measure.text
    return ""


def jars_in(answer: str, shelf: Mapping[str, Jar], like: str = "") -> Measure | None:
    """The count of jars in an answer; a number alone is of the sort of the count it is ``like``."""
    sort = _NUMBER_FIRST.sub("", like) if "+" not in like else ""
    texts = []
    for told in told_in(answer, shelf):
        if JARS in told.measure.kinds:
            texts.append(as_jars(told.measure.text))
        elif BARE in told.measure.kinds and sort:
            texts.append(f"{told.measure.text} {sort}")
    text = " + ".join(texts)
    return Measure(0, len(text), text, frozenset((JARS,))) if text else None


def in_place(
    answer: str, shelf: Mapping[str, Jar], *, measure: str = "", words: str = "", unit: str = ""
) -> list[str]:
    """The clauses that an answer stands for, each to be read as one of the line.

    An answer without a number tells of the ``measure`` that was asked about, else there is none. A
    number alone takes the ``unit``. Where none says what the ``words`` do that stood beside the
    measure in question, the last that they fit keeps them.
    """
    found = [part for part in clauses(answer) if any(measures(part, shelf))]
    if not found and measure and _tells_more(answer, measure, shelf):
        found = [f"{measure} {answer}"]
    found = [_with_unit(part, unit, shelf) for part in found]
    return _with_words(found, words, shelf) if words else found


def _tells_more(answer: str, measure: str, shelf: Mapping[str, Jar]) -> bool:
    """Whether words tell what a measure is, or the unit of a number."""
    if tells(answer):
        return True
    return any(not one.kinds & {BARE} for one in measures(f"{measure} {answer}", shelf)) and all(
        BARE in one.kinds for one in measures(measure, shelf)
    )


def _with_unit(clause: str, unit: str, shelf: Mapping[str, Jar]) -> str:
    inside = list(measures(clause, shelf))
    if not unit or len(inside) != 1 or BARE not in inside[0].kinds:
        return clause
    return f"{clause[: inside[0].end]} {unit}{clause[inside[0].end :]}"


def _with_words(found: list[str], words: str, shelf: Mapping[str, Jar]) -> list[str]:
    fits: list[tuple[bool, int, str]] = []
    for at, clause in enumerate(found):
        told = told_in(clause, shelf)[-1]
        own, due = role_of(told), role_of(Told(told.measure, words, ""))
        if own and due and own.column == due.column:
            return found
        jars = JARS in told.measure.kinds  # what they are, where another measure fits
        if due and not own and not (jars and due.column == "jars"):
            fits.append((not jars, at, NAMES[due.column]))
    if fits:
        _, at, name = max(fits)
        found[at] = f"{found[at]} {name}"
    return found
