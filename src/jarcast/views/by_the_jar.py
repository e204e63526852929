"""Brine and produce by the jar, as text and as JSON."""

from typing import Any

from msgspec.structs import replace

from jarcast.domain.packing import SoFar
from jarcast.domain.stages import CURED, STAGE_OF
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.by_the_jar import ByTheJar
from jarcast.measures import Units, format_made, format_volume, format_weight
from jarcast.recipes import CLOSING, Place, Situation, cautions_for, cautions_now
from jarcast.views.by_recipe import (
    block_of,
    caution_document,
    caution_line,
    cook_line_of,
    more_of,
    situation_of,
)
from jarcast.views.forecast import (
    CAUTION,
    no_card_cautions,
    outcome_document,
    refrigerator_lines,
    rests_on_text,
    usual_cut_lines,
    without_card,
)
from jarcast.views.formula import (
    formula_lines,
    portion_document,
    salt_document,
    salt_lines,
    told_portions,
)
from jarcast.views.pots import whose_brine
from jarcast.views.ranges import volume_range
from jarcast.views.words import (
    between,
    counted,
    crop_words,
    exactly,
    jar_words,
    odds,
    titled,
    wrapped,
)

NEVER_LESS_OF_IT = (
    "Never make less brine for the produce than the recipe does: weigh it, and where that gives "
    "more, make that much."
)
NOT_WEIGHED = (
    "Nothing was weighed, so this is wide. Once it is weighed, ask again with the weight; then a "
    "recipe's own proportion of brine counts too."
)


def by_the_jar_text(
    found: ByTheJar,
    units: Units,
    level: float = 0.8,
    short_chance: float = 0.05,
    *,
    usual_cut: str = "",
    place: Place,
) -> str:
    """The brine to make first, then produce and brine with their ranges, and what it rests on.

    By a card with the line of it that a cook needs, and the cautions that apply now.
    """
    middle, request = found.middle, found.middle.request
    crop = crop_words(request.produce, request.cut, request.pack)
    by = f", by the recipe {middle.recipe.name}" if middle.recipe is not None else ""
    lines = [
        f"{titled(crop)}: for {_jars(found)}{by}",
        *usual_cut_lines(usual_cut),
        "",
        *_brine(found, units, short_chance),
        *(_weight(stage, grams, units, level) for stage, grams in _sure(found)),
        *_brine_used(found, units, level),
        "",
        NOT_WEIGHED,
        rests_on_text(middle),
        "",
        *(_no_card(middle) if middle.recipe is None else _card(middle, place, units)),
        CAUTION,
    ]
    told = [line if line.startswith("  ") else wrapped(line) for line in lines]
    if middle.recipe is not None:
        at = _at(found, place, short_chance, units=units)
        told[-1:-1] = [caution_line(one.text) for one in cautions_now(at)]
    return "\n".join(told)


def _jars(found: ByTheJar) -> str:
    turns = found.middle.request.turns
    word = jar_words(turns[0].jar.key, found.jars) if len(turns) == 1 else "jars"
    return f"{exactly(found.jars)} {word}"


def _brine(found: ByTheJar, units: Units, short_chance: float) -> list[str]:
    if not found.middle.has_brine:
        return ["No brine to make: it makes its own.", *salt_lines(found.middle, units)]
    made = format_made(found.brine_to_make(short_chance, units), units)
    formula = found.formula_to_make(short_chance, units)
    said = f"Make {made} of {whose_brine(found.middle)} brine: {_why(found, units, short_chance)}."
    return [said, *([] if formula is None else formula_lines(formula))]


def _why(found: ByTheJar, units: Units, short_chance: float) -> str:
    if not found.by_printed_yield(short_chance):
        return f"{odds(short_chance)} of running short"
    alone = format_volume(found.brine_ml.quantile(1.0 - short_chance), units)
    return (
        "the recipe's own amount for these jars by its printed yield; your jars alone would take "
        f"about {alone}"
    )


def _sure(found: ByTheJar) -> list[tuple[str, Outcome]]:
    """Weights by the stages that it is sure to pass: a cure that may not be has none."""
    cured = found.middle.cured >= 1.0
    return [one for one in found.weights.items() if one[0] != CURED or cured]


def _weight(stage: str, grams: Outcome, units: Units, level: float) -> str:
    low, high = (format_weight(end, units) for end in grams.interval(level))
    middle = format_weight(grams.median, units)
    return f"{titled(STAGE_OF[stage].label)}: about {middle}{between(low, high, level)}."


def _brine_used(found: ByTheJar, units: Units, level: float) -> list[str]:
    if not found.middle.has_brine:
        return []
    middle, low, high = volume_range(found.brine_ml, units, level)
    ends = between(low, high, level)
    each = format_volume(found.brine_ml.median / found.jars, units)
    return [f"Brine you'll use, with what stays in the pot: about {middle}{ends}; {each} a jar."]


def _no_card(middle: Forecast) -> list[str]:
    return [without_card(middle.has_brine), *refrigerator_lines(middle.request.produce)]


def _card(middle: Forecast, place: Place, units: Units) -> list[str]:
    """What a cook needs of the card; how much brine it has for the produce is not known yet."""
    recipe = middle.recipe
    if recipe is None:
        return []
    sourced = recipe.safety is not None
    least = [NEVER_LESS_OF_IT] if middle.has_brine and sourced else []
    return [*least, cook_line_of(middle, place, units), *more_of(recipe, place, units)]


def _at(found: ByTheJar, place: Place, short_chance: float, *, units: Units) -> Situation:
    formula = found.formula_to_make(short_chance) if found.middle.has_brine else None
    times = found.printed_times if formula is None else formula.made_factor
    at = situation_of(found.middle, place, short_chance, units=units, times=times)
    return replace(at, part_jar=found.jars != int(found.jars))


def packed_text(found: ByTheJar, so_far: SoFar, units: Units, level: float = 0.8) -> str:
    """What is known of jars that were packed without a weight: their brine, and their produce."""
    jars = counted(so_far.jars, "jar", "jars")
    said = []
    if (each := brine_each_ml(so_far)) is not None and found.middle.has_brine:
        said.append(
            f"So far {format_volume(each, units)} of brine a jar; count on as much for each "
            "one to come."
        )
    elif found.middle.has_brine:
        ml = found.brine_ml.median / found.jars
        said.append(f"About {format_volume(ml, units)} of brine a jar, with what stays in the pot.")
    low, high = (format_weight(end, units) for end in found.ready_g.interval(level))
    middle = format_weight(found.ready_g.median, units)
    said.append(f"In {jars} there is about {middle} of produce{between(low, high, level)}.")
    return "\n".join(wrapped(line) for line in said)


def brine_each_ml(so_far: SoFar) -> float | None:
    """Brine a jar up to now in ml: what left the pot, or else stands in them; None: not known."""
    used = so_far.used_ml if so_far.used_ml is not None else so_far.brine_ml
    return None if used is None or so_far.jars <= 0 else used / so_far.jars


def packed_document(found: ByTheJar, so_far: SoFar, level: float = 0.8) -> dict[str, Any]:
    """The same for JSON; weights in g, volumes in ml."""
    return {
        "jars": so_far.jars,
        "brine_each_ml": brine_each_ml(so_far),
        "produce_g": outcome_document(found.ready_g, level),
    }


def by_the_jar_document(
    found: ByTheJar,
    units: Units,
    level: float = 0.8,
    short_chance: float = 0.05,
    *,
    place: Place,
) -> dict[str, Any]:
    """What so many jars take for JSON; version 1 of 'jarcast by the jar'."""
    request, recipe = found.middle.request, found.middle.recipe
    brine = found.middle.has_brine
    order = found.brine_to_make(short_chance, units) if brine else 0.0
    weights = {
        STAGE_OF[stage].typed: outcome_document(grams, level)
        for stage, grams in found.weights.items()
    }
    return {
        "format": "jarcast by the jar",
        "version": 1,
        "produce": request.produce,
        "cut": request.cut,
        "pack": request.pack,
        "jar": [turn.jar.key for turn in request.turns],
        "for_jars": found.jars,
        "weights_g": weights,
        "brine_ml": outcome_document(found.brine_ml, level),
        "brine_to_make_ml": order,
        "short_chance": short_chance,
        "recipe": None if recipe is None else recipe.key,
        "ferment_salt": None if recipe is None else salt_document(recipe, None, units),
        "note": NOT_WEIGHED,
        "caution": CAUTION,
        "cautions": no_card_cautions(request.produce),
        **({} if recipe is None else _card_document(found, units, short_chance, place)),
    }


def _card_document(
    found: ByTheJar, units: Units, short_chance: float, place: Place
) -> dict[str, Any]:
    """What a card adds, as to a forecast."""
    middle = found.middle
    formula = found.formula_to_make(short_chance, units)
    return {
        "by_printed_yield": found.by_printed_yield(short_chance),
        "brine_times_printed": None if formula is None else formula.made_factor,
        "brine_ingredients": [portion_document(one) for one in told_portions(formula)],
        "altitude_ft": place.altitude_ft,
        "cook_line": cook_line_of(middle, place, units),
        "safety_block": block_of(middle, place, units),
        "cautions": caution_document(cautions_for(_at(found, place, short_chance, units=units))),
        "closing": CLOSING,
    }
