"""Measures in a line that are not the batch's: of the brine's parts, of gifts, of a recipe.

The words are those of picklers: common practice, no source.
"""

from jarcast.notebook.crop_name import produce_in
from jarcast.notebook.ingredients import in_any_case, liquid, spice_before, spice_behind
from jarcast.notebook.pieces import BARE, HELD, JARS, VOLUME, WEIGHT
from jarcast.notebook.roles import Told

_GONE = in_any_case(
    r"\b(?:gave|give[ns]?|giving|gifted|sold|ate|eat(?:en)?|tast(?:e[ds]?|ing)|sampled?|opened"
    r"|broke|lost|dropped|spil(?:led|t)|fail(?:ed|s)?|spoil(?:ed|t)|threw|thrown"
    r"|toss(?:ed)?(?! (?:with|in)\b)|dump(?:ed)?|discard(?:ed)?|compost(?:ed)?|traded?|swapped|lent"
    r"|loaned|borrowed|took|taken|donated)\b"
)
# What befalls jars, and may be said of produce: 'broken beans', 'washed okra'.
_GONE_JARS = in_any_case(
    r"\b(?:fridge|refrigerat\w+|icebox|freezer|froze|frozen|broken|cracked|burst|moldy?|unsealed"
    r"|reprocess(?:ed)?|washed|sterili[sz]ed|scalded|lids|(?:set|laid|got) out)\b"
)
_OF_RECIPE = in_any_case(r"\b(?:makes?|yields?|gives|serves|fills)\b")
_JARS_GONE = in_any_case(r"\b(?:gave|given|giv\w+|ate|sold|gift\w*|traded|opened|broke)\b")
_NOT_NOW = in_any_case(
    r"\b(?:recipes?|next (?:time|year|batch|week)|last (?:year|time|week|month|batch|summer|fall)"
    r"|previous(?:ly)?|yesterday|usual(?:ly)?|normal(?:ly)?|should|supposed|plan(?:s|ned|ning)?"
    r"|want(?:ed)?|wish(?:ed)?|hop(?:ed?|ing)|expect(?:ed|ing)?|estimated?|goal|aim(?:ed|ing)?"
    r"|need(?:s|ed)?|instead|than|if|maybe|perhaps|would|could|might|calls? for|room for|enough for"
    r"|holds?|capacity|per|each|apiece|every|at a time)\b|/ ?(?:jar|pint|pt|quart|qt|load|batch)\b"
    r"|\b(?:loads?|batch(?:es)?|canners?|runs?|kettles?) (?:of|x|@|at)\b"
    r"|\b(?:first|second|third|last|1st|2nd|3rd|another|a|canner) (?:load|run)\b"
)
_BESIDE = in_any_case(
    r"\b(?:or|no|not|minus|less|vs\.?|versus|without|fewer|actually|sorry|oops|out of"
    r"|short(?: of| by)?)\W*$"
)
_OR_BEHIND = in_any_case(r"^\W*(?:or|vs\.?|versus|short)\b")
_ADDED = in_any_case(r"\b(?:add(?:ed|ing|s)?|mixed in|stirred in|threw in)\b")
_IN_BRINE = in_any_case(r"\b(?:in|into|to|per) (?:the |my )?(?:brine|syrup|liquid)\b")
_VESSEL = in_any_case(
    r"^[\s-]*(?:(?!in\b|into\b|to\b|from\b|of\b|left\b)\w+ )?"
    r"(?:pots?|stock ?pots?|kettles?|canners?|crocks?|bowls?|jugs?|pans?|tubs?|cookers?)\b"
)
_TIMES = in_any_case(r"\b(?:twice|thrice|times|double[ds]?|tripled?)\b")
_NOT_ALL = in_any_case(r"\b(?:not|never|but|except|fail(?:ed|s)?|none|un\w+)\b|n['\u2019]?t\b")

_CROP = in_any_case(r"\b(?:pickles?|pickled|dills?)\b")
_CURING = in_any_case(
    r"\b(?:salted|salting|cur(?:e|ed|ing)|soak\w*|stood|stand|drain\w*|rins\w*|layer\w*|sprinkl\w*"
    r"|hours?|hrs?|h|days?|overnight)\b"
)
_TO_BRINE = in_any_case(
    r"\b(?:brine|vinegar|water|each|every|per)\b"
    r"|(?:\b(?:in|to|a|the)|/) ?(?:jar|pint|pt|quart|qt|gal(?:lon)?|lit(?:er|re)|l)\b"
)

_WASTE = r"(?:waste|peelings?|peels|trimmings|scraps|culls)"
_CUT_OFF = r"(?:peel|trim|par|cut|cor|shell|clean|skin|husk|hull|t(?:oo|a)k)\w*\s+(?:off|away)"
# Not '8 lb cut off the cob', nor 'tops cut off 8 lb': these are what is kept.
_OFF_BEHIND = in_any_case(
    rf"^\W*(?:was |were )?{_CUT_OFF}\b(?! (?:the )?(?:cobs?|stems?|stalks?|heads?|vines?)\b)"
    rf"|^\W*(?:of )?{_WASTE}\b(?! (?:on|off|removed|left)\b)"
)
_OFF_BEFORE = in_any_case(
    r"(?<!ends )(?<!tops )(?<!stems )(?<!tips )(?<!roots )(?<!leaves )(?<!skins )(?<!blossoms )"
    rf"\b{_CUT_OFF}\W*$|\b{_WASTE}\W*$"
)
_LESS = in_any_case(r"\b(?:minus|less|tare|bowl|wast\w+|loss|bad ones|rotten)\b")
_KEPT = in_any_case(r"\b(?:left|leftover|remain\w*|saved?|kept|keep|spare)\b|\bover\W*$")


def is_spice(told: Told) -> bool:
    """Whether a measure is of sugar or a spice: '2 tbsp mustard seed', never of the batch."""
    if BARE in told.measure.kinds:
        return False
    if (rest := spice_behind(told.back)) is not None:
        return not (_CROP.search(rest) or produce_in(rest))
    return spice_before(told.front)


def is_liquid(told: Told) -> bool:
    """Whether a measure is of vinegar or water: '1 qt vinegar', 'water 2 cups'."""
    if not told.measure.kinds & {VOLUME, WEIGHT, JARS}:
        return False
    return liquid(told.front, told.back)


def is_taken_off(told: Told) -> bool:
    """Whether a weight is what was taken off: 'peeled off 2 lb', '2 lb peelings'."""
    if WEIGHT not in told.measure.kinds:
        return False
    return bool(_OFF_BEHIND.search(told.back) or _OFF_BEFORE.search(told.front))


def salts_the_brine(clause: str) -> bool:
    """Whether the salt of a clause goes into brine or jars, and cures nothing."""
    return bool(_TO_BRINE.search(clause)) and not _CURING.search(clause)


def salts_produce(text: str) -> bool:
    """Whether a text tells that produce lay in salt."""
    return bool(_CURING.search(text))


def is_aside(told: Told, column: str) -> bool:
    """Whether the words say that a measure is not, or not surely, what ``column`` holds.

    ``column`` is what they make of it otherwise, '' for nothing.
    """
    words = told.words
    if column == "sealed":
        return bool(_NOT_ALL.search(words) or _GONE.search(words))
    if column in ("not_jarred", "cost", "headspace_in", "cure_hours"):
        return False
    if _NOT_NOW.search(words) or _BESIDE.search(told.front) or _OR_BEHIND.search(told.back):
        return True
    if _GONE.search(words) or _VESSEL.search(told.back):
        return True
    if column.startswith("brine") and (_IN_BRINE.search(words) or _TIMES.search(words)):
        return True
    if column in ("", "jars") and _ADDED.search(words):
        return True
    if told.measure.kinds & {WEIGHT, HELD}:
        return bool(_LESS.search(words) or (not column and _KEPT.search(words)))
    return JARS in told.measure.kinds and bool(_GONE_JARS.search(words))


def of_recipe(told: Told, text: str) -> bool:
    """Whether a count is what a recipe makes that the line tells of: '(makes 7 pints)'."""
    return bool("recipe" in text.casefold() and _OF_RECIPE.search(told.words))


def jars_gone(text: str) -> bool:
    """Whether a line tells of jars that are given away, eaten or broken."""
    return bool(_JARS_GONE.search(text))
