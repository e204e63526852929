"""What one batch's row says by column: counts of several sorts as one, numbers with their unit."""

import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress

from msgspec import Struct, field

from jarcast.batchtable.heading_words import LAST, PART_FULL, UNSEALED
from jarcast.batchtable.meant import Column
from jarcast.domain.batch import number_text
from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import SHELF, Jar, jar_key, so_many
from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError, MeasureError
from jarcast.measures import parse_volume, parse_weight
from jarcast.notebook import written
from jarcast.notebook.brackets import read_brackets
from jarcast.notebook.headings import UNIT, goes_on, is_measure
from jarcast.notebook.part_full import counted_so, part_full
from jarcast.notebook.written import BARE, Decimals

_OVERNIGHT = re.compile(r"over ?night", re.I)
_JOINED = {"jars": " + ", "note": "; ", "brine_more": " + "}
# 'none' there: it was not done
_UNWEIGHED = (*(stage.typed for stage in STAGES[2:]), "salt", "trimmings", "brine_more")
_ZERO = ("brine_left", "not_jarred", "cure_hours")  # 'none' there is a measure


class Said(Struct, frozen=True):
    """What one batch's place says, by column (or kitchen column), before it is checked.

    ``year`` is that of a date without one, '' where nothing above tells it. ``wrong`` is why it
    cannot be a batch.
    """

    place: str
    cells: dict[str, str]
    doubts: tuple[str, ...] = ()
    year: str = ""
    wrong: tuple[str, ...] = ()


class _Reading(Struct):
    """A row while it is read."""

    decimals: Decimals
    shelf: Mapping[str, Jar]
    said: dict[str, str] = field(default_factory=dict)
    doubts: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    sealed: list[tuple[str, str]] = field(default_factory=list)  # as written, and the sort
    beside: list[tuple[str, Column]] = field(default_factory=list)  # of other columns, in brackets
    last: str = ""  # what brackets say of the last jar
    no_jars: bool = False  # one of their columns says that there were none
    unread: str = ""  # what is said of other columns where there were none


def read_row(
    place: str,
    cells: Sequence[str],
    columns: Sequence[Column],
    decimals: Decimals = Decimals(),  # noqa: B008 - it is frozen
    shelf: Mapping[str, Jar] = SHELF,
) -> Said:
    """What a row says. What cannot be told for sure is left out and told, or why it is no batch."""
    at = _Reading(decimals, shelf)
    others = [c.heading for c, cell in zip(columns, cells, strict=False) if _is_unread(c, cell)]
    if others:
        named = ", ".join(f"'{heading}'" for heading in others)
        at.unread = f" under the headings that are read; {named} may count some"
    for cell, column in zip(_with_units_glued(cells, columns), columns, strict=False):
        if cell and column.name and column.name != UNIT and not written.unsaid(cell):
            _read_cell(at, cell, column)
    for cell, column in at.beside:
        _read_beside(at, cell, column)
    _settle_jars(at)
    _settle_brine(at)
    _settle_trimmings(at)
    return Said(place, at.said, tuple(at.doubts), wrong=tuple(at.wrong))


def _is_unread(column: Column, cell: str) -> bool:
    """Whether a number stands under a heading that means nothing."""
    return not column.name and bool(column.heading and BARE.fullmatch(cell)) and not column.told


def _read_cell(at: _Reading, written_cell: str, column: Column) -> None:
    found = read_brackets(written_cell, column, at.shelf)
    cell = found.cell
    if found.note:
        _put(at, "note", found.note)
    at.doubts += found.doubts
    at.beside += found.others
    at.last = found.last or at.last
    if column.name == UNSEALED:
        at.sealed.append(("all" if written.none(cell) else f"{cell} failed", column.unit))
    elif column.name in (LAST, PART_FULL):
        _read_last(at, cell, column)
    elif column.name == "sealed":
        at.sealed.append((cell, column.unit))
    elif column.name == "jars":
        if column.unit and written.none(cell):
            at.no_jars = True
        else:
            _read(at, cell, column, lambda: written.jars(cell, column.unit, at.shelf), at.wrong)
    elif column.name == "jar":
        _put(at, "jar", cell)
    elif is_measure(column.name) or column.name in _TIMES:
        _read_measure(at, cell, column)
    else:
        _put(at, column.name, cell)


def _read_last(at: _Reading, cell: str, column: Column) -> None:
    """How full the last jar was, or one that may be among those counted or come on top."""
    part = _DECIMAL_PARTS.get(cell, re.sub(r"[ -]*(?:full|filled)$", "", cell, flags=re.I))
    words = f"{'last jar' if column.name == LAST else 'one'} {part} full"
    if part_full(words):
        at.last = words
    elif (re.search(r"\d|half", cell) and not written.none(cell)) and (
        column.name == PART_FULL or not re.fullmatch(r"1(?:\.0*)?|100 ?%", cell)
    ):
        at.doubts.append(f"{_label(column)} '{cell}' is not read; it is kept in the note")
    _put(at, "note", f"{_label(column)}: {cell}")


_DECIMAL_PARTS = {
    f"{zero}.{part}": text
    for zero in ("", "0")
    for part, text in (("5", "1/2"), ("25", "1/4"), ("75", "3/4"), ("50", "1/2"))
}


def _read_beside(at: _Reading, cell: str, column: Column) -> None:
    """Read what stands in brackets and is another column's, where that one says nothing."""
    if column.name != "sealed" or not at.sealed:
        _read_cell(at, cell, column)
    elif at.sealed[0][0] != cell:
        at.doubts.append(f"sealed is there twice, {at.sealed[0][0]} and {cell}; the first is read")


_TIMES = ("cure_hours", "headspace_in")


def _read_measure(at: _Reading, cell: str, column: Column) -> None:
    unitless = not column.unit and is_measure(column.name)  # none of it needs no unit
    if written.none(cell) and (unitless or not re.fullmatch(r"[\d.,]+", cell)):
        if column.name in _ZERO:
            _put(at, column.name, "0")
        elif column.name not in _UNWEIGHED:
            at.doubts.append(f"{_label(column)} '{cell}' says no amount; it is left out")
    elif column.name == "cure_hours" and _OVERNIGHT.search(cell):
        at.doubts.append("overnight is read as 12 h")
        _put(at, column.name, "12 h")
    else:
        kept = at.doubts
        _read(at, cell, column, lambda: written.measure(cell, column.unit, at.decimals), kept)


def _read(
    at: _Reading, cell: str, column: Column, read: Callable[[], written.Cell], problems: list[str]
) -> None:
    """Put down what a cell is read as; what cannot be told is kept in the note, and told."""
    try:
        found = read()
    except BatchError as error:
        left = "; it is left out, and kept in the note" if problems is at.doubts else ""
        problems.append(f"{_label(column)} '{cell}': {error}{left}")
        _put(at, "note", f"{_label(column)}: {cell}")
        return
    if found.doubt:
        at.doubts.append(f"{_label(column)} {found.doubt}")
    _put(at, column.name, found.text)


def _label(column: Column) -> str:
    return column.name.replace("_", " ")


def _put(at: _Reading, name: str, text: str) -> None:
    before = at.said.get(name)
    if before is None:
        at.said[name] = text
    elif name in _JOINED:
        at.said[name] = f"{before}{_JOINED[name]}{text}"
    elif goes_on(before, text):
        at.said[name] = f"{before} {text}"
    elif before != text:
        how = " (brine_more in --map adds the other)" if name == "brine_made" else ""
        at.doubts.append(f"{name} is there twice, {before} and {text}; the first is read{how}")


def _with_units_glued(cells: Sequence[str], columns: Sequence[Column]) -> list[str]:
    """The cells, a number and the unit in the column beside it as one."""
    glued = list(cells)
    for at, column in enumerate(columns[: len(cells)]):
        if column.name == UNIT and glued[at] and BARE.fullmatch(glued[at - 1]):
            glued[at - 1] += f" {glued[at]}"
    return glued


def _settle_jars(at: _Reading) -> None:
    """Counts in one sort as one; and how many of the jars sealed."""
    jar = at.said.get("jar", "")
    if at.no_jars and not at.wrong and "jars" not in at.said:
        at.wrong.append(f"no jars were filled{at.unread}")
    if "jars" in at.said and "+" not in jar:
        at.said["jars"] = written.added(at.said["jars"])
        _settle_sorts(at, jar)
        jar = at.said.get("jar", "")
    _settle_part_full(at)
    filled = written.filled_by_sort(at.said.get("jars", ""), jar, at.shelf)
    parts = []
    for cell, sort in at.sealed:
        try:
            number = written.sealed(cell, filled.get(sort) if sort else filled.get(""))
        except BatchError as error:
            at.doubts.append(f"sealed '{cell}': {error}; it is left out, and kept in the note")
            _put(at, "note", f"sealed: {cell}")
            return
        parts.append(f"{number} {sort}" if sort and BARE.fullmatch(number) else number)
    if parts:
        at.said["sealed"] = " + ".join(parts)


def _settle_sorts(at: _Reading, jar: str) -> None:
    """Counts of which some name no sort, those in the sort of the column beside: '8 + 2 qts'."""
    with suppress(BatchError):
        found = read_jars(at.said["jars"], at.shelf)
        if jar and len(found) > 1 and {bool(one.sort) for one in found} == {True, False}:
            key = jar_key(jar, at.shelf)
            counts = [(one.number or 0.0, one.sort or key) for one in found]
            at.said["jars"] = " + ".join(so_many(number_text(n), sort) for n, sort in counts)
            del at.said["jar"]


def _settle_part_full(at: _Reading) -> None:
    """A whole count of jars less what one of them lacks, where a remark says how full it was."""
    jars = at.said.get("jars", "")
    said = part_full(at.last) or part_full(at.said.get("note", ""))
    if not jars or said is None:
        return
    found, words = counted_so(jars, said, at.shelf), said.words.strip()
    if not found:
        at.doubts.append(f"jars {jars}, {words}: they are read as full ones")
    elif found != jars:
        at.said["jars"] = found
        at.doubts.append(f"jars {jars}, {words}, are read as {found}")


def _settle_brine(at: _Reading) -> None:
    """Brine made out of several pots, or of what was used and what was left; or what was left."""
    if more := at.said.pop("brine_more", ""):
        at.said["brine_made"] = " + ".join(filter(None, (at.said.get("brine_made"), more)))
        at.doubts.append(f"brine made is taken as that of all pots, {at.said['brine_made']}")
    used = at.said.pop("brine_used", "")
    made, left = at.said.get("brine_made", ""), at.said.get("brine_left", "")
    if not used or (made and left):
        return
    if made:
        at.said["brine_left"] = "0" if _same(made, used) else f"{made} - {used}"
        at.doubts.append(f"brine left is taken as made less used, {made} - {used}")
    elif left:
        made = used if written.none(left) else f"{used} + {left}"
        at.said["brine_made"] = made
        at.doubts.append(f"brine made is taken as used and left, {made}")
    else:
        at.said["brine_made"] = used
        at.doubts.append(f"nothing says what brine was left; the {used} used are read as made")


def _same(one: str, other: str) -> bool:
    with suppress(MeasureError):
        return parse_volume(one) == parse_volume(other)
    return False


def _settle_trimmings(at: _Reading) -> None:
    """The trimmed weight out of what was bought and what was trimmed off, or what was bought."""
    off = at.said.pop("trimmings", "")
    bought, trimmed = at.said.get("as_bought", ""), at.said.get("trimmed", "")
    if not off or (bought and trimmed):
        return
    if not (_weight(off) and _weight(bought or trimmed)):
        at.doubts.append(f"the {off} trimmed off are not read; no weight stands beside them")
    elif bought:
        at.said["trimmed"] = f"{bought} - {off}"
        at.doubts.append(f"trimmed is taken as bought less trimmings, {bought} - {off}")
    else:
        at.said["as_bought"] = f"{trimmed} + {off}"
        at.doubts.append(f"bought is taken as trimmed and trimmings, {trimmed} + {off}")


def _weight(text: str) -> bool:
    with suppress(MeasureError):
        return parse_weight(text) >= 0
    return False
