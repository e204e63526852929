"""A line while it is read: what is found so far, and how a measure is written down."""

import re
from collections.abc import Mapping

from msgspec import Struct, field

from jarcast.domain.jars import Jar
from jarcast.notebook.jar_counts import JarCount
from jarcast.notebook.part_full import PartFull
from jarcast.notebook.pieces import (
    BARE,
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


class Reading(Struct):
    """A line while it is read.

    ``units`` of the last weight and volume; ``made`` pints 'made', jars or brine; ``jars`` counts
    that may be the batch's; ``liquids`` what went into the brine; ``off`` weights taken off;
    ``used`` brine that was used; ``loose`` first weights without a word, each with the crop it
    names; ``ran_out`` words that the brine ran out, ``part_full`` that a jar was not full;
    ``brackets`` clauses in brackets, ``beyond`` whether another crop is named, ``last`` the column
    that was written last in a clause.
    """

    text: str
    shelf: Mapping[str, Jar]
    cells: dict[str, str] = field(default_factory=dict)
    taken: list[str] = field(default_factory=list)
    asked: list[tuple[str, str]] = field(default_factory=list)
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

    def ask(self, part: str, why: str) -> None:
        """Ask back about a part of the line, once."""
        if (part, why) not in self.asked:
            self.asked.append((part, why))

    def put(self, column: str, measure: Measure, words: str, clause: str) -> None:
        """Write a measure down under its column, a number alone in the unit of the last like it."""
        text = measure.text
        if BARE in measure.kinds and column not in ("sealed", "cost"):
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
        elif _MORE.search(words):
            self.cells[column] = f"{before} + {text}"
        else:
            self.ask(clause, f"{NAMES[column]} is said twice, {before} and {text}: which?")

    def _with_unit(self, column: str, number: str, clause: str) -> str:
        unit = self.units.get(_like(column), "")
        if column == "jars" or not unit:
            due = "which sort of jar are they? Say" if column == "jars" else "which unit? Say"
            example = f"{number} pints" if column == "jars" else f"{number} {_example(column)}"
            self.ask(clause, f"{due} '{example}'")
            return ""
        if why := why_unread(f"{number} {unit}"):
            self.ask(clause, why)
            return ""
        self.taken.append(f"{number} {NAMES[column]} taken as {number} {unit}")
        return f"{number} {unit}"

    def ask_what(self, told: Told, clause: str) -> None:
        """Ask what a measure is that has no place."""
        text = told.measure.text
        if UNREAD in told.measure.kinds:
            self.ask(clause, why_unread(text))
        elif WEIGHT in told.measure.kinds:
            self.ask_which_weight(text, clause)
        elif JARS in told.measure.kinds:
            self.ask(clause, f"what is {text}? Say 'jars', 'brine' or 'brine left' with it")
        else:
            self.ask(clause, f"what is {text}? Say it with a word such as 'trimmed'")

    def ask_which_weight(self, text: str, clause: str) -> None:
        """Ask at what stage of the batch this was weighed."""
        why = f"what is {text}? Say 'bought', 'trimmed', 'drained' or 'cooked' with it"
        self.ask(clause, why)


def _like(column: str) -> str:
    kinds = LIKE[column]
    return WEIGHT if WEIGHT in kinds else VOLUME if VOLUME in kinds else column


def _example(column: str) -> str:
    return {WEIGHT: "lb", VOLUME: "cups", "cure_hours": "h"}.get(_like(column), "in")
