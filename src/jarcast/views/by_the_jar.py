"""Brine and produce by the jar, as text and as JSON."""

from typing import Any

from jarcast.domain.packing import SoFar
from jarcast.domain.stages import CURED, STAGE_OF
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.by_the_jar import ByTheJar
from jarcast.measures import Units, format_made, format_volume, format_weight
from jarcast.recipes import Recipe
from jarcast.views.forecast import (
    CAUTION,
    no_card_cautions,
    outcome_document,
    refrigerator_lines,
    rests_on_text,
    usual_cut_lines,
    without_card,
)
from jarcast.views.formula import formula_lines, salt_document, salt_lines
from jarcast.views.pots import whose_brine
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
) -> str:
    """The brine to make first, then produce and brine with their ranges, and what it rests on."""
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
        *(_no_card(middle) if middle.recipe is None else _card(middle.recipe)),
        CAUTION,
    ]
    return "\n".join(line if line.startswith("  ") else wrapped(line) for line in lines)


def _jars(found: ByTheJar) -> str:
    turns = found.middle.request.turns
    word = jar_words(turns[0].jar.key, found.jars) if len(turns) == 1 else "jars"
    return f"{exactly(found.jars)} {word}"


def _brine(found: ByTheJar, units: Units, short_chance: float) -> list[str]:
    if not found.middle.has_brine:
        return ["No brine to make: it makes its own.", *salt_lines(found.middle, units)]
    made = format_made(found.brine_to_make(short_chance, units), units)
    whose, short = whose_brine(found.middle), odds(short_chance)
    formula = found.formula_to_make(short_chance, units)
    said = f"Make {made} of {whose} brine: {short} of running short."
    return [said, *([] if formula is None else formula_lines(formula))]


def _sure(found: ByTheJar) -> list[tuple[str, Outcome]]:
    """Weights by the stages that it is sure to pass: a cure that may not be has none."""
    cured = found.middle.cured >= 1.0
    return [one for one in found.weights.items() if one[0] != CURED or cured]


def _weight(stage: str, grams: Outcome, units: Units, level: float) -> str:
    low, high = (format_weight(end, units) for end in grams.interval(level))
    middle = format_weight(grams.median, units)
    label = STAGE_OF[stage].label
    return f"{label[:1].upper()}{label[1:]}: about {middle}{between(low, high, level)}."


def _brine_used(found: ByTheJar, units: Units, level: float) -> list[str]:
    if not found.middle.has_brine:
        return []
    low, high = (format_volume(ml, units) for ml in found.brine_ml.interval(level))
    middle = format_volume(found.brine_ml.median, units)
    ends = between(low, high, level)
    each = format_volume(found.brine_ml.median / found.jars, units)
    return [f"Brine you'll use, with what stays in the pot: about {middle}{ends}; {each} a jar."]


def _no_card(middle: Forecast) -> list[str]:
    return [without_card(middle.has_brine), *refrigerator_lines(middle.request.produce)]


def _card(recipe: Recipe) -> list[str]:
    return [f"Its cautions and times: jarcast recipes show {recipe.key}."]


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
    found: ByTheJar, units: Units, level: float = 0.8, short_chance: float = 0.05
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
        "cautions": no_card_cautions(request.produce) if recipe is None else [],
    }
