"""A notebook of dated lines: which line is of which day."""

import datetime as dt
import re
from collections.abc import Mapping
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.jars import SHELF, Jar
from jarcast.notebook.crop_name import produce_in
from jarcast.notebook.crossed_out import is_struck
from jarcast.notebook.line import Line, read_line
from jarcast.notebook.reading import Asked

WHICH_DAY = "which day is that? Write it like 2025-08-03 or Aug 3 2025"
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?"
    r"|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\.?"
)
_YEAR = r"(?P<y>\d{4}|['\u2019]\d\d)"
_NTH = r"(?:st|nd|rd|th)?"
_ISO = re.compile(r"(?P<y>\d{4})([-/.])(?P<m>\d{1,2})\2(?P<d>\d{1,2})")
_COMPACT = re.compile(r"(?P<y>(?:19|20)\d\d)(?P<m>0[1-9]|1[0-2])(?P<d>0[1-9]|[12]\d|3[01])")
_NAMED = (
    re.compile(
        rf"(?P<m>{_MONTH})[-/ ]?(?P<d>\d{{1,2}}){_NTH}(?:(?:,? ?|[-/]){_YEAR}|[-/](?P<yy>\d\d))?",
        re.I,
    ),
    re.compile(
        rf"(?P<d>\d{{1,2}}){_NTH}\.?[-/ ]?(?:of )?(?P<m>{_MONTH})"
        rf"(?:(?:,? ?|[-/]){_YEAR}|[-/](?P<yy>\d\d))?",
        re.I,
    ),
    re.compile(rf"(?P<y>\d{{4}})[-/ ](?P<m>{_MONTH})[-/ ](?P<d>\d{{1,2}}){_NTH}", re.I),
)
# More days than one: which of them the jars were filled on is for the cook to say.
_SEVERAL = (
    rf"{_MONTH} ?\d{{1,2}}{_NTH} ?[-\u2013&] ?(?:{_MONTH} ?)?\d{{1,2}}{_NTH},? \d{{4}}"
    rf"|\d{{1,2}}{_NTH} ?[-\u2013&] ?\d{{1,2}}{_NTH} {_MONTH},? \d{{4}}"
)
_NUMBERED = (
    r"\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})|\d{1,2}\. \d{1,2}\. (?:\d{4}|\d{2})"
    r"|\d{1,2}[-/.]\d{1,2}\.?(?=\s*:|\s-\s)"
)
_DATE = "|".join(
    re.sub(r"\?P<\w+>", "?:", one)
    for one in (_SEVERAL, *(p.pattern for p in _NAMED), r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}",
                _COMPACT.pattern, _NUMBERED)
)  # fmt: skip
_WEEKDAY = r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? +)?"
# What stands before a date: a dash, a number in a list, a tick, a word or two.
_BEFORE = (
    r"\s*(?:[*\u2022-]\s+|\(?\d{1,3}[.)]\s+|\[[x\u2713]\]\s*|#\d+[.:]?\s+)*"
    r"(?:(?:date[ds]?|on|the|done|made|put up|canned|jarred)[: ]\s*){0,3}"
)
_UNIT_NEXT = r"(?:#|lbs?\b|oz\b|kg\b|g\b|pts?\b|qts?\b|c\b|cups?\b|pounds?\b|pints?\b|quarts?\b)"
_DAY = re.compile(
    rf"{_BEFORE}[(\[]?{_WEEKDAY}(?P<date>{_DATE})(?:[T ]\d\d:\d\d(?::\d\d)?)?"
    rf"(?![\w/#]|\.\d|\s?{_UNIT_NEXT})[)\]]?\s*(?:[:,;.]|--(?=\s)|[-\u2013\u2014](?![->]))?\s*",
    re.IGNORECASE,
)
_LONGEST_ABOVE = 400  # characters of a batch that an undated line may go on with
_LONGEST_DATE = 60  # characters, with what stands before it
# A date with its year that ends a line: 'okra 4 lb, 8 pts, 3 Aug 2025'.
_AT_THE_END = re.compile(
    rf"(?:[,;(]|\s[-\u2013\u2014]|\b(?:on|made|done|put up|canned))\s*{_WEEKDAY}"
    rf"(?P<date>{_DATE})\W*$",
    re.IGNORECASE,
)

_MEASURES = re.compile(r"(?:about |abt |~ ?)?[\d\u00bc-\u00be\u2150-\u215e]")
_SAYS_WHAT = re.compile(
    r"(?:made|brine|trimmed|drained|rinsed|salted|cooked|(?:all )?sealed|used|left|headspace"
    r"|paid)\b",
    re.IGNORECASE,
)


class Dated(Struct, frozen=True):
    """One line of a notebook: its number from 1, its date as written ('' for none), its words.

    ``struck`` is that the line is struck out.
    """

    number: int
    date: str
    text: str
    struck: bool = False


def read_lines(text: str) -> tuple[Dated, ...]:
    """The lines of a notebook in order, blank ones left out, each with its date as written.

    A line that is a date alone dates the undated lines under it, up to a blank one. An indented
    line under a dated one goes on with it, and so does one that only measures.
    """
    found: list[Dated] = []
    heading, after = "", False  # a blank line
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            heading, after = "", True
            continue
        date, rest = parted(line)
        if struck := is_struck(rest):
            found.append(Dated(number, date, rest, struck))
        elif date and not rest:
            heading = date
        elif (
            not date
            and found
            and found[-1].date
            and (
                (line[0] in " \t" and not heading) or (not after and _goes_on(found[-1].text, rest))
            )
        ):
            found[-1] = replace(found[-1], text=f"{found[-1].text}, {rest}")
        else:
            found.append(Dated(number, date or heading, rest))
            heading = "" if date else heading
        after = False
    return tuple(found)


def _goes_on(above: str, line: str) -> bool:
    """Whether a line is more of the batch above it: it names no produce, and measures.

    '14 pints' under 'dilly beans, 9 lb'; of a batch that has its jars, what says what it measures.
    """
    if len(above) > _LONGEST_ABOVE or produce_in(line):
        return False
    if _SAYS_WHAT.match(line):
        return True
    return bool(_MEASURES.match(line)) and "jars" not in read_line(above).cells


def parted(line: str) -> tuple[str, str]:
    """The date that a line begins or ends with, as written and '' for none, and the rest of it.

    At the end a date is one that states its year; an indented line has none there.
    """
    if found := _DAY.match(line):
        return found["date"].strip(), line[found.end() :].strip()
    if line[:1] in (" ", "\t"):
        return "", line.strip()
    found = _AT_THE_END.search(line, max(len(line) - _LONGEST_DATE, 0))
    if found and re.search(r"\d{4}|['\u2019/.-]\d\d$", found["date"]):
        return found["date"].strip(), line[: found.start()].strip()
    return "", line.strip()


def day_of(text: str) -> dt.date | None:
    """The day of a date whose order and year are beyond doubt: '2025-08-03', 'Aug 3 2025'."""
    found = next(filter(None, (p.fullmatch(text) for p in (_ISO, _COMPACT, *_NAMED))), None)
    told = found.groupdict() if found else {}
    year = told.get("y") or told.get("yy")
    if not year:
        return None
    month = told["m"]
    number = int(month) if month.isdigit() else _MONTHS.index(month[:3].casefold()) + 1
    full = int(year) if len(year) == 4 else 2000 + int(year[-2:])
    try:
        return dt.date(full, number, int(told["d"]))
    except ValueError:
        return None


def read_dated(
    text: str, shelf: Mapping[str, Jar] = SHELF, answers: Mapping[Asked, str] = MappingProxyType({})
) -> Line:
    """A line of words that may begin with its date. Never raises: what is in doubt is asked.

    ``answers`` are those to questions that it asked before.
    """
    date, rest = parted(text)
    line = read_line(rest, shelf, answers)
    if not date:
        return line
    asked = date, WHICH_DAY
    day = day_of(date) or day_of(answers.get(asked, "").strip(" ."))
    if day is None:
        without = {asked: "the date is today", **line.without}
        return replace(line, asked=(asked, *line.asked), without=without)
    return replace(line, cells={**line.cells, "date": day.isoformat()})
