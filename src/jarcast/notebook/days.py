"""Dates as people write them. The order of day and month is told or settled, never guessed."""

import datetime as dt
import re
from collections.abc import Iterable

from jarcast.notebook.dated import day_of

ORDERS = ("dmy", "mdy", "ymd")
_NUMBERS = re.compile(r"(\d{1,4})\s?[-/.]\s?(\d{1,2})\s?[-/.]\s?(\d{4}|\d{2})")
_NO_YEAR = re.compile(r"\d{1,2}\s?([-/.])\s?\d{1,2}\.?")
_WRITTEN_OUT = re.compile(r"\b(?:19|20)\d\d\b")
_YEAR = re.compile(
    r"(?<![\d/.-])(?:19|20)\d\d(?!\d)|\b\d{1,2}[-/.]\d{1,2}[-/.](?:20)?(\d\d)\b"
    r"|(?<!\w)['\u2019](\d\d)\b"
)


def year_in(text: str) -> str:
    """The year that a text tells last, in a title or a date; '' for none."""
    if day := day_of(text.strip()):
        return str(day.year)
    found = list(_YEAR.finditer(text))
    if not found:
        return ""
    short = found[-1][1] or found[-1][2]
    return f"20{short}" if short else found[-1][0]


def numbered(text: str) -> bool:
    """Whether a text holds a number that is no year."""
    return bool(re.search(r"\d", _WRITTEN_OUT.sub("", text)))


def with_year(text: str, year: str) -> str:
    """A date that states no year with this one; the date as it is where it states one."""
    if not year or not text:
        return text
    if found := _NO_YEAR.fullmatch(text.strip()):
        return f"{text.strip().rstrip('.')}{found[1]}{year}"
    longer = f"{text.strip()} {year}"
    return longer if read_day(text) is None and read_day(longer) is not None else text


def why_no_day(text: str) -> str:
    """What keeps a text from being a day: no year, no month, or one not known; '' for none."""
    if re.fullmatch(r"\d{1,2}(?:st|nd|rd|th)?\.?", text.strip(), re.I):
        return (
            "gives no month; write it like 2024-08-31, or put the month in a column 'Month', in a "
            "title above, or in the name of the sheet"
        )
    if with_year(text, "2024") != text and not _WRITTEN_OUT.search(text):
        return (
            "gives no year; write it like 2024-08-31, or put the year in a title above, or in the "
            "name of the sheet or the file"
        )
    if re.search(r"[^\W\d_]{3}", text) and re.search(r"\d", text):
        return "is not a date that jarcast can read; write it like 2024-08-31 or Aug 31 2024"
    return ""


def read_day(text: str, order: str = "") -> dt.date | None:
    """The day of a date, with ``order`` where its numbers leave that open; None if none can be."""
    text = re.sub(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? +", "", text.strip(), flags=re.I)
    if (day := day_of(text)) is not None:
        return day
    days = _days(text)
    if len(set(days.values())) == 1:  # '20.8.2022' has no twentieth month
        return next(iter(days.values()))
    return days.get(order)


def is_day(text: str) -> bool:
    """Whether a text is a date, whatever the order of its numbers."""
    return any(read_day(text, order) for order in ORDERS)


def order_of(texts: Iterable[str]) -> str:
    """The order that the dates of one file can all be read in; '' where two or none fit."""
    written = [days for text in texts if day_of(text) is None and (days := _days(text))]
    fit = [order for order in ORDERS if all(order in days for days in written)]
    return fit[0] if written and len(fit) == 1 else ""


def _days(text: str) -> dict[str, dt.date]:
    """The days that the numbers of a date may mean, by their order."""
    found = _NUMBERS.fullmatch(text)
    if not found:
        return {}
    a, b, c = found.groups()
    trials = {"ymd": (a, b, c)} if len(a) == 4 else {"dmy": (c, b, a), "mdy": (c, a, b)}
    if len(a) == 2 and len(c) == 2:
        trials["ymd"] = (a, b, c)
    days = {}
    for order, (y, m, d) in trials.items():
        try:
            days[order] = dt.date(int(y) + (2000 if len(y) == 2 else 0), int(m), int(d))
        except ValueError:
            continue
    today = dt.date.today()
    return {order: day for order, day in days.items() if order != "ymd" or day <= today}
