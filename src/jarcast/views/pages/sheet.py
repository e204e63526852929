"""The kitchen sheet: one forecast on one page, to be read from a metre away and written on."""

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from jarcast.domain.stages import COOKED, CURED, STAGE_COLUMNS, STAGE_OF, is_hot
from jarcast.forecast.answer import Forecast
from jarcast.measures import Units, format_made, format_weight
from jarcast.recipes import PackCheck
from jarcast.views.by_recipe import SAY_ALTITUDE, floor_text, recipe_document
from jarcast.views.forecast import CAUTION, rests_on_text, whole_jars_lines, without_card
from jarcast.views.pages.filling import big, fill
from jarcast.views.words import crop_words, halves, jar_words, odds, shortened, times_in

_MOST_TICKS = 40  # jars to tick off one by one, at most
_LINE = 105  # characters of small print in a printed line, about
_MANY, _MORE = 21, 33  # lines of formula and small print: beyond them they are set smaller
_LONGEST_NAME = 70


class Answer(Struct, frozen=True):
    """One big number: what it is of, its unit, and a line under it."""

    title: str
    number: str
    unit: str
    under: str

    @property
    def size(self) -> str:
        """How large it can be set."""
        return "short" if len(self.number) <= 4 else "middling" if len(self.number) <= 8 else "long"


def sheet_page(
    forecast: Forecast,
    units: Units,
    level: float = 0.8,
    short_chance: float = 0.05,
    *,
    altitude_ft: float | None = None,
    packing: PackCheck | None = None,
    kept: str = "",
) -> str:
    """The sheet as one HTML page that needs nothing beside itself.

    ``kept`` tells of clean brine kept for this recipe's next pot.
    """
    request, recipe = forecast.request, forecast.recipe
    small = _small_print(forecast, units, short_chance, altitude_ft, packing)
    if kept:
        small["cautions"] = [*small["cautions"], " ".join(kept.split())]
    formula = _formula(forecast, units, short_chance)
    lines = _lines(small) + (2 * len(formula["parts"]) if formula else 0)
    count = forecast.jars_to_have()
    return fill(
        "sheet.html",
        crop=shortened(crop_words(request.produce, request.cut, request.pack), _LONGEST_NAME),
        weighed=f"{format_weight(request.grams, units)} {STAGE_OF[request.stage].label}",
        recipe=shortened(recipe.name, _LONGEST_NAME) if recipe is not None else "",
        answers=_answers(forecast, units, level, short_chance),
        ready=_ready(forecast, count),
        formula=formula,
        stages=_stages(forecast, units),
        ticks=range(1, count + 1) if count <= _MOST_TICKS else (),
        has_brine=forecast.has_brine,
        rests_on=shortened(rests_on_text(forecast), 300),
        dense="dense denser" if lines > _MORE else "dense" if lines > _MANY else "",
        **small,
    )


def _answers(
    forecast: Forecast, units: Units, level: float, short_chance: float
) -> tuple[Answer, ...]:
    median, low, high = forecast.counts(forecast.jars, level)
    turns = forecast.request.turns
    shown = round(2.0 * median) / 2.0 or 2.0
    word = jar_words(turns[0].jar.key, shown) if len(turns) == 1 else "jars"
    between = f"{times_in(level)}: {halves(low)} to {halves(high)}"
    found = [Answer("Expect", big(halves(median))[0], shortened(word, 30), between)]
    if forecast.has_brine:
        order = format_made(forecast.brine_to_make(short_chance, units), units)
        why = f"{odds(short_chance)} that it runs short"
        if forecast.limited_by_recipe(short_chance):
            why = "by the recipe's proportion to the produce"
        found.append(Answer("Brine to make", *big(order), why))
    have = str(forecast.jars_to_have())
    found.append(Answer("Have ready", have, "jars, lids", "too few 1 time in 20"))
    return tuple(found)


def _ready(forecast: Forecast, count: int) -> list[str]:
    turns = forecast.request.turns
    if len(turns) == 1:
        jars = f"{count} {shortened(jar_words(turns[0].jar.key, count), 30)}"
    else:
        sorts = ", then ".join(
            f"{round(turn.count)} {jar_words(turn.jar.key, turn.count)}"
            if turn.count < count
            else jar_words(turn.jar.key)
            for turn in turns
        )
        jars = f"{count} jars in all: {shortened(sorts, 90)}"
    lines = [jars, f"{count} lids"]
    if forecast.has_brine:
        lines.append("the brine, heated as the recipe says")
    if not forecast.whole_jars:
        lines.append("a smaller tested jar, or room in the refrigerator, for a part-full one")
    return lines


def _formula(forecast: Forecast, units: Units, short_chance: float) -> dict[str, Any] | None:
    formula = forecast.formula_to_make(short_chance, units)
    if formula is None:
        return None
    makes = format_made(formula.made_ml, units) if formula.made_ml else ""
    return {
        "times": f"{formula.made_factor:.3g}",
        "makes": makes,
        "parts": [(portion.text, portion.ingredient.name) for portion in formula.brine],
    }


def _stages(forecast: Forecast, units: Units) -> list[tuple[str, str]]:
    """Weights to write down, with those that are known already; only what this batch goes through.

    Nobody weighs a raw pack cooked, or an uncured batch cured.
    """
    request = forecast.request
    found = []
    for stage in STAGE_COLUMNS:
        grams = request.grams if stage == request.stage else getattr(request, stage, None)
        skipped = (stage == COOKED and not is_hot(request.pack)) or (
            stage == CURED and forecast.cured < 0.1
        )
        if grams is not None or not skipped:
            known = "" if grams is None else format_weight(float(grams), units)
            found.append((STAGE_OF[stage].label, known))
    return found


def _small_print(
    forecast: Forecast,
    units: Units,
    short_chance: float,
    altitude_ft: float | None,
    packing: PackCheck | None,
) -> dict[str, Any]:
    """The safety block as the card has it, and the cautions."""
    if forecast.recipe is None:
        cautions = [without_card(forecast.has_brine), *whole_jars_lines(forecast)]
        return {"block": "", "cautions": cautions, "closing": CAUTION}
    told = recipe_document(forecast, units, short_chance, altitude_ft, packing)
    note = floor_text(forecast, units) if forecast.has_brine else ""
    safety = forecast.recipe.safety
    lines = [note] if note else []
    if told["pack_check"] is not None and told["pack_check"]["caution"]:
        lines.append(f"Pack check: {told['pack_check']['caution']}")
    if safety is not None and safety.process and altitude_ft is None:
        lines.append(SAY_ALTITUDE)
    lines += _cautions(told["cautions"], told["recipe"]["source"] or "")
    return {"block": told["safety_block"], "cautions": lines, "closing": told["closing"]}


def _lines(small: dict[str, Any]) -> int:
    """About how many printed lines the small print takes."""
    texts = [*small["block"].splitlines(), *small["cautions"], small["closing"]]
    return sum(-(-len(text) // _LINE) for text in texts)


def _cautions(found: Sequence[dict[str, str]], card: str) -> list[str]:
    """Each caution with its source where that is not the card's own."""
    lines = []
    for caution in found:
        if caution["key"] == "no source":  # the safety block says it
            continue
        source = caution["source"].removeprefix(card).lstrip(". ") if card else caution["source"]
        lines.append(caution["text"] + (f" ({source})" if source else ""))
    return lines
