"""The kitchen sheet: one forecast on one page, to be read from a metre away and written on."""

from collections.abc import Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.jars import size_of
from jarcast.domain.rules import plain_method
from jarcast.domain.rules import said as rule_said
from jarcast.domain.stages import COOKED, CURED, STAGE_COLUMNS, STAGE_OF, is_hot
from jarcast.forecast.answer import Forecast
from jarcast.measures import Units, format_made, format_weight, typeset
from jarcast.recipes import UNSAID, PackCheck, Place, cook_parts, lists_smaller, process_rows_for
from jarcast.recipes.block import band_text
from jarcast.views.by_recipe import SAY_ALTITUDE, floor_text, recipe_document
from jarcast.views.charts.forecast import why_so_much
from jarcast.views.forecast import (
    CAUTION,
    rests_on_text,
    sorts_in_turn,
    without_card,
)
from jarcast.views.formula import salt_lines, told_portions, whole_formula
from jarcast.views.pages.filling import big, fill
from jarcast.views.ranges import weight_words
from jarcast.views.words import (
    crop_words,
    halves,
    halves_word,
    jar_words,
    shortened,
    times_in,
    titled,
)

_MOST_TICKS = 40  # jars to tick off one by one, at most
_TICKS_A_ROW = 12
_LINE = 105  # characters of small print in a printed line, about
_MANY, _MORE = 19, 32  # lines of formula and small print: beyond them they are set smaller
_LONGEST_NAME = 70
_ASKED = {  # a caution's name, as the question that it answers
    "vinegar": "Which vinegar?",
    "weak vinegar": "Which vinegar?",
    "no thinning": "Another brine?",
    "process": "How long?",
    "see the source": "No time given?",
    "no process": "No process?",
    "sterile jars": "Which jars?",
    "salt too low": "Enough salt?",
    "salt too high": "Too much salt?",
    "salt not checked": "The right salt?",
    "other cut": "Another cut?",
    "refrigerator": "Where to keep it?",
    "not to be kept": "Will it keep?",
    "short of brine": "Short of brine?",
    "part jar": "Last jar part full?",
    "whole jars": "Filling whole jars?",
    "steam": "A steam canner?",
    "used brine": "Used brine left?",
    "kept brine": "Brine from last time?",
    "beyond a batch": "A large batch?",
    "ferment salt": "How much salt?",
    "ferment warmth": "How warm?",
}


class Answer(Struct, frozen=True):
    """One big number: what it is of, its unit, and a line under it."""

    title: str
    number: str
    unit: str
    under: str

    @property
    def size(self) -> str:
        """How large it can be set."""
        steps = ((4, "short"), (8, "middling"), (30, "long"))
        return next((name for most, name in steps if len(self.number) <= most), "wordy")


def sheet_page(
    forecast: Forecast,
    units: Units,
    level: float = 0.8,
    short_chance: float = 0.05,
    *,
    place: Place = UNSAID,
    packing: PackCheck | None = None,
    kept: str = "",
) -> str:
    """The sheet as one HTML page that needs nothing beside itself.

    ``kept`` tells of clean brine kept for this recipe's next pot.
    """
    request, recipe = forecast.request, forecast.recipe
    crop = crop_words(request.produce, request.cut, request.pack)
    small = _small_print(forecast, units, short_chance, place, packing)
    if kept:
        small["cautions"].append((_ASKED["kept brine"], " ".join(kept.split())))
    band = _band(forecast, place, units)
    formula = _formula(forecast, units, short_chance)
    count = forecast.jars_to_have()
    ticks = range(1, count + 1) if count <= _MOST_TICKS else range(0)
    lines = _lines(small) + sum(len(cell.number) // 40 for cell in band)
    lines += 2 * (len(formula["parts"]) if formula else 0) + 2 * (len(ticks) // _TICKS_A_ROW)
    return fill(
        "sheet.html",
        crop=shortened(titled(crop), _LONGEST_NAME),
        weighed=f"{weight_words(request, units)} {STAGE_OF[request.stage].label}",
        recipe=shortened(recipe.name, _LONGEST_NAME) if recipe is not None else "",
        answers=_answers(forecast, units, level, short_chance),
        band=band,
        set_out=_set_out(forecast, count),
        formula=formula,
        stages=_stages(forecast, units),
        ticks=ticks,
        has_brine=forecast.has_brine,
        rests_on=shortened(rests_on_text(forecast), 300),
        dense=_dense(lines, several=sum(cell.title == "process" for cell in band) > 1),
        **small,
    )


def _dense(lines: int, *, several: bool) -> str:
    """How close a printed page is set: by its lines, and closest with jars of several sizes."""
    if several:
        return "dense denser sorts"
    return "dense denser" if lines > _MORE else "dense" if lines > _MANY else ""


def _answers(
    forecast: Forecast, units: Units, level: float, short_chance: float
) -> tuple[Answer, ...]:
    median, low, high = forecast.counts(forecast.jars, level)
    turns = forecast.request.turns
    word = halves_word(turns[0].jar.key, median) if len(turns) == 1 else "jars"
    between = f"{times_in(level)}: {halves(low)} to {halves(high)}"
    found = [Answer("Expect", big(halves(median))[0], shortened(word, 30), between)]
    if forecast.has_brine:
        order = format_made(forecast.brine_to_make(short_chance, units), units)
        found.append(Answer("Make brine", *big(order), why_so_much(forecast, short_chance)))
    have = str(forecast.jars_to_have())
    found.append(Answer("Set out", have, "jars, lids", "too few 1 time in 20"))
    return tuple(found)


def _band(forecast: Forecast, place: Place, units: Units) -> list[Answer]:
    """The card's numbers that a cook needs, large; none without a card that has them."""
    recipe, request = forecast.recipe, forecast.request
    if recipe is None or recipe.safety is None:
        return []
    sizes = list(dict.fromkeys(size_of(turn.jar.key) for turn in request.turns))
    given: dict[str, Any] = {"pack": request.pack, "altitude_ft": place.altitude_ft}
    found = []
    for of, text in cook_parts(recipe, sizes, units=units, **given):
        cell = Answer(of, typeset(text), "", "")
        rows = process_rows_for(recipe, sizes[0], **given) if of == "process" else ()
        if len(sizes) == len(rows) == 1:
            (row,) = rows
            at = f" at {row.pressure_psi:g} psi" if row.pressure_psi else ""
            under = f"{plain_method(row.method)}, {band_text(row, units)}"
            cell = Answer(of, f"{row.minutes:g} min{at}", "", under)
        elif of in ("vinegar", "salt"):  # '5 % acid or stronger', '2 to 3 % of the trimmed weight'
            number, _, under = text.partition(" % ")
            cell = Answer(of, f"{number} %", "", under)
        found.append(cell)
    listed = ", ".join(recipe.safety.jars)
    return [replace(c, under=f"only: {listed}") if c.title == "jars" else c for c in found]


def _set_out(forecast: Forecast, count: int) -> list[str]:
    turns = forecast.request.turns
    if len(turns) == 1:
        jars = f"{count} {shortened(jar_words(turns[0].jar.key, count), 30)}"
    else:
        jars = f"{count} jars in all: {shortened(sorts_in_turn(forecast, count), 90)}"
    lines = [jars, f"{count} lids"]
    if forecast.has_brine:
        lines.append("the brine, heated as the recipe says")
    if not forecast.whole_jars:
        lines.append(_for_a_part_full_one(forecast))
    return lines


def _for_a_part_full_one(forecast: Forecast) -> str:
    """A smaller jar for it only where the card lists one, or no card says which."""
    card = forecast.recipe
    sizes = {size_of(turn.jar.key) for turn in forecast.request.turns}
    if card is None or card.safety is None or any(lists_smaller(card, size) for size in sizes):
        return "a smaller tested jar, or room in the refrigerator, for a part-full one"
    return "room in the refrigerator for a part-full jar"


def _formula(forecast: Forecast, units: Units, short_chance: float) -> dict[str, Any] | None:
    """The formula by one factor, and a ferment's salt; None where there is neither."""
    formula = forecast.formula_to_make(short_chance, units)
    portions, salt = told_portions(formula), salt_lines(forecast, units)
    if not portions and not salt:
        return None
    head = ""
    if formula is not None and portions:
        makes = f", which makes {format_made(formula.made_ml, units)}" if formula.made_ml else ""
        head = f"{titled(whole_formula(formula))} {formula.made_factor:.3g} times{makes}:"
    return {
        "head": head,
        "parts": [(portion.text, portion.ingredient.name) for portion in portions],
        "salt": " ".join(salt),
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
    place: Place,
    packing: PackCheck | None,
) -> dict[str, Any]:
    """The safety block as the card has it, and the cautions."""
    if forecast.recipe is None:
        said = [without_card(forecast.has_brine)]
        said += [rule_said("whole jars")] if forecast.whole_jars else []
        return {"block": "", "cautions": [("", line) for line in said], "closing": CAUTION}
    told = recipe_document(forecast, units, short_chance, place, packing)
    note = floor_text(forecast, units) if forecast.has_brine else ""
    safety = forecast.recipe.safety
    lines = [("Enough brine?", note)] if note else []
    if told["pack_check"] is not None and told["pack_check"]["caution"]:
        lines.append(("Packed too tight?", told["pack_check"]["caution"]))
    if safety is not None and safety.process and place.altitude_ft is None:
        lines.append(("How high do you live?", SAY_ALTITUDE))
    lines += _cautions(told["cautions"], told["recipe"]["source"] or "")
    return {"block": told["safety_block"], "cautions": lines, "closing": told["closing"]}


def _lines(small: dict[str, Any]) -> int:
    """About how many printed lines the small print takes."""
    cautions = (f"{asked} {text}" for asked, text in small["cautions"])
    texts = [*small["block"].splitlines(), *cautions, small["closing"]]
    return sum(-(-len(text) // _LINE) for text in texts)


def _cautions(found: Sequence[dict[str, str]], card: str) -> list[tuple[str, str]]:
    """Each caution under its question, with its source where that is not the card's own."""
    lines = []
    for caution in found:
        if caution["key"] == "no source":  # the safety block says it
            continue
        source = caution["source"].removeprefix(card).lstrip(". ") if card else caution["source"]
        text = caution["text"] + (f" ({source})" if source else "")
        lines.append((_ASKED.get(caution["key"], ""), text))
    return lines
