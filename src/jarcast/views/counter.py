"""What a batch in the making is expected to come to, step by step, in words."""

from collections.abc import Mapping, Sequence

from msgspec import Struct

from jarcast.app.open_batch import Underway
from jarcast.domain.batch import Batch
from jarcast.domain.rules import bare
from jarcast.forecast.answer import Forecast
from jarcast.forecast.first_load import waits_for_reading
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.pack_check import packed_g_per_jar
from jarcast.forecast.pots import USUAL_LOAD, Pot
from jarcast.measures import Units, format_made, format_volume
from jarcast.recipes import (
    PackCheck,
    Recipe,
    no_check_text,
    why_no_yardstick,
)
from jarcast.views.by_recipe import floor_text
from jarcast.views.forecast import (
    CAUTION,
    FOR_THE_REFRIGERATOR,
    NEVER_LESS,
    jars_and_lids,
    refrigerator_lines,
    without_card,
)
from jarcast.views.formula import beyond_lines, by_pots, formula_lines, salt_lines
from jarcast.views.open_batch import known_text
from jarcast.views.pots import (
    each_pot,
    first_jars,
    first_pot,
    next_pot,
    pots_of,
    read_when,
    whose_brine,
)
from jarcast.views.ranges import alike, volume_range
from jarcast.views.words import (
    between,
    chance_words,
    crop_words,
    halves,
    halves_word,
    hung,
    odds,
    sorts_words,
    wrapped,
)

_LEVEL = 0.8
_SHORT = 0.05
WAITS = (
    "Add a weight (as bought, trimmed, cured or cooked) and I'll say what it will come to: "
    "jarcast weigh --trimmed '5 lb'."
)
TIGHTER = (
    "Your jars hold less brine than the card's: packed tighter than tested. Pack the rest looser."
)
SHORT_RULE = "short of brine"
NO_TIGHTER = (
    "Your jars hold less brine than the card's, though not packed tighter than its printed yield: "
    "its formula makes more than these jars take."
)


class Ways(Struct, frozen=True):
    """How what is still missing is said: by an option, or as an answer in the guide."""

    made: str
    more: str


OPTIONS = Ways("add --brine-made", 'note it with --more-brine "{amount}"')
ANSWERS = Ways("answer it under 'Brine made'", "say {amount} when asked for another pot of brine")


class Already(Struct, frozen=True):
    """How what is missing is said, the jars that the canner holds, and the pots that were made."""

    ways: Ways
    load: float
    made_ml: Sequence[float]


def expected_lines(
    now: Forecast,
    before: Forecast | None,
    units: Units,
    packing: PackCheck | None = None,
    *,
    cautions: bool = True,
    ways: Ways = OPTIONS,
    load: float = USUAL_LOAD,
    made_ml: Sequence[float] = (),
) -> list[str]:
    """What a batch is expected to come to before its first jar, and what was expected before.

    ``cautions`` tells whether to say what the recipe, or its absence, adds; ``load`` how many of
    its jars the canner holds; ``made_ml`` are the pots of brine made for it.
    """
    lines = [
        _jars(now, before),
        f"Set out {jars_and_lids(now)}.",
        *(
            _made_already(now, packing, units, Already(ways, load, made_ml))
            if now.so_far is not None
            else _order(now, units, load)
        ),
        *(_whole_jars(now) if cautions else []),
    ]
    return [*lines, *(_recipe_says(now, packing, units) if cautions else [])]


def packing_lines(
    now: Forecast,
    before: Forecast | None,
    units: Units,
    packing: PackCheck | None = None,
    *,
    ways: Ways = OPTIONS,
    load: float = USUAL_LOAD,
    made_ml: Sequence[float] = (),
) -> list[str]:
    """What is still to come of a batch being packed, whether its brine lasts, what to heat now.

    ``load`` and ``made_ml`` are as in ``expected_lines``.
    """
    made = Already(ways, load, made_ml)
    lines = _made_already(now, packing, units, made) if now.has_brine else []
    lines += [_jars(now, before), f"Still to come: about {_range(now, now.jars_to_come)}."]
    if now.has_brine:
        lines.append(_brine(now, before, units))
    if packing is None and now.recipe is not None:
        weighed = packed_g_per_jar(now) is not None
        lines.append(no_check_text(why_no_yardstick(now.recipe, weighed=weighed, ready_share=1.0)))
    return [*lines, *_whole_jars(now), *_recipe_says(now, packing, units)]


def paragraphs(lines: Sequence[str]) -> str:
    """Paragraphs, wrapped; a formula's lines are left as they are."""
    return "\n".join(line if line.startswith("  ") else wrapped(line) for line in lines if line)


def _jars(now: Forecast, before: Forecast | None) -> str:
    head = "In all about" if now.so_far is not None and now.so_far.jars else "About"
    said = f"{head} {_range(now, now.jars)}"
    if before is None or _middle_and_range(before) == _middle_and_range(now):
        return f"{said}."
    middle, low, high = _middle_and_range(before)
    ends = "" if low == high else f", between {low} and {high}"
    return f"{said} (before this: {middle}{ends})."


def _middle_and_range(forecast: Forecast) -> tuple[str, str, str]:
    middle, low, high = map(halves, forecast.counts(forecast.jars, _LEVEL))
    return middle, low, high


def shown_otherwise(now: Forecast, before: Forecast, units: Units) -> bool:
    """Whether the jars or the brine of a batch read otherwise than they did before."""

    def brine(forecast: Forecast) -> tuple[str, ...]:
        amounts = (forecast.brine_ml.median, *forecast.brine_ml.interval(_LEVEL))
        return tuple(format_volume(ml, units) for ml in amounts)

    return _middle_and_range(now) != _middle_and_range(before) or brine(now) != brine(before)


def _range(forecast: Forecast, jars: Outcome) -> str:
    """'9½ pints, 8 times in 10 between 8 and 11'; '14 pints' where that is both ends."""
    middle, least, most = forecast.counts(jars, _LEVEL)
    sorts = _sorts(forecast, to_come=jars is forecast.jars_to_come)
    word = f"jars ({sorts_words(sorts)})" if len(sorts) > 1 else halves_word(sorts[0][0], middle)
    return f"{halves(middle)} {word}{between(halves(least), halves(most), _LEVEL)}"


def _whole_jars(now: Forecast) -> list[str]:
    return [bare("whole jars")] if now.whole_jars else []


def _sorts(forecast: Forecast, *, to_come: bool) -> list[tuple[str, float]]:
    """The jars in all, or those ``to_come``, by sort in their turns; one sort at least."""
    sorts = zip(forecast.request.turns, forecast.jars_by_sort, strict=True)
    found = [(turn.jar.key, turn.count, jars.median) for turn, jars in sorts]
    packed = forecast.so_far.jars if forecast.so_far is not None and to_come else 0.0
    left = []
    for key, most, middle in found:
        done = min(packed, most)
        packed -= done
        left.append((key, max(middle - done, 0.0)))
    return [(key, count) for key, count in left if halves(count) != "0"] or left[-1:]


def _order(now: Forecast, units: Units, load: float) -> list[str]:
    if not now.has_brine:
        whole, salt = now.formula_to_make(_SHORT, units), salt_lines(now, units)
        said = ["No brine to make: it makes its own.", *salt]
        return [*said, *beyond_lines(now, whole)]
    if pots := pots_of(now, units, _SHORT, load):
        formula = now.formula_for(load, _SHORT, units)
        first = first_pot(now, pots, units, _SHORT)
        told = [] if formula is None else formula_lines(formula)
        many = beyond_lines(now, formula, by_pots(now, pots, units))
        return [first, *told, next_pot(now, pots, units), each_pot(now), *many]
    made = format_made(now.brine_to_make(_SHORT, units), units)
    return [f"Make {made} of {whose_brine(now)} brine: {_why(now)}.", *_formula(now, units)]


def _why(now: Forecast) -> str:
    if now.limited_by_recipe(_SHORT):
        return "raised to the recipe's own amount for this much produce"
    return f"{odds(_SHORT)} of running short"


def _formula(now: Forecast, units: Units, made_ml: Sequence[float] = ()) -> list[str]:
    """The formula of what is to be made, and what is due where that is more than was tested."""
    formula = now.formula_to_make(_SHORT, units)
    if formula is None:
        return []
    return [*formula_lines(formula), *beyond_lines(now, formula, made_ml=made_ml)]


def _brine(now: Forecast, before: Forecast | None, units: Units) -> str:
    middle, low, high = volume_range(now.brine_to_come_ml, units, _LEVEL)
    said = f"Brine still needed: about {middle}{between(low, high, _LEVEL)}"
    in_all, earlier = (one.brine_ml.median for one in (now, before or now))
    say = alike(max(in_all, earlier), units)
    total, was = say(in_all), say(earlier)
    return (
        f"{said}; in all {total}."
        if was == total
        else (f"{said}; in all {total} (before this: {was}).")
    )


def _made_already(
    now: Forecast,
    packing: PackCheck | None,
    units: Units,
    already: Already,
) -> list[str]:
    """Whether the brine there lasts, and what to heat now: the whole formula, nothing else."""
    if not now.has_brine:
        return ["No brine to make: it makes its own."]
    order, ways = now.brine_to_make(_SHORT, units), already.ways
    amount = format_made(order, units)
    there, chance = now.brine_there_ml, now.runs_out
    if there is None or chance is None:
        if order <= 0.0:
            return [f"How much brine was made is not known ({ways.made}); no more is needed."]
        said = (
            f"How much brine was made is not known ({ways.made}). Have "
            f"{amount} of {whose_brine(now)} brine for the rest: {_why(now)}."
        )
        if now.less_than_recipe(_SHORT):
            said += " Until you do, I can't check it against the recipe's proportion."
        return [said, *_formula(now, units), *([bare(SHORT_RULE)] if order > 0.0 else [])]
    pot = (
        f"In the pot about {format_volume(there.median, units)}: {chance_words(chance)} of running "
        "short."
    )
    if order <= 0.0:
        said = f"Nothing to heat: what you have will do. {pot}"
        return [said, *_tighter(now, packing), *beyond_lines(now, None, (), already.made_ml)]
    if pots := pots_of(now, units, _SHORT, already.load):
        there_text = format_volume(there.median, units)
        return [*_by_pots(now, pots, there_text, units, already), *_tighter(now, packing)]
    if waits_for_reading(now, already.load):
        there_text = format_volume(there.median, units)
        said = (
            f"Nothing to heat yet: the {there_text} in the pot will do for "
            f"{first_jars(already.load)}. Weigh the bowl and the pot {read_when(now)}: they tell "
            f"how much to heat next, up to {amount}."
        )
        return [said, *_tighter(now, packing), *beyond_lines(now, None, (), already.made_ml)]
    why = f"{odds(_SHORT)} of running short then"
    if now.limited_by_recipe(_SHORT):
        why = f"{_why(now)}; these jars alone would need less"
    lines = [
        f"Heat {amount} more now, of {whose_brine(now)} whole formula: {why}. {pot} Once made, "
        f"{ways.more.format(amount=amount)}."
    ]
    lines += [*_tighter(now, packing), *_formula(now, units, already.made_ml)]
    return [*lines, *([bare(SHORT_RULE)] if chance > _SHORT else [])]


def _by_pots(
    now: Forecast, pots: Sequence[Pot], there: str, units: Units, already: Already
) -> list[str]:
    """Whether what is ``there`` before the first jar does for its load, and the pot after it."""
    jars = first_jars(pots[0].jars)
    if pots[0].ml <= 0.0:
        lines = [f"Nothing to heat yet: the {there} in the pot will do for {jars}."]
    else:
        amount = format_made(pots[0].ml, units)
        formula = now.formula_for(pots[0].jars, _SHORT, units)
        lines = [
            f"Heat {amount} more for {jars}, of {whose_brine(now)} whole formula: {_why(now)}. "
            f"In the pot about {there}. Once made, {already.ways.more.format(amount=amount)}.",
            *([] if formula is None else formula_lines(formula)),
        ]
    many = beyond_lines(now, None, by_pots(now, pots, units), already.made_ml)
    return [*lines, next_pot(now, pots, units), each_pot(now), *many]


def _tighter(now: Forecast, packing: PackCheck | None) -> list[str]:
    """What is due where the jars cannot take as much brine as the recipe's proportion.

    What was weighed into them tells best how tight they are; else the jars they will be.
    """
    if not now.jars_hold_less(_SHORT):
        return []
    tight = packing is not None and bool(packing.message)
    return [NO_TIGHTER if now.fewer_than_printed is False and not tight else TIGHTER]


def _recipe_says(now: Forecast, packing: PackCheck | None, units: Units) -> list[str]:
    """What the recipe, or its absence, adds to an order of brine."""
    if now.recipe is None:
        order = now.has_brine and now.brine_to_make(_SHORT) > 0.0
        return [f"{NEVER_LESS} {FOR_THE_REFRIGERATOR}" if order else FOR_THE_REFRIGERATOR]
    lines = []
    if now.has_brine:
        lines.append(floor_text(now, units))
    if packing is not None and packing.message:
        lines.append(f"Pack check: {packing.message}")
    return lines


def begun_text(at: Underway, taken: Mapping[str, str], last: Batch | None) -> str:
    """A batch that was opened, and what was taken from the last like it."""
    batch = at.batch
    jar = f", {at.typed['jar'].strip()}" if at.typed.get("jar", "").strip() else ""
    lines = [f"Begun: '{at.name}' ({crop_words(batch.produce, batch.cut, batch.pack)}{jar})."]
    if last is not None and taken:
        said = ", ".join(f"{column} {text}" for column, text in taken.items())
        lines.append(
            f"As last time ({last.date}): {said}. To change one, use the option of that name."
        )
    return paragraphs(lines)


def no_card_text(has_brine: bool, produce: str) -> str:
    """The cautions of a batch without a recipe's card, said once at its beginning."""
    texts = (without_card(has_brine), *refrigerator_lines(produce), CAUTION)
    return "\n".join(wrapped(text) for text in texts)


def more_of_card(card: Recipe) -> str:
    """Where the rest of a recipe's card is read."""
    return wrapped(f"Its cautions and times: jarcast recipes show {card.key}.")


def open_text(
    found: Sequence[tuple[Underway, Forecast | None]], units: Units, load: float = USUAL_LOAD
) -> str:
    """Open batches and what each is expected to come to; ``load``: jars that the canner holds."""
    if not found:
        return "No batch is open; 'jarcast begin' opens one."
    lines: list[str] = []
    for at, forecast in found:
        crop = crop_words(at.batch.produce, at.batch.cut, at.batch.pack)
        said = f"{at.name}: {crop}, begun {at.batch.date}; {known_text(at, units)}."
        lines.append(hung(said))
        if forecast is None:
            lines.append("  no forecast" if at.weighed else "  waits for a weight")
            continue
        lines.append(f"  about {_range(forecast, forecast.jars)}")
        if forecast.has_brine:
            lines.append(f"  {_to_make(forecast, units, load)}")
    return "\n".join(lines)


def _to_make(forecast: Forecast, units: Units, load: float) -> str:
    order = forecast.brine_to_make(_SHORT, units)
    made = forecast.so_far is not None
    more = " more" if made else ""
    if made and order <= 0.0:
        return "make no more brine: what you have will do"
    if pots := pots_of(forecast, units, _SHORT, load):
        jars = first_jars(pots[0].jars)
        if pots[0].ml <= 0.0:
            return f"the brine will do for {jars}; heat a second pot while they are filled"
        return f"heat {format_made(pots[0].ml, units)}{more} of brine for {jars}"
    if waits_for_reading(forecast, load):
        return f"the brine will do for {first_jars(load)}; weigh bowl and pot {read_when(forecast)}"
    return f"make {format_made(order, units)}{more} of brine, {_why(forecast)}"
