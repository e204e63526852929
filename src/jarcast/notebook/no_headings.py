"""Why no headings were found on a sheet, and which of its columns --map may say what they are."""

import re
from collections.abc import Mapping, Sequence

from jarcast.batchtable.heading_words import JAR_SORT
from jarcast.batchtable.meant import Column
from jarcast.domain.jars import Jar
from jarcast.notebook.days import is_day
from jarcast.notebook.headings import cells_under, is_crop, with_missing
from jarcast.notebook.layout import likely_headings
from jarcast.notebook.sheets import Sheet
from jarcast.notebook.written import BARE

_LOOKED_AT = 30  # rows under the headings
_NO_JARS = re.compile(
    r"\b(?:target|goal|plan\w*|expect\w*|want\w*|need\w*|price|cost|paid|temp\w*|min(?:ute)?s?|time"
    r"|left|sold|gave|given|broken|failed|lost|eaten|empty|lids?|psi|altitude|page|row|bed|no|id)\b"
    r"|[#$%\u20ac\u00a3\u00b0]", re.I,
)  # fmt: skip


def why_no_headings(sheet: Sheet, told: Mapping[str, Column], shelf: Mapping[str, Jar]) -> str:
    """Why no headings were found, and how to tell what they mean."""
    why = "no row of headings with a crop and its jars was found"
    line, columns = likely_headings(sheet, told, shelf)
    if not line:
        return why
    below = sheet.rows[line : line + _LOOKED_AT]
    columns, _ = with_missing(columns, below)
    names = {column.name for column in columns}
    known = ", ".join(f"'{c.heading}' as {c.name}" for c in columns if c.name)
    read = f"row {line} reads {known}" if known else f"row {line} may be the headings"
    lacking = [name for name in ("date", "produce", "jars") if name not in names] or ["jars"]
    return f"{why}. {read}; missing: {', '.join(lacking)}. {_how(lacking, columns, below)}"


def _how(lacking: Sequence[str], columns: Sequence[Column], below: Sequence[Sequence[str]]) -> str:
    crops = [c.heading for c in columns if not c.name and _names_crop(c.heading)]
    if "produce" in lacking and len(crops) > 1:
        some = ", ".join(f"'{heading}'" for heading in crops[:3])
        return f"{some} are crops: give each batch a row of its own, with its crop in a column"
    for name in lacking:
        if fit := [
            column.heading
            for at, column in enumerate(columns)
            if column.heading and not column.name and _fits(name, column, cells_under(below, at))
        ]:
            which = " or ".join(f"'{heading}'" for heading in fit[:8])
            return f'If that is {which}, --map says so: --map "{fit[0]}={name}"'
    return f"No other column looks like that; add one, or say --map HEADING={lacking[0]}"


def _names_crop(heading: str) -> bool:
    """Whether a heading is a crop, with a sort of jar or without."""
    return is_crop(JAR_SORT.sub(" ", heading.casefold()).strip())


def _fits(name: str, column: Column, cells: Sequence[str]) -> bool:
    """Whether a column may be the day, the crop or the jars, by most of what stands in it."""
    if name == "date":
        fit = list(map(is_day, cells))
    elif name == "produce":
        fit = [bool(re.match(r"[^\W\d_]{3}", cell)) and not is_day(cell) for cell in cells]
    elif _NO_JARS.search(column.heading):
        return False
    else:
        fit = [bool(BARE.fullmatch(cell) or re.match(r"\d+ ?[^\W\d_]", cell)) for cell in cells]
    return 2 * sum(fit) > len(cells)
