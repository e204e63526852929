"""A line while it is read: what is found so far, and how a measure is written down."""

import re
from collections.abc import Callable, Mapping
from functools import partial

from msgspec import Struct, field

from jarcast.domain.jars import Jar
from jarcast.domain.stages import STAGES
from jarcast.notebook.answers import adds, amount, in_place, says_both, says_no, says_yes
from jarcast.notebook.jar_counts import JarCount, among
from jarcast.notebook.part_full import PartFull
from jarcast.notebook.pieces import (
    BARE,
    HELD,
    HOURS,
    INCHES,
    JARS,
    UNREAD,
    VOLUME,
    WEIGHT,
    Measure,
    unit_of,
    why_unread,
)
from jarcast.notebook.roles import LIKE, NAMES, Told

_MORE = re.compile(
    r"\b(?:more|another|again|(?:second|third|fourth|extra|next|new) pot)\b", re.IGNORECASE
)
# What becomes of a part of the line that was asked about, where nobody answers.
LEFT_OUT, NOTHING = "it is left out", "nothing is recorded"
Asked = tuple[str, str]  # a part of the line, and the question
Settle = Callable[[str], bool]
# The words to say with a measure that has no place, by the column they put it in.
_WORDS: tuple[tuple[frozenset[str], Mapping[str, str]], ...] = (
    (frozenset((WEIGHT, HELD)), {stage.typed: NAMES[stage.typed] for stage in STAGES}),
    (frozenset((JARS,)), {"": "jars", "brine_made": "brine", "brine_left": "brine left"}),
    (frozenset((VOLUME,)), {
        "brine_made": "brine", "brine_left": "brine left", "trimmed": "trimmed",
    }),
    (frozenset((HOURS,)), {"cure_hours": "in salt"}),
    (frozenset((INCHES,)), {"headspace_in": "headspace"}),
)  # fmt: skip
_SEALED = re.compile(r"\b(?:un)?(?:sealed?|pinged|popped)\b", re.IGNORECASE)
_NO_UNIT = ("sealed", "cost")  # columns of numbers


class Reading(Struct):
    """A line while it is read.

    ``units`` of the last weight and volume; ``made`` pints 'made', jars or brine; ``jars`` counts
    that may be the batch's; ``liquids`` what went into the brine; ``off`` weights taken off;
    ``used`` brine that was used; ``loose`` first weights without a word, each with the crop it
    names; ``ran_out`` words that the brine ran out, ``part_full`` that a jar was not full;
    ``brackets`` clauses in brackets, ``beyond`` whether another crop is named, ``last`` the column
    that was written last in a clause.

    ``answers`` to questions about it; ``replies`` clauses that answers stand for, still to be read,
    ``replying`` while they are, and ``tried`` the questions they answer; ``without`` what becomes
    of each question ``asked``.
    """

    text: str
    shelf: Mapping[str, Jar]
    cells: dict[str, str] = field(default_factory=dict)
    taken: list[str] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)
    answers: Mapping[Asked, str] = {}
    replies: list[str] = field(default_factory=list)
    tried: set[Asked] = field(default_factory=set)
    replying: bool = False
    without: dict[Asked, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    units: dict[str, str] = field(default_factory=dict)
    made: list[tuple[Measure, str]] = field(default_factory=list)
    jars: list[JarCount] = field(default_factory=list)
    liquids: list[tuple[Told, str]] = field(default_factory=list)
    off: list[tuple[Told, str]] = field(default_factory=list)
    used: list[tuple[Told, str]] = field(default_factory=list)
    loose: list[tuple[str, str, str]] = field(default_factory=list)
    ran_out: str = ""
    part_full: PartFull | None = None
    brackets: frozenset[str] = frozenset()
    beyond: bool = False
    last: str = ""

    def ask(
        self, part: str, why: str, settle: Settle | None = None, without: str = LEFT_OUT
    ) -> bool:
        """Ask back about a part of the line, once; whether an answer that was given settles it.

        ``settle`` does so where the answer fits; else its clauses are read as the line's.
        ``without`` is what becomes of the part where nobody answers.
        """
        key, waiting = (self.quoted(part), why), len(self.replies)
        answer = self.answer(part, why)
        if answer and (settle(answer) if settle else self.reads(answer)):
            if len(self.replies) > waiting:
                self.tried.add(key)
            return True
        if key not in self.asked:
            self.asked.append(key)
            self.without[key] = without
        return False

    def answer(self, part: str, why: str) -> str:
        """The answer to a question; '' for none, and for one that is being read."""
        key = self.quoted(part), why
        return "" if self.replying and key in self.tried else self.answers.get(key, "")

    def quoted(self, part: str) -> str:
        """A part of the line with the colons it was written with."""
        words = part.split()
        found = re.search(r"[\s:]+".join(map(re.escape, words)), self.text) if words else None
        return " ".join((found[0] if found else part).split())

    def reads(self, answer: str, *, measure: str = "", words: str = "", unit: str = "") -> bool:
        """Take an answer as clauses of the line, still to be read; whether it is any."""
        clauses = in_place(answer, self.shelf, measure=measure, words=words, unit=unit)
        self.replies += clauses
        return bool(clauses)

    def put(self, column: str, measure: Measure, words: str, clause: str) -> None:
        """Write a measure down under its column, a number alone in the unit of the last like it."""
        text = measure.text
        if BARE in measure.kinds and column not in _NO_UNIT:
            text = self._with_unit(column, text, clause)
            if not text:
                return
        elif BARE not in measure.kinds and column != "jars":
            kinds = (k for k in (WEIGHT, VOLUME) if k in measure.kinds and column != "salt")
            self.units[next(kinds, "")] = unit_of(text)
        self.last = column
        before = self.cells.get(column)
        if before is None or (column == "brine_left" and before == "0 cups"):
            self.cells[column] = text
        elif _MORE.search(words) or adds(words):
            self.cells[column] = f"{before} + {text}"
        else:
            of = LIKE[column] | (measure.kinds - {BARE})
            both = f"{before} and {text}: which? Say '{text}', or '+ {text}' if both count"
            why = f"{NAMES[column]} is said twice, {both}"
            self.ask(clause, why, partial(self._choose, column, text, of), f"{before} is kept")

    def _choose(self, column: str, text: str, kinds: frozenset[str], answer: str) -> bool:
        """Write down which of two measures of a column an answer means."""
        unit = "" if column in _NO_UNIT else unit_of(text)
        said = text if says_both(answer) else amount(answer, kinds, self.shelf, unit)
        if said and (adds(answer) or says_both(answer)):
            said = f"{self.cells[column]} + {said}"
        self.cells[column] = said or self.cells[column]
        return bool(said)

    def _with_unit(self, column: str, number: str, clause: str) -> str:
        unit, name = self.units.get(_like(column), ""), NAMES[column]
        if column == "jars" or not unit:
            due = "which sort of jar are they? Say" if column == "jars" else "which unit? Say"
            example = f"{number} pints" if column == "jars" else f"{number} {_example(column)}"
            self.ask(clause, f"{due} '{example}'", partial(self._unit_told, column, number))
            return ""
        if why := why_unread(f"{number} {unit}"):
            self.ask(clause, why, partial(self.reads, words=name, unit=unit))
            return ""
        self.taken.append(f"{number} {name} taken as {number} {unit}")
        return f"{number} {unit}"

    def _unit_told(self, column: str, number: str, answer: str) -> bool:
        """Take an answer as the number with its unit, which the next numbers alone take too."""
        like, clauses = _like(column), in_place(answer, self.shelf, measure=number)
        if told := amount(" ".join(clauses), frozenset((like,)), self.shelf):
            self.units[like] = unit_of(told)
        return self.reads(answer, measure=number, words=NAMES[column])

    def ask_what(self, told: Told, clause: str) -> bool:
        """Ask what a measure is that has no place; whether that is settled."""
        text = told.measure.text
        if UNREAD in told.measure.kinds:
            words = f"{told.front} {told.back}"
            settle = partial(self.reads, words=words, unit=unit_of(text))
            return self.ask(clause, why_unread(text), settle)
        measure = f"+ {text}" if _MORE.search(told.words) else text
        why = f"what is {text}? {self._due(told)}"
        return self.ask(clause, why, partial(self.reads, measure=measure))

    def ask_which_weight(self, text: str, clause: str) -> None:
        """Ask at what stage of the batch this was weighed."""
        why = f"what is {text}? {self._words_for(frozenset((WEIGHT,)))}"
        self.ask(clause, why, partial(self.reads, measure=text))

    def ask_among(self, text: str, clause: str) -> None:
        """Ask whether a count is one of the batch's jars."""
        self.ask(clause, among(text), partial(self._among, text), "it is not added")

    def _among(self, text: str, answer: str) -> bool:
        if says_no(answer):
            return True
        return self.reads(f"+ {text}" if says_yes(answer) else answer, measure=text)

    def _due(self, told: Told) -> str:
        if words := self._words_for(told.measure.kinds):
            return words
        if _SEALED.search(told.words):
            return "Say how many sealed, like '7 sealed'"
        bought, trimmed, later, *_ = (stage.typed for stage in STAGES)
        stage = next((c for c in (trimmed, bought) if c not in self.cells), later)
        return f"Say it with its unit and a word, like '3 lb {NAMES[stage]}'"

    def _words_for(self, kinds: frozenset[str]) -> str:
        """The words that say what a measure of a kind is; of weights those not taken yet."""
        words = next((words for of, words in _WORDS if of & kinds), {})
        free = [
            word for column, word in words.items()
            if WEIGHT not in kinds or column not in self.cells
        ]  # fmt: skip
        *first, last = [f"'{word}'" for word in free or words.values()] or [""]
        return f"Say {', '.join(first)}{' or ' if first else ''}{last} with it" if last else ""


def unfit(_: str) -> bool:
    """What settles no question: its answer was looked at before it was asked."""
    return False


def _like(column: str) -> str:
    kinds = LIKE[column]
    return WEIGHT if WEIGHT in kinds else VOLUME if VOLUME in kinds else column


def _example(column: str) -> str:
    return {WEIGHT: "lb", VOLUME: "cups", "cure_hours": "h"}.get(_like(column), "in")
