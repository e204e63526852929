"""The vocabulary: produce, cuts, packs and jars, and the geometry of the jars.

Names are forgiven their case, plural, spaces and common synonyms; what comes out is one key for
each kind. A name that is not in the vocabulary is its own kind.
"""

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache
from types import MappingProxyType

from msgspec import Struct

from jarcast.errors import BatchError
from jarcast.measures import FL_OZ_ML, INCH_CM

ML_PER_FL_OZ = float(FL_OZ_ML)
CM_PER_INCH = float(INCH_CM)
DEFAULT_HEADSPACE_IN = 0.5  # stated by nearly all published pickle recipes for raw and hot packs
LEAST_FILL = 0.05  # of the capacity: however deep the headspace, no jar holds nothing
_REMEMBERED = 256  # names whose keys are kept: a ledger asks for the same few again and again

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
        jars[f"{key}-wide"] = Jar(f"{key}-wide", capacity, WIDE_BORE_MM)
    return jars


SHELF: Mapping[str, Jar] = MappingProxyType(_shelf())

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

_JAR_UNITS = (
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
    shown = text if len(text) <= 60 else text[:57] + "..."
    raise BatchError(
        f"there is no jar '{shown}'; known jars are {', '.join(shelf)}. A jar of your own is "
        "measured first: 'jarcast jars add'"
    )


@lru_cache(_REMEMBERED)
def folded_jar(text: str) -> str:
    """The key that the name of a jar comes to, whether there is such a jar or not."""
    words = re.sub(r"(?<=\d)(?=[¼½¾])", " ", text)  # '1½' is 1 1/2, not 11/2
    words = unicodedata.normalize("NFKC", words).casefold()
    words = words.replace("\u2044", "/").replace("\u2019", "'")
    words = re.sub(r"(?<=\d),(?=\d)", ".", words).replace("&", " and ")
    words = re.sub(r"[\s_\-(),;:]|\.(?!\d)", " ", words)
    words, wide = re.subn(r"\b(wide ?mouth(ed)?|wide|wm)\b", " ", words)
    words = re.sub(r"\b(regular ?(mouth(ed)?)?|mason|canning|jars?|fl(uid)?|glass)\b", " ", words)
    words = re.sub(r"(?<=\d)(?=[a-z])", " ", words)
    for spellings, unit in _JAR_UNITS:
        words = re.sub(rf"\b({spellings})\b", unit, words)
    words = " ".join(words.split())
    key = _JAR_NAMES.get(words, words.replace(" ", "-"))
    return f"{key}-wide" if wide else key


_IRREGULAR = {
    "asparagus": "asparagus", "brussels": "brussels", "molasses": "molasses", "citrus": "citrus",
    "leaves": "leaf", "halves": "half", "radishes": "radish", "cress": "cress",
    "swiss": "swiss", "peas": "pea", "kohlrabis": "kohlrabi",
    "chilies": "chili", "chilis": "chili", "chillies": "chilli", "chillis": "chilli",
}  # fmt: skip


def _singular(word: str) -> str:
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if re.search(r"(oes|shes|ches|xes)$", word):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


def plain_words(text: str) -> list[str]:
    """Words in lower case, without the signs between them; a pictured carrot is a word too."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    if plain.isascii():
        return re.sub(r"[^\w'./%]+", " ", plain).replace("_", " ").split()
    kept = (sign if sign in "'./%" or _in_word(sign) else " " for sign in plain)
    return "".join(kept).split()


def _in_word(sign: str) -> bool:
    """Letters, digits, the marks that many scripts write vowels with, and pictures."""
    return unicodedata.category(sign)[0] in "LNM" or unicodedata.category(sign) == "So"


_PRODUCE_NAMES = {
    "pickling cucumber": "cucumber", "cuke": "cucumber", "gherkin": "gherkin",
    # What picklers call them; common practice, no source.
    "cuc": "cucumber", "pickler": "cucumber", "kirby": "cucumber", "kirby cucumber": "cucumber",
    "cornichon": "gherkin",
    "white cabbage": "cabbage", "green cabbage": "cabbage", "head cabbage": "cabbage",
    "beetroot": "beet", "red beet": "beet",
    "golden beet": "beet", "yellow beet": "beet",
    "bean": "green bean", "snap bean": "green bean", "string bean": "green bean",
    "pole bean": "green bean", "bush bean": "green bean",
    "french bean": "green bean", "runner bean": "runner bean", "wax bean": "wax bean",
    "yellow bean": "wax bean", "dilly bean": "green bean",
    "courgette": "zucchini", "zucchinis": "zucchini",
    "yellow squash": "summer squash", "yellow summer squash": "summer squash",
    "crookneck squash": "summer squash",
    "sweet pepper": "bell pepper", "green pepper": "bell pepper", "red pepper": "bell pepper",
    "red bell pepper": "bell pepper", "green bell pepper": "bell pepper",
    "yellow bell pepper": "bell pepper", "orange bell pepper": "bell pepper",
    "capsicum": "bell pepper", "chili": "hot pepper", "chilli": "hot pepper",
    "chile": "hot pepper", "chilli pepper": "hot pepper", "chili pepper": "hot pepper",
    "jalapeno": "jalapeno", "jalapeño": "jalapeno", "jalapeno pepper": "jalapeno",
    "jalapeño pepper": "jalapeno", "banana pepper": "banana pepper",
    "daikon radish": "daikon", "oriental radish": "daikon", "mooli": "daikon",
    "brussel sprout": "brussels sprout", "sprout": "brussels sprout",
    "sweet corn": "corn", "corn kernel": "corn", "maize": "corn",
    "watermelon": "watermelon rind", "button mushroom": "mushroom", "white mushroom": "mushroom",
    "fennel bulb": "fennel", "garlic clove": "garlic", "swede": "rutabaga",
    "pearl onion": "pearl onion", "red onion": "onion", "yellow onion": "onion",
    "white onion": "onion", "unripe tomato": "green tomato", "celery stalk": "celery",
    "green asparagus": "asparagus", "aubergine": "eggplant",
    "cucumber gherkin": "gherkin", "gherkin cucumber": "gherkin",
    "napa": "chinese cabbage", "napa cabbage": "chinese cabbage",
    "yellow banana pepper": "banana pepper", "hungarian wax pepper": "hungarian pepper",
    "serrano pepper": "serrano", "celery root": "celeriac", "yam bean": "jicama",
    "scallion": "spring onion", "green onion": "spring onion", "pickling onion": "pearl onion",
    "green pea": "pea", "garden pea": "pea", "shelled pea": "pea", "butter bean": "lima bean",
    "butternut squash": "winter squash", "pumpkin or winter squash": "winter squash",
    "zucchini or yellow summer squash": "zucchini", "zucchini squash": "zucchini",
    "cremini mushroom": "mushroom", "ginger root": "ginger",
}  # fmt: skip

PRODUCE_WORDS = frozenset({*_PRODUCE_NAMES, *_PRODUCE_NAMES.values()})  # names and synonyms

_JOINING = ("and", "with")


@lru_cache(_REMEMBERED)
def produce_key(text: str) -> str:
    """Key of a produce; a mixture ('cucumber + onion') gives its parts in alphabetical order."""
    keys = set()
    for part in re.split(r"[+&]", text):
        words = plain_words(part)
        while words:
            joined = next((i for i, word in enumerate(words) if word in _JOINING), len(words))
            own, words = words[:joined], words[joined + 1 :]
            if own:
                name = " ".join([*own[:-1], _singular(own[-1])])
                keys.add(_PRODUCE_NAMES.get(name, name))
    return " + ".join(sorted(keys))


_CUT_NAMES = {
    "slices": "slice sliced slices round rounds coin coins chip chips crosscut disc discs",
    "spears": "spear spears lengthwise",
    "sticks": "stick sticks baton batons matchstick matchsticks julienne julienned",
    "shredded": "shredded shred shreds grated sliver slivers",
    "whole": "whole uncut",
    "florets": "floret florets floweret flowerets",
    "rings": "ring rings",
    "strips": "strip strips ribbon ribbons",
    "chopped": "chopped chop diced dice cubes cubed cube minced",
    "pieces": "piece pieces chunk chunks cut",
    "halves": "half halves halved",
    "quarters": "quarter quarters quartered",
    "wedges": "wedge wedges",
    "kernels": "kernel kernels",
    "cloves": "clove cloves",
}
_CUT_KEYS = {word: key for key, words in _CUT_NAMES.items() for word in words.split()}


def cut_in(word: str) -> str:
    """The cut that a word stands for ('florets'), '' for a word of anything else."""
    return _CUT_KEYS.get(word, "")


@lru_cache(_REMEMBERED)
def cut_key(text: str) -> str:
    """Key of a cut ('Sliced', 'rounds' -> 'slices'); an empty text is 'not written down'."""
    words = plain_words(text)
    found = [word for word in words if word in _CUT_KEYS]
    found.sort(key=lambda word: word == "cut")  # 'cut into sticks' are sticks
    return _CUT_KEYS[found[0]] if found else " ".join(words)


@lru_cache(_REMEMBERED)
def pack_key(text: str) -> str:
    """'raw', 'hot', or '' where it is not written down; another word is its own kind."""
    words = [word for word in plain_words(text) if word not in ("pack", "packed")]
    name = " ".join(words)
    return {"cold": "raw", "fresh": "raw", "boiled": "hot", "cooked": "hot"}.get(name, name)


def is_hot(pack: str) -> bool:
    """Whether a pack, however it is called, goes into the jars cooked."""
    return pack_key(pack) == "hot"


def jar_list(keys: Iterable[str]) -> str:
    """Sorts of jar as the batch table writes them: 'pint-wide + pint'."""
    return " + ".join(keys)


@lru_cache(_REMEMBERED)
def makes_its_own_brine(produce: str, cut: str) -> bool:
    """Whether a produce key makes its own liquid: relishes, chutneys, ferments, salted kraut."""
    own = r"\b(relish|chutney|kraut|sauerkraut|kimchi|salsa)\b"
    return bool(re.search(own, f"{produce} {cut}"))
