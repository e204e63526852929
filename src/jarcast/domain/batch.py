"""One batch, and what is a valid one.

A single value that cannot be (negative, not finite, no jars) is refused when the batch is made.
Values that contradict one another are taken in: see ``contradictions``.
"""

import datetime as dt
import math
from collections.abc import Callable, Mapping
from itertools import chain, count
from numbers import Real
from operator import attrgetter
from typing import NamedTuple

from msgspec import Struct

from jarcast.domain.fields import FIELD_OF, MOST_TEXT, NUMBERS, TEXTS
from jarcast.domain.jars import SHELF, Jar, jar_list, so_many
from jarcast.domain.stages import STAGE_OF
from jarcast.errors import BatchError


class Doubt(NamedTuple):
    """How far a counted weight may be off, a sd in logs, and the count as it was typed."""

    column: str
    log_sd: float
    typed: str


class Batch(Struct, frozen=True, kw_only=True):
    """One batch as recorded; ``None`` and '' mean not recorded.

    Weights are grams, volumes millilitres. ``jar`` and ``jars`` run side by side: sorts of jar
    (keys of the shelf) and how many of each were filled. ``not_jarred_g`` is the ready produce
    that never went into a jar, ``person`` who trimmed and packed, ``cost`` what all of it cost, in
    one's own currency. Two are no columns of the table: ``confirmed`` names columns whose odd
    values the user stands by, and ``doubt`` is that of weights counted in containers or cups.
    Raises BatchError on making.
    """

    batch: str
    date: dt.date
    produce: str
    jar: tuple[str, ...]
    jars: tuple[float, ...]
    cut: str = ""
    pack: str = ""
    headspace_in: float | None = None
    as_bought_g: float | None = None
    trimmed_g: float | None = None
    salt_g: float | None = None
    cure_hours: float | None = None
    cured_g: float | None = None
    cooked_g: float | None = None
    brine_made_ml: float | None = None
    brine_left_ml: float | None = None
    sealed: float | None = None
    recipe: str = ""
    note: str = ""
    not_jarred_g: float | None = None
    person: str = ""
    cost: float | None = None
    confirmed: frozenset[str] = frozenset()
    doubt: frozenset[Doubt] = frozenset()

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        problems = [f"{column}: {why}" for column, why in impossible(self).items()]
        if problems:
            raise BatchError(f"batch '{self.batch}': " + "; ".join(problems), tuple(problems))

    @property
    def jar_text(self) -> str:
        """The sorts of jar as one cell: 'pint-wide + pint'."""
        return jar_list(self.jar)

    @property
    def jars_text(self) -> str:
        """The counts as one cell: '5 + 4.5', whole numbers without a point."""
        return jar_list(map(number_text, self.jars))

    @property
    def filled_text(self) -> str:
        """Each count with its sort: '5 pint-wide + 4.5 pint'."""
        pairs = zip(self.jars, self.jar, strict=True)
        return jar_list(so_many(number_text(number), key) for number, key in pairs)

    @property
    def total_jars(self) -> float:
        """All jars filled, of whatever sort."""
        return math.fsum(self.jars)

    def counted_as(self, column: str) -> str:
        """A weight as it was typed, where it was counted ('16 cups'); '' for one weighed."""
        if not self.doubt:  # the usual case
            return ""
        return next((one.typed for one in self.doubt if one.column == column), "")

    def doubt_of(self, column: str) -> float:
        """How far a weight may be off, a sd in logs; 0 for one that was weighed."""
        if not self.doubt:
            return 0.0
        return next((one.log_sd for one in self.doubt if one.column == column), 0.0)

    @property
    def brine_used_ml(self) -> float | None:
        """Brine made less brine left, where both were recorded."""
        if self.brine_made_ml is None or self.brine_left_ml is None:
            return None
        return self.brine_made_ml - self.brine_left_ml

    def fill_volume_ml(self, shelf: Mapping[str, Jar] = SHELF) -> float:
        """Fill volume of all the jars together, in ml."""
        return math.fsum(
            number * shelf[key].fill_volume_ml(self.headspace_in)
            for key, number in zip(self.jar, self.jars, strict=True)
        )


def too_many_sealed(batch: Batch) -> bool:
    """Whether more jars are said to have sealed than there are, the part-full one counted."""
    return batch.sealed is not None and batch.sealed > math.ceil(batch.total_jars)


def free_name(name: str, taken: Callable[[str], bool]) -> str:
    """A name for a batch, with a number where it is taken."""
    numbered = (f"{name} {number}" for number in count(2))
    return next(found for found in chain([name], numbered) if not taken(found))


def number_text(value: float) -> str:
    """The shortest text that reads back as the same float; whole numbers without a point."""
    if abs(value) < 1e15 and value == int(value):
        return str(int(value))
    return repr(float(value))


def plain_number(value: float) -> str:
    """A number for a message: four digits after the point at most, and no power of ten."""
    return f"{value:.4f}".rstrip("0").rstrip(".") if math.isfinite(value) else str(value)


LEAST = 1e-3  # grams or jars; with less, ratios of weights leave what a float can hold


def number_problem(column: str, value: float) -> str | None:
    """Why a single number cannot stand in this column, or None."""
    if not math.isfinite(value):
        return f"{value} is not a number that can be weighed or counted"
    if value < 0:
        return f"{number_text(value)} is negative; write the amount, or leave it empty if unknown"
    if column in STAGE_OF and value == 0:
        return "0 is not a weight; leave it empty if it was not weighed"
    if (column in STAGE_OF or column == "jars") and 0 < value < LEAST:
        return f"{value:g} is less than can be weighed or counted"
    if value > (most := FIELD_OF[column].most):
        return f"{plain_number(value)} is more than can be ({plain_number(most)} at most)"
    return None


def text_problem(text: str) -> str | None:
    """Why a text cannot be recorded, or None."""
    if len(text) > MOST_TEXT:
        return f"has {len(text)} characters; {MOST_TEXT} at most can be kept"
    try:
        text.encode()
    except UnicodeEncodeError:  # half of a character
        return _NOT_KEPT
    return _NOT_KEPT if "\0" in text else None


_NOT_KEPT = "holds a character that cannot be stored; type it again"
_texts_of = attrgetter(*TEXTS)
_numbers_of = attrgetter(*NUMBERS)
_MOST_OF_NUMBERS = tuple(FIELD_OF[column].most for column in NUMBERS)
_MOST_JARS = FIELD_OF["jars"].most


def impossible(batch: Batch) -> dict[str, str]:
    """Single values that cannot be, as column -> why; empty for a batch that can be taken."""
    if problems := _of_wrong_kind(batch):
        return problems
    problems = {
        column: "is empty; every batch needs one"
        for column in ("batch", "produce")
        if not getattr(batch, column).strip()
    }
    if text_problem("".join(_texts_of(batch))):  # otherwise none of them has a problem
        texts = zip(TEXTS, _texts_of(batch), strict=True)
        problems |= {column: why for column, text in texts if (why := text_problem(text))}
    for column, value, most in zip(NUMBERS, _numbers_of(batch), _MOST_OF_NUMBERS, strict=True):
        can_be = value is None or LEAST <= value <= most
        if not can_be and (why := number_problem(column, value)):
            problems[column] = why
    if why := _jars_problem(batch):
        problems["jars"] = why
    return problems


def _of_wrong_kind(batch: Batch) -> dict[str, str]:
    """Values that are no text, number or date where one is due; True is no number."""
    if not isinstance(batch.jar, tuple | list) or not isinstance(batch.jars, tuple | list):
        return {"jars": "give a tuple of counts and one of sorts: jar=('pint',), jars=(9.5,)"}
    texts = (*zip(TEXTS, _texts_of(batch), strict=True), *(("jar", key) for key in batch.jar))
    numbers = (
        *zip(NUMBERS, _numbers_of(batch), strict=True), *(("jars", number) for number in batch.jars)
    )  # fmt: skip
    found = {column: "is not text" for column, text in texts if not isinstance(text, str)}
    for column, value in numbers:
        if value is not None and (isinstance(value, bool) or not isinstance(value, Real)):
            found[column] = f"{str(value)[:40]!r} is no number"
    if not isinstance(batch.date, dt.date) or isinstance(batch.date, dt.datetime):
        found["date"] = "is not a date; datetime.date(2024, 8, 31) is one"
    return found


def _jars_problem(batch: Batch) -> str | None:
    """Why the counts of jars cannot be, or None."""
    for number in reversed(batch.jars):
        if not LEAST <= number <= _MOST_JARS and (why := number_problem("jars", number)):
            return why
    if not batch.jar or len(batch.jar) != len(batch.jars):
        return (
            f"{len(batch.jars)} counts for {len(batch.jar)} sorts of jar; give one count for each "
            "sort, in the same order: jar 'pint-wide + pint', jars '5 + 4.5'"
        )
    if not any(batch.jars):
        return "no jars were filled; give how many, with 1/2 for a half-full last jar"
    return None
