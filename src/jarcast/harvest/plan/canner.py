"""What a canner holds, as it is typed and remembered: '7 quarts / 8 pints'."""

import re
from collections.abc import Mapping

from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import SHELF, Jar, jar_key, size_of
from jarcast.errors import BatchError, cut_short
from jarcast.harvest.day import Canner

MOST_HELD = 1_000
_EXAMPLE = "write it like '7 quarts / 8 pints'"


def parse_canner(text: str, shelf: Mapping[str, Jar] = SHELF) -> Canner:
    """Jars of each size that one run holds. Raises BatchError.

    A wide mouth takes the room of a regular one: sizes are told apart, mouths are not.
    """
    shown = cut_short(text)
    holds: dict[str, int] = {}
    for part in (part.strip() for part in re.split(r"[/,;]|\bor\b", text[:500])):
        found = read_jars(part, shelf)
        if len(found) == 1 and found[0].number and not found[0].sort:
            raise BatchError(f"--canner '{shown}': '{part}' of which size? {_EXAMPLE.capitalize()}")
        if len(found) != 1 or not found[0].sort or (room := found[0].number) is None:
            raise BatchError(f"--canner '{shown}': '{part}' is not a number of jars; {_EXAMPLE}")
        size = size_of(jar_key(found[0].sort, shelf))
        if not 1 <= room <= MOST_HELD or room != int(room):
            raise BatchError(f"--canner '{shown}': no canner holds {room:g} jars; {_EXAMPLE}")
        if holds.setdefault(size, int(room)) != room:
            raise BatchError(f"--canner '{shown}': gives twice how many {size} jars it holds")
    return Canner(holds)


def canner_text(canner: Canner) -> str:
    """The canner as it is remembered; ``parse_canner`` reads it back."""
    return " / ".join(f"{room} {size}" for size, room in canner.holds.items())
