"""What stands in brackets behind a count or a measure: '8 (+ 2 qts)', '8 (1 left)', '6 (pts)'.

What is plain is read, any other amount there is told, and all of it is kept in the note. The words
are those of picklers: common practice, no source.
"""

import math
import re
from collections.abc import Mapping
from contextlib import suppress

from msgspec import Struct
from msgspec.structs import replace

from jarcast.batchtable.heading_words import DERIVED, UNSEALED, VOLUME_UNITS, WEIGHT_UNITS
from jarcast.batchtable.meant import Column, meaning
from jarcast.domain.batch import number_text
from jarcast.domain.fields import FIELD_OF, KITCHEN, Kind
from jarcast.domain.jar_text import on_shelf, read_jars
from jarcast.domain.jars import Jar, jar_key, so_many
from jarcast.errors import BatchError
from jarcast.measures.numbers import count
from jarcast.notebook.headings import is_measure, is_unit
from jarcast.notebook.part_full import part_full
from jarcast.notebook.written import AMOUNT, BARE, in_digits, none, sealed

_REMARK = re.compile(r"(.*\d.*?)\s*\(([^()]*)\)")
_COUNTED = ("jars", "sealed", UNSEALED, "cure_hours", "headspace_in")
_UNITS = {Kind.WEIGHT: WEIGHT_UNITS, Kind.VOLUME: VOLUME_UNITS}
_SHORT = r"not enough|not quite enough|(?:ran|too|was|were)? ?(?:out|short)|(?:had to )?\w+ more"
_PLUS = re.compile(rf"(?P<why>(?:{_SHORT})\W*?)?\s*(?:\+|\bplus\b)\s*(?P<more>\S.*)", re.I)
_MORE = re.compile(r"(?:\s*\b(?:more|extra|again|full|jars?))+$", re.I)
_SEAL = re.compile(r"seal|ping|popped|failed", re.I)
_SEALED = re.compile(r"(\d+)(?: of \d+)? (?:\w+ )?(?:sealed|pinged|popped)", re.I)
_UNSEALED = re.compile(r"(\d+|\w+) (?:did not seal|un ?sealed|not sealed|failed to seal)", re.I)
_NUMBER = re.compile(r"[\d\u00bc-\u00be\u2150-\u215e]|\bhalf\b", re.I)
_BESIDE = re.compile(r"\b(?:with|and|only|just|about|abt|still|had|have|there)\b", re.I)
# Amounts that are plainly of something else, and sizes of what was done: no word is due on them.
_ELSE = re.compile(
    r"[$\u20ac\u00a3%\u00b0]|\b\d+ ?(?:F|C|psi|min(?:ute)?s?|[ap]m)\b|\b(?:19|20)\d\d\b"
    r"|\b(?:p|pp|pg|page|no|row|bed|shelf)\b\.? ?\d|\d ?(?:in|inch|\")(?!\w)|\bx ?\d|\d ?x\b"
    r"|^of \d+$",
    re.I,
)  # fmt: skip


# What became of jars that were filled: they count all the same.
_BEFELL = re.compile(
    r"\b(?:cracked|broke\w*|burst|gave|given|gift\w*|ate|eaten|sold|opened|traded|fridge)\b", re.I
)


class Bracketed(Struct, frozen=True):
    """A cell with what its brackets add to it; ``note`` is what stands in them.

    ``others`` are cells of other columns that stand there, ``last`` what they say of the last jar,
    and ``doubts`` what is told.
    """

    cell: str
    note: str = ""
    others: tuple[tuple[str, Column], ...] = ()
    last: str = ""
    doubts: tuple[str, ...] = ()


def read_brackets(cell: str, column: Column, shelf: Mapping[str, Jar]) -> Bracketed:
    """A count or a measure with what stands in brackets behind it; other cells as they are."""
    found = _REMARK.fullmatch(cell)
    if not found or not (column.name in _COUNTED or is_measure(column.name)):
        return Bracketed(cell)
    before = read_brackets(found[1], column, shelf)
    words = found[2].strip()
    if is_unit(words) and BARE.fullmatch(before.cell):  # '6 (lb)'
        return replace(before, cell=f"{before.cell} {words}")
    here = _read(before.cell, in_digits(words), column, shelf)
    if here is None:
        here = Bracketed(before.cell, words, doubts=_untold(cell, words, column))
    return Bracketed(
        here.cell,
        "; ".join(filter(None, (before.note, words if here.note else ""))),  # as it was written
        (*before.others, *here.others),
        here.last or before.last,
        (*before.doubts, *here.doubts),
    )


def _makes_up(cell: str, words: str) -> bool:
    """Whether brackets tell what makes up the number before them: '8 (5 + 3)', '8 (2 x 4)'."""
    with suppress(BatchError):
        found = [count(number) for number in re.findall(AMOUNT, words)]
        whole = re.match(AMOUNT, cell)
        if whole and len(found) > 1:
            both = (math.fsum(found), math.prod(found))
            return any(math.isclose(count(whole[0]), one) for one in both)
    return False


def before_brackets(cell: str) -> str:
    """A cell without what is remarked in brackets behind it; a unit there is none."""
    found = _REMARK.fullmatch(cell)
    return before_brackets(found[1]) if found and not is_unit(found[2].strip()) else cell


def _read(cell: str, words: str, column: Column, shelf: Mapping[str, Jar]) -> Bracketed | None:
    if column.name == "jars":
        return _jars(cell, words, column, shelf)
    return _sealed(cell, words) if column.name == "sealed" else _measure(cell, words, column)


def _untold(cell: str, words: str, column: Column) -> tuple[str, ...]:
    """What is told of an amount in brackets that nobody can place; () for words, or a date."""
    amount = _NUMBER.search(in_digits(words)) and not _ELSE.search(words)
    on_top = re.search(r"\+|\bplus\b", words)
    gone = column.name in ("jars", "sealed") and _BEFELL.search(words) and not on_top
    if not amount or (gone and not _SEAL.search(words)) or _makes_up(cell, words):
        return ()
    label = column.name.replace("_", " ")
    return (f"{label} '{cell}': what stands in brackets is kept in the note, and not counted",)


def _jars(cell: str, words: str, column: Column, shelf: Mapping[str, Jar]) -> Bracketed | None:
    """Jars with what is said of them: their sort, some of another, how many sealed."""
    with suppress(BatchError):
        if not column.unit and BARE.fullmatch(cell):
            return Bracketed(so_many(cell, jar_key(words, shelf)))  # '6 (1/2 pts)'
    if by_sort := _of_which(cell, words, shelf):
        return Bracketed(by_sort)
    last = re.sub(r"^\+\s*", "+ ", words)
    if part_full(last):
        return Bracketed(cell, words, last=last)
    if plus := _PLUS.fullmatch(words):
        return _more_jars(cell, plus["more"].strip(), words, shelf)
    if found := _SEALED.fullmatch(words):
        words = found[1]
    elif found := _UNSEALED.fullmatch(words):
        words = f"{found[1]} failed"
    with suppress(BatchError):
        if found or (_SEAL.search(words) and sealed(words, 99.0) != words):
            return Bracketed(cell, words, ((words, Column("", "sealed", column.unit)),))
    return None


def _of_which(cell: str, words: str, shelf: Mapping[str, Jar]) -> str:
    """The sorts of all jars of a cell: '8 (6 pt, 2 qt)'; '' where they are not all of them."""
    with suppress(BatchError):
        counts = on_shelf(read_jars(words, shelf), shelf)
        number = count(cell)
        if len(counts) > 1 and math.isclose(number, math.fsum(n for n, _ in counts)):
            return " + ".join(so_many(number_text(n), sort) for n, sort in counts)
    return ""


def _more_jars(cell: str, more: str, words: str, shelf: Mapping[str, Jar]) -> Bracketed | None:
    """Jars that come on top of those before the brackets: of the same sort or another."""
    with suppress(BatchError):
        read = f"{cell} + {_MORE.sub('', more)}"
        if BARE.fullmatch(_MORE.sub("", more)):
            return Bracketed(read, words, doubts=(f"jars '{cell} ({words})' are read as {read}",))
        counts = on_shelf(read_jars(more, shelf), shelf)
        if counts and all(number >= 1 for number, _ in counts):  # '1/2 pint' may be a half-pint
            return Bracketed(f"{cell} + {more}", words)
    return None


def _sealed(cell: str, words: str) -> Bracketed | None:
    """Jars that sealed: what failed is not among them, and needs no word."""
    with suppress(BatchError):
        if sealed(words, 99.0) != words or _UNSEALED.fullmatch(words):
            return Bracketed(cell, words)
    return None


def _measure(cell: str, words: str, column: Column) -> Bracketed | None:
    """A measure with more of it, or with another one of the same batch: '8 (1 left)'."""
    kind = _kind(column.name)
    if kind not in _UNITS:
        return None
    unit = _unit(cell, column)
    amount = re.compile(rf"(?P<number>{AMOUNT})\s*(?P<unit>{_UNITS[kind]})?(?![^\W_])", re.I)
    if plus := _PLUS.fullmatch(words):
        more = amount.fullmatch(_MORE.sub("", plus["more"]).strip())
        if more is None or not (stated := more["unit"] or unit):
            return None
        before = f"{cell} {column.unit}" if BARE.fullmatch(cell) else cell
        read = f"{before} + {more['number']} {stated}"
        doubt = f"{column.name.replace('_', ' ')} '{cell} ({words})' is read as {read}"
        return Bracketed(read, words, doubts=(doubt,))
    found = amount.search(words)
    other = _other(words.replace(found[0], " ", 1) if found else "", column.name)
    if found and other and (found["unit"] or unit):
        text = f"{found['number']} {found['unit'] or unit}"
        return Bracketed(cell, words, ((text, Column("", other)),))
    if column.name in ("brine_made", "brine_used") and none(words):  # 'none left', 'ran out'
        return Bracketed(cell, words, (("none", Column("", "brine_left")),))
    return None


def _unit(cell: str, column: Column) -> str:
    """The unit of a number that states none in brackets; '' where it is left open.

    '2 qt (1 left)' under cups may be a cup or a quart.
    """
    own = re.search(r"[^\W\d_]+$", cell)
    if own is None:
        return column.unit
    return own[0] if column.unit in ("", own[0]) else ""


def _other(words: str, name: str) -> str:
    """The measure of the same kind that words beside an amount mean, as a heading would."""
    words = " ".join(_BESIDE.sub(" ", words).split())
    brine = _kind(name) is Kind.VOLUME and "brine" not in words.casefold()
    other = meaning(f"brine {words}" if brine else words).name if words else ""
    return other if other != name and _kind(other) is _kind(name) else ""


def _kind(name: str) -> Kind | None:
    column = DERIVED.get(name) or KITCHEN.get(name, "")
    return FIELD_OF[column].kind if column else None
