"""Days whose month stands elsewhere: in a column of its own, in a title, in the name of a sheet."""

import re
from collections.abc import Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.batchtable.meant import Column
from jarcast.notebook.crops import is_ditto

Row = tuple[str, ...]

_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MONTH = re.compile(
    r"(?<![^\W\d_])(?:(?i:jan(?:uary)?|feb(?:ruary)?|apr(?:il)?|june?|july?|aug(?:ust)?"
    r"|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)|Mar(?:ch)?|MARCH|May|MAY)"
    r"(?![^\W\d_])"  # 'it may march on' names none
)
_DAY = re.compile(r"(?:[1-9]|0[1-9]|[12]\d|3[01])(?:st|nd|rd|th)?\.?", re.I)
_YEAR = re.compile(r"(?:19|20)\d\d|['\u2019]?\d\d")
_LONGEST_TITLE = 6  # words; what is longer is a sentence


class Months(Struct):
    """Columns, rows whose days have their month, and by line what is told of it."""

    columns: tuple[Column, ...]
    rows: list[tuple[int, Row]]
    told: dict[int, str] = field(default_factory=dict)


def with_months(
    rows: Sequence[tuple[int, Row]], columns: tuple[Column, ...], titles: Sequence[str]
) -> Months:
    """Rows in which a day alone, '4', has its month, where most of a column are such days.

    It is that of a column 'Month', as it goes on downward, or of a title, the nearest last; one in
    a row of its own holds from there on.
    """
    names = [column.name for column in columns]
    at = names.index("date") if "date" in names else -1
    days = [row[at] for _, row in rows if 0 <= at < len(row) and row[at]]
    if at < 0 or columns[at].told or 2 * sum(map(bool, map(_DAY.fullmatch, days))) <= len(days):
        return Months(columns, list(rows))
    month, year = _column(columns, r"months?|mon|mo"), _column(columns, r"years?|yr|yyyy|yy")
    if month is not None:
        return _of_column(rows, columns, at, month, year)
    return _of_titles(rows, columns, at, titles)


def _column(columns: Sequence[Column], words: str) -> int | None:
    fit = re.compile(words, re.I)
    return next(
        (
            at
            for at, column in enumerate(columns)
            if not (column.name or column.told) and fit.fullmatch(column.heading.strip(" .:"))
        ),
        None,
    )


def _of_column(
    rows: Sequence[tuple[int, Row]],
    columns: tuple[Column, ...],
    at: int,
    month: int,
    year: int | None,
) -> Months:
    """Days with the month beside them, and the year; a cell left empty is the one above."""
    places = [place for place in (month, year) if place is not None]
    read = Months(
        tuple(replace(c, name="date") if i in places else c for i, c in enumerate(columns)), []
    )
    above = dict.fromkeys(places, "")
    for line, row in rows:
        cells = list(row)
        for place in places:
            text = row[place] if place < len(row) else ""
            fits = _name(text) if place == month else _YEAR.fullmatch(text)
            if fits:
                above[place] = text
            if fits or is_ditto(text):
                cells[place] = ""
        day = row[at] if at < len(row) else ""
        if _DAY.fullmatch(day) and (name := _name(above[month])):
            cells[at] = " ".join(
                filter(None, (name, _number(day), above[year] if year is not None else ""))
            )
        read.rows.append((line, tuple(cells)))
    return read


def _of_titles(
    rows: Sequence[tuple[int, Row]], columns: tuple[Column, ...], at: int, titles: Sequence[str]
) -> Months:
    """Days with the month of the nearest title that names one alone."""
    title = next((one for one in reversed(titles) if _month_in(one)), "")
    read = Months(columns, [])
    for line, row in rows:
        words = " ".join(filter(None, row))
        if len(list(filter(None, row))) == 1 and _month_in(words):
            title = words
        day = row[at] if at < len(row) else ""
        if _DAY.fullmatch(day) and (name := _month_in(title)):
            row = (*row[:at], f"{name} {_number(day)}", *row[at + 1 :])
            read.told[line] = f"'{day}' is taken as {name} {_number(day)}, after '{title}'"
        read.rows.append((line, row))
    return read


def _name(text: str) -> str:
    """The month of a cell, by its name or its number; '' for none."""
    if text.isdecimal():
        return _NAMES[int(text) - 1] if 0 < int(text) <= len(_NAMES) else ""
    found = _MONTH.match(text.capitalize())
    return found[0][:3].capitalize() if found else ""


def _month_in(title: str) -> str:
    """The one month that a title names; '' for none, or several."""
    found = {month[0][:3].capitalize() for month in _MONTH.finditer(title)}
    return found.pop() if len(found) == 1 and len(title.split()) <= _LONGEST_TITLE else ""


def _number(day: str) -> str:
    return re.sub(r"\D", "", day)
