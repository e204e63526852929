"""Guards text that a spreadsheet would run as a formula, and gives it back unchanged.

An apostrophe goes before a cell that starts with one of the signs a spreadsheet acts on, and
before a cell that could otherwise not be told from a guarded or a trimmed one. One also goes before
such a sign inside a cell if it follows a character that may separate cells or lines elsewhere:
where cells are separated by semicolons, 'x;=1' is two cells. Reading takes off exactly the
apostrophes that writing put on; other text loses its surrounding spaces.
The signs are those OWASP lists under 'CSV Injection'.
"""

import re

from jarcast.domain.fields import TEXTS

APOSTROPHE = "'"
_SIGNS = "=+\\-@＝＋－＠"
ACTED_ON = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_GUARDED = frozenset((*TEXTS, "jar"))  # columns that may hold any text
_INSIDE = re.compile(f"([;\t\r\n]'*)(?=[{_SIGNS}])")
_GUARDED_INSIDE = re.compile(f"([;\t\r\n]'*)'(?=[{_SIGNS}])")


def _needs_guard(text: str) -> bool:
    return text.startswith((APOSTROPHE, *ACTED_ON)) or text != text.strip()


def guard(text: str) -> str:
    """The cell to write for this text."""
    inside = _INSIDE.sub(rf"\1{APOSTROPHE}", text)
    return APOSTROPHE + inside if _needs_guard(text) else inside


def unguard(cell: str) -> str:
    """The text that this cell stands for: the inverse of ``guard``."""
    guarded = cell.startswith(APOSTROPHE) and _needs_guard(cell[1:])
    return _GUARDED_INSIDE.sub(r"\1", cell[1:] if guarded else cell.strip())


def text_in(cell: str, column: str) -> str:
    """What a cell of this column says; '' for one that says nothing."""
    # Without an apostrophe nothing is guarded.
    return unguard(cell) if "'" in cell and column in _GUARDED else cell.strip()
