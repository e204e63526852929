"""Brine by pots, in words and for JSON: the first load's, and the next while that is filled."""

from collections.abc import Sequence
from typing import Any

from jarcast.forecast.answer import Forecast
from jarcast.forecast.pots import LIKELY, READ_AFTER, USUAL_LOAD, Pot
from jarcast.measures import Units, format_made, format_span, format_volume
from jarcast.views.ranges import volume_range
from jarcast.views.words import between, exactly, odds, times_in

_CUPS = (" cup", " cups")  # what a volume ends with that is shown in cups
EACH_POT = (
    "Each pot is {whose} whole formula by one factor, boiled, covered and poured as hot as it "
    "says, never stretched; load full jars, and hold none filled waiting for brine."
)


def whose_brine(forecast: Forecast) -> str:
    """Whose brine it is that is made: a card with a source is 'the recipe's'."""
    known = forecast.recipe is not None and forecast.recipe.safety is not None
    return "the recipe's" if known else "your recipe's"


def first_pot(forecast: Forecast, pots: Sequence[Pot], units: Units, short_chance: float) -> str:
    """What to heat for the first load, of two pots."""
    if forecast.limited_by_recipe(short_chance):
        why = "its share of the recipe's own amount for this much produce"
    else:
        why = f"{odds(short_chance)} of running short"
    amount = format_made(pots[0].ml, units)
    return f"Heat {amount} for {first_jars(pots[0].jars)}: {why}."


def first_jars(jars: float) -> str:
    """The jars of a first load, in words."""
    return "the first jar" if jars == 1.0 else f"the first {exactly(jars)} jars"


def read_when(forecast: Forecast) -> str:
    """When bowl and pot are to be read of a batch being packed."""
    packed = 0.0 if forecast.so_far is None else forecast.so_far.jars
    return f"{READ_AFTER} jars in" if packed < READ_AFTER else "now"


def next_pot(
    forecast: Forecast, pots: Sequence[Pot], units: Units, level: float | None = None
) -> str:
    """When to heat the second of two pots and what it may be, and what both take.

    With a ``level`` also the range of all the brine used.
    """
    if level is None:
        used, in_cups = f"about {format_volume(forecast.brine_ml.median, units)}", False
    else:
        used = used_words(forecast, units, level)
        in_cups = used.endswith(_CUPS)
    there = 0.0 if forecast.brine_there_ml is None else forecast.brine_there_ml.median
    whole = format_made(there + pots[0].ml + pots[1].ml, units, in_cups=in_cups)
    return (
        f"While that load is filled or processed, heat a second pot: {_likely(pots[1], units)} "
        f"(weigh again 3 jars in). In all you'll use {used}; have enough for {whole}."
    )


def each_pot(forecast: Forecast) -> str:
    """What holds for every pot."""
    return EACH_POT.format(whose=whose_brine(forecast))


def used_words(forecast: Forecast, units: Units, level: float) -> str:
    """The brine used, with what stays in the pot: its middle and its range."""
    middle, low, high = volume_range(forecast.brine_ml, units, level)
    return f"about {middle}{between(low, high, level)}"


def _likely(pot: Pot, units: Units) -> str:
    low, high = format_span(pot.low_ml, pot.high_ml, units)
    often = times_in(LIKELY)
    if pot.low_ml <= 0.0:
        return f"none, or up to {format_made(pot.high_ml, units)}, {often}"
    if high.startswith(f"{low} "):
        return f"about {high}"
    return f"{low} to {high}, {often}"


def pots_of(
    forecast: Forecast, units: Units, short_chance: float, load: float = USUAL_LOAD
) -> tuple[Pot, ...]:
    """The pots of a batch where there are several; () where one number says it."""
    pots = forecast.pots(load, short_chance, units)
    return pots if len(pots) > 1 else ()


def pots_document(
    forecast: Forecast, units: Units, short_chance: float, load: float
) -> list[dict[str, Any]]:
    """The pots for JSON; about so many jars each, volumes in ml."""
    pots = forecast.pots(load, short_chance, units)
    return [
        {"jars": pot.jars, "ml": pot.ml, "low_ml": pot.low_ml, "high_ml": pot.high_ml}
        for pot in pots
    ]
