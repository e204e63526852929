"""The line of a TOML text on which each field stands."""

import tomllib
from collections.abc import Iterator, Mapping

Path = tuple[str | int, ...]


def line_numbers(text: str) -> dict[Path, int]:
    """Line, counted from 1, of every key, table and list item of a valid TOML text.

    A path is keys and places: ('brine', 1, 'amount') is the amount of the second [[brine]].
    """
    found: dict[Path, int] = {}
    places: dict[Path, int] = {}  # of each list of tables, the place of its last table
    table: Path = ()
    for number, statement in _statements(text):
        parsed = tomllib.loads(statement)
        if statement.lstrip().startswith("["):
            table = _header(parsed, statement.lstrip().startswith("[["), places)
            found.setdefault(table, number)
        else:
            for path in _paths(parsed):
                found.setdefault(table + path, number)
    return found


def line_of(path: Path, lines: Mapping[Path, int]) -> int:
    """Line of a field, or of the nearest table around it that is there; 1 for the whole card."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Each header or key with its value, which may run over lines, and its first line.

    A statement has ended when what has been gathered is valid TOML by itself: a string or list
    still open is not.
    """
    start, statement = 1, ""
    for number, line in enumerate(text.split("\n"), start=1):
        statement += line + "\n"
        try:
            tomllib.loads(statement)
        except tomllib.TOMLDecodeError:
            continue
        yield start, statement
        start, statement = number + 1, ""


def _header(parsed: Mapping[str, object], is_list: bool, places: dict[Path, int]) -> Path:
    """Path of a [table] or [[list of tables]], through the lists it lies in."""
    keys = []
    inner: object = parsed
    while isinstance(inner, dict) and inner:
        key, inner = next(iter(inner.items()))
        keys.append(key)
    path: Path = ()
    for depth, key in enumerate(keys, start=1):
        path += (key,)
        if depth == len(keys) and is_list:
            places[path] = places.get(path, -1) + 1
        if path in places:
            path += (places[path],)
    return path


def _paths(value: object) -> Iterator[Path]:
    """Every path inside a value."""
    items: Iterator[tuple[str | int, object]] = iter(())
    if isinstance(value, dict):
        items = iter(value.items())
    elif isinstance(value, list):
        items = iter(enumerate(value))
    for key, inner in items:
        yield (key,)
        yield from ((key, *path) for path in _paths(inner))
