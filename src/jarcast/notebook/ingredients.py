"""What goes into a brine beside produce: its words in front of a measure, or behind it.

The words are those of picklers: common practice, no source.
"""

import re


def in_any_case(text: str) -> re.Pattern[str]:
    """A pattern for words, with capitals or without."""
    return re.compile(text, re.IGNORECASE)


BRINE = r"(?:brine|liquid|syrup|pickling (?:solution|juice)|pickle juice)"
_OF_LIQUID = (
    r"(?:white|apple|cider|distilled|rice|malt|red|wine|hot|boiling|cold|warm|cool|filtered|tap|soft"
    r"|plain|clear|lemon|lime|pickling|\d{1,2} ?%|percent|\d0/\d0)"
)
VINEGAR = r"(?:vin(?:[aei]?g[ae]r)?|vngr|acv)"
_LIQUIDS = rf"(?:{VINEGAR}|(?:water|wtr)(?![\s-]*(?:bath|canner|process\w*))|h2o|juice|wine|cider)"
_LIQUID_BEHIND = in_any_case(
    rf"^\W*(?:each )?(?:of )?(?:the )?(?:{_OF_LIQUID}\W+){{0,4}}{_LIQUIDS}\b"
)
_LIQUID_BEFORE = in_any_case(
    rf"\b(?<!pickling )(?<!pickle ){_LIQUIDS}\.?(?: about| abt| approx\.?| was)?[\s=:-]*$"
)

_OF_SPICE = (
    r"(?:white|brown|cane|granulated|whole|black|red|yellow|ground|dried|dry|pickling|crushed|mixed"
    r"|mustard|dill|celery|coriander|fennel|caraway|cumin|hot)"
)
_SPICES = (
    r"(?:sugar(?! snaps?)|honey|molasses|seeds?|spices?|pepper ?corns?|turmeric|tumeric|allspice"
    r"|alum|calcium chloride|mustard powder|dry mustard|flakes|bay lea(?:f|ves)|grape lea(?:f|ves)"
    r"|citric acid|paprika|pickling lime|dill ?weed)"
)
_SPICE_BEHIND = in_any_case(rf"^\W*(?:of )?(?:the )?(?:{_OF_SPICE}\W+){{0,3}}{_SPICES}\b")
_SPICE_BEFORE = in_any_case(rf"\b{_SPICES}[\s=:-]*$")


def liquid(front: str, back: str) -> bool:
    """Whether words around a measure make it vinegar or water: 1 qt 'cider vinegar'."""
    return bool(_LIQUID_BEHIND.search(back) or _LIQUID_BEFORE.search(front))


def spice_behind(back: str) -> str | None:
    """What follows the spice that is measured: '' after '2 tbsp mustard seed'; None for none."""
    found = _SPICE_BEHIND.search(back)
    return back[found.end() :] if found else None


def spice_before(front: str) -> bool:
    """Whether a spice stands in front of its measure: 'sugar' 2 cups."""
    return bool(_SPICE_BEFORE.search(front))
