"""Several sorts of jar in their turns: '5 pint-wide, then pint', and their counts."""

import math
import re
from collections.abc import Mapping, Sequence

from jarcast.batch import number_text
from jarcast.errors import BatchError
from jarcast.interchange.numbers import count
from jarcast.ledger.naming import short

_THEN = re.compile(r"\s*(?:,|;|\bthen\b)\s*", re.IGNORECASE)
_NUMBER = re.compile(r"\d{1,6}")
_COUNT = re.compile(r"\d{1,6}\s*(?:x\s+)?(?=\S)", re.IGNORECASE)


def table_cells(typed: Mapping[str, str]) -> dict[str, str]:
    """Typed texts as the batch table has them: '5 pint-wide, then pint' is 'pint-wide + pint'.

    One count of jars is dealt out in their turns: the first sorts as planned, the rest in the last.
    Raises BatchError where there is not one count for each sort.
    """
    parts = [part for part in _THEN.split(typed.get("jar", "").strip()) if part]
    cells = dict(typed)
    if len(parts) >= 2:
        names = [*(_COUNT.sub("", part, count=1) for part in parts[:-1]), parts[-1]]
        cells["jar"] = " + ".join(names)
        cells |= _dealt(names, parts[:-1], typed.get("jars", ""))
    _check_counts(cells.get("jar", ""), cells.get("jars", ""))
    return cells


def _dealt(names: Sequence[str], planned: Sequence[str], jars: str) -> dict[str, str]:
    """Jars and their counts out of one count of all; {} where it is not one, or none was planned.

    A sort that was not reached is left out.
    """
    try:
        left = count(jars.strip())
        room = [float(_NUMBER.match(part)[0]) for part in planned]  # type: ignore[index]
    except (BatchError, TypeError):  # several counts, or a sort without one
        return {}
    found = []
    for name, most in zip(names, [*room, math.inf], strict=True):
        if (taken := min(left, most)) > 0:
            found.append((name, number_text(round(taken, 6))))
            left -= taken
    if not found:
        return {}
    return {"jar": " + ".join(n for n, _ in found), "jars": " + ".join(c for _, c in found)}


def _check_counts(jar: str, jars: str) -> None:
    """Raise BatchError, naming the batch's own sorts, where counts and sorts do not run alike."""
    sorts, counts = ([part.strip() for part in text.split("+")] for text in (jar, jars))
    if len(sorts) == 1 or not jars.strip() or len(sorts) == len(counts):
        return
    example = [str(4 + number) for number in range(len(sorts))]
    said = ", ".join(f"{n} {short(name)}" for n, name in zip(example, sorts, strict=True))
    raise BatchError(
        f"jars '{short(jars)}': this batch stands in {short(jar)}; write one count for each, in "
        f"this order: '{' + '.join(example)}' is {said}"
    )


def in_turns(typed: Mapping[str, str]) -> str:
    """The jars as a forecast takes them; of sorts without counts, the first."""
    text = typed.get("jar", "")
    return text if _THEN.search(text.strip()) else text.partition("+")[0].strip()
