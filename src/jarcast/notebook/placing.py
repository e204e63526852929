"""Where a measure of a line goes: under its column, to the note, or back as a question."""

import re

from jarcast.domain.stages import STAGES
from jarcast.notebook.asides import (
    is_aside,
    is_liquid,
    is_spice,
    is_taken_off,
    jars_gone,
    of_recipe,
    salts_produce,
    salts_the_brine,
)
from jarcast.notebook.crop_name import produce_in, says_cut
from jarcast.notebook.ingredients import BRINE
from jarcast.notebook.jar_counts import JarCount
from jarcast.notebook.pieces import (
    BARE,
    HELD,
    HOURS,
    JARS,
    SALT,
    UNREAD,
    VOLUME,
    WEIGHT,
    unit_of,
)
from jarcast.notebook.reading import Reading
from jarcast.notebook.roles import ANOTHER_POT, ROLES, Role, Told, role_of

_MADE = re.compile(r"\bmade\b", re.IGNORECASE)
_USED = re.compile(r"\bused\b", re.IGNORECASE)
_JARS_BEHIND = re.compile(r"^[\s-]*(?:\w+ )?jars?\b", re.IGNORECASE)
_JOINER = re.compile(r"\s*(?:[+&]|\band\b)\s*", re.IGNORECASE)
_DIVIDED = re.compile(r"(\d+)/(\d+)")  # '8/7 pts' are two counts, and no part of a jar
_MORE = re.compile(r"\bmore\b|\+\W*$", re.IGNORECASE)
_OF_JARS = re.compile(r"\b(?:ready|prepped|prepared|cleaned|topped)\b", re.IGNORECASE)
SAYS_BRINE = re.compile(rf"\b{BRINE}\b", re.IGNORECASE)
# Pints of brine or jars: 'second pot 1 qt' may be a load of the canner, too.
_OF_A_POT = re.compile(rf"\b(?:{ANOTHER_POT}|topp(?:ed|ing) (?:\w+ )?(?:up|off))\b", re.IGNORECASE)
# Words beside pints or quarts 'left' that leave no doubt that they are brine.
_OF_BRINE_LEFT = re.compile(
    r"(?:\b(?:left ?over|left|over|brine|liquid|syrup|in|the|pots?|pan|kettle|of|about|abt|a|bit"
    r"|was|were|some|and|with|at|end|remain\w*|spare|unused|only|still|just|almost|i|we|had|have)\b"
    r"|\W)*",
    re.IGNORECASE,
)


def place(at: Reading, told: Told, clause: str) -> tuple[str, bool]:
    """Place a measure of a clause; gives the words for the note, and whether it is set aside."""
    role = role_of(told)
    if UNREAD in told.measure.kinds:
        return (_without_roles(told) if at.ask_what(told, clause) else told.whole), True
    if _set_aside(at, told, clause, role.column if role else ""):
        return told.whole, True
    _put(at, told, clause, role)
    words = f"{told.front} {told.back}"
    return _MADE.sub(" ", role.words.sub(" ", words) if role else words), False


def _without_roles(told: Told) -> str:
    """The words beside a measure that tell nothing of it."""
    words = f"{told.front} {told.back}"
    for role in ROLES:
        words = role.words.sub(" ", words)
    return words


def apart(clause: str, found: Told) -> tuple[str, str] | None:
    """A clause parted where only the last of counts joined is something else, else None.

    '8 pts and 1 pt in the fridge', '8 pts and 1 qt vinegar'.
    """
    measure = found.measure
    joins = [*_JOINER.finditer(clause, measure.start, measure.end)]
    if JARS not in measure.kinds or not joins:
        return None
    last = Told(measure, "", found.back)
    other = is_liquid(last) or is_spice(last) or is_aside(last, "")
    return (clause[: joins[-1].start()], clause[joins[-1].end() :]) if other else None


def _set_aside(at: Reading, told: Told, clause: str, column: str) -> bool:
    """Whether a measure goes to the note whole: it is not the batch's, or that is asked."""
    kinds = told.measure.kinds
    if is_spice(told):
        return True
    if SALT in kinds or column == "salt":
        return salts_the_brine(clause)
    if _of_brine(at, told, clause, column):
        return True
    if column in ("", *(stage.typed for stage in STAGES[:2])) and is_taken_off(told):
        at.off.append((told, clause))
        return True
    if JARS in kinds and _OF_A_POT.search(told.words) and not SAYS_BRINE.search(told.words):
        at.ask_what(told, clause)
        return True
    jars = JARS in kinds and column in ("", "jars")
    if jars and at.jars and JarCount(told, clause).instead:
        return False
    recipe = jars and of_recipe(told, at.text)
    if not (recipe or is_aside(told, column) or _left_of_what(at, told, column)):
        return False
    if jars and not is_liquid(told):
        at.ask_among(told.measure.text, clause)
    else:
        at.ask_what(told, clause)
    return True


def _of_brine(at: Reading, told: Told, clause: str, column: str) -> bool:
    """Whether a measure is of what went into the brine, or of brine that was used; both wait."""
    if is_liquid(told) and column != "brine_left" and not is_aside(told, ""):
        if not salts_produce(clause):  # '1 gal ice water' that produce soaked in
            at.liquids.append((told, clause))
        return True
    brine = column == "brine_made" or (not column and JARS not in told.measure.kinds)
    if _USED.search(told.words) and VOLUME in told.measure.kinds and brine:
        at.used.append((told, clause))
        return True
    return False


def _left_of_what(at: Reading, told: Told, column: str) -> bool:
    """Whether what is 'left' may be produce or jars: '2 cups okra left', 'gave 3, 5 pts left'."""
    if column == "trimmed" and JARS in told.measure.kinds:  # 'had 10 pts ready' are empty jars
        return bool(_OF_JARS.search(told.words)) and not produce_in(told.back)
    if column != "brine_left" or SAYS_BRINE.search(told.words):
        return False
    if is_liquid(told):
        return True
    jars = JARS in told.measure.kinds
    if produce_in(told.words if jars else told.back):
        return True
    if (jars or BARE in told.measure.kinds) and jars_gone(at.text):
        return True
    return jars and not _OF_BRINE_LEFT.fullmatch(told.words)


def _put(at: Reading, told: Told, clause: str, role: Role | None) -> None:
    """Put a measure where its words say, or where it may stand without a word."""
    measure, words, kinds = told.measure, told.words, told.measure.kinds
    if role and not (role.column == "jars" and JARS in kinds):
        at.put(role.column, measure, words, clause)
    elif not role and _MADE.search(words) and VOLUME in kinds:
        at.made.append((measure, words))
        if JARS not in kinds:  # 'made 9 cups, 2 left' are cups too
            at.units[VOLUME] = unit_of(measure.text)
    elif SALT in kinds:
        at.put("salt", measure, words, clause)
    elif JARS in kinds:
        _count(at, told, clause)
    elif VOLUME in kinds and says_cut(words):  # '16 cups sliced'
        at.put("trimmed", measure, words, clause)
    elif kinds & {WEIGHT, HELD}:
        _first_weight(at, told, clause)
    elif HOURS in kinds and ("salt" in at.cells or "cured" in at.cells):
        at.put("cure_hours", measure, words, clause)
    else:
        at.ask_what(told, clause)


def _count(at: Reading, told: Told, clause: str) -> None:
    """Note a count of jars, unless its words tell what jars are not: '2 qts bought'."""
    more = at.last.startswith("brine") and _MORE.search(told.words)  # '2 qts brine + 1 qt more'
    text = told.measure.text
    two = [found for found in _DIVIDED.finditer(text) if _are_two(int(found[1]), int(found[2]))]
    if two:
        each = (_DIVIDED.sub(number, text, count=1) for number in two[0].groups())
        why = f"is '{text}' one count or the other? Say '{{}}' or '{{}}'".format(*each)
        at.ask(clause, why)
    elif more or any(role.words.search(told.words) for role in ROLES if role.column != "jars"):
        at.ask_among(text, clause)
    else:
        at.jars.append(JarCount(told, clause, at.beyond, clause in at.brackets))


def _are_two(top: int, of: int) -> bool:
    return top >= of or of > 4


def _first_weight(at: Reading, told: Told, clause: str) -> None:
    weighed = {stage.typed for stage in STAGES} & set(at.cells)
    text = told.measure.text
    at.loose.append((produce_in(told.back) or produce_in(told.front), text, clause))
    if weighed or _JARS_BEHIND.search(told.back):  # '7 23 oz jars'
        at.ask_which_weight(text, clause)
        return
    at.put("as_bought", told.measure, "", clause)
    at.taken.append(f"{text} taken as bought")
