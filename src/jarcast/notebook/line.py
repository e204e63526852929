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
from functools import partial
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.names import cut_in, plain_words
from jarcast.errors import BatchError
from jarcast.notebook.answers import adds, in_place, jars_in, says_no, says_yes, without_lead
from jarcast.notebook.crop_name import FILLERS, listed, named, produce_in, says_cut
from jarcast.notebook.crops import again
from jarcast.notebook.crossed_out import between_dashes, is_struck, without_struck
from jarcast.notebook.ingredients import VINEGAR
from jarcast.notebook.jar_counts import more_of_its_sort, with_count
from jarcast.notebook.part_full import part_full
from jarcast.notebook.pieces import BARE, clauses, measures
from jarcast.notebook.placing import SAYS_BRINE, apart, place
from jarcast.notebook.reading import NOTHING, Asked, Reading, unfit
from jarcast.notebook.roles import NAMES, ROLES, Told, tells, with_words
from jarcast.notebook.settling import settle
from jarcast.notebook.shorthand import rewritten
from jarcast.notebook.spoken import in_digits
from jarcast.notebook.unnumbered import with_number, without_number

HOW_MANY = "how many jars were filled, and which sort? Say '9 1/2 pints'"
WHICH_CROP = "what did you put up? Say it like 'carrot sticks'"
LONGEST_LINE = 1000  # characters


class Line(Struct, frozen=True):
    """What a line says, as texts by column that ``record`` takes.

    ``taken`` tells each unit or meaning that the line leaves out. ``asked`` are words that measure
    something, and cannot be placed, each with the question; ``without`` is what becomes of it
    where nobody answers.
    """

    cells: dict[str, str]
    taken: tuple[str, ...] = ()
    asked: tuple[Asked, ...] = ()
    without: Mapping[Asked, str] = {}


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


def read_line(
    text: str, shelf: Mapping[str, Jar] = SHELF, answers: Mapping[Asked, str] = MappingProxyType({})
) -> Line:
    """The batch that a line of words tells. Never raises: what it cannot place is asked.

    ``answers`` are those to questions that it asked before: each settles its question alone.
    """
    if len(text) > LONGEST_LINE:
        why = f"a line is at most {LONGEST_LINE} characters long; write it shorter"
        return _anew(text[:40], why, shelf, answers)
    if is_struck(text):
        why = "it is struck out; write it without that if it counts"
        return _anew(text, why, shelf, answers)
    text, struck = without_struck(text.replace("\0", " "))
    text, told = _plainly(text)
    at = Reading(text, shelf, taken=told, notes=[f"struck out: {part}" for part in struck])
    at.answers = {asked: _answer_plainly(said) for asked, said in answers.items()}
    at.brackets = frozenset(
        clause for found in _BRACKETS.finditer(text) for clause in clauses(found[1])
    )
    if aside := between_dashes(text):
        text = _dashed(at, text, aside)
    crop, text = _before_colon(_said_at_large(at, text))
    for clause in clauses(text):
        at.tried.clear()
        crop = _clause(at, clause, crop)
        _read_replies(at, crop)
    crop = _name_crop(at, crop)
    if answer := at.answer("", HOW_MANY):
        at.reads(answer, words="jars")
        _read_replies(at, crop)
    settle(at, crop, partial(_read_replies, at, crop))
    if "jars" not in at.cells:
        _ask_for_jars(at)
    if notes := [note for note in at.notes if note]:
        at.cells["note"] = "; ".join(notes)
    return Line(at.cells, tuple(at.taken), tuple(at.asked), at.without)


def _ask_for_jars(at: Reading) -> None:
    """Ask how many jars there were, or of which sort, where that alone is open."""
    of_sort = [asked for asked in at.asked if "sort" in asked[1]]
    at.without |= dict.fromkeys(of_sort, NOTHING)
    if not of_sort:
        at.ask("", HOW_MANY, unfit, NOTHING)


def _anew(part: str, why: str, shelf: Mapping[str, Jar], answers: Mapping[Asked, str]) -> Line:
    """A line that is asked for as a whole: the answer is the line."""
    if answer := answers.get((part, why)):
        others = {asked: said for asked, said in answers.items() if asked != (part, why)}
        return read_line(answer, shelf, others)
    return Line({}, (), ((part, why),), {(part, why): NOTHING})


def _dashed(at: Reading, text: str, aside: str) -> str:
    """The line without a part between dashes, or with what an answer puts in its place."""
    why = "is that struck out? Say 'yes' or 'no', or write it without the dashes"
    answer, kept = at.answer(aside, why), " "
    if at.ask(aside, why, bool) and not says_yes(answer):
        kept = f", {aside if says_no(answer) else answer}, "
    return text.replace(f"--{aside}--", kept).replace(aside if kept == " " else "\0", " ")


def _read_replies(at: Reading, crop: str) -> None:
    """Read the clauses that answers stand for; what they count is sure to be the batch's."""
    beyond, at.beyond, at.replying = at.beyond, False, True
    while at.replies:
        before = len(at.jars)
        _clause(at, at.replies.pop(0), crop or "-")
        for one in at.jars[before:]:
            one.said = one.told
    at.beyond, at.replying = beyond, False


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


def _answer_plainly(text: str) -> str:
    """An answer so, but that a unit alone is no one of it: 'lb' answers which unit a number has."""
    text = _OUNCES.sub(_AS_OUNCES, text[:LONGEST_LINE])
    return without_lead(in_digits(rewritten(text))[0])


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
    count = at.jars[-1].text if at.jars else ""
    asked = [
        (why, text.replace(what, " ", 1))
        for text in texts for what, why in without_number(text, count)
    ]  # fmt: skip
    for why, beside in asked:
        at.ask(clause, why, partial(_numbered, at, beside))
    return bool(asked)


def _numbered(at: Reading, beside: str, answer: str) -> bool:
    """Take an answer with the number; a larger count of a sort of jar is all of that sort."""
    for clause in in_place(answer, at.shelf, words=beside):
        said = None if tells(clause) else jars_in(clause, at.shelf)
        less = [one for one in at.jars if said and more_of_its_sort(said.text, one.text, at.shelf)]
        if said and less:
            text = with_count(less[-1].text, said.text, at.shelf)
            less[-1].said = Told(replace(said, text=text), less[-1].told.front, "")
        else:
            at.replies.append(f"+ {clause}" if said and not adds(clause) else clause)
    return any(measures(answer, at.shelf))


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


def _name_crop(at: Reading, crop: str) -> str:
    """Produce and cut out of the words of the crop; words beside a known name go to the note."""
    produce, cut, rest = named(crop)
    if not produce or again(f"{crop} 1")[0]:  # 'ditto' of a line that has none above it
        answer, crop = at.answer("", WHICH_CROP), ""
        for clause in clauses(answer):
            crop = _clause(at, clause, crop)
        produce, cut, rest = named(crop)
    if not produce:
        at.ask("", WHICH_CROP, unfit, NOTHING)
        return crop
    at.notes[:0] = [rest] if rest else []
    at.cells["produce"] = produce
    if cut and "cut" not in at.cells:
        at.cells["cut"] = cut
    return crop
