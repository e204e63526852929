"""Jars as people count them: '6 pints and 5 1/2 quarts', '5 wide pints, then pints'.

The one grammar of jars. A text is pieces parted by a comma, ';', '+', 'and' or 'then'; each is a
sort, a count, or a count with its sort. What is shown of jars is read back here.
"""

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from jarcast.domain.batch import number_text
from jarcast.domain.jars import SHELF, Jar, jar_key, jar_list, so_many
from jarcast.errors import BatchError, cut_short
from jarcast.measures.numbers import NUMBER_WORDS, count, plain

EXAMPLE = "'9.5', or each count with its sort, '6 pint + 5.5 quart'"
_MOST_READ = 2000  # characters

_PARTED = re.compile(
    r"\s*(?:[;+]|,(?!(?<=\d,)\d))\s*(?:then\b\s*)?|\s*\bthen\b\s*",  # not the comma of '5,5'
    re.IGNORECASE,
)
_AND = re.compile(r"\s*(?:\band\b|&)\s*", re.IGNORECASE)
_TURNS = re.compile(r"[,;]|\bthen\b", re.IGNORECASE)
_AND_HALF = re.compile(r"(\d{1,6})\s+(\S.*s)\s+and\s+a\s+half", re.IGNORECASE)

_NAMED = {**NUMBER_WORDS, "dozen": 12}
_SIGN = "\u00bc-\u00be\u2150-\u215e"
_WHOLE = r"\d{1,6}"
# The longest number first: '6 1/2 pint' are six and a half. One with a dash after it belongs to
# the sort's name: '6 1/2-pint' are six half-pints, and '12-oz' is no dozen of anything.
_NUMBERS = (
    rf"\d{{1,6}}\s?[{_SIGN}]|\d{{1,6}}[ -]\d{{1,2}}[/\u2044]\d{{1,2}}|\d{{1,6}}\s+and\s+a\s+half",
    rf"\d{{0,6}}\.\d{{1,6}}|\d{{1,6}},\d{{1,2}}|[{_SIGN}]|\d{{1,2}}[/\u2044]\d{{1,2}}",
    _WHOLE,
    rf"(?:a\s+)?(?:{'|'.join(_NAMED)})\b",
)


def _counted(number: str) -> re.Pattern[str]:
    return re.compile(rf"({number})(?![-\d.,/\u2044])\s*(?:[x\u00d7]\s+)?(\S.*)", re.IGNORECASE)


# '6x12-oz': a jar of one's own may be called X0, so this is tried after the name as it stands.
_TIMES = re.compile(r"[x\u00d7](\d.*)", re.IGNORECASE)


_READINGS = tuple(map(_counted, _NUMBERS))
_WHOLE_READINGS = (_counted(_WHOLE), _READINGS[-1])


class Counted(NamedTuple):
    """One sort of jar and how many; None and '' are 'not said'.

    ``sort`` is the key of a jar on the shelf, else as it was typed.
    """

    number: float | None
    sort: str


def read_jars(
    text: str, shelf: Mapping[str, Jar] = SHELF, *, turns: bool = False
) -> tuple[Counted, ...]:
    """The pieces of a text in order; () for one that says nothing.

    In ``turns`` counts are of whole jars, and the last sort takes the rest: '4 1/2 pint' there are
    four half-pints, and a last '1 pint' is the pint. Raises BatchError for a count that cannot be
    read; whether a sort is on the shelf is for ``on_shelf`` to say.
    """
    found = [piece for piece in pieces(text, shelf) if piece or not turns]
    last = len(found) - 1
    return tuple(_piece(p, shelf, turns, turns and i == last) for i, p in enumerate(found))


def pieces(text: str, shelf: Mapping[str, Jar] = SHELF) -> Iterator[str]:
    """The pieces of a text; an 'and' inside the name of a jar parts nothing."""
    if not text.strip():
        return
    for chunk in _PARTED.split(text.strip()[:_MOST_READ]):
        ands = list(_AND.finditer(chunk))
        starts = [0, *(found.end() for found in ands)]
        ends = [*(found.start() for found in ands), len(chunk)]
        first = 0
        while first < len(starts):
            longest = range(len(ends) - 1, first, -1)
            joined = (i for i in longest if _reads(chunk[starts[first] : ends[i]], shelf))
            last = next(joined, first)
            piece = chunk[starts[first] : ends[last]].strip()
            if piece or not ands:
                yield piece
            first = last + 1


def _reads(piece: str, shelf: Mapping[str, Jar]) -> bool:
    try:
        return _piece(piece, shelf, turns=False, last=True).sort in shelf
    except BatchError:
        return False


def _piece(piece: str, shelf: Mapping[str, Jar], turns: bool, last: bool) -> Counted:
    bare = _key(piece, shelf)
    if last and bare:
        return Counted(None, bare)
    if half := _AND_HALF.fullmatch(piece):
        return Counted(float(half[1]) + 0.5, _key(half[2], shelf) or half[2])
    found = [
        (read[1], name)
        for pattern in (_WHOLE_READINGS if turns else _READINGS)
        if (read := pattern.fullmatch(piece))
        for name in _names(read[2])
    ]
    for number, name in found:
        if key := _key(name, shelf):
            return Counted(_number(number), key)
        if re.fullmatch(r"(full )?jars?", name, re.IGNORECASE):
            return Counted(_number(number), "")
    if bare:
        return Counted(None, bare)
    if piece.casefold() in _NAMED:
        return Counted(_number(piece), "")
    if plain(piece) or not any(sign.isalpha() for sign in piece):
        return Counted(count(piece), "")
    if found and found[0][0][-1].isalpha():  # 'a few' is not one of a sort called 'few'
        return Counted(None, piece)
    return Counted(_number(found[0][0]), found[0][1]) if found else Counted(None, piece)


def _names(text: str) -> tuple[str, ...]:
    """What may be the name of a jar behind its count."""
    times = _TIMES.fullmatch(text)
    return (text,) if times is None else (text, times[1])


def _key(name: str, shelf: Mapping[str, Jar]) -> str:
    """The key of a jar on the shelf, '' for any other name; quotes around one's own forgiven."""
    for spelt in (name, re.sub(r"['\u2019\"]([^'\u2019\"]*)['\u2019\"]( jars?)?", r"\1", name)):
        try:
            return jar_key(spelt, shelf)
        except BatchError:
            continue
    return ""


def _number(text: str) -> float:
    words = text.casefold().split()
    if words and words[-1] in _NAMED:
        return float(_NAMED[words[-1]])
    if words[-3:] == ["and", "a", "half"]:
        return float(words[0]) + 0.5
    decimal = re.fullmatch(r"(\d+),(\d{1,2})", text)
    if decimal and len(decimal[2]) == 1:
        text = f"{decimal[1]}.{decimal[2]}"
    return count(text)


def says_sorts(found: Iterable[Counted], shelf: Mapping[str, Jar] = SHELF) -> bool:
    """Whether a sort of jar is named at all, if only one that is not on the shelf."""
    return any(one.sort and (one.number is not None or one.sort in shelf) for one in found)


def on_shelf(found: Iterable[Counted], shelf: Mapping[str, Jar] = SHELF) -> list[tuple[float, str]]:
    """Counts and keys of jars that are all counted and named. Raises BatchError for any other."""
    read = []
    for one in found:
        if one.sort and one.sort not in shelf:
            jar_key(one.sort, shelf)  # raises, with the jars there are
        if one.number is None or not one.sort:
            said = f"'{one.sort}' has no count"
            if one.number is not None:
                said = f"{number_text(one.number)} has no sort, though other counts do"
            raise BatchError(f"{said}; write {EXAMPLE}")
        read.append((one.number, one.sort))
    return read


def planned(plan: str, jars: float, shelf: Mapping[str, Jar] = SHELF) -> dict[str, float]:
    """So many jars by sort, as they come in the turns of a plan; {} for no plan."""
    turns = read_jars(in_turns({"jar": plan}, shelf), shelf, turns=True)
    return _poured(turns, jars) if turns else {}


def total(text: str, shelf: Mapping[str, Jar] = SHELF) -> float:
    """A count of jars in all: '11', '6 pints and 5 quarts'. Raises BatchError."""
    found = read_jars(text, shelf)
    if not says_sorts(found, shelf):
        return count(text)
    return math.fsum(number for number, _ in on_shelf(found, shelf))


def turns_text(found: Sequence[tuple[float, str]]) -> str:
    """Jars in their turns, the last sort without a count: '5 pint-wide, then pint'."""
    firsts = [so_many(number_text(number), key) for number, key in found[:-1]]
    return ", then ".join([*firsts, found[-1][1]])


def counts(text: str, shelf: Mapping[str, Jar] = SHELF) -> tuple[float, ...]:
    """Counts alone, in order: '5 + 4 1/2'. Raises BatchError."""
    read = []
    for piece in pieces(text, shelf):
        one = _piece(piece, shelf, turns=False, last=False)
        if one.number is None or one.sort:
            _refuse(piece)
        read.append(one.number or 0.0)
    return tuple(read)


def _refuse(piece: str) -> None:
    """Raise BatchError for a text that is not a count of jars."""
    try:
        count(piece)
    except BatchError as error:
        if "plain number" not in str(error):
            raise
    raise BatchError(f"is not a plain number of jars; write it like {EXAMPLE}")


def with_sorts(typed: Mapping[str, str], shelf: Mapping[str, Jar] = SHELF) -> dict[str, str]:
    """Cells 'jar' and 'jars' out of counts typed with their sorts; all else as it was typed.

    'jars' = '6 pints and 5 quarts' says what 'jar' is. Raises BatchError where 'jar' says another.
    """
    text = typed.get("jars", "").strip()
    if plain(text) or not any(sign.isalpha() for sign in text):
        return dict(typed)
    found = read_jars(text, shelf)
    if not any(one.sort for one in found):
        return {**typed, "jars": jar_list(number_text(one.number or 0.0) for one in found)}
    if not says_sorts(found, shelf):
        return dict(typed)  # not a count of jars, which is said where it is read
    jars = summed(on_shelf(found, shelf))
    jar = typed.get("jar", "").strip()
    said = {one.sort for one in read_jars(jar, shelf, turns=True)}
    if jar and (other := [key for key in jars if key not in said]):
        raise BatchError(
            f"counts jars of the sort {' and '.join(other)}, and jar says '{cut_short(jar)}'; "
            "leave jar out, or make both say the same"
        )
    return {**typed, **_cells(jars)}


def _cells(jars: Mapping[str, float]) -> dict[str, str]:
    """Jars by sort as the batch table writes them."""
    return {"jar": jar_list(jars), "jars": jar_list(map(number_text, jars.values()))}


def summed(jars: Iterable[tuple[float, str]]) -> dict[str, float]:
    """Counts by sort, in the order the sorts were first named."""
    found: dict[str, float] = {}
    for number, key in jars:
        found[key] = found.get(key, 0.0) + number
    return found


def table_cells(typed: Mapping[str, str], shelf: Mapping[str, Jar] = SHELF) -> dict[str, str]:
    """Typed texts as the batch table has them: '5 pint-wide, then pint' is 'pint-wide + pint'.

    One count of jars is dealt out in their turns: the first sorts as planned, the rest in the last.
    Raises BatchError where there is not one count for each sort.
    """
    cells = dict(typed)
    found = read_jars(typed.get("jar", ""), shelf, turns=True)
    if len(found) >= 2:
        counted = any(one.number is not None for one in found)
        sorts = [one.sort for one in found]
        cells["jar"] = jar_list(dict.fromkeys(sorts) if counted else sorts)
        cells |= _dealt(found, typed.get("jars", ""))
    _check_counts(cells.get("jar", ""), cells.get("jars", ""))
    return cells


def _dealt(turns: Sequence[Counted], jars: str) -> dict[str, str]:
    """Jars and their counts out of one count of all; {} where it is not one, or none was planned.

    A sort that was not reached is left out.
    """
    try:
        left = count(jars.strip())
    except BatchError:  # several counts
        return {}
    if any(turn.number is None for turn in turns[:-1]):
        return {}
    found = _poured(turns, left)
    return _cells(found) if found else {}


def _poured(turns: Sequence[Counted], jars: float) -> dict[str, float]:
    """So many jars by sort, the first sorts as planned, the rest in the last."""
    filled, left = [], jars
    for turn in (*turns[:-1], Counted(math.inf, turns[-1].sort)):
        if (taken := min(left, turn.number or 0.0)) > 0:
            filled.append((round(taken, 6), turn.sort))
            left -= taken
    return summed(filled)


def _check_counts(jar: str, jars: str) -> None:
    """Raise BatchError, naming the batch's own sorts, where counts and sorts do not run alike."""
    sorts, numbers = ([part.strip() for part in text.split("+")] for text in (jar, jars))
    if len(sorts) == 1 or not jars.strip() or len(sorts) == len(numbers):
        return
    example = [str(4 + number) for number in range(len(sorts))]
    said = " + ".join(so_many(n, cut_short(name)) for n, name in zip(example, sorts, strict=True))
    raise BatchError(
        f"jars '{cut_short(jars)}': this batch is in {cut_short(jar)}; write each count with its "
        f"sort, '{said}', or the counts in this order, '{' + '.join(example)}'"
    )


def in_turns(typed: Mapping[str, str], shelf: Mapping[str, Jar] = SHELF) -> str:
    """The jars as a forecast takes them; of sorts without counts, the first."""
    text = typed.get("jar", "").strip()
    found = read_jars(text, shelf, turns=True)
    if len(found) < 2 or _TURNS.search(text) or any(one.number is not None for one in found):
        return text
    return text.partition("+")[0].strip()


def turns_with(
    filled: Sequence[tuple[float, str]], plan: str, shelf: Mapping[str, Jar] = SHELF
) -> str:
    """A plan of jars in their turns that agrees with jars filled so far; '' for the plan itself.

    Filled in another order than planned, they come first, a part-full one last of them, and after
    them what is left of the plan.
    """
    so_far = summed(filled)
    rounded = {key: round(number, 6) for key, number in so_far.items()}
    if planned(plan, math.fsum(so_far.values()), shelf) == rounded:
        return ""
    due = read_jars(in_turns({"jar": plan}, shelf), shelf, turns=True)
    first = sorted(so_far.items(), key=lambda item: item[1] != int(item[1]))
    turns = [(float(math.ceil(number)), key) for key, number in first]
    left = dict(so_far)
    for turn in due[:-1]:
        done = min(left.get(turn.sort, 0.0), turn.number or 0.0)
        left[turn.sort] = left.get(turn.sort, 0.0) - done
        if (rest := math.ceil((turn.number or 0.0) - done)) > 0:
            turns.append((float(rest), turn.sort))
    last = due[-1].sort if due else first[-1][0]
    return turns_text([*turns, (math.inf, last)])
