"""A notebook of dated lines: which line is of which day."""

import datetime as dt
import re
from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.jars import SHELF, Jar
from jarcast.notebook.line import Line, read_line

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?"
    r"|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\.?"
)
_ISO = re.compile(r"(?P<y>\d{4})([-/.])(?P<m>\d{1,2})\2(?P<d>\d{1,2})")
_NAMED = (
    re.compile(rf"(?P<m>{_MONTH}) ?(?P<d>\d{{1,2}})(?:st|nd|rd|th)?(?:,? (?P<y>\d{{4}}))?", re.I),
    re.compile(
        rf"(?P<d>\d{{1,2}})(?:st|nd|rd|th)?\.? ?(?P<m>{_MONTH})(?:,? (?P<y>\d{{4}}))?", re.I
    ),
)
_NUMBERED = re.compile(
    r"\d{1,2}([-/.])\d{1,2}\1(?:\d{4}|\d{2})|\d{1,2}[-/.]\d{1,2}\.?(?=\s*:|\s-\s)"
)
_DAY = re.compile(
    r"\s*(?:[*\u2022-]\s+)?(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? +)?(?P<date>"
    + "|".join(re.sub(r"\?P<\w>", "?:", p.pattern) for p in _NAMED)
    + r"|\d{4}[-/.]\d{1,2}[-/.]\d{1,2}"
    + "|"
    + _NUMBERED.pattern.replace(r"([-/.])", "[-/.]").replace(r"\1", "[-/.]")
    + r")(?![\w/#.]|\s?(?:#|lbs?\b|oz\b|kg\b|g\b|pts?\b|qts?\b|c\b|cups?\b|pounds?\b|pints?\b"
    r"|quarts?\b))\s*(?:[:,;]|[-\u2013\u2014](?!>))?\s*",
    re.IGNORECASE,
)


class Dated(Struct, frozen=True):
    """One line of a notebook: its number from 1, its date as written ('' for none), its words."""

    number: int
    date: str
    text: str


def read_lines(text: str) -> tuple[Dated, ...]:
    """The lines of a notebook in order, blank ones left out, each with its date as written.

    A line that is a date alone dates the undated lines under it, up to a blank one. An indented
    line under a dated one goes on with it.
    """
    found: list[Dated] = []
    heading = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            heading = ""
            continue
        date, rest = parted(line)
        if date and not rest:
            heading = date
        elif not date and found and line[0] in " \t" and found[-1].date and not heading:
            found[-1] = replace(found[-1], text=f"{found[-1].text}, {rest}")
        else:
            found.append(Dated(number, date or heading, rest))
            heading = "" if date else heading
    return tuple(found)


def parted(line: str) -> tuple[str, str]:
    """The date that a line begins with, as written and '' for none, and the rest of it."""
    found = _DAY.match(line)
    return (found["date"].strip(), line[found.end() :].strip()) if found else ("", line.strip())


def day_of(text: str) -> dt.date | None:
    """The day of a date whose order and year are beyond doubt: '2025-08-03', 'Aug 3 2025'."""
    found = _ISO.fullmatch(text) or next(filter(None, (p.fullmatch(text) for p in _NAMED)), None)
    if found is None or not found["y"]:
        return None
    month = found["m"]
    number = int(month) if month.isdigit() else _MONTHS.index(month[:3].casefold()) + 1
    try:
        return dt.date(int(found["y"]), number, int(found["d"]))
    except ValueError:
        return None


def read_dated(text: str, shelf: Mapping[str, Jar] = SHELF) -> Line:
    """A line of words that may begin with its date. Never raises: what is in doubt is asked."""
    date, rest = parted(text)
    line = read_line(rest, shelf)
    if not date:
        return line
    if (day := day_of(date)) is None:
        why = "which day is that? Write it like 2025-08-03 or Aug 3 2025"
        return replace(line, asked=((date, why), *line.asked))
    return replace(line, cells={**line.cells, "date": day.isoformat()})
