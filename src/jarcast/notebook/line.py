"""One line is a batch: 'carrot sticks: 8 lb bought, 6 lb 4 oz trimmed, 9 1/2 pints'.

The grammar: a crop, and measures in any order, each with a word that tells what it is ('bought',
'trimmed', 'salt', 'drained', 'cooked', 'brine', 'left', 'sealed'). Commas, arrows and brackets part
them, and may be left out where each measure has its word. A count of a sort of jar needs no word,
nor does a first weight: it is as bought. A number alone takes the unit of the last like measure,
and that is told; no other unit is ever filled in. Words that measure nothing are the note.
"""

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from msgspec import Struct, field

from jarcast.domain.crop_text import read_crop, vocabulary
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import cut_in, plain_words, produce_key
from jarcast.domain.stages import STAGES
from jarcast.notebook.pieces import (
    BARE,
    HELD,
    HOURS,
    INCHES,
    JARS,
    SALT,
    VOLUME,
    WEIGHT,
    Measure,
    clauses,
    measures,
    unit_of,
)

LONGEST_LINE = 1000  # characters


class Line(Struct, frozen=True):
    """What a line says, as texts by column that ``record`` takes.

    ``taken`` tells each unit or meaning that the line leaves out. ``asked`` are words that measure
    something, and cannot be placed, each with the question.
    """

    cells: dict[str, str]
    taken: tuple[str, ...] = ()
    asked: tuple[tuple[str, str], ...] = ()


class _Role(NamedTuple):
    column: str
    kinds: frozenset[str]
    words: re.Pattern[str]


def _role(column: str, kinds: Sequence[str], words: str) -> _Role:
    return _Role(column, frozenset(kinds), re.compile(rf"\b(?:{words})\b", re.IGNORECASE))


_HEAVY = (WEIGHT, HELD)
_TRIMMED = (
    r"(?:after )?trim(?:med|ming)?|peeled|cleaned|cored|pared|seeded|prepped|prepared|topped"
    r"|ends off|cut up|ready"
)
# The first that fits kind and words. Words of picklers: common practice, no source.
_ROLES = (
    _role("not_jarred", (WEIGHT,), r"not (?:jarred|packed|canned)|unjarred|did ?n.?o?t fit|eaten"),
    _role("sealed", (BARE, JARS), r"sealed|pinged|popped"),
    _role("cost", (BARE,), r"cost|paid|spent"),
    _role("headspace_in", (INCHES,), r"head ?space|head ?room"),
    _role(
        "cured", _HEAVY, r"after (?:the )?(?:salt\w*|cur\w+|soak\w*)|drained|cured|rinsed|"
        r"squeezed(?: out)?",
    ),
    _role("cure_hours", (HOURS,), r"salt\w*|cur(?:e|ed|ing)|soak\w*|stand|stood|brined"),
    _role("salt", (SALT, WEIGHT, VOLUME), r"(?:\w+ )?salt"),
    _role("cooked", _HEAVY, r"cooked|after cooking|blanched|simmered|boiled"),
    _role("trimmed", _HEAVY, _TRIMMED),
    _role(
        "brine_left", (VOLUME,), r"(?:brine )?left(?: ?over)?|leftover|over|remain\w*|spare|unused"
    ),
    _role("brine_made", (VOLUME,), r"(?:made )?(?:brine|liquid|syrup)(?: made)?|heated"),
    _role(
        "as_bought", _HEAVY, r"(?:as )?bought|purchased|picked|harvested|to start|started|"
        r"untrimmed|gross|from the (?:garden|market|store)",
    ),
    _role("trimmed", (VOLUME,), _TRIMMED),  # cups of it, where the words are not of brine
    _role("jars", (JARS, BARE), r"jars?|filled|put up|canned|came (?:out )?to|yield(?:ed)?|packed"),
)  # fmt: skip
_MADE = re.compile(r"\bmade\b", re.IGNORECASE)
_NAMES = {stage.typed: stage.label.removeprefix("as ") for stage in STAGES} | {
    "cured": "drained", "salt": "salt", "cure_hours": "in salt", "jars": "jars",
    "brine_made": "brine made", "brine_left": "brine left", "sealed": "sealed",
    "headspace_in": "headspace", "not_jarred": "not jarred", "pack": "pack", "recipe": "recipe",
    "note": "note", "date": "date", "cost": "cost",
}  # fmt: skip
_LIKE = {role.column: role.kinds for role in reversed(_ROLES)}

_PACK = re.compile(r"\b(?:(raw|cold|hot)[ -]?pack(?:ed)?|packed (raw|cold|hot))\b", re.IGNORECASE)
_RECIPE = re.compile(r"\brecipe:?\s+(\S.*)|\bby (?:the |my )?(\S.*?) recipe\b", re.IGNORECASE)
_NONE_LEFT = re.compile(
    r"\b(?:no(?:ne|thing)?(?: brine)? left(?: over)?|(?:ran|run) out of brine|brine ran out"
    r"|used (?:it all|all the brine|all of it))\b", re.IGNORECASE,
)  # fmt: skip
_NOT_SALTED = re.compile(r"\b(?:not|never) salted\b|\bunsalted\b|\bno cure\b", re.IGNORECASE)
_OVERNIGHT = re.compile(r"\bover ?night\b", re.IGNORECASE)
_SALTING = re.compile(r"\bsalt(?:ed|ing)?\b|\bcur(?:e|ed|ing)\b", re.IGNORECASE)
_ALL_SEALED = re.compile(r"\ball (?:of them )?(?:sealed|pinged|popped)\b", re.IGNORECASE)
_FILLERS = frozenset({
    "a", "about", "after", "all", "an", "and", "around", "at", "came", "for", "from", "got", "had",
    "i", "in", "into", "it", "made", "my", "of", "on", "our", "out", "pickled", "put", "roughly",
    "some", "the", "them", "then", "to", "total", "up", "was", "we", "weighed", "were", "with",
})  # fmt: skip


class _Reading(Struct):
    """A line while it is read: what is found so far."""

    shelf: Mapping[str, Jar]
    cells: dict[str, str] = field(default_factory=dict)
    taken: list[str] = field(default_factory=list)
    asked: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    units: dict[str, str] = field(default_factory=dict)  # of the last weight and volume
    made: list[Measure] = field(default_factory=list)  # pints 'made': jars, or brine


def read_line(text: str, shelf: Mapping[str, Jar] = SHELF) -> Line:
    """The batch that a line of words tells. Never raises: what it cannot place is asked."""
    if len(text) > LONGEST_LINE:
        return Line({}, (), ((text[:40], f"a line is at most {LONGEST_LINE} characters long"),))
    at = _Reading(shelf)
    text = re.sub(r"(?<=\d)\s?#(?:'?s)?", " lb ", text.replace("\0", " "))
    text = re.sub(r"\bhalf an? ", "1/2 ", text, flags=re.IGNORECASE)
    text = _said_at_large(at, text)
    crop, text = _before_colon(text)
    for clause in clauses(text):
        crop = _clause(at, clause, crop)
    _settle_made(at)
    _name_crop(at, crop)
    if "jars" not in at.cells and not any("sort" in why for _, why in at.asked):
        at.asked.append(("", "how many jars were filled, and which sort? Say '9 1/2 pints'"))
    if at.notes:
        at.cells["note"] = "; ".join(at.notes)
    return Line(at.cells, tuple(at.taken), tuple(at.asked))


def understood(line: Line) -> str:
    """What was understood of a line, in one line."""
    crop = ", ".join(filter(None, (line.cells.get("produce"), line.cells.get("cut"))))
    parts = [f"{name} {line.cells[c]}" for c, name in _NAMES.items() if c in line.cells]
    return "Read: " + "; ".join([crop or "?", *parts, *line.taken])


def _said_at_large(at: _Reading, text: str) -> str:
    """What words without a measure tell, wherever they stand; the text without them."""
    if pack := _PACK.search(text):
        at.cells["pack"] = (pack[1] or pack[2]).casefold()
        text = _PACK.sub(" ", text)
    if _NONE_LEFT.search(text):
        at.cells["brine_left"] = "0 cups"
        text = _NONE_LEFT.sub(" ", text)
    if _NOT_SALTED.search(text):
        at.cells["cure_hours"] = "0"
        text = _NOT_SALTED.sub(" ", text)
    elif _OVERNIGHT.search(text) and _SALTING.search(text):
        at.cells["cure_hours"] = "12 h"
        at.taken.append("overnight taken as 12 h")
        text = _OVERNIGHT.sub(" ", text)
    return text


def _before_colon(text: str) -> tuple[str, str]:
    """The crop that stands before a colon, and the rest; other colons part label and value."""
    found = re.match(r"\s*([^:\d,;]{2,80}):", text)
    if found and not any(role.words.search(found[1]) for role in _ROLES):
        return found[1].strip(), text[found.end() :].replace(":", " ")
    return "", text.replace(":", " ")


def _clause(at: _Reading, clause: str, crop: str) -> str:
    """Read one clause; gives the crop, which a first clause may tell."""
    found = list(measures(clause, at.shelf))
    if not found:
        return _words_alone(at, clause, crop)
    left = []
    for measure, words in _with_words(clause, found):
        role = _placed(at, measure, words, clause)
        rest = role.words.sub(" ", words) if role else words
        left.append(_MADE.sub(" ", rest))
    return _left_over(at, " ".join(left), crop)


def _with_words(clause: str, found: Sequence[Measure]) -> list[tuple[Measure, str]]:
    """Each measure with the words that tell what it is: those after it, or those before.

    'trimmed 8 lb, drained 7 lb' has them before; the words in front of all go to the first.
    """
    ends = [0, *(one.end for one in found)]
    starts = [*(one.start for one in found), len(clause)]
    gaps = [clause[end:start] for end, start in zip(ends, starts, strict=True)]
    if len(found) > 1 and _tells(gaps[0]) and not _tells(gaps[-1]):
        words = gaps[:-1]
        words[-1] += f" {gaps[-1]}"
    else:
        words = gaps[1:]
        words[0] = f"{gaps[0]} {words[0]}"
    return list(zip(found, words, strict=True))


def _tells(words: str) -> bool:
    return any(role.words.search(words) for role in _ROLES)


def _placed(at: _Reading, measure: Measure, words: str, clause: str) -> _Role | None:
    """Put a measure where its words say; the role that they told, None for none."""
    salt = frozenset((SALT,))
    kinds = salt if SALT in measure.kinds else measure.kinds
    bare = BARE in kinds
    for role in _ROLES:
        if (bare or kinds & role.kinds) and role.words.search(words):
            if role.column == "salt" and re.search(r"\bbrine\b", words, re.IGNORECASE):
                break
            _put(at, role.column, measure, words, clause)
            return role
    if _MADE.search(words) and VOLUME in kinds:
        at.made.append(measure)
    elif SALT in kinds:
        _put(at, "salt", measure, words, clause)
    elif JARS in kinds:
        _put(at, "jars", measure, words, clause)
    elif VOLUME in kinds and _says_cut(words):  # '16 cups sliced'
        _put(at, "trimmed", measure, words, clause)
    elif kinds & {WEIGHT, HELD}:
        _first_weight(at, measure, clause)
    elif HOURS in kinds and ("salt" in at.cells or "cured" in at.cells):
        _put(at, "cure_hours", measure, words, clause)
    else:
        at.asked.append((clause, f"what is {measure.text}? Say it with a word such as 'trimmed'"))
    return None


def _first_weight(at: _Reading, measure: Measure, clause: str) -> None:
    weighed = {stage.typed for stage in STAGES} & set(at.cells)
    if weighed or re.search(r"\bjars?\b", clause, re.IGNORECASE):
        why = f"what is {measure.text}? Say 'bought', 'trimmed', 'drained' or 'cooked' with it"
        at.asked.append((clause, why))
        return
    _put(at, "as_bought", measure, "", clause)
    at.taken.append(f"{measure.text} taken as bought")


def _put(at: _Reading, column: str, measure: Measure, words: str, clause: str) -> None:
    """Write a measure down under its column, a number alone with the unit of the last like one."""
    text = measure.text
    if BARE in measure.kinds and column not in ("sealed", "cost"):
        text = _with_unit(at, column, text, clause)
        if not text:
            return
    elif BARE not in measure.kinds:
        kind = next((k for k in (WEIGHT, VOLUME) if k in measure.kinds and column != "salt"), "")
        at.units[kind] = unit_of(text)
    before = at.cells.get(column)
    if before is None or (column == "brine_left" and before == "0 cups"):
        at.cells[column] = text
    elif column == "jars" or re.search(r"\b(?:more|another|again)\b", words, re.IGNORECASE):
        at.cells[column] = f"{before} + {text}"
    else:
        at.asked.append((clause, f"{_NAMES[column]} is said twice, {before} and {text}: which?"))


def _like(column: str) -> str:
    kinds = _LIKE[column]
    return WEIGHT if WEIGHT in kinds else VOLUME if VOLUME in kinds else column


def _with_unit(at: _Reading, column: str, number: str, clause: str) -> str:
    unit = at.units.get(_like(column), "")
    if column == "jars" or not unit:
        due = "which sort of jar are they? Say" if column == "jars" else "which unit? Say"
        example = f"{number} pints" if column == "jars" else f"{number} {_example(column)}"
        at.asked.append((clause, f"{due} '{example}'"))
        return ""
    at.taken.append(f"{number} {_NAMES[column]} taken as {number} {unit}")
    return f"{number} {unit}"


def _example(column: str) -> str:
    return {WEIGHT: "lb", VOLUME: "cups", "cure_hours": "h"}.get(_like(column), "in")


def _words_alone(at: _Reading, clause: str, crop: str) -> str:
    """A clause that measures nothing: a cut, a recipe, the crop, or the note."""
    if recipe := _RECIPE.search(clause):
        at.cells["recipe"] = (recipe[1] or recipe[2]).strip()
        return crop
    if _ALL_SEALED.search(clause):
        at.notes.append(clause)
        return crop
    return _left_over(at, clause, crop)


def _left_over(at: _Reading, words: str, crop: str) -> str:
    """Words that measure nothing: the crop where none was named yet, a cut, else the note."""
    kept = re.sub(r"\s+", " ", words).strip(" .,:;-")
    told = [word for word in plain_words(kept) if word not in _FILLERS]
    if not told:
        return crop
    if not crop:
        return kept
    if all(map(cut_in, told)) and "cut" not in at.cells and not _says_cut(crop):
        at.cells["cut"] = kept
    else:
        at.notes.append(kept)
    return crop


def _says_cut(text: str) -> bool:
    return any(map(cut_in, plain_words(text)))


def _settle_made(at: _Reading) -> None:
    """Pints 'made' are jars where the brine is told otherwise, and brine where the jars are."""
    for measure in at.made:
        column = "brine_made"
        if JARS in measure.kinds and "jars" not in at.cells:
            column = "jars" if "brine_made" in at.cells else ""
        if column:
            _put(at, column, measure, "", measure.text)
        else:
            why = f"is {measure.text} jars or brine? Say 'jars' or 'brine' with it"
            at.asked.append((f"made {measure.text}", why))


def _name_crop(at: _Reading, crop: str) -> None:
    """Produce and cut out of the words of the crop; words beside a known name go to the note."""
    words = [word for word in crop.split() if plain_words(word)]
    while words and words[0].casefold() in _FILLERS:
        words.pop(0)
    text = " ".join(words)
    if not text:
        at.asked.append(("", "what did you put up? Begin the line with it: 'carrot sticks: ...'"))
        return
    produce, cut = read_crop(text)
    if (produce, cut) == (text, ""):
        produce, cut, rest = known_in(words)
        at.notes[:0] = [rest] if rest else []
    at.cells["produce"] = produce
    if cut and "cut" not in at.cells:
        at.cells["cut"] = cut


def known_in(words: Sequence[str]) -> tuple[str, str, str]:
    """The longest known produce among words, the cut, and the other words; else all as named."""
    known = vocabulary()
    cuts = list(filter(_says_cut, words))
    cut = " ".join(cuts).strip(",")
    for length in range(min(len(words), 8), 0, -1):
        for first in range(len(words) - length + 1):
            phrase = " ".join(words[first : first + length])
            parts = produce_key(phrase).split(" + ")
            if all(part in known for part in parts):
                others = [*words[:first], *words[first + length :]]
                rest = " ".join(w for w in others if w not in cuts and w.casefold() not in _FILLERS)
                return phrase, "" if all(w in phrase.split() for w in cuts) else cut, rest
    named = [word for word in words if word not in cuts]
    return (" ".join(named), cut, "") if named else (" ".join(words), "", "")
