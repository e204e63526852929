"""Names of produce, cuts and packs, forgiven their case, plural, spaces and common synonyms.

What comes out is one key for each kind. A name that is not in the vocabulary is its own kind.
"""

import re
import unicodedata
from functools import lru_cache

_REMEMBERED = 256  # names whose keys are kept: a ledger asks for the same few again and again


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
    "kraut": "sauerkraut", "sugar snap pea": "snap pea", "sugar snap": "snap pea",
    "scape": "garlic scape", "wild leek": "ramp", "fiddlehead fern": "fiddlehead",
}  # fmt: skip

PRODUCE_WORDS = frozenset({*_PRODUCE_NAMES, *_PRODUCE_NAMES.values()})  # names and synonyms

BREAD_AND_BUTTER = "bread and butter pickle"  # one name, and no mixture of two
_BREAD_AND_BUTTER = re.compile(
    r"\s*(?:bread[\s-]*(?:and|&|n)[\s-]*butter|b[\s-]*(?:and|&|n)[\s-]*b)(?:'?s|[\s-]+pickles?)?\s*",
    re.IGNORECASE,
)
_SHARE = re.compile(r"[0-9]*\.?[0-9]+")  # how much of a mixture a part is
_JOINING = ("and", "with")


@lru_cache(_REMEMBERED)
def produce_key(text: str) -> str:
    """Key of a produce; a mixture ('cucumber + onion') gives its parts in alphabetical order.

    A number after a part ('carrot 2 + cauliflower 1') is its weight in the mixture.
    """
    if _BREAD_AND_BUTTER.fullmatch(text):
        return BREAD_AND_BUTTER
    keys = set()
    for part in re.split(r"[+&]", text):
        words = plain_words(part)
        while words:
            joined = next((i for i, word in enumerate(words) if word in _JOINING), len(words))
            own, words = words[:joined], words[joined + 1 :]
            if own:
                told = own.pop() if len(own) > 1 and _SHARE.fullmatch(own[-1]) else ""
                name = " ".join([*own[:-1], _singular(own[-1])])
                keys.add(" ".join(filter(None, (_PRODUCE_NAMES.get(name, name), told))))
    return " + ".join(sorted(keys))


def parts_of(key: str) -> dict[str, float]:
    """Parts of a produce key and their shares of its weight, which add up to 1.

    Equal parts unless they are told: 'carrot 2 + cauliflower 1' is two thirds carrot.
    """
    weights: dict[str, float] = {}
    for part in key.split(" + "):
        name, _, told = part.rpartition(" ")
        name, weight = (name, float(told)) if name and _SHARE.fullmatch(told) else (part, 1.0)
        weights[name] = weights.get(name, 0.0) + weight
    total = sum(weights.values())
    return {name: weight / total for name, weight in weights.items()} if total else {}


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
    """Key of a cut ('Sliced', 'rounds' -> 'slices'); an empty text is 'not recorded'."""
    words = plain_words(text)
    found = [word for word in words if word in _CUT_KEYS]
    found.sort(key=lambda word: word == "cut")  # 'cut into sticks' are sticks
    return _CUT_KEYS[found[0]] if found else " ".join(words)


@lru_cache(_REMEMBERED)
def pack_key(text: str) -> str:
    """'raw', 'hot', or '' where it is not recorded; another word is its own kind."""
    words = [word for word in plain_words(text) if word not in ("pack", "packed")]
    name = " ".join(words)
    return {"cold": "raw", "fresh": "raw", "boiled": "hot", "cooked": "hot"}.get(name, name)


@lru_cache(_REMEMBERED)
def person_key(text: str) -> str:
    """A person's name without regard to case and spaces; '' where nobody is named."""
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


_KRAUT_HOURS = 168.0  # cabbage left under its salt for a week sours; common practice, no source


def put_up_as(produce: str, cure_hours: float | None) -> str:
    """Key of what a produce key becomes: cabbage that lies a week or more in salt is sauerkraut."""
    soured = produce in ("cabbage", "red cabbage") and (cure_hours or 0.0) >= _KRAUT_HOURS
    return "sauerkraut" if soured else produce


@lru_cache(_REMEMBERED)
def makes_its_own_brine(produce: str, cut: str) -> bool:
    """Whether a produce key makes its own liquid: relishes, chutneys, ferments, salted kraut."""
    own = r"\b(relish|chutney|kraut|sauerkraut|kimchi|salsa)\b"
    return bool(re.search(own, f"{produce} {cut}"))
