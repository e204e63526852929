"""An address as a picture that a phone's camera reads."""

from typing import Any

_QUIET = 4  # modules of white around a code: ISO/IEC 18004
_BLOCKS = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}


def _code(text: str) -> Any:
    import segno

    return segno.make_qr(text, error="m")


def qr_drawing(text: str) -> str:
    """The code as the path of an SVG of 1 by 1 modules: its size, then what is drawn."""
    rows = [list(row) for row in _code(text).matrix_iter(border=_QUIET)]
    drawn = "".join(
        f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark
    )
    return f"{len(rows)} {drawn}"


def qr_lines(text: str) -> list[str]:
    """The code for a terminal, two modules a sign, black on white whatever its theme."""
    rows = [[int(bool(dark)) for dark in row] for row in _code(text).matrix_iter(border=_QUIET)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    lines = (zip(up, down, strict=True) for up, down in zip(rows[::2], rows[1::2], strict=True))
    return ["\x1b[30;107m" + "".join(map(_BLOCKS.__getitem__, one)) + "\x1b[0m" for one in lines]
