"""Jars at hand, as they are typed: '14 pint-wide, 9 quart'."""

from collections.abc import Mapping

from jarcast.domain.batch import number_text
from jarcast.domain.fields import MOST_JARS
from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.errors import BatchError, cut_short

_EXAMPLE = "write it like '14 pint-wide, 9 quart'"


def parse_have(text: str, shelf: Mapping[str, Jar] = SHELF) -> dict[str, float]:
    """How many jars of each sort there are. Raises BatchError."""
    shown = cut_short(text)
    found: dict[str, float] = {}
    for count, sort in read_jars(text, shelf):
        if count is None or not sort or count != int(count):
            said = (
                f"'{sort[:40]}'" if count is None else f"{number_text(count)} {sort[:40]}".strip()
            )
            raise BatchError(f"--have '{shown}': {said} is not a number of jars; {_EXAMPLE}")
        key = jar_key(sort, shelf)
        if count > MOST_JARS:
            raise BatchError(f"--have '{shown}': {count:.0f} jars are too many")
        found[key] = found.get(key, 0.0) + count
    if not found:
        raise BatchError(f"--have '': no jars are given; {_EXAMPLE}")
    return found
