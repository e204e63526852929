"""Recipe cards as text and as JSON: the shelf, one card, a card scaled."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from jarcast.measures import Units, format_made, typeset
from jarcast.recipes import (
    CLOSING,
    UNSAID,
    CardShelf,
    Ingredient,
    Place,
    Portion,
    Recipe,
    Scaled,
    Situation,
    Tested,
    cautions_for,
    check_jar,
    cook_line,
    each_jar_text,
    other_sizes,
    salt_told,
    situation_at,
    unpublished,
    why_not_clean,
    without_salt,
)
from jarcast.views.by_recipe import (
    SAY_ALTITUDE,
    block_for,
    caution_document,
    caution_lines,
)
from jarcast.views.formula import (
    one_pot,
    portion_document,
    salt_document,
    told_portions,
    whole_formula,
)
from jarcast.views.words import (
    counted,
    crop_words,
    halves,
    halves_word,
    hung,
    jar_words,
    shortened,
    wrapped,
)

WITH_SCALED = ("steam", "beyond a batch")  # what is said of a card beside it scaled
YIELD_ONLY = (
    "This card does not say where it comes from, so jarcast holds no safety numbers for it: it is "
    "good for its yield only. Add a [source] with publication, edition and page if it is a tested "
    "recipe."
)


class Shown(NamedTuple):
    """How a card is to be shown: for which jar, pack and altitude in feet, in which units."""

    jar: str
    pack: str
    altitude_ft: float | None
    units: Units


def shelf_text(shelf: CardShelf) -> str:
    """A line a card: its name, what it is for, its jars."""
    lines = [_shelf_line("name", "what", "jars")]
    lines += [_row(recipe) for recipe in shelf.shipped.values()]
    if shelf.own:
        lines += ["", "Your own:", *(_row(recipe) for recipe in shelf.own.values())]
    return "\n".join([*lines, "", "jarcast recipes show NAME shows one."])


def _shelf_line(name: str, what: str, jars: str) -> str:
    return f"{name:<27}{what:<36}{jars}".rstrip()


def _row(recipe: Recipe) -> str:
    crop = crop_words(recipe.produce, recipe.cut, "")
    jars = ", ".join(recipe.safety.jars) if recipe.safety is not None else "yield only, no source"
    return _shelf_line(shortened(recipe.key, 40), shortened(crop, 34), jars)


def broken_text(shelf: CardShelf) -> str:
    """The cards of one's own that cannot be used; '' where there are none."""
    if not shelf.broken:
        return ""
    lines = [f"  {path}: {str(why).splitlines()[0]}" for path, why in shelf.broken]
    head = "These cards cannot be used; 'jarcast recipes check FILE' tells what to mend:"
    return "\n".join([head, *lines])


def card_text(recipe: Recipe, shown: Shown) -> str:
    """A card: its safety block, other jars' processes, the printed batch, cautions."""
    lines = [_block(recipe, shown), ""]
    lines += [wrapped(typeset(line)) for line in _printed(recipe)]
    lines += _details(recipe)
    if recipe.safety is not None and recipe.safety.process and shown.altitude_ft is None:
        lines += ["", wrapped(SAY_ALTITUDE)]
    sizes = [wrapped(f"{line}.") for line in other_sizes(recipe)]
    lines += ["", *sizes] if sizes else []
    found = tuple(c for c in cautions_for(_situation(recipe, shown)) if c.key != "no source")
    if found:
        lines += ["", *caution_lines(recipe, found)]
    return typeset("\n".join([*lines, "", wrapped(CLOSING)]))


def _situation(recipe: Recipe, shown: Shown) -> Situation:
    jar, pack, feet = shown.jar, shown.pack, shown.altitude_ft
    return Situation(
        recipe=recipe, jar=jar, pack=pack, altitude_ft=feet, whole_list=True, units=shown.units
    )


def _block(recipe: Recipe, shown: Shown) -> str:
    """The safety block for the jar asked for, and the process of every other tested one."""
    sizes = [shown.jar]
    if recipe.safety is not None:
        size = check_jar(recipe, shown.jar)
        sizes = [size, *(jar for jar in recipe.safety.jars if jar != size)]
    return block_for(recipe, sizes, shown.pack, shown.altitude_ft, shown.units)


def _printed(recipe: Recipe) -> list[str]:
    """The printed batch, what is done before the jars, and the card's notes."""
    tested = recipe.tested
    detail = f" ({tested.detail})" if tested.detail else ""
    lines = [
        f"For {crop_words(recipe.produce, recipe.cut, '')}: {tested.printed} {tested.basis}"
        f"{detail} gave {_jars(tested.jars)} {jar_words(tested.jar, tested.jars[1])}."
    ]
    if recipe.cure is not None:
        lines.append(f"Before the jars: {recipe.cure.line}")
        lines[-1] += "".join(f"; {part.line}" for part in recipe.cure.ingredients) + "."
    return [*lines, *recipe.notes]


def _details(recipe: Recipe) -> list[str]:
    """What a card says beyond its formula, each kind under a heading of its own."""
    safety = recipe.safety
    lists = (
        ("Produce:", [part.line for part in recipe.tested.parts]),
        ("Seasonings, for the printed batch:", [part.line for part in recipe.seasonings]),
        ("Steps, numbers only (the source says how it is made):", list(recipe.steps)),
        ("Before opening, let it stand:", [recipe.standing] if recipe.standing else []),
        (
            "The source offers pasteurising at a low temperature:",
            [safety.low_temperature] if safety is not None and safety.low_temperature else [],
        ),
        ("Other copies read:", list(safety.source.also) if safety is not None else []),
    )
    lines: list[str] = []
    for head, items in lists:
        if items:
            lines += ["", head, *(hung(f"- {item}") for item in items)]
    return lines


def _jars(jars: tuple[float, float]) -> str:
    low, high = (halves(count) for count in jars)
    return low if low == high else f"{low} to {high}"


def check_text(recipe: Recipe, like: Sequence[Recipe] = ()) -> str:
    """What is said of a card that was read without fault.

    ``like`` are other cards whose titles look like its own.
    """
    lines = [_can_be_used(recipe)]
    if found := unpublished(recipe):
        lines.append(wrapped(f"Check this; no published recipe has it: {'; '.join(found)}."))
    if like:
        others = ", ".join(f"'{other.key}'" for other in like)
        lines.append(
            wrapped(
                f"Its title '{recipe.name}' reads like that of {others}, which is another recipe: "
                f"they go by their names, and this one is '{recipe.key}'. Best give it another "
                "title."
            )
        )
    return "\n".join(lines)


def _can_be_used(recipe: Recipe) -> str:
    if recipe.safety is None:
        return wrapped(f"The card '{recipe.name}' can be read. {YIELD_ONLY}")
    rows = counted(len(recipe.safety.process), "process time", "process times")
    return wrapped(
        f"The card '{recipe.name}' can be used: {rows}, jars {', '.join(recipe.safety.jars)}; "
        f"source: {recipe.safety.source.cited}. Compare each number with that source; jarcast "
        "cannot."
    )


def scaled_text(scaled: Scaled, asked: str, place: Place = UNSAID) -> str:
    """A recipe scaled: the whole formula, what goes before the jars, and what to buy.

    ``asked`` says what it was scaled for, such as '12 half-pints'; ``place`` picks the times.
    """
    recipe, units = scaled.recipe, scaled.units
    lines = [
        wrapped(
            f"{recipe.name} for {asked}: {scaled.made_factor:.3g} times the printed recipe. "
            f"Produce: {scaled.produce}, by the recipe's own yield about {_jars(scaled.jars)} "
            f"{halves_word(recipe.tested.jar, scaled.jars[1])}."
        )
    ]
    if brine := told_portions(scaled):
        makes = f", makes {format_made(scaled.made_ml, units)}" if scaled.made_ml else ""
        lines += ["", f"Brine, {whole_formula(scaled)}{makes}:", *_portions(brine)]
    if salt := salt_told(recipe, scaled.trimmed_g, units):
        lines += ["", wrapped(salt)]
    if beside := each_jar_text(recipe, [size for _, size in scaled.sorts]):
        lines += [
            "",
            "Besides the brine, for the jars filled:",
            *(wrapped(f"  {line}") for line in beside),
        ]
    if recipe.cure is not None and (cure := without_salt(recipe, scaled.cure)):
        head = f"Before the jars ({recipe.cure.line}):"
        lines += ["", wrapped(head), *_portions(cure)]
    bought = [f"  {line.text}" for line in scaled.shopping]
    return "\n".join([*lines, "", "To buy:", *bought, "", *_beside_scaled(scaled, place)])


def _beside_scaled(scaled: Scaled, place: Place) -> list[str]:
    """What of a card's numbers scaling leaves as they are, and what more than twice comes to."""
    recipe, times = scaled.recipe, scaled.made_factor
    jars = () if recipe.safety is None else recipe.safety.jars
    pots = () if why_not_clean(recipe, "") else one_pot(times)
    at = situation_at(place, recipe, jars, times=times, pots=pots, units=scaled.units)
    due = [f"{one.text} ({one.source})" for one in cautions_for(at) if one.key in WITH_SCALED]
    line = cook_line(recipe, jars, altitude_ft=place.altitude_ft, units=scaled.units)
    return [wrapped(text) for text in (line, *due, CLOSING) if text]


def _portions(portions: tuple[Portion, ...]) -> list[str]:
    return [f"  {portion.line}" for portion in portions]


def shelf_document(shelf: CardShelf) -> dict[str, Any]:
    """The shelf for JSON; version 1 of 'jarcast recipes'."""
    return {
        "format": "jarcast recipes",
        "version": 1,
        "recipes": [
            {**_summary(recipe), "own": own}
            for own, cards in ((False, shelf.shipped), (True, shelf.own))
            for recipe in cards.values()
        ],
        "broken": [
            {"file": str(path), "error": str(why), "problems": list(why.problems)}
            for path, why in shelf.broken
        ],
    }


def _summary(recipe: Recipe) -> dict[str, Any]:
    safety = recipe.safety
    return {
        "key": recipe.key,
        "name": recipe.name,
        "produce": recipe.produce,
        "cut": recipe.cut,
        "packs": list(recipe.packs),
        "style": recipe.style.value,
        "source": None if safety is None else safety.source.cited,
        "jars": [] if safety is None else list(safety.jars),
    }


def card_document(recipe: Recipe, shown: Shown) -> dict[str, Any]:
    """One card for JSON; version 1 of 'jarcast recipe'. Weights in g, volumes in ml."""
    safety, cure = recipe.safety, recipe.cure
    jar = shown.jar if safety is None else check_jar(recipe, shown.jar)
    return {
        "format": "jarcast recipe",
        "version": 1,
        **_summary(recipe),
        "jar": jar,
        "altitude_ft": shown.altitude_ft,
        "headspace_in": None if safety is None else safety.headspace_in,
        "tested": _tested_document(recipe.tested),
        "brine": [] if safety is None else [_ingredient_document(p) for p in safety.formula],
        "cure": None
        if cure is None
        else {
            "detail": cure.detail,
            "hours": None if cure.hours is None else list(cure.hours),
            "refrigerated": cure.refrigerated,
            "ingredients": [_ingredient_document(part) for part in cure.ingredients],
        },
        "notes": list(recipe.notes),
        **_details_document(recipe),
        "safety_block": _block(recipe, shown),
        "cautions": caution_document(cautions_for(_situation(recipe, shown))),
        "closing": CLOSING,
    }


def _details_document(recipe: Recipe) -> dict[str, Any]:
    """What a card says beyond its formula; empty where it says nothing."""
    safety = recipe.safety
    ferment = None if safety is None else safety.ferment
    each = () if safety is None else safety.per_jar
    return {
        "parts": [_ingredient_document(part) for part in recipe.tested.parts],
        "seasonings": [_ingredient_document(part) for part in recipe.seasonings],
        "each_jar": [{"jar": one.jar, **_ingredient_document(one.part)} for one in each],
        "steps": list(recipe.steps),
        "standing": recipe.standing,
        "stands_in_brine": recipe.stands_in_brine,
        "headspace_detail": "" if safety is None else safety.headspace_detail,
        "low_temperature": "" if safety is None else safety.low_temperature,
        "other_copies": [] if safety is None else list(safety.source.also),
        "ferment": None
        if ferment is None
        else {
            "salt": ferment.salt,
            "warmth": [{"f": list(f), "weeks": list(weeks)} for f, weeks in ferment.warmth],
            "least_f": ferment.least_f,
            "most_f": ferment.most_f,
        },
    }


def _tested_document(tested: Tested) -> dict[str, Any]:
    return {
        "amount": tested.printed,
        "basis": tested.basis.value,
        "grams": tested.grams,
        "ml": tested.ml,
        "jar": tested.jar,
        "jars": list(tested.jars),
    }


def _ingredient_document(part: Ingredient) -> dict[str, Any]:
    return {"name": part.name, "kind": part.kind.value, "amount": part.printed}


def check_document(recipe: Recipe, like: Sequence[Recipe] = ()) -> dict[str, Any]:
    """A card without fault for JSON; version 1 of 'jarcast recipe checked'."""
    return {
        "format": "jarcast recipe checked",
        "version": 1,
        **_summary(recipe),
        "yield_only": recipe.safety is None,
        "unpublished": list(unpublished(recipe)),
        "title_like": [other.key for other in like],
    }


def scaled_document(scaled: Scaled) -> dict[str, Any]:
    """A recipe scaled, for JSON; version 1 of 'jarcast recipe scaled'."""
    return {
        "format": "jarcast recipe scaled",
        "version": 1,
        "recipe": scaled.recipe.key,
        "times_printed": scaled.made_factor,
        "produce": scaled.produce,
        "printed_jars": list(scaled.jars),
        "jar": scaled.recipe.tested.jar,
        "made_ml": scaled.made_ml,
        "brine": [portion_document(portion) for portion in told_portions(scaled)],
        "cure": [portion_document(p) for p in without_salt(scaled.recipe, scaled.cure)],
        "ferment_salt": salt_document(scaled.recipe, scaled.trimmed_g, scaled.units),
        "shopping": [
            {"name": line.name, "ml": line.ml, "grams": line.grams, "text": line.text}
            for line in scaled.shopping
        ],
        "closing": CLOSING,
    }
