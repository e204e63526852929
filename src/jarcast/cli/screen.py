"""An answer on the terminal it stands on: no line wider than that, and its labels set off.

What goes into a pipe or a file is left as it is: words alone, in lines of one width.
"""

import os
import re
import shutil
import textwrap
from collections.abc import Iterator, Sequence
from typing import TextIO

from jarcast.views.words import columns, unwrapped

_LEAST = 40  # a narrower terminal is taken as so wide
_WRITTEN_FOR = 80  # columns
_FULL = 78  # a line that goes on below had no room for the next word up to here
_SET_IN = 4  # columns that the rest of a table's row is set in
_LABEL = re.compile(r"^(  )(JARS|BRINE|SET OUT|CARD)( +)(.*)$", re.MULTILINE)
_BOLD, _ACCENT, _PLAIN = "\x1b[1m", "\x1b[1;36m", "\x1b[0m"


def on_screen(text: str, stream: TextIO) -> str:
    """The text as the terminal behind a stream takes it; as it is where there is none."""
    if not stream.isatty():
        return text
    text = fitted(text, max(shutil.get_terminal_size().columns, _LEAST))
    return dressed(text) if _has_colour() else text


def if_narrow(text: str) -> str:
    """A message as a terminal takes it that is narrower than the 80 columns it is written for."""
    room = max(shutil.get_terminal_size().columns, _LEAST)
    return fitted(text, room) if room < _WRITTEN_FOR else text


def _has_colour() -> bool:
    """By https://no-color.org and what a terminal says of itself."""
    known = os.environ.get("TERM", "") not in ("", "dumb") or "WT_SESSION" in os.environ
    return known and not os.environ.get("NO_COLOR")


def dressed(text: str) -> str:
    """Labels of an answer's rows in one accent, the first line of each in bold."""
    return _LABEL.sub(rf"\1{_ACCENT}\2{_PLAIN}\3{_BOLD}\4{_PLAIN}", text)


def fitted(text: str, room: int) -> str:
    """A text whose lines are at most ``room`` columns wide; words are left whole.

    A table's rows go on below, set in, broken at the same columns; a sentence goes on under its
    own beginning. A single word that is wider stays as wide as it is.
    """
    if max(map(columns, text.split("\n"))) <= room:
        return text
    return "\n\n".join("\n".join(_block(block, room)) for block in text.split("\n\n"))


def _block(block: str, room: int) -> Iterator[str]:
    lines = block.split("\n")
    if max(map(columns, lines)) <= room:
        yield from lines
    elif ends := _breaks(lines, room):
        for line in lines:
            if not _is_row(line):
                yield from _wrapped(line, room, _hang(line, room))
                continue
            parts = [line[a:b].rstrip() for a, b in zip([0, *ends], [*ends, None], strict=True)]
            yield from _wrapped(parts[0], room, _SET_IN)
            for part in filter(None, parts[1:]):
                yield from _wrapped(" " * _SET_IN + part, room, _SET_IN)
    else:
        for line in _joined(unwrapped(block).split("\n")):
            yield from _wrapped(line, room, _hang(line, room))


def _is_row(line: str) -> bool:
    """Whether it has cells, apart by two spaces at least; a title above a table has none."""
    return "  " in line.strip()


def _wrapped(line: str, room: int, hang: int) -> list[str]:
    """A line as it is where it fits, else broken between words."""
    if columns(line) <= room:
        return [line]
    return textwrap.wrap(
        line, room, subsequent_indent=" " * hang, break_long_words=False, break_on_hyphens=False
    )


def _breaks(lines: Sequence[str], room: int) -> list[int]:
    """Where every row of a table may be broken so that each part fits; none where it has none."""
    wide = max(map(len, lines))
    if len(lines) < 2 or any(columns(line) != len(line) for line in lines):
        return []
    even = [line.ljust(wide) for line in lines if _is_row(line)]
    between = [
        at
        for at in range(2, wide)
        if all(line[at - 2 : at] == "  " for line in even)
        and any(line[at] != " " and line[:at].strip() for line in even)
    ]
    found: list[int] = []
    start = 0
    while wide - start > room - (_SET_IN if found else 0):
        last = start + room - (_SET_IN if found else 0)
        fits = [at for at in between if start < at <= last]
        further = [at for at in between if at > last]
        if not fits and not further:
            return []
        # A column wider than the room, with another after it, is broken between its own words.
        start = fits[-1] if fits else further[0]
        found.append(start)
    return found


def _joined(lines: Sequence[str]) -> list[str]:
    """Lines that go on under the beginning of the one before, made one with it."""
    found: list[str] = []
    before = 0
    for line in lines:
        indent = len(line) - len(line.lstrip())
        word = line.split()[0] if line.strip() else ""
        full = before <= _FULL < before + 1 + len(word)
        if found and full and 0 < indent == _hang(found[-1], 1000):
            found[-1] = f"{found[-1]} {line.strip()}"
        else:
            found.append(line)
        before = len(line)
    return found


def _hang(line: str, room: int) -> int:
    """Where a line goes on below: under what follows its label, or a little set in."""
    if line.startswith(("! ", "- ")):
        return 2
    label = re.match(r" *\S+(?: \S+)* {2,}", line)
    if label and 2 * label.end() <= room:
        return label.end()
    indent = len(line) - len(line.lstrip())
    if indent > _SET_IN:  # under a label: it goes on where it begins
        return indent
    return indent + 2 if indent else 0
