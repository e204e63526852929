"""Text that a spreadsheet would run as a formula, shown and not run, and given back unchanged.

An apostrophe goes before a cell that starts with one of the signs a spreadsheet acts on, and
before one that could not be told from a guarded or a trimmed cell otherwise. Reading takes off
exactly the apostrophes that writing put on; other text loses its surrounding spaces.
The signs are those OWASP lists under 'CSV Injection'.
"""

APOSTROPHE = "'"
ACTED_ON = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def _needs_guard(text: str) -> bool:
    return text.startswith((APOSTROPHE, *ACTED_ON)) or text != text.strip()


def guard(text: str) -> str:
    """The cell to write for this text."""
    return APOSTROPHE + text if _needs_guard(text) else text


def unguard(cell: str) -> str:
    """The text that was meant by this cell: the inverse of ``guard``."""
    if cell.startswith(APOSTROPHE) and _needs_guard(cell[1:]):
        return cell[1:]
    return cell.strip()
