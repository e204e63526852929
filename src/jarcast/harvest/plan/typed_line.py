"""A line of a plan typed on the command line: 'carrot, sticks, pint: 20-35 lb'.

Before the colon, in any order after the produce: cut, raw or hot, jar, 'by' a recipe. After it the
weight, which is as bought unless 'trimmed', 'cured' or 'cooked' is said; then whatever else a plan
may say, each as '; column=value'.
"""

import re
from collections.abc import Mapping

from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import pack_key
from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError
from jarcast.harvest.plan.line import COLUMNS

EXAMPLE = "write it like 'carrot, sticks, raw, pint: 20-35 lb'"
_STAGES = {stage.label: stage.typed for stage in STAGES}
_STAGE = re.compile(rf"(.+?)\s+({'|'.join(_STAGES)})", re.IGNORECASE)
_LONGEST = 5_000


def cells_of(text: str, shelf: Mapping[str, Jar] = SHELF) -> dict[str, str]:
    """The cells of a typed line, by column. Raises BatchError for what is no such line."""
    if len(text) > _LONGEST:
        raise BatchError(f"has {len(text)} characters; {_LONGEST} at most are read")
    head, colon, tail = text.partition(":")
    if not colon:
        raise BatchError(f"has no ':' before the weight; {EXAMPLE}")
    cells: dict[str, str] = {}
    for part in filter(None, (part.strip() for part in head.split(","))):
        _put(cells, *_sorted(part, cells, shelf))
    weight, *more = (part.strip() for part in tail.split(";"))
    if weight:
        staged = _STAGE.fullmatch(weight)
        column = _STAGES[staged[2].casefold()] if staged else "as_bought"
        _put(cells, column, staged[1] if staged else weight)
    for part in filter(None, more):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        column = re.sub(r"[\s-]+", "_", name.casefold())
        if not equals or column not in COLUMNS:
            known = ", ".join(COLUMNS)
            raise BatchError(f"'{part[:60]}': write it as column=value; there are {known}")
        if value:
            _put(cells, column, value)
    return cells


def _sorted(part: str, cells: dict[str, str], shelf: Mapping[str, Jar]) -> tuple[str, str]:
    """Which column a part before the colon belongs to: the first one is the produce."""
    by = re.match(r"(?:by|recipe)\s+(.+)", part, re.IGNORECASE)
    if by:
        return "recipe", by[1]
    if pack_key(part) in ("raw", "hot"):
        return "pack", part
    if "jar" in cells and _planned(cells["jar"], shelf) and _is_jar(part, shelf):
        return "jar", f"{cells.pop('jar')}, {part}"  # '5 pint-wide, then pint' has a comma too
    if _is_jar(part, shelf):
        return "jar", part
    return ("cut" if "produce" in cells or "recipe" in cells else "produce"), part


def _is_jar(part: str, shelf: Mapping[str, Jar]) -> bool:
    """Whether it is of jars: a sort, one with its count, or several in their turns."""
    try:
        found = read_jars(part, shelf, turns=True)
    except BatchError:
        return False
    return bool(found) and all(one.sort in shelf for one in found if one.sort or len(found) == 1)


def _planned(jar: str, shelf: Mapping[str, Jar]) -> bool:
    """Whether the last sort said has a count, so that another takes what is left."""
    return read_jars(jar, shelf)[-1].number is not None


def _put(cells: dict[str, str], column: str, value: str) -> None:
    if column in cells:
        raise BatchError(
            f"says {column.replace('_', ' ')} twice, '{cells[column][:60]}' and '{value[:60]}'; "
            f"{EXAMPLE}"
        )
    cells[column] = value
