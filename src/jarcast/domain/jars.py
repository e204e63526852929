"""Jars: the sorts there are, the names people give them, and their geometry."""

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache

from msgspec import Struct

from jarcast.domain.read_only import ReadOnly
from jarcast.errors import BatchError, cut_short, in_short
from jarcast.measures import FL_OZ_ML, INCH_CM

ML_PER_FL_OZ = float(FL_OZ_ML)
CM_PER_INCH = float(INCH_CM)
DEFAULT_HEADSPACE_IN = 0.5  # stated by nearly all published pickle recipes for raw and hot packs
LEAST_FILL = 0.05  # of the capacity: however deep the headspace, a jar holds something
_REMEMBERED = 256  # names whose keys are kept: a ledger asks for the same few again and again

MEASURE_FIRST = "'jarcast kitchen jars add'"  # what a jar of one's own takes
MEASURE_IT = f"To use a jar of your own, measure it first: {MEASURE_FIRST}"
# How a program tells of one: its name, its ml to the brim, the mm across its neck.
_SUCH_A_SHELF = "{**jarcast.SHELF, 'tall': jarcast.Jar('tall', 450.0, 60.0)}"
TELL_SHELF = f"In Python, give the jars that are known: shelf={_SUCH_A_SHELF}"
_WIDE = "-wide"  # at the end of the key of a jar with a wide mouth

# Inner width of the neck, from memory: about 60 mm for the regular mouth and 76 mm for the wide,
# whose lids are called 70 and 86 mm by their outer width (from memory too).
REGULAR_BORE_MM = 60.0
WIDE_BORE_MM = 76.0

# Name -> nominal capacity in ml. Half-pint, pint, pint-and-half and quart are the standard sizes of
# the trade (USDA, Complete Guide to Home Canning, AIB 539, Guide 1, from memory); 12-oz and the
# metric sizes are by their names. No measured capacity to the brim was found in a government
# source, and published pages disagree on where the nominal one ends: it is taken to be the brim.
_CAPACITIES = {
    "half-pint": 8 * ML_PER_FL_OZ,
    "12-oz": 12 * ML_PER_FL_OZ,
    "pint": 16 * ML_PER_FL_OZ,
    "pint-and-half": 24 * ML_PER_FL_OZ,
    "quart": 32 * ML_PER_FL_OZ,
    "250ml": 250.0,
    "500ml": 500.0,
    "1l": 1000.0,
}


def gap_volume_ml(bore_mm: float, headspace_in: float | None = None) -> float:
    """Volume in ml of the headspace in a neck of this inner width, as a cylinder."""
    gap_cm = (DEFAULT_HEADSPACE_IN if headspace_in is None else headspace_in) * CM_PER_INCH
    return math.pi * (bore_mm / 20.0) ** 2 * gap_cm


class Jar(Struct, frozen=True):
    """One sort of jar.

    ``capacity_ml`` is to the brim, ``bore_mm`` the inner width of the neck.
    """

    key: str
    capacity_ml: float
    bore_mm: float

    def fill_volume_ml(self, headspace_in: float | None = None) -> float:
        """Volume in ml up to the headspace, the neck taken as a cylinder."""
        gap_ml = gap_volume_ml(self.bore_mm, headspace_in)
        return max(self.capacity_ml - gap_ml, LEAST_FILL * self.capacity_ml)

    @property
    def wide(self) -> bool:
        """Whether the mouth is the wide one."""
        return self.bore_mm >= WIDE_BORE_MM


def _shelf() -> dict[str, Jar]:
    jars = {}
    for key, capacity in _CAPACITIES.items():
        jars[key] = Jar(key, capacity, REGULAR_BORE_MM)
        jars[key + _WIDE] = Jar(key + _WIDE, capacity, WIDE_BORE_MM)
    return jars


SHELF: Mapping[str, Jar] = ReadOnly(_shelf())

# What one basket of one's own weighs full, as it was typed, by its name and the produce's key.
Baskets = Mapping[str, Mapping[str, str]]


class OwnShelf(dict[str, Jar]):
    """The jars of one kitchen by key; beside them stand its baskets, by which it buys."""

    baskets: Baskets = ReadOnly({})


def baskets_on(shelf: Mapping[str, Jar]) -> Baskets:
    """The baskets beside these jars; none beside those that are built in."""
    return shelf.baskets if isinstance(shelf, OwnShelf) else {}


_JAR_NAMES = {
    "half pint": "half-pint", "1/2 pint": "half-pint", "8 oz": "half-pint", "0.5 pint": "half-pint",
    "12 oz": "12-oz", "3/4 pint": "12-oz",
    "pint": "pint", "16 oz": "pint", "1 pint": "pint",
    "pint and half": "pint-and-half", "pint and a half": "pint-and-half", "24 oz": "pint-and-half",
    "1 1/2 pint": "pint-and-half", "1.5 pint": "pint-and-half",
    "one and a half pint": "pint-and-half",
    "quart": "quart", "32 oz": "quart", "1 quart": "quart",
    "250 ml": "250ml", "1/4 l": "250ml", "0.25 l": "250ml",
    "500 ml": "500ml", "1/2 l": "500ml", "0.5 l": "500ml", "half l": "500ml",
    "half a l": "500ml", "half a pint": "half-pint",
    "1 l": "1l", "l": "1l", "1000 ml": "1l", "1.0 l": "1l",
}  # fmt: skip

# Never the jar of a pint and a half: '7 pints and half' may be seven pints and a half.
_SEVERAL_AND_HALF = re.compile(r"p(?:in)?ts and (?:a )?half")

_JAR_UNITS = (
    ("hps?", "half pint"),
    ("pints|pts?", "pint"),
    ("quarts|qts?", "quart"),
    ("ounces?|ozs", "oz"),
    ("millilit(er|re)s?|mls", "ml"),
    ("lit(er|re)s?", "l"),
)


def jar_key(text: str, shelf: Mapping[str, Jar] = SHELF) -> str:
    """Key of one sort of jar: 'Wide-mouth pints' -> 'pint-wide'.

    Raises BatchError, naming the known jars, when there is no such jar on the shelf.
    """
    if text.strip() in shelf:
        return text.strip()
    key = folded_jar(text)
    if key in shelf:
        return key
    raise BatchError(
        f"there is no jar '{cut_short(text)}'; known jars are {', '.join(shelf)}. {MEASURE_IT}"
    )


def check_shelf(shelf: object) -> None:
    """Refuse what is no shelf: jars by name, one or more. Raises BatchError."""
    if not isinstance(shelf, Mapping) or not shelf:
        raise BatchError(
            f"shelf={in_short(shelf)}: give a dict of jars by name, such as {_SUCH_A_SHELF}"
        )
    for name, jar in shelf.items():
        if not isinstance(name, str) or not isinstance(jar, Jar):
            raise BatchError(
                f"shelf: {in_short(name)} is {in_short(jar)}; give a jar by its name"
                f", such as {_SUCH_A_SHELF}"
            )
        for measure in (jar.capacity_ml, jar.bore_mm):
            if not isinstance(measure, int | float) or not 0.0 < measure < math.inf:
                raise BatchError(f"shelf: {in_short(jar)}: {in_short(measure)} is no such measure")


@lru_cache(_REMEMBERED)
def folded_jar(text: str) -> str:
    """The key that the name of a jar comes to, whether there is such a jar or not."""
    words = re.sub(r"(?<=\d)(?=[¼½¾])", " ", text)  # '1½' is 1 1/2, not 11/2
    words = unicodedata.normalize("NFKC", words).casefold()
    words = words.replace("\u2044", "/").replace("\u2019", "'")
    words = re.sub(r"(?<=\d),(?=\d)", ".", words).replace("&", " and ")
    words = re.sub(r"[\s_\-(),;:]|\.(?!\d)", " ", words)
    words, wide = re.subn(r"\b(wide ?mouth(ed)?|wide|wm)\b", " ", words)
    words = re.sub(r"\b(regular ?(mouth(ed)?)?|mason|canning|fl(uid)?|glass)\b", " ", words)
    words = re.sub(r"\bjars?( of)?\b", " ", words)
    words = re.sub(r"(?<=\d)(?=[a-z])", " ", words)
    if _SEVERAL_AND_HALF.fullmatch(" ".join(words.split())):
        return "-".join(words.split())
    for spellings, unit in _JAR_UNITS:
        words = re.sub(rf"\b({spellings})\b", unit, words)
    words = " ".join(words.split())
    key = _JAR_NAMES.get(words, words.replace(" ", "-"))
    return key + _WIDE if wide else key


def size_of(key: str) -> str:
    """The size of a sort of jar, whatever its mouth: 'pint' of 'pint-wide'."""
    return key.removesuffix(_WIDE)


def so_many(number: str, key: str) -> str:
    """A count of one sort: '5 pint-wide', but '13 x 500ml', which no one reads as 13,500 ml."""
    return f"{number} x {key}" if key[:1].isdigit() else f"{number} {key}"


def jar_list(parts: Iterable[str]) -> str:
    """Sorts of jar, or their counts, as the batch table writes them: 'pint-wide + pint'."""
    return " + ".join(parts)
