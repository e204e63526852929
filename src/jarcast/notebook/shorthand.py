"""Ways to write a line that its grammar does not know, rewritten as ones that it does.

One after the other, in this order; each with what it is for. The words are those of picklers:
common practice, no source.
"""

import re

from jarcast.notebook.ingredients import in_any_case

_SIGN = "\u00bc-\u00be\u2150-\u215e"
_NUMBER = rf"(?:\d+ \d/\d|\d+(?:[.,]\d+)?\s?[{_SIGN}]?|\d/\d|[{_SIGN}])"
_BEGINS = rf"(?=[\d{_SIGN}])"
_JAR = r"(?:half[ -]|wide )?(?:pints?|pts?|quarts?|qts?)"
_UNIT = rf"(?:{_JAR}|lbs?|pounds?|oz|kgs?|kilos?|cups?|c|gals?|gallons?|l|lit(?:er|re)s?)"
_NEXT_POT = r"(?:second|third|fourth|another|extra|next|new) pot\b"
_ORDINALS = {"1": "first", "2": "second", "3": "third", "4": "fourth"}


def _ordinal(found: re.Match[str]) -> str:
    return f"{_ORDINALS[found['number']]} pot "


_REWRITTEN = tuple(
    (in_any_case(pattern), by)
    for pattern, by in (
        # '7#', "7 #'s"
        (r"(?<=\d)\s?#(?:'?s)?", " lb "),
        # '6lb-2oz'
        (r"(?<=\d)(\s?(?:lbs?|pounds?))\.?-(?=\d{1,2}\s?(?:oz|ounces?)\b)", r"\1 "),
        # '6 & 1/2 lb'; '9 & 1/2 pints' are nine and a half as well
        (rf"(?<![\d/.,])(\d+) (?:&|and) (?=(?:\d/\d|[{_SIGN}])\s?{_UNIT}\b)", r"\1 "),
        (r"\bhalf an? ", "1/2 "),
        (r"\bplus\b(?=\s+\d)", "+"),
        # 'brine made/left 12c/3c'
        (r"\bmade ?/ ?left:? *([^/,;]+?) ?/ ?(?=\S)", r"made \1, brine left "),
        (r"\bw/ ?(?=\S)", "with "),
        # '4lb/8pts'
        (r"(?<=[^\W\d_])\s?/\s?(?=\d)", ", "),
        # '7pt1hp'
        (
            r"(?<=\d)((?:lbs?|kgs?|ozs?|qts?|pts?|gals?|hps?|cups?|c|g|ml|l)\.?)(?=\d+[a-z])",
            r"\1 ",
        ),
        # '7 + 2 pts'
        (
            rf"(?<![\d/.,])(?<!\d )({_NUMBER})(?<! ) ?\+ ?(?={_NUMBER}\s?({_UNIT})\b)",
            r"\1 \2 + ",
        ),
        # '8 more pts'
        (rf"(\d) (more|full|good|extra) ({_JAR}\b)", r"\1 \3 \2"),
        # 'filled 9 of the 11 pints'
        (rf"\b(filled {_NUMBER}) (?:out )?of (?:the |my |all )?\d+ (?={_JAR}\b)", r"\1 "),
        # '7 jars of a litre'
        (r"(?<=\d) jars of (?:an?|one|1) (lit(?:er|re)|quart|pint)\b", r" \1 jars"),
        # '1:1', '2:30 pm': no colon after a label
        (r"(?<=\d):(?=\d)", "\u2236"),
        (r"\bsalt(?:ed|y)?[ -](?=brine\b)", " "),
        # '8 of 9 sealed', 'sealed 8/9'
        (
            r"\b(\d{1,3}) ?(?:/|of|out of) ?(?:the |all )?(\d{1,3}) "
            r"(?=(?:have |had )?(?:sealed|pinged|popped)\b)",
            r"\1 ",
        ),
        (
            r"\b(sealed|pinged|popped)(:? )(\d{1,3}) ?(?:/|of|out of) ?(?:the |all )?\d{1,3}\b",
            r"\1\2\3",
        ),
        # The second of two pots: '2nd pot 1 qt', 'pot 2: 1 qt', '8 c brine + a second pot of 6 c'
        (r"\b(?P<number>[1-4])(?:st|nd|rd|th) pot\b", _ordinal),
        (r"\bpot (?:no\.? ?)?(?P<number>[1-4])(?=\s*[:=]|\s+(?:was|had|of)\b)\W*", _ordinal),
        (rf"\s*(?:\+|&|\band\b|\bthen\b)\s*(?:an? |the |one )?(?={_NEXT_POT})", ", "),
        # 'used all but 1/2 c'
        (
            r"\bused (?:it )?all (?:of )?(?:it |the brine )?(?:but|except(?: for)?) (?:about )?"
            + _BEGINS,
            "brine left ",
        ),
        # 'brine just over 2 qts', 'over 9 pts': more than that, and not what is left over
        (
            r"(?:\b(?:just|a (?:little|bit|tad)|slightly|well) over"
            r"|(?:(?<=^)|(?<=[,;:(] )|(?<=brine )|(?<=made )|(?<=got )|(?<=of ))over) " + _BEGINS,
            "about ",
        ),
    )
)


def rewritten(text: str) -> str:
    """A line in the words and signs that its grammar knows."""
    for pattern, by in _REWRITTEN:
        text = pattern.sub(by, text)
    return text
