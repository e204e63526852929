"""A crop as a notebook names it: shortened, misspelt, with its cut, pack and recipe beside it."""

import re

from jarcast.domain.crop_text import near_name, vocabulary
from jarcast.domain.dishes import made_of
from jarcast.domain.names import cut_in, cut_key, plain_words, produce_key
from jarcast.errors import BatchError
from jarcast.notebook.crop_name import known_in

# Short forms and dishes that are one vegetable: common practice, no source.
_SHORT = {
    "grn": "green", "zuke": "zucchini", "zukes": "zucchini", "zuc": "zucchini", "pep": "pepper",
    "peps": "peppers", "caulif": "cauliflower", "cauli": "cauliflower", "stix": "sticks",
    "cuke": "cucumber", "cukes": "cucumber", "dilly beans": "green beans", "asp": "asparagus",
    "carrots": "carrot", "jalapenos": "jalapeno", "toms": "tomatoes",
}  # fmt: skip
# Words beside a crop; alone they stand for cucumbers. Common practice, no source.
_AROUND = re.compile(
    r"\b(?:kosher|dill(?:y|s|ed)?|pickles?|pickled|pickling|fresh|garden|sweet and sour)\b", re.I
)
_RECIPES = re.compile(r"\b(?:b ?& ?b|bread[ -](?:and|&|n)[ -]butter)s?\b", re.I)
_PACK = re.compile(r"\b(hot|raw|cold)[ -]?pack(?:ed)?\b", re.I)


_DITTO = re.compile(r"[\"\u3003\u201d]|''|ditto|do\.?", re.I)
_MARK = r"(?:[\"\u3003\u201d]|''|(?:ditto|do|same(?: (?:again|thing|as (?:above|before)))?)\b)\.?"
_AGAIN = re.compile(
    rf"\s*(?P<mark>{_MARK}(?:\s+{_MARK})*)\s*(?:[,;:\u2013\u2014-]+\s*|$"
    r"|(?=[\d\u00bc-\u00be]|(?:half|an?)\b))",
    re.I,
)


def is_ditto(text: str) -> bool:
    """Whether a cell is a mark for what stands above it."""
    return bool(_DITTO.fullmatch(text))


def again(text: str) -> tuple[str, str]:
    """The mark for the crop above that a line begins with, '' for none, and the rest of it."""
    found = _AGAIN.match(text)
    return (found["mark"].strip(), text[found.end() :]) if found else ("", text)


def read_said(text: str, cut: str = "") -> tuple[dict[str, str], str]:
    """The cells that a crop's name fills, and what is doubtful in it ('' for nothing)."""
    cells = {"produce": text.strip()}
    if _RECIPES.search(text):
        cells["recipe"] = "bread and butter"
        text = _RECIPES.sub(" ", text)
    if pack := _PACK.search(text):
        cells["pack"] = "hot" if pack[1].casefold() == "hot" else "raw"
        text = _PACK.sub(" ", text)
    parts = [_part(part) for part in re.split(r"[+&]", text)]
    produce = " + ".join(name for name, _ in parts if name)
    found = cut or next((shape for _, shape in parts if shape), "")
    if found:
        cells["cut"] = cut_key(found) or found
    if not produce:
        return cells, f"what is '{cells['produce']}' of? Nobody has published it"
    cells["produce"] = produce_key(produce)
    known = vocabulary()
    if all(part in known for part in cells["produce"].split(" + ")):
        return cells, ""
    if near := _nearly(produce):
        doubt = f"'{produce}' is read as {near}"
        cells["produce"] = near
        return cells, doubt
    return cells, f"nobody has published '{produce}'; its range will be wide"


def _nearly(produce: str) -> str:
    """The crop that is meant by a name with other words about it, or misspelt; '' for none."""
    known = vocabulary()
    keys = []
    for part in produce.split(" + "):
        plain = " ".join(_AROUND.sub(" ", part).split())
        dish = made_of(part)
        if not plain or (dish and dish[0] == "cucumber"):  # garlic dills hold little garlic
            keys.append("cucumber")
            continue
        phrase = produce_key(known_in(plain.split())[0])
        keys.append(phrase if phrase in known else plain)
    found = " + ".join(keys)
    if produce_key(found) != produce_key(produce) and all(key in known for key in keys):
        return produce_key(found)
    try:
        return near_name(found)
    except BatchError:
        return ""


def _part(text: str) -> tuple[str, str]:
    """Produce and cut of one part."""
    plain = " ".join(plain_words(text))
    for short, meant in _SHORT.items():
        plain = re.sub(rf"\b{short}\b", meant, plain)
    words = plain.split()
    shape = next(filter(None, map(cut_in, words)), "")
    return " ".join(word for word in words if not cut_in(word)), shape
