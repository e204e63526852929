"""One line is a batch: 'carrot sticks: 8 lb bought, 6 lb 4 oz trimmed, 9 1/2 pints'.

The grammar: a crop, and measures in any order, each with a word that tells what it is ('bought',
'trimmed', 'salt', 'drained', 'cooked', 'brine', 'left', 'sealed'). Commas, arrows and brackets part
them, and may be left out where each measure has its word. A count of a sort of jar needs no word,
nor does a first weight: it is as bought. A number alone takes the unit of the last like measure,
and that is told; no other unit is ever filled in. Words that measure nothing are the note, and so
are measures of sugar and spice. What may not be the batch's is asked, and never added up.
"""

import re
from collections.abc import Iterable, Mapping

from msgspec import Struct

from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.names import cut_in, plain_words
from jarcast.errors import BatchError
from jarcast.notebook.crop_name import FILLERS, listed, named, produce_in, says_cut
from jarcast.notebook.crops import again
from jarcast.notebook.crossed_out import between_dashes, is_struck, without_struck
from jarcast.notebook.ingredients import VINEGAR
from jarcast.notebook.part_full import part_full
from jarcast.notebook.pieces import BARE, clauses, measures
from jarcast.notebook.placing import SAYS_BRINE, apart, place
from jarcast.notebook.reading import Reading
from jarcast.notebook.roles import NAMES, ROLES, with_words
from jarcast.notebook.settling import settle
from jarcast.notebook.shorthand import rewritten
from jarcast.notebook.spoken import in_digits
from jarcast.notebook.unnumbered import with_number, without_number

LONGEST_LINE = 1000  # characters


class Line(Struct, frozen=True):
    """What a line says, as texts by column that ``record`` takes.

    ``taken`` tells each unit or meaning that the line leaves out. ``asked`` are words that measure
    something, and cannot be placed, each with the question.
    """

    cells: dict[str, str]
    taken: tuple[str, ...] = ()
    asked: tuple[tuple[str, str], ...] = ()


_BRACKETS = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
_PACK = re.compile(r"\b(?:(raw|cold|hot)[ -]?pack(?:ed)?|packed (raw|cold|hot))\b", re.IGNORECASE)
_BY_RECIPE = re.compile(r"\bby (?:the |my )(\S.*?) recipe\b", re.IGNORECASE)
_RECIPE = re.compile(r"\brecipe:?\s+(\S.*)|\bby (?:the |my )?(\S.*?) recipe\b", re.IGNORECASE)
_NONE_LEFT = re.compile(
    r"\b(?:no(?:ne|thing)?(?: brine)? left(?: over)?|(?:ran|run) out of (?:the )?brine"
    r"|used (?:it all|all the brine|all of it))\b",
    re.IGNORECASE,
)  # fmt: skip
_RAN_OUT = re.compile(
    r"(?:\b(?:but|and|then|it|we|just|was|which) )*"
    r"\b(?:ran (?:all )?out|all (?:was )?used(?: up)?|used(?: it)?(?: all)? up|all (?:of it )?gone)"
    r"[\s.!]*$",
    re.IGNORECASE,
)
_NOT_SALTED = re.compile(r"\b(?:not|never) salted\b|\bunsalted\b|\bno cure\b", re.IGNORECASE)
_OVERNIGHT = re.compile(r"\bover ?night\b", re.IGNORECASE)
_SALTING = re.compile(r"\bsalt(?:ed|ing)?\b|\bcur(?:e|ed|ing)\b", re.IGNORECASE)
_ALL_SEALED = re.compile(r"\ball (?:of them )?(?:sealed|pinged|popped)\b", re.IGNORECASE)
_SORT_FIRST = re.compile(r"(\D.*?|1/2 \D.*?)[\s=-]+(\d[\d.]*(?: \d/\d)?|\d/\d)", re.IGNORECASE)
# '4lb8' are 8 ounces more, as in a table; '7pt1hp' are two counts.
_OUNCES = re.compile(
    r"(?<![\d/.,])(?P<lb>\d+)\s?(?:lbs?|#)(?P<oz>\d|1[0-5])(?![\w/#]|[.,]\d|\s?(?:oz|ounces?)\b)",
    re.IGNORECASE,
)
_AS_OUNCES = r"\g<lb> lb \g<oz> oz"


def read_line(text: str, shelf: Mapping[str, Jar] = SHELF) -> Line:
    """The batch that a line of words tells. Never raises: what it cannot place is asked."""
    if len(text) > LONGEST_LINE:
        return Line({}, (), ((text[:40], f"a line is at most {LONGEST_LINE} characters long"),))
    if is_struck(text):
        return Line({}, (), ((text, "it is struck out; write it without that if it counts"),))
    text, struck = without_struck(text.replace("\0", " "))
    text, told = _plainly(text)
    at = Reading(text, shelf, taken=told, notes=[f"struck out: {part}" for part in struck])
    at.brackets = frozenset(
        clause for found in _BRACKETS.finditer(text) for clause in clauses(found[1])
    )
    if aside := between_dashes(text):
        at.ask(aside, "is that struck out? Write it without the dashes, or leave it out")
        text = text.replace(aside, " ")
    crop, text = _before_colon(_said_at_large(at, text))
    for clause in clauses(text):
        crop = _clause(at, clause, crop)
    _name_crop(at, crop)
    settle(at, crop)
    if "jars" not in at.cells and not any("sort" in why for _, why in at.asked):
        at.ask("", "how many jars were filled, and which sort? Say '9 1/2 pints'")
    if at.notes:
        at.cells["note"] = "; ".join(at.notes)
    return Line(at.cells, tuple(at.taken), tuple(at.asked))


def understood(line: Line) -> str:
    """What was understood of a line, in one line."""
    crop = ", ".join(filter(None, (line.cells.get("produce"), line.cells.get("cut"))))
    parts = [f"{name} {line.cells[c]}" for c, name in NAMES.items() if c in line.cells]
    return "Read: " + "; ".join([crop or "?", *parts, *line.taken])


def _plainly(text: str) -> tuple[str, list[str]]:
    """The line with its signs and numbers as the rest reads them, and what was reckoned."""
    ounces = [f"{found[0]} taken as {found.expand(_AS_OUNCES)}" for found in _OUNCES.finditer(text)]
    text, told = in_digits(with_number(rewritten(_OUNCES.sub(_AS_OUNCES, text))))
    return text, [*ounces, *told]


def _said_at_large(at: Reading, text: str) -> str:
    """What words without a measure tell, wherever they stand; the text without them."""
    if beside := re.match(r"\s*\(([^()\d]*)\)[\s:\u2013\u2014-]*(?=\S)", text):  # '(rainy) - okra'
        at.notes.append(beside[1].strip())
        text = text[beside.end() :]
    if said := part_full(text):
        at.part_full = said
        at.notes.append(said.words.strip())
        text = text.replace(said.words, " ")
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
    found = re.match(r"\s*([^:\d;]{2,80}):", text)
    label = found[1].strip() if found else ""
    told = any(role.words.search(label) for role in ROLES) or _sort_in(label)
    if told or re.search(rf"\b(?:{VINEGAR}|water)\b", label, re.IGNORECASE):
        label = ""
    if "," in label:
        label = listed(label)
    return label, text[found.end() if found and label else 0 :].replace(":", " ")


def _sort_in(text: str, shelf: Mapping[str, Jar] = SHELF) -> str:
    """The key of the sort of jar that a text names; '' for none."""
    try:
        return jar_key(text.strip(), shelf)
    except BatchError:
        return ""


def _clause(at: Reading, clause: str, crop: str) -> str:
    """Read one clause; gives the crop, which a first clause may tell."""
    if by := _BY_RECIPE.search(clause):
        at.cells["recipe"] = by[1].strip()
        clause = _BY_RECIPE.sub(" ", clause)
    clause = _without_ran_out(at, clause)
    first = _SORT_FIRST.fullmatch(clause)
    if first and (key := _sort_in(first[1], at.shelf)):  # 'pints 7'
        clause = f"{first[2]} {key}"
    found = list(measures(clause, at.shelf))
    if not found:
        return _words_alone(at, clause, crop)
    told = with_words(clause, found)
    if parts := next(filter(None, (apart(clause, one) for one in told)), None):
        return _clause(at, parts[1], _clause(at, parts[0], crop))
    before, at.last = len(at.jars), ""
    placed = [place(at, one, clause) for one in told]
    ours = [one for one, (_, aside) in zip(told, placed, strict=True) if not aside]
    fronts = [one.front for one in ours if BARE not in one.measure.kinds]  # 'lb 4' has its number
    lost = _ask_for_numbers(at, clause, [*fronts, *(one.back for one in ours)])
    words = _tidy(" ".join(words for words, _ in placed))
    for one in at.jars[before:]:
        one.noted = words
    if (lost and crop) or (
        any(aside for _, aside in placed) and not crop and not produce_in(words)
    ):
        at.notes.append(words)
        return crop
    return _left_over(at, words, crop)


def _without_ran_out(at: Reading, clause: str) -> str:
    """A clause without its end that says the brine ran out, which is kept for later."""
    out = _RAN_OUT.search(clause)
    if not out or (out.start() and not SAYS_BRINE.search(clause)):
        return clause
    at.ran_out = clause
    clause = clause[: out.start()].strip()
    return "" if clause.casefold() in ("brine", "the brine", "all the brine") else clause


def _words_alone(at: Reading, clause: str, crop: str) -> str:
    """A clause that measures nothing: a cut, a recipe, the crop, or the note."""
    if recipe := _RECIPE.search(clause):
        at.cells["recipe"] = (recipe[1] or recipe[2]).strip()
        return crop
    if _ALL_SEALED.search(clause):
        at.notes.append(clause)
        return crop
    if _ask_for_numbers(at, clause, (clause,)) and crop:
        at.notes.append(_tidy(clause))
        return crop
    return _left_over(at, clause, crop)


def _ask_for_numbers(at: Reading, clause: str, texts: Iterable[str]) -> bool:
    """Ask for the number of what is measured without one; whether there is such.

    It would be lost in the note.
    """
    asked = [why for text in texts for why in without_number(text)]
    for why in asked:
        at.ask(clause, why)
    return bool(asked)


def _left_over(at: Reading, words: str, crop: str) -> str:
    """Words that measure nothing: the crop where none was named yet, a cut, else the note."""
    kept = _tidy(words)
    told = [word for word in plain_words(kept) if word not in FILLERS and word.strip("'./%")]
    if not told:
        return crop
    if not crop:
        return kept
    if all(map(cut_in, told)) and "cut" not in at.cells and not says_cut(crop):
        at.cells["cut"] = kept
    else:
        at.notes.append(kept)
        other = produce_in(kept)
        at.beyond = at.beyond or bool(at.jars and other and other != produce_in(crop))
    return crop


def _tidy(words: str) -> str:
    return re.sub(r"\s+", " ", words).strip(" .,:;-&+/|")


def _name_crop(at: Reading, crop: str) -> None:
    """Produce and cut out of the words of the crop; words beside a known name go to the note."""
    produce, cut, rest = named(crop)
    if not produce or again(f"{crop} 1")[0]:  # 'ditto' of a line that has none above it
        at.ask("", "what did you put up? Begin the line with it: 'carrot sticks: ...'")
        return
    at.notes[:0] = [rest] if rest else []
    at.cells["produce"] = produce
    if cut and "cut" not in at.cells:
        at.cells["cut"] = cut
