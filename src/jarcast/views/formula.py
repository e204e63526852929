"""A scaled formula and a ferment's salt, as text and as JSON."""

from collections.abc import Sequence
from typing import Any

from jarcast.domain.jars import size_of
from jarcast.domain.stages import before_salt
from jarcast.forecast.answer import Forecast
from jarcast.forecast.pots import Pot
from jarcast.forecast.recipe import least_times, ordered_formula, times_of
from jarcast.measures import Units, format_made
from jarcast.recipes import (
    Caution,
    Place,
    Portion,
    Recipe,
    Scaled,
    Situation,
    beside_numbers,
    cautions_for,
    salt_amounts,
    salt_due_g,
    salt_told,
    situation_at,
    without_salt,
)
from jarcast.views.words import titled

Heated = tuple[tuple[str, float], ...]  # what is heated at once, and times the printed recipe
POTS = ("the pot for the first load", "the second pot")


def salt_lines(forecast: Forecast, units: Units) -> list[str]:
    """The salt of a batch that is still to be salted, where its card states a share of it."""
    if not before_salt(forecast.request.stage):
        return []
    card = forecast.recipe
    said = "" if card is None else salt_told(card, forecast.request.trimmed_g, units)
    return [said] if said else []


def told_portions(formula: Scaled | None) -> tuple[Portion, ...]:
    """What of a scaled formula is told: its salt is not where that goes by a share."""
    return () if formula is None else without_salt(formula.recipe, formula.brine)


def formula_sentence(formula: Scaled) -> list[str]:
    """A scaled formula in a sentence: '14 cups is 6 cups vinegar, ...: the whole formula once'."""
    portions = told_portions(formula)
    if not portions:
        return []
    parts = ", ".join(portion.line for portion in portions)
    made = f"{format_made(formula.made_ml, formula.units)} is " if formula.made_ml else ""
    return [f"{made}{parts}: {whole_formula(formula)} {_times(formula)}."]


def whole_formula(formula: Scaled) -> str:
    """What is told of a formula, in words: all of it, or all but the salt by its share."""
    told = len(told_portions(formula)) == len(formula.brine)
    return "the whole formula" if told else "the formula but for its salt"


def _times(formula: Scaled) -> str:
    times = f"{formula.made_factor:.3g} times"
    return "once" if times == "1 times" else times


def formula_lines(formula: Scaled) -> list[str]:
    """Each ingredient of a scaled formula in kitchen measures, a line each."""
    if not (portions := told_portions(formula)):
        return []
    makes = format_made(formula.made_ml, formula.units) if formula.made_ml else ""
    head = f"  {titled(whole_formula(formula))} {_times(formula)}"
    head = f"{head}, which makes {makes}:" if makes else f"{head}:"
    return [head, *(f"    {portion.line}" for portion in portions)]


def times_made(forecast: Forecast, formula: Scaled | None) -> float:
    """How many times the printed batch a forecast comes to, at the least; 0 where not known."""
    if forecast.recipe is None:
        return 0.0
    return formula.made_factor if formula else least_times(forecast.recipe, forecast.request)


def all_at_once(forecast: Forecast, times: float) -> Heated:
    """Brine that is poured over the produce, as one pot; () where both are made together."""
    return one_pot(times) if forecast.poured_over else ()


def one_pot(times: float) -> Heated:
    """All the brine of a batch as one pot, so many times the printed recipe."""
    return (("the brine", times),)


def by_pots(forecast: Forecast, pots: Sequence[Pot], units: Units) -> Heated:
    """How many times the printed recipe each of several pots is, as its formula is measured."""
    card, request = forecast.recipe, forecast.request
    if card is None:
        return ()
    formulas = (ordered_formula(card, request, pot.ml, units) for pot in pots)
    times = (0.0 if one is None else one.made_factor for one in formulas)
    return tuple(zip(POTS, times, strict=True))


def beyond_a_batch(
    forecast: Forecast,
    formula: Scaled | None,
    pots: Heated | None = None,
    made_ml: Sequence[float] = (),
) -> tuple[Caution, ...]:
    """What to do where a recipe is made more times at once than was tested.

    ``pots`` are judged where the brine is told by pots, and not all of it; ``made_ml`` are those
    that were made.
    """
    times, card = times_made(forecast, formula), forecast.recipe
    pots = all_at_once(forecast, times) if pots is None else pots
    made = 0.0 if card is None else times_of(card, max(made_ml, default=0.0))
    at = Situation(recipe=card, times=times, pots=pots, pot_made=made)
    return tuple(one for one in cautions_for(at) if one.key == "beyond a batch")


def beyond_lines(
    forecast: Forecast,
    formula: Scaled | None,
    pots: Heated | None = None,
    made_ml: Sequence[float] = (),
) -> list[str]:
    """The same in words."""
    return [one.text for one in beyond_a_batch(forecast, formula, pots, made_ml)]


def sizes_of(forecast: Forecast) -> list[str]:
    """The sizes of jar that a forecast is for, each once."""
    return list(dict.fromkeys(size_of(turn.jar.key) for turn in forecast.request.turns))


def line_cautions(
    forecast: Forecast, place: Place, short_chance: float, units: Units
) -> tuple[Caution, ...]:
    """What goes with the numbers of one batch's card, and whether it is more than was tested.

    () without a card.
    """
    card, request = forecast.recipe, forecast.request
    if card is None:
        return ()
    known = {"cut": request.cut, "pack": request.pack, "units": units}
    at = situation_at(place, card, sizes_of(forecast), **known)
    beyond = beyond_a_batch(forecast, forecast.formula_to_make(short_chance, units))
    return (*beside_numbers(at), *beyond)


def portion_document(portion: Portion) -> dict[str, Any]:
    """One measured ingredient for JSON."""
    return {
        "name": portion.ingredient.name,
        "kind": portion.ingredient.kind.value,
        "text": portion.text,
        "ml": portion.ml,
        "grams": portion.grams,
    }


def salt_document(recipe: Recipe, trimmed_g: float | None, units: Units) -> dict[str, Any] | None:
    """The salt of a card that states a share of it, for JSON; grams by the trimmed weight."""
    if recipe.salt_share is None:
        return None
    due = salt_due_g(recipe, trimmed_g)
    weighed, measured = salt_amounts(recipe, trimmed_g, units)
    return {
        "share": list(recipe.salt_share),
        "grams": None if due is None else list(due),
        "weight": weighed,
        "measure": measured,
        "text": salt_told(recipe, trimmed_g, units),
    }
