"""What a recipe card adds to a forecast, as text and as JSON.

The safety block is printed as the card gives it, unbroken: nothing of the forecast enters it.
"""

from collections.abc import Sequence
from typing import Any

from msgspec.structs import replace

from jarcast.domain.stages import STAGE_OF, STAGES
from jarcast.forecast.answer import Forecast
from jarcast.measures import Units, format_made, format_volume, format_weight, typeset
from jarcast.recipes import (
    CLOSING,
    FLOOR_NAMES,
    Caution,
    PackCheck,
    Place,
    Recipe,
    Situation,
    basis_column,
    cautions_for,
    cautions_now,
    cook_line,
    safety_block,
    salt_share_of,
    situation_at,
)
from jarcast.recipes.block import NO_NUMBERS
from jarcast.views.formula import (
    all_at_once,
    by_pots,
    formula_sentence,
    portion_document,
    salt_document,
    salt_lines,
    sizes_of,
    times_made,
    told_portions,
)
from jarcast.views.pots import each_pot, first_pot, next_pot, pots_of, whose_brine
from jarcast.views.words import hung, jar_words, odds, titled, wrapped

RECIPE_DECIDES = "where the recipe gives more brine for this produce, make that much"
NO_FLOOR = "the recipe's own amount for this much produce is not known"
RAISED = "raised to the recipe's own amount for this much produce"
NEARLY_SURE = 0.05  # up to this chance of running short nothing is said of it
SAY_ALTITUDE = (
    "Your altitude is not known, so the card's time for every altitude is shown. Say it once, and "
    "it is remembered: jarcast kitchen --altitude '3000 ft' (or '900 m')."
)
YOUR_TIME = {
    Units.US: "Your altitude's time: jarcast kitchen --altitude '3000 ft'",
    Units.METRIC: "Your altitude's time: jarcast kitchen --altitude '900 m'",
}
# The weights a floor goes by, as they are said of it: what is cooked is ready for the jars.
_STAGES = {FLOOR_NAMES[s.column].removesuffix("_g"): s.label for s in STAGES} | {"cooked": "ready"}
NOT_CLOSER = "as far as they show, no closer than tested; nothing to change"


Lines = list[str]


def by_recipe(
    forecast: Forecast,
    units: Units,
    short_chance: float,
    place: Place,
    packing: PackCheck | None,
    load: float,
    *,
    level: float | None,
) -> tuple[Lines, Lines, Lines]:
    """Lines of the brine, by pots over a load; of the card, for a cook; and what follows.

    A ``level`` where the range of the brine is told by pots, too.
    """
    recipe = _card(forecast)
    pots = pots_of(forecast, units, short_chance, load)
    line = cook_line_of(forecast, place, units)
    card = [titled(line.removeprefix(f"By the card of {recipe.name}: "))]
    card += more_of(recipe, place, units)
    at = situation_of(forecast, place, short_chance, units=units)
    if pots:
        at = replace(at, pots=by_pots(forecast, pots, units))
    found = cautions_now(at)
    said = [
        *([f"Pack check: {packing.message}"] if packing is not None and packing.message else []),
        *([each_pot(forecast)] if pots else []),
        *(one.text for one in found),
    ]
    brine = _brine(forecast, units, short_chance, load, level)
    return brine, card, [*map(caution_line, said), wrapped(CLOSING)]


def more_of(recipe: Recipe, place: Place, units: Units) -> list[str]:
    """How the card's time for one's altitude is got, and where the rest of it is read."""
    if recipe.safety is None:
        return []
    open_time = recipe.safety.process and place.altitude_ft is None
    time = [YOUR_TIME[units]] if open_time else []
    return [*time, f"All of it: jarcast recipes show {recipe.key}"]


def caution_line(text: str) -> str:
    """One caution beside an answer."""
    return typeset(hung(f"! {text}"))


def cook_line_of(forecast: Forecast, place: Place, units: Units) -> str:
    """The card's line for a cook, for the sizes of jar asked for."""
    recipe, pack = _card(forecast), forecast.request.pack
    if recipe.safety is None:
        return NO_NUMBERS.format(name=recipe.name)
    sizes = sizes_of(forecast)
    return cook_line(recipe, sizes, pack=pack, altitude_ft=place.altitude_ft, units=units)


def _card(forecast: Forecast) -> Recipe:
    if forecast.recipe is None:
        raise ValueError("a forecast without a recipe has no recipe's part")
    return forecast.recipe


def _brine(
    forecast: Forecast, units: Units, short_chance: float, load: float, level: float | None
) -> list[str]:
    if pots := pots_of(forecast, units, short_chance, load):
        formula = forecast.formula_for(load, short_chance, units)
        return [
            first_pot(forecast, pots, units, short_chance),
            *([] if formula is None else formula_sentence(formula)),
            next_pot(forecast, pots, units, level),
            *_floor(forecast, units),
        ]
    formula = forecast.formula_to_make(short_chance, units)
    if not forecast.has_brine:
        lines = ["No brine to make: it makes its own liquid.", *salt_lines(forecast, units)]
        return lines if formula is None else [*lines, *formula_sentence(formula)]
    order = format_made(forecast.brine_to_make(short_chance, units), units)
    if forecast.limited_by_recipe(short_chance):
        alone = format_volume(forecast.brine_ml.quantile(1.0 - short_chance), units)
        why = f"{RAISED}; your jars alone would take about {alone}"
    else:
        why = f"{odds(short_chance)} of running short"
    lines = [f"Make {order} of {whose_brine(forecast)} brine: {why}."]
    if formula is not None:
        lines += formula_sentence(formula)
    return [*lines, *_floor(forecast, units)]


def _floor(forecast: Forecast, units: Units) -> list[str]:
    floor = floor_text(forecast, units)
    return [floor] if floor else []


def floor_text(forecast: Forecast, units: Units) -> str:
    """A sentence about the recipe's least brine; '' where that is exact."""
    note = floor_note(forecast, units)
    if not note:
        return ""
    if forecast.floor_at_least:
        return f"{titled(note)}."
    return f"{titled(note.replace('floor not known', NO_FLOOR))}; {RECIPE_DECIDES}."


def floor_note(forecast: Forecast, units: Units) -> str:
    """Why the recipe's least brine is not known, or that it is at least so much; else ''."""
    stage, recipe = forecast.floor_at_least, _card(forecast)
    if not stage:
        return forecast.why_no_floor
    basis = STAGE_OF[basis_column(recipe)].label
    least = format_made(forecast.floor_ml or 0.0, units)
    note = f"at least {least} by the recipe's proportion, by the {_STAGES[stage]} weight"
    if stage == "prepared":
        return f"{note}; {basis} it would be more"
    return (
        f"{note}; {basis} it would be more, or somewhat less after a soak, which adds water: this "
        "errs on the safe side"
    )


def loose_enough(forecast: Forecast, packing: PackCheck | None, units: Units) -> list[str]:
    """That one's own packing is no closer than was tested; nothing where it may be, or is open."""
    if packing is None or packing.message:
        return []
    recipe, own = _card(forecast), format_weight(packing.own_g, units)
    printed = " to ".join(dict.fromkeys(format_weight(g, units) for g in packing.printed_g))
    jar = jar_words(forecast.request.turns[0].jar.key, 1)
    return [
        f"Pack check: by your batches about {own} of produce ({recipe.tested.basis}) in a {jar}, "
        f"by the recipe's own yield {printed}: {NOT_CLOSER}."
    ]


def block_of(forecast: Forecast, place: Place, units: Units) -> str:
    """The card's safety block for the sizes of jar asked for."""
    pack = forecast.request.pack
    return block_for(_card(forecast), sizes_of(forecast), pack, place.altitude_ft, units)


def block_for(
    recipe: Recipe, sizes: Sequence[str], pack: str, altitude_ft: float | None, units: Units
) -> str:
    """The card's safety block for the first size of jar, then what differs in each other one.

    The times of all sizes stand together, and after them what goes into each jar of the others.
    """
    first, *others = (
        safety_block(recipe, size, pack=pack, altitude_ft=altitude_ft, units=units)
        for size in sizes
    )
    lines = first.splitlines()
    for kind in ("  process", "  in each"):
        own = (line for block in others for line in block.splitlines() if line.startswith(kind))
        lines += [line for line in own if line not in lines]
    return "\n".join(lines)


def situation_of(
    forecast: Forecast,
    place: Place,
    short_chance: float,
    *,
    units: Units,
    times: float | None = None,
) -> Situation:
    """What is known of a forecast by a card; ``times`` the printed batch is made, if said.

    With jars of several sizes no one process time holds for all: the safety block has each.
    """
    request = forecast.request
    if times is None:
        times = times_made(forecast, forecast.formula_to_make(short_chance, Units.US))
    return situation_at(
        place,
        _card(forecast),
        sizes_of(forecast),
        cut=request.cut,
        pack=request.pack,
        part_jar=not (forecast.whole_jars or forecast.smaller_jar),
        whole_jars=forecast.whole_jars,
        short=forecast.has_brine and short_chance > NEARLY_SURE,
        carried_brine=forecast.has_brine and forecast.limited_by_recipe(short_chance),
        salt=salt_share_of(request),
        times=times,
        pots=all_at_once(forecast, times),
        units=units,
    )


def caution_lines(recipe: Recipe, cautions: tuple[Caution, ...]) -> list[str]:
    """Cautions in words, each with its source where that is not the card's own."""
    card = recipe.safety.source.cited if recipe.safety is not None else ""
    lines = ["Cautions (by the card's source where none is named):"] if card else ["Cautions:"]
    for caution in cautions:
        source = caution.source.removeprefix(card).lstrip(". ") if card else caution.source
        text = typeset(f"- {caution.text}" + (f" ({source})" if source else ""))
        lines.append(hung(text))
    return lines


def recipe_document(
    forecast: Forecast,
    units: Units,
    short_chance: float,
    place: Place,
    packing: PackCheck | None,
) -> dict[str, Any]:
    """What a recipe adds to version 1 of 'jarcast forecast'. Volumes in ml, weights in g."""
    recipe, floor = _card(forecast), forecast.floor_ml
    formula = forecast.formula_to_make(short_chance, units)
    safety = recipe.safety
    at = situation_of(forecast, place, short_chance, units=units)
    cautions = cautions_for(at)
    return {
        "recipe": {
            "key": recipe.key,
            "name": recipe.name,
            "source": None if safety is None else safety.source.cited,
        },
        "floor_known": floor is not None,
        "floor_ml": floor,
        "floor_at_least": bool(forecast.floor_at_least),
        "floor_note": floor_note(forecast, units),
        "limited_by_recipe": forecast.limited_by_recipe(short_chance),
        "brine_times_printed": None if formula is None else formula.made_factor,
        "brine_made_ml": None if formula is None else formula.made_ml,
        "brine_ingredients": [portion_document(p) for p in told_portions(formula)],
        "ferment_salt": salt_document(recipe, forecast.request.trimmed_g, units),
        "printed_jars": list(forecast.printed_jars or ()),
        "altitude_ft": place.altitude_ft,
        "cook_line": cook_line_of(forecast, place, units),
        "safety_block": block_of(forecast, place, units),
        "pack_check": packing_document(packing),
        "cautions": caution_document(cautions),
        "closing": CLOSING,
    }


def caution_document(cautions: tuple[Caution, ...]) -> list[dict[str, str]]:
    """Cautions for JSON."""
    return [{"key": c.key, "text": c.text, "source": c.source} for c in cautions]


def packing_document(packing: PackCheck | None) -> dict[str, Any] | None:
    """The pack check for JSON; grams in a jar at the card's basis."""
    if packing is None:
        return None
    return {
        "own_g": packing.own_g,
        "printed_g": list(packing.printed_g),
        "chance_closer": packing.chance,
        "caution": packing.message,
    }
