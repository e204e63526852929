"""Numbers, jars and crops in words."""

import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from fractions import Fraction

from jarcast.domain.batch import number_text
from jarcast.domain.jars import size_of
from jarcast.domain.names import pack_key
from jarcast.errors import cut_short
from jarcast.measures import number_text as parts_text

_MOST_NAMED = 5  # batches
WIDTH = 78  # of a line, in columns
LABEL = 11  # of them before the words of a row
_JAR_WORDS = {  # no word begins with a number: beside a count '13 500 ml jars' is 13,500 ml
    "half-pint": ("half-pint", "half-pints"),
    "12-oz": ("jar of 12 oz", "jars of 12 oz"),
    "pint": ("pint", "pints"),
    "pint-and-half": ("jar of 1½ pints", "jars of 1½ pints"),
    "quart": ("quart", "quarts"),
    "250ml": ("jar of 250 ml", "jars of 250 ml"),
    "500ml": ("jar of 500 ml", "jars of 500 ml"),
    "1l": ("jar of 1 l", "jars of 1 l"),
}


def halves(count: float) -> str:
    """A count of jars to the nearest half: '9½'."""
    twice = round(2.0 * count)
    whole, half = divmod(twice, 2)
    if not half:
        return str(whole)
    return f"{whole or ''}½"


_PARTS = (1, 2, 3, 4, 8)  # parts of a jar that a kitchen names; anything finer is in decimals


def exactly(count: float) -> str:
    """A count of jars as one would write it: '13¾', '9.6'; 'about 17½' where none fits."""
    for bottom in _PARTS:
        top = round(count * bottom)
        if abs(top / bottom - count) < 1e-6:
            return parts_text(Fraction(top, bottom))
    return number_text(count) if abs(10.0 * count % 1.0) < 1e-6 else f"about {halves(count)}"


def filled_words(filled: Iterable[tuple[float, str]]) -> str:
    """Jars filled, each count with its sort: '6 pints + 5½ quarts'."""
    return " + ".join(f"{exactly(count)} {jar_words(key, count)}" for count, key in filled)


def sorts_words(counts: Iterable[tuple[str, float]]) -> str:
    """Jars of several sorts to the half, in their turns: '6 pints, then 5½ quarts'."""
    by_sort: dict[str, float] = {}
    for key, count in counts:
        by_sort[key] = by_sort.get(key, 0.0) + count
    shown = [(key, count) for key, count in by_sort.items() if halves(count) != "0"]
    return ", then ".join(f"{halves(count)} {halves_word(key, count)}" for key, count in shown)


def halves_word(key: str, count: float) -> str:
    """A sort of jar in the number that fits the count as it is shown, to the half."""
    return jar_words(key, round(2.0 * count) / 2.0 or 2.0)


def jar_words(key: str, count: float = 2.0) -> str:
    """A sort of jar in words, in the number that fits the count: 'wide-mouth pints'."""
    wide = key.endswith("-wide")
    one, many = _JAR_WORDS.get(size_of(key), (f"'{key}' jar", f"'{key}' jars"))
    words = one if count <= 1.0 else many
    return f"wide-mouth {words}" if wide else words


def crop_words(produce: str, cut: str, pack: str) -> str:
    """A crop in words: 'carrot, sticks, raw pack'."""
    pack = pack_key(pack)  # a boiled pack is a hot one
    parts = [produce or "unnamed produce", cut, f"{pack} pack" if pack else ""]
    return ", ".join(part for part in parts if part)


def titled(text: str) -> str:
    """A text with a capital first letter, as a title has."""
    return text[:1].upper() + text[1:]


def times_in(level: float) -> str:
    """A chance in words: '8 times in 10', '19 times in 20'."""
    for out_of in (10, 20, 100):
        times = level * out_of
        if abs(times - round(times)) < 1e-9:
            return f"{counted(round(times), 'time', 'times')} in {out_of}"
    return f"{100 * level:.4g} times in 100"


def between(low: str, high: str, level: float) -> str:
    """', 8 times in 10 between 8 and 11', after a middle; '' where both ends read the same."""
    same = low == high or high.startswith(f"{low} ")  # '6' and '6 cups'
    return "" if same else f", {times_in(level)} between {low} and {high}"


def counted(count: float, one: str, many: str) -> str:
    """'1 batch', '3 batches'."""
    return f"{number_text(count)} {one if count == 1 else many}"


_JOINERS = "\u200c\u200d"  # without width of their own; Persian, Hindi and pictures need them


def plain(text: str) -> str:
    """A user's text fit for a terminal: signs that would move the cursor become a mark."""
    if text.isprintable():
        return text
    return "".join(s if s.isprintable() or s in _JOINERS else "\ufffd" for s in text)


def columns(text: str) -> int:
    """How many columns of a terminal a text takes: two for wide signs, none for marks on others.

    By Unicode's East Asian Width (UAX 11); a few terminals draw some pictures otherwise.
    """
    if text.isascii():
        return len(text)
    return sum(
        0
        if unicodedata.category(sign) in ("Mn", "Me", "Cf")
        else 2
        if unicodedata.east_asian_width(sign) in "WF"
        else 1
        for sign in text
    )


def padded(text: str, width: int) -> str:
    """A text followed by spaces up to a number of columns."""
    return text + " " * (width - columns(text))


def batches_named(names: Sequence[str], longest: int) -> str:
    """A few batches by name: "'a', 'b' and 3 batches more"; no name longer than ``longest``."""
    shown = ", ".join(f"'{shortened(name, longest)}'" for name in names[:_MOST_NAMED])
    more = len(names) - _MOST_NAMED
    return shown if more <= 0 else f"{shown} and {counted(more, 'batch', 'batches')} more"


def lined_up(rows: Sequence[Sequence[str]]) -> list[str]:
    """The lines of a table, each column as wide as its widest cell."""
    widths = [max(map(columns, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(padded(cell, width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def item(text: str) -> str:
    """A line of a list: set in, and further where it goes on."""
    return hung(f"  {text}", 4)


def hung(text: str, further: int = 2) -> str:
    """A line that goes on below set in further, so that no line is wider than the first may be."""
    return _lines(text, "", " " * further)


def shortened(text: str, longest: int) -> str:
    """A text cut to a length, marked as cut."""
    return cut_short(plain(text), longest)


def ended(text: str) -> str:
    """A sentence with its stop; a question, or one that has a stop, as it is."""
    return text if text.endswith(("?", ".", "!")) else f"{text}."


def wrapped(text: str) -> str:
    """A paragraph broken into lines that fit a terminal and a printed page.

    Only between words: an option such as --cure-hours is left whole.
    """
    return _lines(text, "", "")


def row(label: str, text: str) -> str:
    """A line of an answer under its label, 'JARS     About 9 pints.'; its own lines hang below."""
    return _lines(text, f"  {label}".ljust(LABEL), " " * LABEL)


def _lines(text: str, first: str, hang: str) -> str:
    """Lines of a terminal's width, what stands before the ``first`` and before the others."""
    lines = textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=hang,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return "\n".join(lines)


def unwrapped(text: str) -> str:
    """A wrapped text with each paragraph in one line again; lines set in stay as they are.

    A paragraph ends where the next line's first word would have had room.
    """
    found: list[str] = []
    broken = False
    for line in text.split("\n"):
        room = (
            bool(found) and len(found[-1].rpartition("\n")[2]) + 1 + len(line.split(" ")[0]) > WIDTH
        )
        if broken and room and line and not line.startswith(("  ", "- ", "! ")):
            found[-1] = f"{found[-1]}\n{line}"
        else:
            found.append(line)
        broken = bool(line) and not line.startswith("  ")
    return "\n".join(line.replace("\n", " ") for line in found)


def odds(chance: float) -> str:
    """A small chance in words: '1 chance in 20'."""
    if chance <= 0:
        return "no chance"
    out_of = 1.0 / chance
    if abs(out_of - round(out_of)) < 1e-6:
        return f"1 chance in {round(out_of)}"
    return f"{100 * chance:.3g} chances in 100"


def chance_words(chance: float) -> str:
    """A chance in words: 'about 1 chance in 7', 'nearly certain'."""
    if chance < 0.01:
        return "less than 1 chance in 100"
    if chance <= 0.5:
        return f"about 1 chance in {int(1.0 / chance + 1e-9)}"
    if chance < 0.95:
        return f"about {int(10.0 * chance + 0.5)} chances in 10"
    return "nearly certain"
