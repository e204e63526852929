"""Numbers, jars and crops in words."""

import textwrap

from jarcast.batch import number_text

_JAR_WORDS = {
    "half-pint": ("half-pint", "half-pints"),
    "12-oz": ("12-oz jar", "12-oz jars"),
    "pint": ("pint", "pints"),
    "pint-and-half": ("1 1/2-pint jar", "1 1/2-pint jars"),
    "quart": ("quart", "quarts"),
    "250ml": ("250 ml jar", "250 ml jars"),
    "500ml": ("500 ml jar", "500 ml jars"),
    "1l": ("1 l jar", "1 l jars"),
}


def halves(count: float) -> str:
    """A count of jars to the nearest half: '9 1/2'."""
    twice = round(2.0 * count)
    whole, half = divmod(twice, 2)
    if not half:
        return str(whole)
    return f"{whole} 1/2" if whole else "1/2"


def jar_words(key: str, count: float = 2.0) -> str:
    """A sort of jar in words, in the number that fits the count: 'wide-mouth pints'."""
    wide = key.endswith("-wide")
    one, many = _JAR_WORDS.get(key.removesuffix("-wide"), (f"'{key}' jar", f"'{key}' jars"))
    words = one if count <= 1.0 else many
    return f"wide-mouth {words}" if wide else words


def crop_words(produce: str, cut: str, pack: str) -> str:
    """A crop in words: 'carrot, sticks, raw pack'."""
    parts = [produce or "unnamed produce", cut, f"{pack} pack" if pack else ""]
    return ", ".join(part for part in parts if part)


def times_in(level: float) -> str:
    """A chance in words: '8 times in 10', '19 times in 20'."""
    for out_of in (10, 20, 100):
        times = level * out_of
        if abs(times - round(times)) < 1e-9:
            return f"{round(times)} times in {out_of}"
    return f"{100 * level:.4g} times in 100"


def counted(count: float, one: str, many: str) -> str:
    """'1 batch', '3 batches'."""
    return f"{number_text(count)} {one if count == 1 else many}"


def plain(text: str) -> str:
    """A user's text fit for a terminal: signs that would move the cursor become a mark."""
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in text)


def shortened(text: str, longest: int) -> str:
    """A text cut to a length, marked as cut."""
    text = plain(text)
    return text if len(text) <= longest else text[: longest - 3] + "..."


def wrapped(text: str, width: int = 78) -> str:
    """A paragraph broken into lines that fit a terminal and a printed page."""
    return "\n".join(textwrap.wrap(text, width, break_long_words=False)) if text else ""
