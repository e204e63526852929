"""A plan as TOML: each batch a [[line]] with the columns of a plan as its keys."""

import difflib
import re
import tomllib
from typing import TYPE_CHECKING

from jarcast.batchtable.rows import Problem
from jarcast.domain.batch import number_text
from jarcast.errors import BatchError
from jarcast.harvest.plan.line import COLUMNS, MOST_LINES

if TYPE_CHECKING:
    from jarcast.batchtable.gathering import Gathering

_HEAD = re.compile(r"\s*\[\[\s*(?:line|\"line\"|'line')\s*\]\]")
LONGEST_LINE = 4000  # characters; a key of tens of thousands of dots takes gigabytes to read
EXAMPLE = 'begin each batch with [[line]], and give keys such as produce = "carrot"'


def toml_cells(content: bytes, gathering: "Gathering") -> list[tuple[str, dict[str, str]]]:
    """Place and cells of every [[line]]; what is wrong goes to ``gathering``.

    Raises BatchError where the text is no TOML, or holds far too many lines.
    """
    name = gathering.name
    try:
        text = content.decode("utf-8-sig")
        if any(len(line) > LONGEST_LINE for line in text.split("\n")):
            raise tomllib.TOMLDecodeError(f"a line is longer than {LONGEST_LINE} characters")
        tables = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise BatchError(f"{name} is not in UTF-8; save it as UTF-8 text") from error
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise BatchError(f"{name}: is not valid TOML: {error}") from error
    lines = tables.get("line")
    for key in tables.keys() - {"line"}:
        gathering.problem(
            f"'{key[:60]}'", Problem("", None, (f"does not belong in a plan; {EXAMPLE}"))
        )
    if not isinstance(lines, list) or not all(isinstance(one, dict) for one in lines):
        raise BatchError(f"{name}: has no [[line]]; {EXAMPLE}")
    if len(lines) > MOST_LINES:
        return [("", {})] * len(lines)  # refused by their number alone
    places = _places(text, len(lines))
    return [(at, _cells(one, at, gathering)) for at, one in zip(places, lines, strict=True)]


def _places(text: str, count: int) -> list[str]:
    """Where each [[line]] stands: the line of its header, or its number where headers mislead."""
    headed = [number for number, line in enumerate(text.split("\n"), 1) if _HEAD.match(line)]
    if len(headed) == count:
        return [f"line {number}" for number in headed]
    return [f"[[line]] number {number}" for number in range(1, count + 1)]


def _cells(values: dict[str, object], place: str, gathering: "Gathering") -> dict[str, str]:
    cells: dict[str, str] = {}
    for key, value in values.items():
        if key not in COLUMNS:
            close = difflib.get_close_matches(key, COLUMNS, n=1)
            hint = f"was '{close[0]}' meant?" if close else f"there are {', '.join(COLUMNS)}"
            gathering.problem(place, Problem(key[:60], None, f"is not a key of a line; {hint}"))
        elif isinstance(value, bool) or not isinstance(value, (str, int, float)):
            why = 'is neither text nor a number; put it in quotes, such as "12 lb"'
            gathering.problem(place, Problem(key, value, why))
        else:
            text = value if isinstance(value, str) else _number(value)
            if text.strip():
                cells[key] = text.strip()
    return cells


def _number(value: float) -> str:
    try:
        return number_text(float(value))
    except (OverflowError, ValueError):  # too large, or no number at all: told as the cell it is
        return str(value)[:60] if isinstance(value, float) else "inf"
