"""What an answer tells of what waited for the rest of the line, and whether that settles it."""

import re
from contextlib import suppress

from jarcast.domain.stages import STAGES
from jarcast.errors import MeasureError
from jarcast.measures import parse_weight
from jarcast.notebook.answers import (
    adds,
    amount,
    in_place,
    jars_in,
    says_both,
    says_no,
    says_yes,
    told_in,
)
from jarcast.notebook.asides import salts_produce
from jarcast.notebook.ingredients import BRINE
from jarcast.notebook.jar_counts import TWICE, Half, JarCount, is_part, same_sort, with_count
from jarcast.notebook.part_full import PartFull, counted_so, part_full
from jarcast.notebook.pieces import HELD, SALT, VOLUME, WEIGHT, Measure, unit_of
from jarcast.notebook.reading import Reading
from jarcast.notebook.roles import Told, role_of

_JARS_OR_BRINE = re.compile(
    rf"\b(?:(?P<jars>jars?)|(?P<brine>{BRINE}(?P<left>\s+left)?))\b", re.IGNORECASE
)
_VOLUMES, _SALTS = frozenset((VOLUME,)), frozenset((SALT, WEIGHT, VOLUME))
_NONE = re.compile(r"\s*(?:no(?:ne|thing)?\b|0(?![\d.,/]|\s\d))", re.IGNORECASE)
_WHEN = {"before": STAGES[0].typed, "after": STAGES[1].typed}
_BEFORE_OR_AFTER = re.compile(r"\b(?:before|after)\b", re.IGNORECASE)


def note_count(at: Reading, one: JarCount) -> None:
    """Keep in the note the clause of a count that is not one of the batch's jars."""
    if one.noted in at.notes:
        at.notes[at.notes.index(one.noted)] = one.clause
    elif one.clause not in at.notes:
        at.notes.append(one.clause)


def count_told(at: Reading, one: JarCount, answer: str, why: str) -> bool:
    """Take what an answer tells of a count in doubt: it counts, counts too, or does not."""
    if not answer:
        return False
    twice, said = why.startswith(TWICE), jars_in(answer, at.shelf, one.text)
    otherwise = any(
        (role := role_of(told)) and role.column != "jars"
        for clause in in_place(answer, at.shelf, measure=one.text)
        for told in told_in(clause, at.shelf)
    )
    if otherwise or (says_no(answer) and not twice):
        one.out = True
        note_count(at, one)
        return not otherwise or at.reads(answer, measure=one.text)
    if says_both(answer) or (said and adds(answer)) or (says_yes(answer) and not twice):
        said, front = said or one.told.measure, "+"
    elif said and (not twice or same_sort(said.text, one.text, at.shelf)):
        front = "no" if twice else ""
    else:
        return False
    one.said = Told(said, front, "")
    return True


def cut_told(at: Reading, text: str, answer: str) -> bool:
    """Whether an answer tells that quarts of cut produce are jars, or how much was trimmed."""
    jars = re.search(r"\bjars?\b", answer, re.IGNORECASE)
    if jars:
        at.cells["jars"] = f"{at.cells['jars']} + {text}" if "jars" in at.cells else text
    elif "trimmed" in answer.casefold():
        at.cells["trimmed"] = amount(answer, frozenset((VOLUME, WEIGHT)), at.shelf) or text
    return bool(jars) or "trimmed" in answer.casefold()


def half_told(at: Reading, half: Half, answer: str) -> bool:
    """Whether an answer tells that a half is a smaller jar, or half a jar."""
    said = jars_in(answer, at.shelf, half.part)
    if half.smaller and re.search(r"\bsmall", answer, re.IGNORECASE):
        at.cells["jars"] = f"{half.whole} + {half.smaller}"
    elif re.search(r"\bhalf (?:a |of a )?jar\b|\b1/2 jar\b", answer, re.IGNORECASE):
        at.cells["jars"] = with_count(half.whole, half.part, at.shelf)
    elif said and not is_part(said.text, half.whole, at.shelf):
        at.cells["jars"] = with_count(half.whole, said.text, at.shelf)
    return at.cells["jars"] != half.whole


def full_told(at: Reading, jars: str, said: PartFull, answer: str) -> bool:
    """Whether an answer tells the count with its part, or what the words left open.

    That is how full a last jar was, or whether one that was half full is one of those counted.
    """
    found, part = "", _part_of(said.words, answer)
    if part is not None:
        on_top = says_no(answer)
        found = counted_so(jars, PartFull("", part, said.many, said.sort, on_top), at.shelf)
    elif counted := jars_in(answer, at.shelf, jars):
        part_alone = is_part(counted.text, jars, at.shelf)
        found = "" if part_alone else with_count(jars, counted.text, at.shelf)
    at.cells["jars"] = found or jars
    return bool(found)


def _part_of(words: str, answer: str) -> float | None:
    """How full a jar was by words and the answer to them; None where that stays open."""
    last = re.search(r"\b(?:last|final)\b", words, re.IGNORECASE)
    one = re.search(r"\bone\b.*", words, re.IGNORECASE)
    texts: tuple[str, ...] = ()
    if last:
        texts = f"last one {answer}", f"last one {answer} full"
    elif one and (says_yes(answer) or says_no(answer)):
        texts = (f"last {one[0]}",)
    return next((found.part for text in texts if (found := part_full(text))), None)


def made_told(at: Reading, measure: Measure, answer: str) -> bool:
    """Whether an answer tells that pints 'made' are jars, or brine."""
    found = _JARS_OR_BRINE.search(answer)
    if found:
        column = "jars" if found["jars"] else "brine_left" if found["left"] else "brine_made"
        said = next((told.measure for told in told_in(answer, at.shelf)), measure)
        at.put(column, said, "", f"made {measure.text}")
    return bool(found)


def brine_told(at: Reading, made: str, answer: str) -> bool:
    """Whether an answer tells how much brine was made; 'yes' is as much as ``made``."""
    if says_no(answer):
        return "brine_made" not in at.cells
    said = made if says_yes(answer) else amount(answer, _VOLUMES, at.shelf, "cups")
    if said:
        at.cells["brine_made"] = said
    return bool(said)


def used_told(at: Reading, used: str, answer: str) -> bool:
    """Whether an answer tells how much brine was made, or was left of it."""
    said = amount(answer, _VOLUMES, at.shelf, unit_of(used))
    if said and re.search(r"\bleft\b", answer, re.IGNORECASE):
        at.cells |= {"brine_left": said, "brine_made": f"{used} + {said}"}
        at.taken.append(f"brine made taken as {used} used + {said} left")
    elif said:
        at.cells["brine_made"] = said
    return bool(said)


def left_told(at: Reading, answer: str) -> bool:
    """Whether an answer tells how much brine was left in the end."""
    said = "0 cups" if _NONE.match(answer) else amount(answer, _VOLUMES, at.shelf, "cups")
    if said:
        at.cells["brine_left"] = said
    return bool(said)


def off_told(at: Reading, off: str, answer: str) -> bool:
    """Whether an answer tells what it weighed before something was taken off, or after."""
    for told in told_in(answer, at.shelf):
        role = role_of(told)
        when = _BEFORE_OR_AFTER.search(told.words)
        column = role.column if role else _WHEN[when[0].casefold()] if when else ""
        if column in _WHEN.values():
            at.cells[column] = told.measure.text
    if "as_bought" in at.cells and "trimmed" not in at.cells:
        rest = f"{at.cells['as_bought']} - {off}"
        with suppress(MeasureError):
            parse_weight(rest)
            at.cells["trimmed"] = rest
            at.taken.append(f"trimmed taken as {rest}")
    return "trimmed" in at.cells


def whole_told(at: Reading, unit: str, answer: str) -> bool:
    """Whether an answer tells what all of it weighed as bought."""
    said = amount(answer, frozenset((WEIGHT, HELD)), at.shelf, unit)
    if said:
        at.cells["as_bought"] = said
    return bool(said)


def salt_told(at: Reading, salt: str, answer: str) -> bool:
    """Whether an answer tells that the produce was salted, or that salt is the brine's."""
    brine = re.search(rf"\b{BRINE}\b", answer, re.IGNORECASE)
    if not brine and salts_produce(answer):
        at.cells["salt"] = amount(answer, _SALTS, at.shelf) or salt
        return True
    return bool(brine)
