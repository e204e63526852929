"""A value far off what was expected, as a question and as JSON."""

from collections.abc import Sequence
from typing import Any

from jarcast.domain.contradictions import Flag
from jarcast.domain.stages import AS_BOUGHT, STAGES
from jarcast.domain.unusual import Unusual
from jarcast.forecast.oddities import PACKED, Oddity
from jarcast.measures import Units, format_weight
from jarcast.views.batches import flag_words
from jarcast.views.ranges import alike, ends_words
from jarcast.views.words import ended, exactly, filled_words, halves, jar_words, titled

WHERE_NOT_JARRED = "Was some of it not jarred? Say how much with --not-jarred '6 lb'."
_WORDS = {
    **{stage.column: stage.label for stage in STAGES},
    "produce": "packed",
    "brine_made_ml": "brine made",
    "brine": "brine used",
}


def odd_text(odd: Oddity | Flag | str, units: Units) -> str:
    """What is odd in a sentence: 'That would be the tightest pack you have ever done: ...'."""
    if isinstance(odd, str):
        return ended(titled(odd))
    if isinstance(odd, Unusual):
        return ended(flag_words(odd, units))
    if isinstance(odd, Flag):
        return ended(f"These contradict each other: {flag_words(odd, units)}")
    said = f"{_head(odd)}: {_both(odd, units)}, where {_usual(odd, units)} would be usual."
    asked = WHERE_NOT_JARRED if odd.heavy else ""
    return " ".join(part for part in (said, _slips(odd), asked) if part)


def _head(odd: Oddity) -> str:
    less = odd.value < odd.low
    if odd.beside == PACKED:
        many, before = "fewer" if less else "more", exactly(odd.beside_value)
        return f"That is far {many} jars than the {before} packed before point to"
    if odd.column == "jars":
        kind = ("tight", "tightest") if less else ("loose", "loosest")
        return f"That would be {_ever(odd, *kind, 'pack', 'done')}"
    if odd.column == "brine":
        return f"That is {'little' if less else 'much'} brine for these jars"
    if odd.column == "brine_made_ml":
        return "That is far more brine than this takes"
    kind = ("low", "lowest") if less else ("high", "highest")
    said = _ever(odd, *kind, f"{_WORDS[odd.column]} weight", "had")
    return f"That would be {said} for the weight {_WORDS[odd.beside]}"


def _ever(odd: Oddity, kind: str, most: str, thing: str, verb: str) -> str:
    return f"the {most} {thing} you have ever {verb}" if odd.ever else f"a very {kind} {thing}"


def _both(odd: Oddity, units: Units) -> str:
    """'9 lb 4 oz in 6 pints', '2 lb trimmed of 8 lb as bought'."""
    value = _amount(odd, odd.value, units)
    if odd.beside == PACKED:
        return exactly(odd.value)
    if odd.column == "jars":
        bought = "as bought " if odd.beside == AS_BOUGHT else ""
        return f"{format_weight(odd.beside_value, units)} {bought}in {_jars(odd, odd.value)}"
    if odd.beside == "jars":
        return f"{value} in {_jars(odd, odd.beside_value)}"
    of = f"{format_weight(odd.beside_value, units)} {_WORDS[odd.beside]}"
    return f"{value} {'for' if odd.column == 'brine_made_ml' else 'of'} {of}"


def _usual(odd: Oddity, units: Units) -> str:
    """'8 pints to 11 pints'; of jars that are judged by others before them '8 to 11'."""
    if odd.beside == PACKED:
        return ends_words(halves(odd.low), halves(odd.high))
    return " to ".join(_amount(odd, value, units) for value in (odd.low, odd.high))


def _jars(odd: Oddity, count: float) -> str:
    """The jars filled; of several sorts also how many of the first they come to."""
    counted = f"{exactly(count)} {jar_words(odd.jar, count)}"
    return f"{filled_words(odd.filled)} (as much as {counted})" if odd.filled else counted


def _amount(odd: Oddity, value: float, units: Units) -> str:
    if odd.column == "jars":
        return f"{halves(value)} {jar_words(odd.jar, value)}"
    if odd.column in ("brine", "brine_made_ml"):
        return alike(max(odd.value, odd.high), units)(value)
    return format_weight(value, units)


def _slips(odd: Oddity) -> str:
    """The likeliest slips: 'Perhaps trimmed: kilograms typed as pounds?'."""
    words = {**_WORDS, "jars": "jars"}
    said = [f"{words[column]}: {question}" for column, question in odd.guesses]
    return f"Perhaps {' Or '.join(said)}" if said else ""


def odd_documents(found: Sequence[Oddity | Flag | str], units: Units) -> list[dict[str, Any]]:
    """Odd values for JSON: the columns they stand in, and the sentence."""
    return [
        {"columns": [] if isinstance(o, str) else list(o.columns), "message": odd_text(o, units)}
        for o in found
    ]
