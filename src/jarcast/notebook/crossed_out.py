"""What is struck out in a line of words: the whole of it, or a part."""

import re

_THROUGH = re.compile(r"(?:[^\s\u0335-\u0338][\u0335-\u0338]\s*)+")  # letters with a stroke in each
_MARKED = re.compile(r"~~(.+?)~~|<(s|del|strike)>(.+?)</\2>", re.IGNORECASE)
_STROKES = re.compile(r"[\u0335-\u0338]")
# Said of the line as a whole.
_SAID = re.compile(
    r"\bvoid(?:ed)?\b|\b(?:crossed|struck|scored) (?:it )?(?:out|off|through)\b|\bstrikethrough\b"
    r"|\bscratch (?:that|this|it)\b|\b(?:ignore|delete|disregard) (?:this|that|line|entry)\b"
    r"|^\W*(?:x{3,}|cancel(?:l?ed)?|deleted?|disregard|ignore)\b"
    r"|\b(?:x{3,}|cancel(?:l?ed)|deleted|disregard|entered twice|duplicate(?: entry)?)\W*$",
    re.IGNORECASE,
)
_DASHED = re.compile(r"(?<!\S)--(?=[^\s-])((?:(?!--).)+)(?<=[^\s-])--(?!\S)")
_ALL_DASHED = re.compile(r"\s*--(?=[^\s-]).*[^\s-]--\W*")
_LONGEST = 1000  # characters; a longer line is none of a notebook


def is_struck(text: str) -> bool:
    """Whether a line is struck out as a whole: '~~okra 4 lb, 8 pts~~', 'okra 8 pts VOID'."""
    if len(text) > _LONGEST:
        return False
    if _SAID.search(text) or _ALL_DASHED.fullmatch(text):
        return True
    kept, struck = without_struck(text)
    return bool(struck) and not re.search(r"[^\W\d_]{2}", kept)


def without_struck(text: str) -> tuple[str, list[str]]:
    """A line without the parts that are struck out, and those: '8 pts ~~7 pts~~'."""
    parts = [found[1] or found[3] for found in _MARKED.finditer(text)]
    kept = _MARKED.sub(" ", text)
    parts += [_STROKES.sub("", found[0]) for found in _THROUGH.finditer(kept)]
    return _THROUGH.sub(" ", kept), [part.strip() for part in parts]


def between_dashes(text: str) -> str:
    """A part with figures between dashes that touch it, '--8 pts--': struck out, or an aside."""
    found = _DASHED.search(text)
    return found[1].strip() if found and re.search(r"\d", found[1]) else ""
