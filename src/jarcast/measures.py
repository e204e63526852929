"""Kitchen measures to grams and millilitres, and back.

A measure is a number with its unit, or several that step down ('6 lb 4 oz'); measures may be
joined by ' + ' and ' - ', as when bowls are weighed one by one and an empty bowl is taken off.
Pints, cups, gallons and the like are US customary: imperial ones are larger and not supported.

A point is always a decimal point. A comma is a decimal comma, save that one comma before exactly
three digits ('1,250 g') is refused, as it could be a thousand or a thousandth.
"""

import math
import re
import unicodedata
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from jarcast.errors import MeasureError

# Exact by definition: NIST Handbook 44, Appendix C (General Tables of Units of Measurement).
INCH_CM = Fraction("2.54")
POUND_G = Fraction("453.59237")  # avoirdupois
OUNCE_G = POUND_G / 16
GALLON_ML = 231 * INCH_CM**3  # the US gallon is 231 cubic inches
QUART_ML = GALLON_ML / 4
PINT_ML = GALLON_ML / 8
CUP_ML = GALLON_ML / 16
FL_OZ_ML = GALLON_ML / 128
TBSP_ML = GALLON_ML / 256
TSP_ML = GALLON_ML / 768

# Household weight of table salt: USDA Standard Reference Release 28, NDB 02047 (it prints 18 g a
# tablespoon and 6 g a teaspoon, the same rounded down). Canning salt has no entry of its own there;
# it is taken to weigh as much (common practice, no source).
SALT_G_PER_CUP = 292

LONGEST = 200  # characters in one measure
_ON_STEP = 1e-9  # relative: floats this close to a step stand on it


class Units(StrEnum):
    """How a kitchen writes its measures."""

    US = "us"
    METRIC = "metric"


class _Kind(NamedTuple):
    name: str
    example: str
    likely: str  # what a bare number may have meant


class _Unit(NamedTuple):
    name: str
    size: Fraction  # in g, ml, hours or inches
    kind: _Kind


_WEIGHT = _Kind("weight", "6 lb 4 oz or 2.8 kg", "lb, oz, kg or g")
_VOLUME = _Kind("volume", "4 1/2 cups or 750 ml", "cups, qt, ml or l")
_TIME = _Kind("time", "24 h or 1 h 30 min", "h, min or days")
_LENGTH = _Kind("length", "1/2 in or 12 mm", "in, cm or mm")

_ROWS: tuple[tuple[_Kind, Fraction | int, str], ...] = (
    (_WEIGHT, 1, "g gr gm gms gram grams gramme grammes"),
    (_WEIGHT, 10, "dag dkg deka dekagram dekagrams"),
    (_WEIGHT, 1000, "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes"),
    (_WEIGHT, OUNCE_G, "oz ozs ounce ounces"),
    (_WEIGHT, POUND_G, "lb lbs pound pounds"),
    (_VOLUME, 1, "ml mls cc milliliter milliliters millilitre millilitres"),
    (_VOLUME, 10, "cl centiliter centiliters centilitre centilitres"),
    (_VOLUME, 100, "dl deciliter deciliters decilitre decilitres"),
    (_VOLUME, 1000, "l ltr liter liters litre litres"),
    (_VOLUME, TSP_ML, "tsp tsps teaspoon teaspoons"),
    (_VOLUME, TBSP_ML, "tbsp tbsps tbs tbl tblsp tablespoon tablespoons"),
    (_VOLUME, FL_OZ_ML, "floz flozs flounce flounces"),  # as _plain writes 'fl. oz.'
    (_VOLUME, CUP_ML, "cup cups c"),
    (_VOLUME, PINT_ML, "pt pts pint pints"),
    (_VOLUME, QUART_ML, "qt qts quart quarts"),
    (_VOLUME, GALLON_ML, "gal gals gallon gallons"),
    (_TIME, Fraction(1, 60), "min mins minute minutes"),
    (_TIME, 1, "h hr hrs hour hours"),
    (_TIME, 24, "d day days"),
    (_LENGTH, 1, 'in inch inches "'),
    (_LENGTH, 1 / INCH_CM, "cm centimeter centimeters centimetre centimetres"),
    (_LENGTH, 1 / (10 * INCH_CM), "mm millimeter millimeters millimetre millimetres"),
)
_UNITS = {
    word: _Unit(words.split()[0], Fraction(size), kind)
    for kind, size, words in _ROWS
    for word in words.split()
}

_NUMBER = r"(?:[0-9]+(?:[.,][0-9]+)*|\.[0-9]+)"
_AMOUNT = re.compile(
    rf"(?:(?P<whole>{_NUMBER})(?: and |-| ))?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
    rf"|(?P<plain>{_NUMBER})"
)
_UNIT = re.compile(r'[ -]?([^\W\d_]+|")\.?')
_STEP_DOWN = re.compile(r"(?: ?,| and| &)?(?: ?(?=[0-9])| (?=\.[0-9]))")  # '6 lb, 4 oz'
_JOIN = re.compile(r" ?(\+) ?| (-) ")
_RANGE = re.compile(r" ?(?:-|(?:to|or)\b)")
_FLUID = re.compile(r"(?<![^\W\d_])fl(?:uid)?\.?[ -]?(?=o(?:z|unce))")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+(?:\.[0-9]+)?|(?:\.[0-9]{3})+(?:,[0-9]+)?)")

_EVEN_SALTS = ("canning", "pickling", "table", "iodized", "iodised", "non", "plain", "fine")
_UNEVEN_SALTS = ("kosher", "flake", "flakes", "flaked", "flaky", "coarse", "sea", "rock")
_SALT_WORDS = ("of", "salt", *_EVEN_SALTS, *_UNEVEN_SALTS)
_SALT = re.compile(rf"\b(?=(?:{'|'.join(_SALT_WORDS)})\b)")


def parse_weight(text: str) -> float:
    """Grams of a weight such as '6 lb 4 oz', '2,7 kg' or '3 lb 2 oz + 2 lb 9 oz - 410 g'.

    Raises MeasureError.
    """
    return _parse(text, _WEIGHT, lambda plain: _sum(plain, (_WEIGHT,))[0])


def parse_volume(text: str) -> float:
    """Millilitres of a volume such as '4 1/2 cups', '½ qt' or '12 fl oz'; raises MeasureError."""
    return _parse(text, _VOLUME, lambda plain: _sum(plain, (_VOLUME,))[0])


def parse_hours(text: str) -> float:
    """Hours of a time such as '24', '1 h 30 min' or '1 day'; a bare number is hours.

    Raises MeasureError.
    """
    return _parse(text, _TIME, lambda plain: _sum_or_bare(plain, _TIME))


def parse_inches(text: str) -> float:
    """Inches of a headspace such as '1/2', '½ in' or '12 mm'; a bare number is inches.

    Raises MeasureError.
    """
    return _parse(text, _LENGTH, lambda plain: _sum_or_bare(plain, _LENGTH))


def parse_salt(text: str) -> float:
    """Grams of salt: a weight, or a volume of canning or table salt ('3/4 cup canning salt').

    A volume with no kind named is canning salt. Salts that pack unevenly (kosher, flake, sea,
    rock, coarse) are taken by weight only. Raises MeasureError.
    """
    return _parse(text, _WEIGHT, _salt)


def _salt(plain: str) -> Fraction:
    measure, *rest = _SALT.split(plain, maxsplit=1)
    if not measure:
        raise _no_number(plain, _WEIGHT)
    sort = rest[0].rstrip(".") if rest else ""
    words = re.findall(r"[^\W\d_]+", sort)
    if not {*words} <= {*_SALT_WORDS, "and", "or"} or re.search(r"[^a-z /&(),-]", sort):
        raise MeasureError(
            f"'{_shown(sort)}' is not a kind of salt; write the whole measure, then the kind, "
            "such as 3/4 cup + 1 tbsp canning salt"
        )
    amount, kind = _sum(measure.rstrip(" ,("), (_WEIGHT, _VOLUME))
    if kind is _WEIGHT:
        return amount
    if uneven := [word for word in words if word in _UNEVEN_SALTS]:
        raise MeasureError(
            f"{' '.join(uneven)} salt packs unevenly, so its volume gives no weight; weigh it and "
            "write that, such as 200 g"
        )
    return amount / CUP_ML * SALT_G_PER_CUP


def _parse(text: str, kind: _Kind, read: Callable[[str], Fraction]) -> float:
    """Read the text by ``read``; whatever is wrong is told with the text in front."""
    try:
        if len(text) > LONGEST:
            raise MeasureError(f"too long ({len(text)} characters) for a {kind.name}")
        plain = _plain(text)
        if not plain:
            raise MeasureError(f"nothing is written; write a {kind.name} such as {kind.example}")
        return float(read(plain))
    except MeasureError as why:
        raise MeasureError(f"'{_shown(text)}': {why}") from None


def _shown(text: str) -> str:
    """A text as a message shows it: short, and without characters that steer a terminal."""
    short = text if len(text) <= 40 else text[:37] + "..."
    return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in short)


_SAME = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2044\u2215", "/"),
        **dict.fromkeys("\u2033\u201c\u201d", '"'),
    }
)


def _plain(text: str) -> str:
    """The text in lower case and plain characters, single spaces, 'fl. oz.' in one word.

    Raised digits are left alone, and so are refused later: '10² g' must not become 102 g.
    """
    out = ""
    for char in text.translate(_SAME):
        form = unicodedata.decomposition(char).partition(">")[0]
        if form == "<fraction":  # '1½' is 1 1/2, not 11/2
            fraction = unicodedata.normalize("NFKC", char).replace("\u2044", "/")
            out += (" " if out[-1:].isdigit() else "") + fraction
            out += "" if fraction.endswith("/") else " "
        elif form in ("<wide", "<narrow", "<square", "<font"):
            out += unicodedata.normalize("NFKC", char)
        else:
            out += char
    return _FLUID.sub("fl", " ".join(out.casefold().split()))


def _sum_or_bare(plain: str, kind: _Kind) -> Fraction:
    bare = _AMOUNT.fullmatch(plain)
    return _number(bare) if bare else _sum(plain, (kind,))[0]


def _sum(plain: str, kinds: tuple[_Kind, ...]) -> tuple[Fraction, _Kind]:
    """Sum of measures of one of these kinds, and which it was."""
    total, kind, at = _measure(plain, 0, kinds)
    while at < len(plain):
        join = _JOIN.match(plain, at)
        if not join:
            raise _stray(plain[at:])
        amount, kind, at = _measure(plain, join.end(), (kind,))
        total += amount if join[1] else -amount
    if total < 0:
        raise MeasureError(
            "comes to less than nothing; check what is taken off (and where a range was meant, "
            "write one measure)"
        )
    return total, kind


def _measure(plain: str, at: int, kinds: tuple[_Kind, ...]) -> tuple[Fraction, _Kind, int]:
    """One measure in units that step down: its size, its kind, and where it ends."""
    total, last = Fraction(0), None
    while True:
        found = _AMOUNT.match(plain, at)
        if not found:
            raise _no_number(plain[at:], kinds[0])
        unit, at = _unit(plain, found, kinds)
        if last is not None and unit.size >= last.size:
            raise MeasureError(
                f"{unit.name} after {last.name}; write the larger unit first and each unit once, "
                "and put ' + ' between separate weighings"
            )
        total += _number(found) * unit.size
        last, kinds = unit, (unit.kind,)
        step_down = _STEP_DOWN.match(plain, at)
        if not step_down:
            return total, unit.kind, at
        at = step_down.end()


def _number(found: re.Match[str]) -> Fraction:
    """Value of what ``_AMOUNT`` found: a decimal, a fraction or a mixed number."""
    if found["plain"]:
        return _decimal(found["plain"])
    if int(found["bottom"]) == 0:
        raise MeasureError(f"'{_shown(found[0])}' divides by zero")
    part = Fraction(int(found["top"]), int(found["bottom"]))
    if found["whole"] is None:
        return part
    if not found["whole"].isdigit() or part >= 1:
        raise MeasureError(
            f"'{_shown(found[0])}' is not a mixed number; write a whole number and a fraction "
            "below one, such as 4 1/2"
        )
    return int(found["whole"]) + part


def _decimal(token: str) -> Fraction:
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", token):
        raise MeasureError(
            f"is {token} meant as {token.replace(',', '')} or as "
            f"{token.replace(',', '.').rstrip('0').rstrip('.')}? Write it so, without the comma"
        )
    if re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?|\.[0-9]+", token):
        return Fraction(token.replace(",", "."))
    if not _GROUPED.fullmatch(token):
        raise MeasureError(f"'{_shown(token)}' is not a number; write it such as 1250.5")
    point = "." if token.rfind(".") > token.rfind(",") else ","
    if token.count(point) > 1:  # all of them part thousands
        return Fraction(re.sub("[.,]", "", token))
    whole, _, decimals = token.rpartition(point)
    return Fraction(re.sub("[.,]", "", whole) + "." + decimals)


def _unit(plain: str, amount: re.Match[str], kinds: tuple[_Kind, ...]) -> tuple[_Unit, int]:
    """The unit behind an amount, and where it ends."""
    rest = plain[amount.end() :]
    found = _UNIT.match(plain, amount.end())
    if rest.lstrip()[:1] in ("", "+", ",", "&"):
        raise MeasureError(
            f"'{_shown(amount[0])}' has no unit; was {' (or '.join(k.likely for k in kinds)}"
            f"{')' * (len(kinds) - 1)} meant? Write it such as {kinds[0].example}"
        )
    if not found or found[1] in ("to", "or"):
        raise _stray(rest)
    word = found[1]
    if word == "t":
        raise MeasureError("t or T may be a teaspoon or a tablespoon; write tsp or tbsp")
    unit = _UNITS.get(word)
    if unit is None:
        known = ", ".join(dict.fromkeys(u.name for u in _UNITS.values() if u.kind in kinds))
        raise MeasureError(
            f"'{_shown(word)}' is not a unit known here; the units are "
            f"{known.replace('floz', 'fl oz')}"
            + (" (US ones, no imperial)" if _VOLUME in kinds else "")
        )
    if unit.kind not in kinds:
        raise _wrong_kind(unit, f"{amount[0]} {word}", kinds)
    return unit, found.end()


def _wrong_kind(unit: _Unit, written: str, kinds: tuple[_Kind, ...]) -> MeasureError:
    shown = _shown(re.sub("fl(?=o)", "fl ", written))
    mend = f"such as {kinds[0].example}"
    if (unit.name, kinds[0]) == ("oz", _VOLUME):
        mend += "; for fluid ounces write fl oz"
    if (unit.name, kinds[0]) == ("floz", _WEIGHT):
        mend += "; for ounces of weight write oz alone"
    due = " or a ".join(kind.name for kind in kinds)
    return MeasureError(f"{shown} is a {unit.kind.name}; a {due} is due here, {mend}")


def _no_number(rest: str, kind: _Kind) -> MeasureError:
    if rest.startswith("-"):
        return MeasureError(f"negative; a {kind.name} is nothing or more, such as {kind.example}")
    where = f"before '{_shown(rest)}'" if rest else "at the end"
    return MeasureError(f"a number is missing {where}; write it such as {kind.example}")


def _stray(rest: str) -> MeasureError:
    """What to say of a text that goes on where a measure, or its number, has ended."""
    if _RANGE.match(rest):
        return MeasureError(
            "a range cannot be taken; write one measure (and to take a bowl off, a space on each "
            "side of the minus)"
        )
    if re.match(r" ?[.,]?[0-9]", rest):
        return MeasureError(
            "two numbers side by side; write 1250 without a space, or a fraction such as 4 1/2"
        )
    return MeasureError(f"'{_shown(rest.strip())}' cannot be read; write the measure alone")


# Showing measures the way a kitchen writes them.

_WHOLE = (Fraction(0), Fraction(1))
_HALVES = (*_WHOLE, Fraction(1, 2))
_QUARTERS = (*_HALVES, Fraction(1, 4), Fraction(3, 4))
_CUP_MARKS = (*_QUARTERS, Fraction(1, 3), Fraction(2, 3))

# Shown in this unit while the rounded amount is below so many of it, to the nearest of its marks.
_US_VOLUMES = (
    (TSP_ML, "tsp", 3, _QUARTERS),
    (TBSP_ML, "tbsp", 4, _HALVES),
    (CUP_ML, "cups", 4, _CUP_MARKS),
    (CUP_ML, "cups", 16, _QUARTERS),
)


def format_weight(grams: float, units: Units) -> str:
    """A weight as a kitchen writes it: '6 lb 4 1/2 oz', or '640 g' and '2.70 kg'.

    US: to 1/4 oz below a pound, 1/2 oz below ten pounds, then whole ounces, and in grams below
    what that can show. Metric: to 0.1 g below 10 g, 1 g below a kilogram, then 10 g.
    Raises MeasureError for a weight that is negative or not finite.
    """
    exact = _exact(grams, _WEIGHT)
    if units == Units.METRIC:
        return _metric_weight(exact)
    ounces = _nearest(exact / OUNCE_G, _QUARTERS)
    if ounces == 0 < round(exact, 1):
        return _metric_weight(exact)
    for below, marks in ((16, _HALVES), (160, _WHOLE)):
        if ounces >= below:
            ounces = _nearest(exact / OUNCE_G, marks)
    pounds, ounces = divmod(ounces, 16)
    return _parts((Fraction(pounds), "lb"), (ounces, "oz"))


def format_volume(ml: float, units: Units) -> str:
    """A volume as a kitchen writes it: '4 1/2 cups', '1 gal 2 qt', or '750 ml' and '1.25 l'.

    US: quarter teaspoons, half tablespoons from 1 tbsp, cups in quarters and thirds from 1/4 cup,
    in quarters from 4 cups, and gallons, quarts and whole cups from 16 cups. Metric: to 1 ml below
    100 ml, 5 ml below a litre, then 10 ml. What ``round_up_volume`` gives is shown unrounded.
    Raises MeasureError for a volume that is negative or not finite.
    """
    exact = _exact(ml, _VOLUME)
    if units == Units.METRIC:
        return _metric_volume(exact)
    if _nearest(exact / TSP_ML, _QUARTERS) == 0:
        return "0 cups"
    for size, name, below, marks in _US_VOLUMES:
        amount = _nearest(exact / size, marks)
        if amount < below:
            return _parts((amount, name))
    gallons, cups = divmod(_nearest(exact / CUP_ML, _WHOLE), 16)
    quarts, cups = divmod(cups, 4)
    return _parts((Fraction(gallons), "gal"), (Fraction(quarts), "qt"), (cups, "cups"))


def _exact(value: float, kind: _Kind) -> Fraction:
    if not math.isfinite(value) or value < 0:
        raise MeasureError(f"{value} cannot be a {kind.name}; it must be finite and 0 or more")
    return Fraction(value)


def _nearest(value: Fraction, marks: tuple[Fraction, ...]) -> Fraction:
    """The nearest whole number plus one of these marks (0 and 1 are among them)."""
    whole = value // 1
    return whole + min(marks, key=lambda mark: abs(value - whole - mark))


def _parts(*parts: tuple[Fraction, str]) -> str:
    """'2 gal 1 qt' of amounts and units; parts of nothing are left out, save a lone one."""
    kept = [part for part in parts if part[0]] or [parts[-1]]
    return " ".join(f"{_amount(amount)} {_counted(name, amount)}" for amount, name in kept)


def _amount(amount: Fraction) -> str:
    whole, part = divmod(amount, 1)
    if part == 0:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)


def _counted(name: str, amount: Fraction) -> str:
    return "cup" if name == "cups" and 0 < amount <= 1 else name


def _metric_weight(grams: Fraction) -> str:
    if round(grams, 1) < 10:
        return f"{float(round(grams, 1)):g} g"
    return f"{round(grams)} g" if round(grams) < 1000 else f"{_hundredths(grams / 1000)} kg"


def _metric_volume(ml: Fraction) -> str:
    if round(ml) < 100:
        return f"{round(ml)} ml"
    fives = 5 * round(ml / 5)
    return f"{fives} ml" if fives < 1000 else f"{_hundredths(ml / 1000)} l"


def _hundredths(value: Fraction) -> str:
    whole, part = divmod(round(100 * value), 100)
    return f"{whole}.{part:02d}"


# Up to so many ml, in steps of so many ml.
_STEPS: dict[Units, tuple[tuple[float, Fraction], ...]] = {
    Units.US: (
        (float(8 * CUP_ML), CUP_ML / 4),
        (float(16 * CUP_ML), CUP_ML / 2),
        (math.inf, CUP_ML),
    ),
    Units.METRIC: (
        (2000.0, Fraction(50)),
        (5000.0, Fraction(100)),
        (10_000.0, Fraction(250)),
        (math.inf, Fraction(500)),
    ),
}


def round_up_volume(ml: float, units: Units) -> float:
    """A volume in ml rounded up to a measure a kitchen has; never below what came in.

    US: quarter cups up to 8 cups, half cups up to 16, then whole cups. Metric: 50 ml up to 2 l,
    100 ml up to 5 l, 250 ml up to 10 l, then 500 ml. A volume within 1e-9 (relative) of a step
    stands on it. Raises MeasureError for a volume that is negative or not finite.
    """
    exact = _exact(ml, _VOLUME)
    step = next(step for most, step in _STEPS[units] if ml <= most)
    steps = math.ceil(exact / step * (1 - Fraction(_ON_STEP)))
    return max(float(ml), float(steps * step))
