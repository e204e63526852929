"""The words that tell what a measure in a line is, by the column it goes to."""

import re
from collections.abc import Sequence
from typing import NamedTuple

from jarcast.domain.stages import STAGES
from jarcast.notebook.crop_name import produce_in
from jarcast.notebook.ingredients import BRINE, liquid
from jarcast.notebook.pieces import (
    BARE,
    HELD,
    HOURS,
    INCHES,
    JARS,
    NO_MEASURE,
    SALT,
    VOLUME,
    WEIGHT,
    Measure,
)


class Role(NamedTuple):
    """A column, the kinds of measure that go there, and the words that say so."""

    column: str
    kinds: frozenset[str]
    words: re.Pattern[str]


class Told(NamedTuple):
    """A measure with the words that tell of it: those in front, and those behind."""

    measure: Measure
    front: str
    back: str

    @property
    def words(self) -> str:
        """Both, in their order, without prices and the like."""
        return NO_MEASURE.sub(" ", f"{self.front} {self.back}")

    @property
    def whole(self) -> str:
        """The measure between its words, as it was written."""
        return f"{self.front} {self.measure.text} {self.back}"


def _role(column: str, kinds: Sequence[str], words: str) -> Role:
    told = rf"(?<!\bnot )(?<!\bnever )(?<!n't )\b(?:{words})\b"  # '2 not sealed'
    return Role(column, frozenset(kinds), re.compile(told, re.IGNORECASE))


_HEAVY = (WEIGHT, HELD)
ANOTHER_POT = r"(?:first|second|third|fourth|another|extra|next|new) pot"
_TRIMMED = (
    r"(?:after )?trim(?:med|ming)?|peeled|cleaned|cored|pared|seeded|prepped|prepared|topped"
    r"|ends off|cut up|ready"
)
# The first that fits kind and words. Words of picklers: common practice, no source.
ROLES = (
    _role("not_jarred", (WEIGHT,), r"not (?:jarred|packed|canned)|unjarred|did ?n.?o?t fit|eaten"),
    _role("sealed", (BARE, JARS), r"sealed|pinged|popped"),
    _role("cost", (BARE,), r"cost|paid|spent"),
    _role("headspace_in", (INCHES,), r"head ?space|head ?room"),
    _role("as_bought", _HEAVY, r"before (?:\w+ )?(?:trim|peel|clean|cor|par|prep|top|cutt)\w*"),
    _role(
        "cured", _HEAVY, r"after (?:the )?(?:salt\w*|cur\w+|soak\w*)|drained|cured|rinsed|"
        r"squeezed(?: out)?",
    ),
    _role("cure_hours", (HOURS,), r"salt\w*|cur(?:e|ed|ing)|soak\w*|stand|stood|brined"),
    _role("salt", (SALT, WEIGHT, VOLUME), r"(?:\w+ )?salt"),
    _role("cooked", _HEAVY, r"cooked|after cooking|blanched|simmered|boiled"),
    _role("trimmed", _HEAVY, _TRIMMED),
    _role(
        "brine_left", (VOLUME,),
        rf"(?:{BRINE} )?left(?: ?over)?|leftover|over(?=\W*$)|remain\w*|spare|unused|kept|saved",
    ),
    _role(
        "brine_made", (VOLUME,), rf"(?:made )?{BRINE}(?: made)?|heated|{ANOTHER_POT}(?: of)?"
    ),
    _role(
        "as_bought", _HEAVY, r"(?:as )?bought|purchased|picked|harvested|to start|started|"
        r"untrimmed|gross|from the (?:garden|market|store)",
    ),
    _role("trimmed", (VOLUME,), _TRIMMED),  # cups of it, where the words are not of brine
    _role("jars", (JARS, BARE), r"jars?|filled|put up|canned|came (?:out )?to|yield(?:ed)?|packed"),
)  # fmt: skip
NAMES = {stage.typed: stage.label.removeprefix("as ") for stage in STAGES} | {
    "cured": "drained", "salt": "salt", "cure_hours": "in salt", "jars": "jars",
    "brine_made": "brine made", "brine_left": "brine left", "sealed": "sealed",
    "headspace_in": "headspace", "not_jarred": "not jarred", "pack": "pack", "recipe": "recipe",
    "note": "note", "date": "date", "cost": "cost",
}  # fmt: skip
LIKE = {role.column: role.kinds for role in reversed(ROLES)}

# Words that belong to the measure behind them, though others before them tell of the one in front.
_LEADS = re.compile(
    r"(?:\b(?:gave|give|ate|eat|opened|sold|added|adding|got|made|no|not|sorry|oops|actually|and"
    r"|i mean|make (?:that|it)|correction|(?:no )?wait|plus|then|also|used|took|threw out|tossed"
    r"|lost|broke|(?<!left )over|about|abt|approx\.?|roughly"
    r"|minus|less|or|of which|recipe(?: (?:says?|said|makes?|yields?|calls for|is|for|was))?"
    r"|(?:loads?|batch(?:es)?|canners?|runs?|kettles?) (?:of|x|@|at))|[+=])\W*$",
    re.IGNORECASE,
)
_DOWN_TO = re.compile(r"\b\w+ (?:down )?(?:to|was|weighed|is)\W*$", re.IGNORECASE)


def tells(words: str) -> bool:
    """Whether words tell what a measure is."""
    return any(role.words.search(words) for role in ROLES)


def role_of(told: Told) -> Role | None:
    """What the words make of a measure: the first role that fits; None where none does."""
    kinds = told.measure.kinds
    kinds = frozenset((SALT,)) if SALT in kinds else kinds
    fits = (role for role in ROLES if BARE in kinds or kinds & role.kinds)
    return next((role for role in fits if role.words.search(told.words)), None)


def with_words(clause: str, found: Sequence[Measure]) -> list[Told]:
    """Each measure with the words that tell what it is: those after it, or those before.

    'trimmed 8 lb, drained 7 lb' has them before; the words in front of all go to the first.
    """
    ends = [0, *(one.end for one in found)]
    starts = [*(one.start for one in found), len(clause)]
    gaps = [clause[end:start] for end, start in zip(ends, starts, strict=True)]
    behind, before = _shared(found, gaps, before=False), _shared(found, gaps, before=True)
    if len(found) == 1 or any(liquid("", gap) for gap in (*gaps[1:2], gaps[-1])):
        return behind
    weights = all(one.kinds & {WEIGHT} for one in found) and not produce_in(gaps[-1])
    first = (tells(gaps[0]) and not tells(gaps[-1])) or liquid(gaps[0], "")
    first = first or (weights and all(map(produce_in, gaps[:-1])))  # 'cukes 6 lb, onions 2 lb'
    return before if first or _loose(before) < _loose(behind) else behind


def _shared(found: Sequence[Measure], gaps: Sequence[str], *, before: bool) -> list[Told]:
    fronts, backs = [gaps[0]], []
    for at, gap in enumerate(gaps[1:-1], start=1):
        cut = 0 if before else _parting(gap, found[at - 1], found[at], gaps[at + 1])
        backs.append(gap[:cut])
        fronts.append(gap[cut:])
    return [Told(*one) for one in zip(found, fronts, [*backs, gaps[-1]], strict=True)]


def _parting(gap: str, first: Measure, following: Measure, after: str) -> int:
    """How many letters between two measures tell of the first; the others tell of the second."""
    cups = JARS in first.kinds and JARS not in following.kinds
    if cups and not tells(after) and tells(gap) and _fits(gap, following):
        return 0  # '9 pts brine 8 c': jars need no word
    down = _DOWN_TO.search(gap)
    if down and _fits(down[0], following):  # 'okra 3 1/2 lb trimmed to 3 lb'
        return down.start()
    if lead := _LEADS.search(gap):
        return lead.start()
    if tells(after):
        return len(gap)
    words = [found.start() for found in re.finditer(r"\b\w", gap)][1:]
    apart = (at for at in reversed(words) if _columns(gap[:at]) and _columns(gap[at:]))
    two = (at for at in apart if _columns(gap[:at]) != _columns(gap[at:]))
    return next(two, len(gap))  # '8 c brine left 1'


def _columns(words: str) -> str:
    return next((role.column for role in ROLES if role.words.search(words)), "")


def _fits(words: str, measure: Measure) -> bool:
    return any(
        role.words.search(words) for role in ROLES
        if role.column != "jars" and (BARE in measure.kinds or role.kinds & measure.kinds)
    )  # fmt: skip


def _loose(told: Sequence[Told]) -> int:
    """How many measures have no word that says what they are, and need one.

    Of weights the first needs none: it is as bought. '9 lb trimmed 7 lb' were 9 lb before. Jars
    need none either, and are no trimmed produce where they can be jars.
    """
    wordless = [one for one in told if role_of(one) is None]
    weights = [one for one in wordless if one.measure.kinds & {WEIGHT, HELD}]
    later = [one for one in weights if one is not told[0] and not re.search(r"\w", one.back)]
    cups = [one for one in told if JARS in one.measure.kinds and _is_trimmed(role_of(one))]
    without = sum(not one.measure.kinds & {JARS, WEIGHT, HELD} for one in wordless)
    return len(later) + len(cups) + without


def _is_trimmed(role: Role | None) -> bool:
    return role is not None and role.column == "trimmed"
