"""Reading the fields of a card's tables one by one, gathering everything there is to mend."""

import difflib
import math
from collections.abc import Mapping
from enum import StrEnum
from typing import TypeVar

from jarcast.domain.jars import jar_key, size_of
from jarcast.errors import BatchError, cut_short
from jarcast.recipes.lines import Path, line_numbers, line_of

Choice = TypeVar("Choice", bound=StrEnum)
LONGEST = 500  # characters of one text


class ToMend:
    """What is wrong with a card: one line each, with line number and field."""

    def __init__(self) -> None:
        """Start with nothing wrong."""
        self._found: list[tuple[Path, str]] = []

    def add(self, path: Path, why: str) -> None:
        """Note that the field at this path is wrong."""
        self._found.append((path, why))

    @property
    def any(self) -> bool:
        """Whether anything is wrong so far."""
        return bool(self._found)

    def problems(self, text: str) -> tuple[str, ...]:
        """All of them, in the order of the lines of the card's text."""
        if not self._found:
            return ()
        lines = line_numbers(text)
        found = [(line_of(path, lines), field_name(path), why) for path, why in self._found]
        return tuple(f"line {line}, {name}: {why}" for line, name, why in sorted(found))


def field_name(path: Path) -> str:
    """A path in words: ('brine', 1, 'amount') is 'brine 2, amount'."""
    words: list[str] = []
    for part in path:
        if isinstance(part, int):
            words[-1] += f" {part + 1}"
        else:
            words.append(part)
    return ", ".join(words)


def shown(value: object) -> str:
    """A value as a message shows it, shortened."""
    try:
        text = repr(value) if isinstance(value, str) else str(value)
    except ValueError:  # Python shows no whole number of more than 4300 digits
        text = "a number of thousands of digits"
    return cut_short(text)


class Table:
    """One table of a card. What is wrong goes to ``mend``; the reader carries on with a blank."""

    def __init__(self, values: Mapping[str, object], path: Path, mend: ToMend) -> None:
        """Read ``values``, which stand at ``path`` of the card."""
        self._values = values
        self._path = path
        self.mend = mend

    def wrong(self, key: str, why: str) -> None:
        """Note that one field is wrong."""
        self.mend.add((*self._path, key), why)

    def has(self, key: str) -> bool:
        """Whether the field is recorded."""
        return key in self._values

    @property
    def fields(self) -> tuple[str, ...]:
        """Every field that is recorded, in its order."""
        return tuple(self._values)

    def raw(self, key: str) -> object:
        """The value as TOML gives it, None where it is not recorded."""
        return self._values.get(key)

    def known(self, *keys: str) -> None:
        """Note every field that is none of these: a slip of the pen must not go unseen."""
        for key in self._values:
            if key in keys:
                continue
            close = difflib.get_close_matches(key, keys, n=1)
            hint = f"was '{close[0]}' meant?" if close else f"known here: {', '.join(keys)}"
            self.wrong(key, f"is not a field of a card; {hint}")

    def text(self, key: str, *, needed: bool = True) -> str:
        """A text, '' where it is missing."""
        if not self.has(key):
            if needed:
                self.wrong(key, "is missing; every card needs it")
            return ""
        return self._line(key, self.raw(key), needed=needed)

    def size(self, key: str, text: str) -> str:
        """The size of a jar named in this field, the same in a wide mouth; '' for no jar."""
        try:
            return size_of(jar_key(text)) if text else ""
        except BatchError as why:
            self.wrong(key, str(why))
            return ""

    def texts(self, key: str, *, needed: bool = False) -> tuple[str, ...]:
        """A list of texts; a text alone is a list of one."""
        value = self.raw(key)
        if value is None or value == []:
            if needed:
                self.wrong(key, 'is missing; write a list, such as ["pint", "quart"]')
            return ()
        items = value if isinstance(value, list) else [value]
        return tuple(text for item in items if (text := self._line(key, item)))

    def _line(self, key: str, value: object, *, needed: bool = True) -> str:
        """The value, if it is one line of text; else ''."""
        if not isinstance(value, str):
            self.wrong(key, f'{shown(value)} is not a text; put it in "quotes"')
            return ""
        if not value.strip() and needed:
            self.wrong(key, "is empty; fill it in")
        elif len(value) > LONGEST or not value.isprintable():
            self.wrong(key, f"{shown(value)} is not one line of at most {LONGEST} characters")
            return ""
        return value.strip()

    def number(self, key: str, least: float, most: float, *, needed: bool = True) -> float | None:
        """A number above ``least`` and up to ``most``; None where it is missing or wrong."""
        if not self.has(key):
            if needed:
                self.wrong(key, "is missing; every card that gives its source needs it")
            return None
        return self.checked(key, self.raw(key), least, most)

    def checked(self, key: str, value: object, least: float, most: float) -> float | None:
        """The value, if it is a number above ``least`` and up to ``most``."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.wrong(key, f"{shown(value)} is not a number; write it plain, such as 0.5")
            return None
        if not (least < value <= most) or not math.isfinite(value):
            self.wrong(key, f"{shown(value)} must be above {least:g} and at most {most:g}")
            return None
        return float(value)

    def span(self, key: str, most: float, *, needed: bool = False) -> tuple[float, float] | None:
        """Lowest and highest: a number, or [low, high]."""
        if not self.has(key) and not needed:
            return None
        value = self.raw(key)
        ends = value if isinstance(value, list) else [value]
        if not self.has(key) or len(ends) not in (1, 2):
            self.wrong(key, "needs one number, or the lowest and highest as [7, 9]")
            return None
        numbers = [self.checked(key, end, 0, most) for end in ends]
        low, high = numbers[0], numbers[-1]
        if low is None or high is None:
            return None
        if low > high:
            self.wrong(key, f"{shown(value)} runs downward; write the lowest first")
            return None
        return low, high

    def yes(self, key: str) -> bool:
        """True or false; false where it is missing."""
        value = self.raw(key)
        if value is not None and not isinstance(value, bool):
            self.wrong(key, f"{shown(value)} is neither true nor false")
        return value is True

    def choice(self, key: str, kinds: type[Choice], default: Choice) -> Choice:
        """One of a few words."""
        if not self.has(key):
            self.wrong(key, f"is missing; write one of: {', '.join(kinds)}")
            return default
        word = self.text(key)
        if word in list(kinds):
            return kinds(word)
        if word:
            self.wrong(key, f"{shown(word)} is none of: {', '.join(kinds)}")
        return default

    def table(self, key: str) -> "Table | None":
        """The table under this key, None where it is missing."""
        value = self.raw(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.wrong(key, f"is a single value; make it a table, headed [{key}]")
            return None
        return Table(value, (*self._path, key), self.mend)

    def tables(self, key: str) -> list["Table"]:
        """The tables of a list of tables."""
        value = self.raw(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.wrong(key, f"is not a list of tables; begin each one with [[{key}]]")
            return []
        return [
            Table(item, (*self._path, key, place), self.mend) for place, item in enumerate(value)
        ]
