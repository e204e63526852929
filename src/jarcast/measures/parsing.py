"""Reading measures as people write them."""

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

from jarcast.errors import MeasureError, cut_short
from jarcast.measures.units import (
    CUP_ML,
    FL_OZ_ML,
    GALLON_ML,
    INCH_CM,
    LENGTH,
    OUNCE_G,
    PINT_ML,
    POUND_G,
    QUART_ML,
    SALT_G_PER_CUP,
    TBSP_ML,
    TIME,
    TSP_ML,
    VOLUME,
    WEIGHT,
    Kind,
)

LONGEST = 200  # characters in one measure
NO_UNIT = "is not a unit jarcast knows"


class _Unit(NamedTuple):
    name: str
    size: Fraction  # in g, ml, hours or inches
    kind: Kind


_ROWS: tuple[tuple[Kind, Fraction | int, str], ...] = (
    (WEIGHT, 1, "g gr gm gms gram grams gramme grammes"),
    (WEIGHT, 10, "dag dkg deka dekagram dekagrams"),
    (WEIGHT, 1000, "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes"),
    (WEIGHT, OUNCE_G, "oz ozs ounce ounces"),
    (WEIGHT, POUND_G, "lb lbs pound pounds"),
    (VOLUME, 1, "ml mls cc milliliter milliliters millilitre millilitres"),
    (VOLUME, 10, "cl centiliter centiliters centilitre centilitres"),
    (VOLUME, 100, "dl deciliter deciliters decilitre decilitres"),
    (VOLUME, 1000, "l ltr liter liters litre litres"),
    (VOLUME, TSP_ML, "tsp tsps teaspoon teaspoons"),
    (VOLUME, TBSP_ML, "tbsp tbsps tbs tbl tblsp tablespoon tablespoons"),
    (VOLUME, FL_OZ_ML, "floz flozs flounce flounces"),  # as _plain writes 'fl. oz.'
    (VOLUME, CUP_ML, "cup cups c"),
    (VOLUME, PINT_ML, "pt pts pint pints"),
    (VOLUME, QUART_ML, "qt qts quart quarts"),
    (VOLUME, GALLON_ML, "gal gals gallon gallons"),
    (TIME, Fraction(1, 60), "min mins minute minutes"),
    (TIME, 1, "h hr hrs hour hours"),
    (TIME, 24, "d day days"),
    (LENGTH, 1, 'in inch inches "'),
    (LENGTH, 1 / INCH_CM, "cm centimeter centimeters centimetre centimetres"),
    (LENGTH, 1 / (10 * INCH_CM), "mm millimeter millimeters millimetre millimetres"),
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
_NOTHING = re.compile(r"0+(?:[.,]0+)?")  # 0 is 0 in any unit
_UNIT = re.compile(r'[ -]?([^\W\d_]+|")\.?')
_STEP_DOWN = re.compile(r"(?: ?,| and| &)?(?: ?(?=[0-9])| (?=\.[0-9]))")  # '6 lb, 4 oz'
_JOIN = re.compile(r" ?(\+) ?| (-) ")
_RANGE = r" ?(?:-|(?:to|or)\b)"
_FLUID = re.compile(r"(?<![^\W\d_])fl(?:uid)?\.?[ -]?(?=o(?:z|unce))")
_GROUPED = r"[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+(?:\.[0-9]+)?|(?:\.[0-9]{3})+(?:,[0-9]+)?)"

_EVEN_SALTS = ("canning", "pickling", "table", "iodized", "iodised", "non", "plain", "fine")
# Salts whose cup may hold half as much again from one packet to the next: a household weight
# for fine salt would be wrong for them.
UNEVEN_SALTS = ("kosher", "flake", "flakes", "flaked", "flaky", "coarse", "sea", "rock")
_SALT_WORDS = ("of", "salt", *_EVEN_SALTS, *UNEVEN_SALTS)
_SALT = rf"\b(?=(?:{'|'.join(_SALT_WORDS)})\b)"


def parse_weight(text: str) -> float:
    """Grams of a weight such as '6 lb 4 oz', '2,7 kg' or '3 lb 2 oz + 2 lb 9 oz - 410 g'.

    Raises MeasureError.
    """
    return _parse(text, WEIGHT, lambda plain: _sum(plain, (WEIGHT,))[0])


def parse_volume(text: str) -> float:
    """Millilitres of a volume such as '4 1/2 cups', '½ qt' or '12 fl oz'; raises MeasureError."""
    return _parse(text, VOLUME, lambda plain: _sum(plain, (VOLUME,))[0])


def parse_hours(text: str) -> float:
    """Hours of a time such as '24', '1 h 30 min' or '1 day'; a bare number is hours.

    Raises MeasureError.
    """
    return _parse(text, TIME, lambda plain: _sum_or_bare(plain, TIME))


def parse_inches(text: str) -> float:
    """Inches of a headspace such as '1/2', '½ in' or '12 mm'; a bare number is inches.

    Raises MeasureError.
    """
    return _parse(text, LENGTH, lambda plain: _sum_or_bare(plain, LENGTH))


def parse_salt(text: str) -> float:
    """Grams of salt: a weight, or a volume of canning or table salt ('3/4 cup canning salt').

    A volume with no kind named is canning salt. Salts that pack unevenly (kosher, flake, sea,
    rock, coarse) are taken by weight only. Raises MeasureError.
    """
    return _parse(text, WEIGHT, _salt)


def _salt(plain: str) -> Fraction:
    measure, *rest = re.split(_SALT, plain, maxsplit=1)
    if not measure:
        raise _no_number(plain, WEIGHT)
    sort = rest[0].rstrip(".") if rest else ""
    words = re.findall(r"[^\W\d_]+", sort)
    if not {*words} <= {*_SALT_WORDS, "and", "or"} or re.search(r"[^a-z /&(),-]", sort):
        raise MeasureError(
            f"'{_shown(sort)}' is not a kind of salt; write the whole measure, then the kind, "
            "such as 3/4 cup + 1 tbsp canning salt"
        )
    amount, kind = _sum(measure.rstrip(" ,("), (WEIGHT, VOLUME))
    if kind is WEIGHT:
        return amount
    if uneven := [word for word in words if word in UNEVEN_SALTS]:
        raise MeasureError(
            f"{' '.join(uneven)} salt packs unevenly, so its volume does not give a weight; weigh "
            "it and write that, such as 200 g"
        )
    return amount / CUP_ML * SALT_G_PER_CUP


def _parse(text: str, kind: Kind, read: Callable[[str], Fraction]) -> float:
    """Read the text by ``read``; every error opens with the text."""
    try:
        if len(text) > LONGEST:
            raise MeasureError(f"too long ({len(text)} characters) for a {kind.name}")
        plain = _plain(text)
        if not plain:
            raise MeasureError(f"nothing is there; write a {kind.name} such as {kind.example}")
        if _NOTHING.fullmatch(plain):
            return 0.0
        return float(read(plain))
    except MeasureError as why:
        raise MeasureError(f"'{_shown(text)}': {why}") from None


def _shown(text: str) -> str:
    """A text as a message shows it: short, and without characters that steer a terminal."""
    shown = cut_short(text, 40)
    return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in shown)


_SAME = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2044\u2215", "/"),
        **dict.fromkeys("\u2033\u201c\u201d", '"'),
    }
)


# '\u00bd-inch', as books print.
_HYPHENED = re.compile(r"(?<=[\u00bc-\u00be\u2150-\u215e])-(?=[^\W\d_])")


def _plain(text: str) -> str:
    """The text in lower case and plain characters, single spaces, 'fl. oz.' in one word.

    Raised digits are left alone, and so are refused later: '10² g' must not become 102 g.
    """
    out = ""
    text = _HYPHENED.sub(" ", text.translate(_SAME))
    for char in text:
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


def _sum_or_bare(plain: str, kind: Kind) -> Fraction:
    bare = _AMOUNT.fullmatch(plain)
    return _number(bare) if bare else _sum(plain, (kind,))[0]


def _sum(plain: str, kinds: tuple[Kind, ...]) -> tuple[Fraction, Kind]:
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
            "comes to less than nothing; check what is taken off (or, if you meant a range, write "
            "one measure)"
        )
    return total, kind


def _measure(plain: str, at: int, kinds: tuple[Kind, ...]) -> tuple[Fraction, Kind, int]:
    """One measure in units that step down: its size, its kind, and where it ends."""
    total, last = Fraction(0), None
    while True:
        found = _AMOUNT.match(plain, at)
        if not found:
            raise _no_number(plain[at:], kinds[0])
        unit, at = _unit(plain, found, kinds)
        if unit.size <= 1:
            _check_point(found["plain"] or "", unit)
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
            f"{token.replace(',', '.').rstrip('0').rstrip('.')}? Write it without the comma"
        )
    if re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?|\.[0-9]+", token):
        return Fraction(token.replace(",", "."))
    if not re.fullmatch(_GROUPED, token):
        raise MeasureError(f"'{_shown(token)}' is not a number; write it like 1250.5")
    point = "." if token.rfind(".") > token.rfind(",") else ","
    if token.count(point) > 1:  # all of them part thousands
        return Fraction(re.sub("[.,]", "", token))
    whole, _, decimals = token.rpartition(point)
    return Fraction(re.sub("[.,]", "", whole) + "." + decimals)


def _check_point(token: str, unit: _Unit) -> None:
    """Ask back where the point of '1.250 g' may part thousands: few weigh to the milligram."""
    if unit.kind in (WEIGHT, VOLUME) and re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", token):
        raise MeasureError(
            f"is {token} meant as {token.replace('.', '')} or as {token.rstrip('0').rstrip('.')}? "
            "Write it without the point, or with one or two decimals"
        )


def _unit(plain: str, amount: re.Match[str], kinds: tuple[Kind, ...]) -> tuple[_Unit, int]:
    """The unit behind an amount, and where it ends."""
    rest = plain[amount.end() :]
    found = _UNIT.match(plain, amount.end())
    if rest.lstrip()[:1] in ("", "+", ",", "&"):
        raise MeasureError(
            f"'{_shown(amount[0])}' has no unit; was "
            f"{' (or '.join(k.likely for k in kinds)}{')' * (len(kinds) - 1)} meant? Write it like "
            f"{kinds[0].example}"
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
            f"'{_shown(word)}' {NO_UNIT}; the units are "
            f"{known.replace('floz', 'fl oz')}" + (" (US, not imperial)" if VOLUME in kinds else "")
        )
    if unit.kind not in kinds:
        raise _wrong_kind(unit, f"{amount[0]} {word}", kinds)
    return unit, found.end()


def _wrong_kind(unit: _Unit, written: str, kinds: tuple[Kind, ...]) -> MeasureError:
    shown = _shown(re.sub("fl(?=o)", "fl ", written))
    mend = f"such as {kinds[0].example}"
    if (unit.name, kinds[0]) == ("oz", VOLUME):
        mend += "; for fluid ounces write fl oz"
    if (unit.name, kinds[0]) == ("floz", WEIGHT):
        mend += "; for ounces of weight write oz alone"
    due = " or a ".join(kind.name for kind in kinds)
    return MeasureError(f"{shown} is a {unit.kind.name}; a {due} is due here, {mend}")


def _no_number(rest: str, kind: Kind) -> MeasureError:
    if rest.startswith("-"):
        return MeasureError(f"negative; a {kind.name} is nothing or more, such as {kind.example}")
    where = f"before '{_shown(rest)}'" if rest else "at the end"
    return MeasureError(f"a number is missing {where}; write it like {kind.example}")


def _stray(rest: str) -> MeasureError:
    """What to say of a text that goes on where a measure, or its number, has ended."""
    if re.match(_RANGE, rest):
        return MeasureError(
            "give one measure, not a range (to take a bowl off, put a space on each side of the "
            "minus)"
        )
    if re.match(r" ?[.,]?[0-9]", rest):
        return MeasureError(
            "two numbers side by side; write 1250 without a space, or a fraction such as 4 1/2"
        )
    return MeasureError(f"'{_shown(rest.strip())}' cannot be read; write only the measure")
