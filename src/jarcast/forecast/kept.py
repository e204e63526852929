"""A file of habits: everything that a forecast needs as JSON of a version, with exact floats."""

import json
import os
from pathlib import Path
from typing import TypeVar

from msgspec import Struct

from jarcast._version import __version__
from jarcast.errors import BeliefsError, cut_short
from jarcast.files.reading import read_file
from jarcast.files.whole import write_whole_text
from jarcast.learning.kept import from_plain, to_plain

FORMAT = "jarcast habits"
VERSION = 2  # 2: what was said of the last jar
_MOST_BYTES = 64_000_000  # of a file

Kept = TypeVar("Kept", bound=Struct)


def write_kept(path: object, habits: Struct) -> None:
    """Write habits, whole or not at all. Raises JarcastError if that cannot be."""
    head = {"format": FORMAT, "version": VERSION, "jarcast": __version__}
    text = json.dumps({**head, "habits": to_plain(habits)}, allow_nan=False)
    write_whole_text(_file(path), lambda stream: stream.write(text + "\n"), "habits.json")


def read_kept(path: object, kind: type[Kept]) -> Kept:
    """The habits again, of the type that was written. Raises BeliefsError for any other file."""
    file = _file(path)
    try:
        raw = json.loads(read_file(file, _MOST_BYTES).decode("utf-8"), parse_constant=_no_number)
    except OSError as error:
        raise BeliefsError(f"{file}: cannot be read ({error.strerror})") from error
    except (ValueError, RecursionError) as error:
        raise BeliefsError(f"{file}: is not a file of habits (it should be JSON text)") from error
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise BeliefsError(f"{file}: is not a file of '{FORMAT}'; Habits.save writes one")
    if (version := raw.get("version")) != VERSION:
        newer = isinstance(version, int) and version > VERSION
        raise BeliefsError(
            f"{file}: is version {cut_short(str(version))} of the format; this jarcast reads "
            f"{VERSION}: {'update jarcast, or ' if newer else ''}learn and save again"
        )
    try:
        found: Kept = from_plain(kind, raw["habits"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BeliefsError(
            f"{file}: is damaged ({cut_short(str(error))}); learn and save again"
        ) from error
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _file(path: object) -> Path:
    if not isinstance(path, str | os.PathLike):
        raise BeliefsError(
            f"{cut_short(repr(path))} is not the path of a file, such as 'habits.json'"
        )
    return Path(path)
