"""A forecast as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from jarcast.domain.rules import bare, not_kept
from jarcast.domain.rules import said as rule_said
from jarcast.domain.stages import STAGE_OF, before_salt
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.pots import USUAL_LOAD
from jarcast.measures import Units, format_made
from jarcast.views.narrowing import narrowing_document, narrowing_text
from jarcast.views.pots import (
    each_pot,
    first_pot,
    next_pot,
    pots_document,
    pots_of,
)
from jarcast.views.ranges import volume_range, weight_words
from jarcast.views.words import (
    between,
    counted,
    crop_words,
    halves,
    halves_word,
    odds,
    row,
    shortened,
    sorts_words,
    titled,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jarcast.recipes import PackCheck, Place
    from jarcast.views.pictures import Canvas

CAUTION = (
    "These are amounts, not safety numbers: vinegar strength, brine proportions, headspace, jar "
    "sizes and process are your tested recipe's; follow it and your local food-safety guidance."
)
NO_RECIPE = "No recipe named."
NEVER_LESS = "No recipe named: never make less brine than yours calls for with this much produce."
DECIDE = (
    "Your tested recipe's vinegar, headspace, jars and process decide, with local food-safety "
    "guidance."
)
FOR_THE_REFRIGERATOR = "Without a tested process, keep the jars in the refrigerator."


def forecast_text(
    forecast: Forecast,
    units: Units,
    level: float = 0.8,
    short_chance: float = 0.05,
    *,
    place: Place | None = None,
    packing: PackCheck | None = None,
    usual_cut: str = "",
    packed_by: str = "",
    canvas: Canvas | None = None,
    load: float = USUAL_LOAD,
) -> str:
    """The answer in rows, then a picture, what it is based on, and a caution.

    By a recipe, the line of its card that a cook needs stands right under the answer.
    ``usual_cut`` is a cut that was filled in, ``packed_by`` who packs, as last time. On a
    ``canvas`` the ranges are drawn, and not said again. ``load`` is how many of its jars the canner
    holds: where there are more, brine is told by pots. ``place`` has the altitude and the kind of
    canner, where they are known.
    """
    by_pots = bool(pots_of(forecast, units, short_chance, load))
    drawn = _picture(forecast, units, level, short_chance, canvas, by_pots=by_pots)
    said = None if drawn else level
    packed: list[str] = []
    if forecast.recipe is not None:
        from jarcast.recipes import UNSAID
        from jarcast.views.by_recipe import by_recipe, loose_enough

        packed = loose_enough(forecast, packing, units)
        ways = (units, short_chance, place or UNSAID, packing, load)
        brine, card, after = by_recipe(forecast, *ways, level=said)
    else:
        brine, card, after = without_recipe(forecast, units, short_chance, load, said)
    if not drawn and not by_pots:
        brine = [*brine, *_brine_range(forecast, units, level)]
    ground = [
        rests_on_text(forecast), *usual_cut_lines(usual_cut), *_salted_note(forecast),
        *packed, *narrowing_text(forecast, by_pots=by_pots),
    ]  # fmt: skip
    lines = [
        *wrapped(_title(forecast, units, packed_by)).splitlines(),
        "",
        row("JARS", f"{_answer(forecast, level)}{own_yield(forecast)}."),
        *rows("BRINE", brine),
        *rows("SET OUT", [set_out(forecast)]),
        *rows("CARD", card),
        "",
        *drawn,
        wrapped(" ".join(ground)),
        *after,
    ]
    return "\n".join(lines)


def rows(label: str, lines: Sequence[str]) -> list[str]:
    """Lines under one label."""
    return [row("" if number else label, line) for number, line in enumerate(lines)]


def usual_cut_lines(cut: str) -> list[str]:
    """That a cut was filled in; nothing where none was."""
    return [f"As usual: {cut}; change with --cut."] if cut else []


def as_usual(cut: str) -> dict[str, str]:
    """The same for JSON: what was filled in, by column."""
    return {"cut": cut} if cut else {}


def without_card(has_brine: bool) -> str:
    """What stands wherever no recipe's card was named, and what of it is about a brine."""
    return f"{NEVER_LESS} {FOR_THE_REFRIGERATOR}" if has_brine else FOR_THE_REFRIGERATOR


def without_recipe(
    forecast: Forecast, units: Units, short_chance: float, load: float, level: float | None
) -> tuple[list[str], list[str], list[str]]:
    """Lines of brine, none of a card, and the caution, where no recipe was named."""
    when, words = not_kept(forecast.request.produce) or ("refrigerator", {})
    said = [
        NEVER_LESS if forecast.has_brine else NO_RECIPE,
        DECIDE,
        FOR_THE_REFRIGERATOR if when == "refrigerator" else "",
        bare(when, **words),
        each_pot(forecast) if pots_of(forecast, units, short_chance, load) else "",
        bare("whole jars") if forecast.whole_jars else "",
    ]
    caution = wrapped(" ".join(filter(None, said)))
    return _brine_answer(forecast, units, short_chance, load, level), [], [caution]


def _picture(
    forecast: Forecast,
    units: Units,
    level: float,
    short_chance: float,
    canvas: Canvas | None,
    *,
    by_pots: bool,
) -> list[str]:
    if canvas is None:
        return []
    from jarcast.views.pictures import forecast_picture

    drawn = forecast_picture(forecast, units, level, short_chance, canvas, by_pots=by_pots)
    return [*drawn.splitlines(), ""] if drawn else []


def _title(forecast: Forecast, units: Units, packed_by: str) -> str:
    request = forecast.request
    weight = weight_words(request, units)
    crop = titled(crop_words(request.produce, request.cut, request.pack))
    by = f", by {forecast.recipe.name}" if forecast.recipe is not None else ""
    whose = f", packed by {shortened(packed_by, 20)} (--person)" if packed_by else ""
    return f"{crop}: {weight} {STAGE_OF[request.stage].label}{by}{whose}"


def _answer(forecast: Forecast, level: float) -> str:
    median, least, most = forecast.counts(forecast.jars, level)
    turns = forecast.request.turns
    if len(turns) == 1:
        said = f"About {halves(median)} {halves_word(turns[0].jar.key, median)}"
    else:
        sorts = zip(turns, forecast.jars_by_sort, strict=True)
        each = sorts_words((turn.jar.key, jars.median) for turn, jars in sorts)
        said = f"About {halves(median)} jars ({each})"
    return f"{said}{between(halves(least), halves(most), level)}"


def own_yield(forecast: Forecast) -> str:
    """The card's printed yield for as much produce; '' without a card that gives one."""
    if forecast.recipe is None or forecast.printed_jars is None:
        return ""
    low, high = map(halves, forecast.printed_jars)
    jar, asked = forecast.recipe.tested.jar, forecast.request.turns
    other = len(asked) > 1 or asked[0].jar.key.removesuffix("-wide") != jar
    word = f" {halves_word(jar, forecast.printed_jars[1])}" if other else ""
    return f"; the recipe says {low if low == high else f'{low} to {high}'}{word}"


def _brine_answer(
    forecast: Forecast, units: Units, short_chance: float, load: float, level: float | None
) -> list[str]:
    if not forecast.has_brine:
        return ["No brine to make: it makes its own."]
    if pots := pots_of(forecast, units, short_chance, load):
        first = first_pot(forecast, pots, units, short_chance)
        return [first, next_pot(forecast, pots, units, level)]
    made = format_made(forecast.brine_to_make(short_chance, units), units)
    return [f"Make {made} of brine: {odds(short_chance)} of running short."]


def jars_and_lids(forecast: Forecast) -> str:
    """The jars and lids to set out, of each sort: '46 jars and lids (6 quarts, then 40 pints)'."""
    count = forecast.jars_to_have()
    each = sorts_in_turn(forecast, count)
    return counted(count, "jar and lid", "jars and lids") + (f" ({each})" if each else "")


def sorts_in_turn(forecast: Forecast, count: float) -> str:
    """So many jars dealt out to several sorts: '6 quarts, then 40 pints'; '' where there is one."""
    turns = forecast.request.turns
    if len(turns) < 2:
        return ""
    dealt = []
    for turn in turns:
        taken = min(count, turn.count)
        dealt.append((turn.jar.key, taken))
        count -= taken
    return sorts_words(dealt)


def set_out(forecast: Forecast) -> str:
    """The jars and lids to set out, and what a part-full one takes, or half a jar."""
    jars = jars_and_lids(forecast)
    if forecast.smaller_jar:
        return f"{jars}, and a smaller tested jar: half a jar is one of half the size."
    if forecast.whole_jars or forecast.recipe is not None:
        return f"{jars}."
    return f"{jars}, and a smaller tested jar for a part-full one."


def _brine_range(forecast: Forecast, units: Units, level: float) -> list[str]:
    if not forecast.has_brine:
        return []
    middle, low, high = volume_range(forecast.brine_ml, units, level)
    return [f"You'll use about {middle}, with what stays in the pot{between(low, high, level)}."]


def rests_on_text(forecast: Forecast) -> str:
    """What a forecast rests on, in one sentence."""
    rests, request = forecast.rests_on, forecast.request
    own = []
    if rests.this:
        own.append((rests.this, "batches like this"))
    if rests.same_produce:
        own.append((rests.same_produce, f"other {request.produce}"))
    if rests.others:
        own.append((rests.others, "other produce"))
    published = {
        "this cut": "published yields",
        "this produce": f"published yields of {request.produce} in general, not of this cut",
        "its parts": "published yields of its parts",
        "nothing published": "a rough guess, as nothing is published of it",
    }[rests.published]
    if not own:
        return f"No batch of your own yet: based on {published}."
    (first, of), *more = own  # what is counted is said with the first number
    said = [f"{first} of your {of}" if rests.this else f"{first} of your batches of {of}"]
    said += [
        counted(n, "other", "others") if of == "other produce" else f"{n} {of}" for n, of in more
    ]
    return f"Based on {', '.join(said)}, and {published}."


def _salted_note(forecast: Forecast) -> list[str]:
    if not before_salt(forecast.request.stage):
        return []
    hours = forecast.request.cure_hours
    cure = None if forecast.recipe is None else forecast.recipe.cure
    if cure is not None and hours and hours == (cure.usual_hours or hours):
        says = ", ".join(filter(None, ("as the card says", cure.time)))
        return [f"Salted or soaked {says}; if not, add --cure-hours."]
    if hours is not None or forecast.request.salt_g is not None or forecast.cured == 0.0:
        return []
    if forecast.cured == 1.0:
        return ["Salted, as usual; if not, add --cure-hours 0."]
    return ["Salted? Both are allowed for; if not, add --cure-hours 0."]


def outcome_document(outcome: Outcome, level: float) -> dict[str, float]:
    """An outcome for JSON."""
    low, high = outcome.interval(level)
    return {"median": outcome.median, "low": low, "high": high, "level": level}


def forecast_document(
    forecast: Forecast,
    units: Units,
    level: float = 0.8,
    short_chance: float = 0.05,
    *,
    place: Place | None = None,
    packing: PackCheck | None = None,
    load: float = USUAL_LOAD,
) -> dict[str, Any]:
    """A forecast for JSON; version 1 of 'jarcast forecast'. Volumes in ml, weights in g."""
    document = _amounts_document(forecast, units, level, short_chance)
    document["pots"] = pots_document(forecast, units, short_chance, load)
    document["would_narrow"] = narrowing_document(forecast)
    if forecast.recipe is None:
        document["cautions"] = no_card_cautions(
            forecast.request.produce, whole_jars=forecast.whole_jars
        )
    else:
        from jarcast.recipes import UNSAID
        from jarcast.views.by_recipe import recipe_document

        ways = (units, short_chance, place or UNSAID, packing)
        document.update(recipe_document(forecast, *ways))
    return document


def refrigerator_lines(produce: str) -> list[str]:
    """How long what has no tested recipe keeps in the refrigerator, or that it does not."""
    when, words = not_kept(produce) or ("refrigerator", {})
    return [rule_said(when, **words)]


def no_card_cautions(produce: str = "", *, whole_jars: bool = False) -> list[dict[str, str]]:
    """The cautions of what is put up without a recipe's card, for JSON."""
    from jarcast.recipes import Situation, cautions_for
    from jarcast.views.by_recipe import caution_document

    at = Situation(recipe=None, produce=produce, whole_jars=whole_jars)
    return caution_document(cautions_for(at))


def _amounts_document(
    forecast: Forecast, units: Units, level: float, short_chance: float
) -> dict[str, Any]:
    request = forecast.request
    doubt = {"log_sd": request.grams_sd} if request.grams_sd else {}
    return {
        "format": "jarcast forecast",
        "version": 1,
        "produce": request.produce,
        "cut": request.cut,
        "pack": request.pack,
        "jar": [turn.jar.key for turn in request.turns],
        "headspace_in": request.headspace_in,
        "from": {"stage": request.stage, "grams": request.grams, **doubt},
        "cured": forecast.cured,
        "jars": outcome_document(forecast.jars, level),
        "jars_by_sort": [outcome_document(o, level) for o in forecast.jars_by_sort],
        "jars_to_have": forecast.jars_to_have(),
        "brine_ml": outcome_document(forecast.brine_ml, level),
        "brine_to_make_ml": forecast.brine_to_make(short_chance, units),
        "short_chance": short_chance,
        "recipe": None,
        "floor_known": False,
        "floor_ml": None,
        "limited_by_recipe": False,
        "rests_on": {
            "this": forecast.rests_on.this,
            "same_produce": forecast.rests_on.same_produce,
            "others": forecast.rests_on.others,
            "published": forecast.rests_on.published,
        },
        "caution": CAUTION,
    }
