"""One batch, its stages, and what is a valid one.

A single value that cannot be (negative, not finite, no jars) is refused when the batch is made.
Values that contradict one another are taken in with a flag: the batch then teaches nothing on the
links the flag touches until it is mended.
"""

import datetime as dt
import math
from collections.abc import Callable, Mapping
from functools import lru_cache
from numbers import Real
from operator import attrgetter
from typing import NamedTuple

from msgspec import Struct

from jarcast.domain.fields import FIELD_OF, MOST_TEXT, NUMBERS, TEXTS
from jarcast.domain.jars import SHELF, Jar, jar_list
from jarcast.domain.slips import guess
from jarcast.domain.stages import (
    IN_THE_JARS,
    STAGE_OF,
    STAGES,
    Link,
    Stage,
    is_cooked,
    links_from,
    ready_stage,
    too_heavy,
    was_salted,
    weighed,
)
from jarcast.errors import BatchError

_MOST_OVER = 3.0  # g for each ml of the jars: more is no batch of which some was not jarred
WAS_SOME_NOT_JARRED = "was some of it not jarred?"
MOST_LOST_ML = 1000.0  # of brine, in the pot and on the stove: beyond it something is a slip


class Amount(Struct, frozen=True):
    """A weight in grams ('g'), or a volume in millilitres ('ml')."""

    value: float
    unit: str

    def __str__(self) -> str:
        """To the whole gram or millilitre: '2500 g'."""
        return f"{self.value:.0f} {self.unit}"


class Flag(Struct, frozen=True):
    """A contradiction inside one batch: what it is, what it touches, the likeliest slip.

    ``parts`` make up the message: words, and amounts that can be shown in the kitchen's units.
    """

    columns: tuple[str, ...]
    links: frozenset[Link]
    parts: tuple[str | Amount, ...]

    @property
    def message(self) -> str:
        """The contradiction in a sentence, in grams and millilitres."""
        return self.worded(str)

    def worded(self, show: Callable[[Amount], str]) -> str:
        """The contradiction in a sentence, each amount as ``show`` writes it."""
        return "".join(part if isinstance(part, str) else show(part) for part in self.parts)


class Doubt(NamedTuple):
    """How far a counted weight may be off, a sd in logs, and the count as it was typed."""

    column: str
    log_sd: float
    typed: str


class Batch(Struct, frozen=True, kw_only=True):
    """One batch as recorded; ``None`` and '' mean not recorded.

    Weights are grams, volumes millilitres. ``jar`` and ``jars`` run side by side: sorts of jar
    (keys of the shelf) and how many of each were filled. ``not_jarred_g`` is what of the ready
    produce never went into a jar, ``person`` who trimmed and packed, ``cost`` what all of
    it cost, in one's own currency. ``confirmed`` is no column of
    the table: it names columns whose odd values the user stands by. Nor is ``doubt``, of weights
    that were counted in containers or cups. Raises BatchError on making.
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
        return " + ".join(number_text(count) for count in self.jars)

    @property
    def filled_text(self) -> str:
        """Each count with its sort: '5 pint-wide + 4.5 pint'."""
        pairs = zip(self.jars, self.jar, strict=True)
        return " + ".join(f"{number_text(count)} {key}" for count, key in pairs)

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
            count * shelf[key].fill_volume_ml(self.headspace_in)
            for key, count in zip(self.jar, self.jars, strict=True)
        )


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
    if not _fits_a_file(text):
        return "holds a character that cannot be stored; type it again"
    return None


def _fits_a_file(text: str) -> bool:
    """Whether a file can hold it: no NUL, and no half of a character."""
    if text.isascii():
        return "\0" not in text
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in text


_texts_of = attrgetter(*TEXTS)
_numbers_of = attrgetter(*NUMBERS)
_of_all = attrgetter("date", "jar", "jars", *TEXTS, *NUMBERS)
_NUMBER_KINDS = {float, int, type(None)}  # at most; there are others, such as numpy's
_MOST_OF_NUMBERS = tuple(FIELD_OF[column].most for column in NUMBERS)
_MOST_JARS = FIELD_OF["jars"].most


def impossible(batch: Batch) -> dict[str, str]:
    """Single values that cannot be, as column -> why; empty for a batch that can be taken."""
    problems: dict[str, str] = {}
    kinds = tuple(map(type, _of_all(batch)))
    if (
        not _usual(kinds)
        or not {str}.issuperset(map(type, batch.jar))
        or not _NUMBER_KINDS.issuperset(map(type, batch.jars))
    ) and (problems := _of_wrong_kind(batch)):
        return problems
    for column in ("batch", "produce"):
        if not getattr(batch, column).strip():
            problems[column] = "is empty; every batch needs one"
    if text_problem("".join(_texts_of(batch))):  # otherwise none of them has a problem
        for column in TEXTS:
            if why := text_problem(getattr(batch, column)):
                problems[column] = why
    values = zip(NUMBERS, _numbers_of(batch), _MOST_OF_NUMBERS, strict=True)
    for column, value, most in values:
        if value is None or LEAST <= value <= most:
            continue
        if why := number_problem(column, value):
            problems[column] = why
    if why := _jars_problem(batch):
        problems["jars"] = why
    return problems


@lru_cache(64)  # a ledger has few of them
def _usual(kinds: tuple[type, ...]) -> bool:
    """Whether the values of a batch are of the usual kinds: the date, jar, jars, texts, numbers."""
    texts, numbers = kinds[3 : 3 + len(TEXTS)], kinds[3 + len(TEXTS) :]
    return (
        kinds[:3] == (dt.date, tuple, tuple)
        and {str}.issuperset(texts)
        and _NUMBER_KINDS.issuperset(numbers)
    )


def _of_wrong_kind(batch: Batch) -> dict[str, str]:
    """Values that are no text, number or date where one is due; True is no number."""
    if not isinstance(batch.jar, tuple | list) or not isinstance(batch.jars, tuple | list):
        return {"jars": "give a tuple of counts and one of sorts: jar=('pint',), jars=(9.5,)"}
    texts = (*zip(TEXTS, _texts_of(batch), strict=True), *(("jar", key) for key in batch.jar))
    numbers = (
        *zip(NUMBERS, _numbers_of(batch), strict=True), *(("jars", count) for count in batch.jars)
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
    for count in reversed(batch.jars):
        if not LEAST <= count <= _MOST_JARS and (why := number_problem("jars", count)):
            return why
    if not batch.jar or len(batch.jar) != len(batch.jars):
        return (
            f"{len(batch.jars)} counts for {len(batch.jar)} sorts of jar; give one count for each "
            "sort, in the same order: jar 'pint-wide + pint', jars '5 + 4.5'"
        )
    if not any(batch.jars):
        return "no jars were filled; give how many, with 1/2 for a half-full last jar"
    return None


def _factor(column: str, larger: float, due: float, *, either: bool = False) -> str:
    """A guess at the slip behind a value so many times what it can be, by its column.

    ``either`` tells whether the value it is compared with may be the wrong one as well.
    """
    ratio = larger / due
    question = guess(column, ratio)
    if not question:
        return ""
    if either and " typed as " in question:
        question = f"{question.removesuffix('?')}, or the other way?"
    return f" ({ratio:.{1 if ratio < 5 else 0}f} x: {question})"


def _heavier_stages(batch: Batch) -> list[Flag]:
    flags = []
    before: tuple[Stage, float] | None = None
    led: list[Link] = []  # links that led to that weight: it may be the wrong one of the two
    passed: list[Link] = []  # links since the last weight that was written down
    for stage in STAGES:
        weight = getattr(batch, stage.column)
        if stage.link is not None:
            passed.append(stage.link)
        if weight is None:
            continue
        sure = weight
        if batch.doubt and before is not None:
            sure = _surely(batch, weight, stage, before[0])
        if before is not None and too_heavy(sure, before[1]):
            earlier, due = before
            parts = (
                f"{stage.label} ", Amount(weight, "g"), f" is heavier than {earlier.label} ",
                Amount(due, "g"), _factor(stage.column, weight, due, either=True),
            )  # fmt: skip
            touched = {*led, *passed, *links_from(stage.column)}
            flags.append(Flag((earlier.column, stage.column), frozenset(touched), parts))
        before, led, passed = (stage, weight), passed, []
    return flags


def _surely(batch: Batch, grams: float, *stages: Stage) -> float:
    """A weight less twice the doubt of the stages it is judged by: contradictions are sure."""
    return grams * math.exp(-2.0 * math.hypot(*(batch.doubt_of(one.column) for one in stages)))


def _brine_flags(batch: Batch, volume: float) -> list[Flag]:
    made, left = batch.brine_made_ml, batch.brine_left_ml
    if made is None or left is None:
        return []
    columns, links = ("brine_made_ml", "brine_left_ml"), frozenset({Link.BRINE})
    if left > made:
        swapped = (
            "more brine left (", Amount(left, "ml"), ") than made (", Amount(made, "ml"),
            "): the two swapped?",
        )  # fmt: skip
        return [Flag(columns, links, swapped)]
    used = made - left
    if used <= 1.5 * volume + MOST_LOST_ML:
        return []
    parts = (
        Amount(used, "ml"), f" of brine used for {batch.filled_text}, which hold ",
        Amount(volume, "ml"), " with the produce", _factor("brine_made_ml", used, 0.5 * volume),
    )  # fmt: skip
    return [Flag((*columns, "jars"), links, parts)]


def _overfull_flags(batch: Batch, volume: float) -> list[Flag]:
    """The weight that goes into the jars may not take more room than they have.

    Tissue is at most about 1.1 g/ml (food-engineering handbooks, from memory), and 10 % is allowed
    for part jars. What a hot pack weighed before cooking may well exceed it.
    """
    stage = ready_stage(salted=bool(was_salted(batch)), cooked=is_cooked(batch))
    column, weight = stage.column, getattr(batch, stage.column)
    sure = _surely(batch, weight or 0.0, stage) if batch.doubt else weight or 0.0
    ready = sure - (batch.not_jarred_g or 0.0)
    if ready <= 1.1 * 1.1 * volume:
        return []
    slip = _factor(column, ready, 0.6 * volume)
    if batch.not_jarred_g is None and ready <= _MOST_OVER * volume:
        slip += f"; {WAS_SOME_NOT_JARRED}"
    parts = (
        Amount(ready, "g"), f" cannot go into {batch.filled_text}, which hold ",
        Amount(volume, "ml"), slip,
    )  # fmt: skip
    return [Flag((column, "jars"), frozenset(IN_THE_JARS), parts)]


def _not_jarred_flags(batch: Batch) -> list[Flag]:
    """What was not jarred is part of the last weight, and not all of it."""
    stages, rest = weighed(batch), batch.not_jarred_g
    if not rest or not stages or rest < getattr(batch, stages[-1].column):
        return []
    column, label = stages[-1].column, stages[-1].label
    parts = (
        Amount(rest, "g"), " not jarred leaves nothing of ", Amount(getattr(batch, column), "g"),
        f" {label} for the jars",
    )  # fmt: skip
    return [Flag(("not_jarred_g", column), frozenset(IN_THE_JARS), parts)]


def contradictions(batch: Batch, shelf: Mapping[str, Jar] = SHELF) -> tuple[Flag, ...]:
    """Values of one batch that contradict one another, with the likeliest slip."""
    return contradictions_in(batch, batch.fill_volume_ml(shelf))


def contradictions_in(batch: Batch, volume: float) -> tuple[Flag, ...]:
    """The same of a batch whose jars' fill volume in ml is known."""
    flags = [
        *_heavier_stages(batch),
        *_brine_flags(batch, volume),
        *_overfull_flags(batch, volume),
        *(_not_jarred_flags(batch) if batch.not_jarred_g else []),
    ]
    if batch.sealed is not None and batch.sealed > math.ceil(batch.total_jars):
        message = f"{number_text(batch.sealed)} sealed of {batch.filled_text} filled"
        flags.append(Flag(("sealed", "jars"), frozenset(), (message,)))
    return tuple(flags)
