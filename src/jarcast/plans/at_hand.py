"""Jars at hand, as they are typed: '14 pint-wide, 9 quart'."""

import re
from collections.abc import Mapping

from jarcast.batch import MOST_JARS
from jarcast.errors import BatchError
from jarcast.kinds import SHELF, Jar, jar_key

_EXAMPLE = "write it such as '14 pint-wide, 9 quart'"


def parse_have(text: str, shelf: Mapping[str, Jar] = SHELF) -> dict[str, float]:
    """How many jars of each sort there are. Raises BatchError."""
    shown = text if len(text) <= 60 else text[:57] + "..."
    found: dict[str, float] = {}
    for part in (part.strip() for part in re.split(r"[,;+]|\band\b", text[:2000])):
        counted = re.fullmatch(r"([0-9]{1,6})\s*(?:x\s+)?(\S.*)", part)
        if not counted:
            raise BatchError(f"--have '{shown}': '{part[:40]}' is no number of jars; {_EXAMPLE}")
        key, count = jar_key(counted[2], shelf), float(counted[1])
        if count > MOST_JARS:
            raise BatchError(f"--have '{shown}': {count:.0f} jars are more than can be")
        found[key] = found.get(key, 0.0) + count
    return found
