"""A harvest in words: the answer first, then its lines, what to buy, and the day."""

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from jarcast.app.harvest import Answer
from jarcast.app.plan_progress import Progress, State
from jarcast.domain.stages import STAGE_OF
from jarcast.errors import MOST_SHOWN
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.needs import OWN_BRINE, Thing, Unknown, smaller_jars
from jarcast.harvest.shopping import Shopping, ToBuy
from jarcast.measures import Units, format_volume, format_weight
from jarcast.recipes import CLOSING
from jarcast.recipes.kitchen import (
    Rounding,
    round_volume,
    round_weight,
    volume_text,
    weight_text,
)
from jarcast.views.harvest_cautions import card_cautions
from jarcast.views.harvest_day import day_lines
from jarcast.views.harvest_kept import kept_lines
from jarcast.views.harvest_stock import stock_lines
from jarcast.views.ranges import volume_range, weight_words
from jarcast.views.words import (
    between,
    counted,
    crop_words,
    filled_words,
    halves,
    item,
    jar_words,
    odds,
    shortened,
    sorts_words,
    times_in,
    wrapped,
)

CARRIED = (
    "This counts on clean brine that is left in the pot going into the next batch of the same "
    "recipe. With an order of its own for every batch, and what is left thrown away, {orders} of "
    "brine would be made."
)
NO_RECIPE = (
    "Lines without a recipe card: you get only the volume of their brine. What goes into it, and "
    "how strong the vinegar must be, is in your tested recipe. Each is counted as its own recipe. "
    "Without a tested process, keep these jars in the refrigerator."
)
LIMITED = (
    "Brine raised to the recipe's own amount for this much produce: {places}. Their jars alone "
    "would take less; the shopping list goes by the recipe."
)
NO_FLOOR = (
    "Least brine for the produce not known: {places}. Never make less brine for the produce than "
    "the recipe does."
)
PART_JARS = (
    "A batch's part-full last jar is counted in jars and lids; it goes in the refrigerator or in "
    "a smaller tested jar, not in the canner."
)

SMALLER_JARS = (
    "Half a jar is a tested jar of half the size, filled to its headspace. The list counts it as "
    "one of the full size: have {jars} of half the size as well."
)


def harvest_text(answer: Answer, level: float = 0.8) -> str:
    """The whole answer as text, fit for a terminal."""
    blocks = [
        [wrapped(line) for line in _totals(answer, level)],
        list(kept_lines(answer)),
        list(_lines(answer, level)),
        list(stock_lines(answer)),
        list(_shopping_lines(answer, level)),
        list(day_lines(answer, level, MOST_SHOWN)),
        [wrapped(line) for line in (*_notes(answer), *_packer(answer))],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _totals(answer: Answer, level: float) -> Iterator[str]:
    done = sum(one.state is State.DONE for one in answer.progress)
    batches = counted(len(answer.progress), "batch", "batches")
    if answer.harvest is None or answer.jars is None:
        yield f"{batches}, all done: {_jars(answer.jars_done)}. Nothing left to do."
        return
    jars = answer.jars
    low, high = map(_whole, jars.interval(level))
    yield f"About {_whole(jars.median)} jars from {batches}{between(low, high, level)}."
    yield from _by_sort(answer)
    partly = sum(one.state is State.PARTLY for one in answer.progress)
    if done or partly:
        left = answer.harvest.jars
        low, high = map(_whole, left.interval(level))
        filled = _jars(answer.jars_done)
        part = f", and part of {partly}" if partly else ""
        yield (
            f"Done: {counted(done, 'batch', 'batches')}{part}, {filled}. Left to do: "
            f"{counted(len(answer.to_do), 'batch', 'batches')}, about {_whole(left.median)} jars"
            f"{between(low, high, level)}."
        )
    yield from _bought_totals(answer, level)
    brine = _brine_left(answer)
    if brine.median > 0:
        units = answer.asked.units
        middle, low, high = volume_range(brine, units, level)
        yield f"Brine, with what stays in the pots: about {middle}{between(low, high, level)}."
    if answer.day is not None and answer.day.loads is not None:
        low, high = map(_whole, answer.day.loads.interval(level))
        middle = _whole(answer.day.loads.median)
        yield f"Canner loads: about {middle}{between(low, high, level)}."


def _bought_totals(answer: Answer, level: float) -> Iterator[str]:
    """Lids by mouth and vinegar by strength: what is needed, not what is bought to be sure."""
    units = answer.asked.units
    for line in answer.shopping.lines if answer.shopping is not None else ():
        need, amount = line.need, line.need.amount
        if need.thing is Thing.LIDS:
            low, high = (str(round(count)) for count in amount.interval(level))
            middle = str(round(amount.median))
        elif need.acid_percent is not None:
            middle, low, high = volume_range(amount, units, level)
        else:
            continue
        yield f"{need_words(line).capitalize()}: about {middle}{between(low, high, level)}."


def _brine_left(answer: Answer) -> Outcome:
    left = answer.harvest.lines if answer.harvest is not None else ()
    draws = [one.brine_to_come_ml.draws for one in left]
    return Outcome(sum(draws[1:], start=draws[0]))


def _whole(count: float) -> str:
    """A count of a whole harvest: halves of a jar tell nothing among many."""
    return halves(count) if count < 10 else f"{round(count)}"


def _jars(count: float) -> str:
    return f"{halves(count)} {'jar' if count <= 1 else 'jars'}"


def _lines(answer: Answer, level: float) -> Iterator[str]:
    """One line a batch."""
    yield "Batch by batch:"
    for at, one in enumerate(answer.progress[:MOST_SHOWN]):
        forecast = answer.forecasts[at]
        name = f"{shortened(one.line.name, 24)}: " if one.line.name else ""
        if forecast is None:
            yield item(f"{name}{shortened(_done_crop(one), 60)}: done, {_filled(one)}")
            continue
        request = forecast.request
        crop = shortened(crop_words(request.produce, request.cut, request.pack), 60)
        weight = weight_words(request, answer.asked.units)
        low, high = map(halves, forecast.jars.interval(level))
        ends = "" if low == high else f", {low} to {high}"
        begun = "begun, " if one.state is State.OPEN else ""
        if one.batches:
            begun = f"{_filled(one)} so far; still to do {begun}"
        by = f", by {shortened(forecast.recipe.name, 40)}" if forecast.recipe is not None else ""
        yield item(
            f"{name}{crop}: {begun}{weight} {STAGE_OF[request.stage].label}{by}: about "
            f"{_expected(forecast)}{ends}"
        )
    hidden = len(answer.progress) - MOST_SHOWN
    if hidden > 0:
        yield f"  ... and {hidden} more; --json and --csv have every line"


def _done_crop(one: Progress) -> str:
    batch = one.batch
    return "" if batch is None else crop_words(batch.produce, batch.cut, "")


def _filled(one: Progress) -> str:
    """The jars of finished batches, each count with its sort where one batch has several."""
    if len(one.batches) == 1 and len(one.batches[0].jar) > 1:
        return filled_words(zip(one.batches[0].jars, one.batches[0].jar, strict=True))
    return _jars(one.filled)


def _expected(forecast: Forecast) -> str:
    """The jars of a batch to come: '9 1/2 pints', '11 jars (6 pints, then 5 quarts)'."""
    count, turns = halves(forecast.jars.median), forecast.request.turns
    if len(turns) == 1:
        return f"{count} {jar_words(turns[0].jar.key)}"
    sorts = zip(turns, forecast.jars_by_sort, strict=True)
    return f"{count} jars ({sorts_words((turn.jar.key, jars.median) for turn, jars in sorts)})"


def _by_sort(answer: Answer) -> Iterator[str]:
    """All the jars of a harvest by sort, where there are several."""
    draws: dict[str, Any] = {}
    for one in answer.harvest.lines if answer.harvest is not None else ():
        for turn, jars in zip(one.request.turns, one.jars_by_sort, strict=True):
            draws[turn.jar.key] = draws.get(turn.jar.key, 0.0) + jars.draws
    found = {key: Outcome(drawn).median for key, drawn in draws.items()}
    for progress in answer.progress:
        for batch in progress.batches:
            for key, count in zip(batch.jar, batch.jars, strict=True):
                found[key] = found.get(key, 0.0) + count
    if len(found) > 1:
        shown = [f"{_whole(count)} {jar_words(key, count)}" for key, count in found.items()]
        yield f"By sort: about {', '.join(shown)}."


def _shopping_lines(answer: Answer, level: float) -> Iterator[str]:
    bill = answer.shopping
    if bill is None:
        return
    units = answer.asked.units
    left = any(one.state is not State.TO_DO for one in answer.progress)
    what = "Still to buy" if left else "Shopping list"
    yield wrapped(f"{what}, each with {odds(bill.short_chance)} of running short:")
    for line in bill.lines:
        yield item(_bought(line, units, bill.sign))
    for unknown in bill.unknown[:MOST_SHOWN]:
        yield item(f"not counted, {_called(answer, unknown.line)}: {unknown.why}")
    if bill.limited:
        yield wrapped(LIMITED.format(places=_places(answer, bill.limited)))
    if bill.no_floor:
        places = _by_reason(answer, bill.no_floor)
        yield wrapped(NO_FLOOR.format(places=places))
    yield from (wrapped(line) for line in _cost(bill, level))
    yield from (item(line) for line in _by_crop(bill))


def _by_reason(answer: Answer, unknown: Sequence[Unknown]) -> str:
    """'beans 1 and line 4, as the card measures its produce by the cup': for each reason."""
    reasons: dict[str, list[int]] = {}
    for one in unknown:
        reasons.setdefault(one.why.partition(": ")[2] or one.why, []).append(one.line)
    return "; ".join(f"{_places(answer, lines)}, as {why}" for why, lines in reasons.items())


def _called(answer: Answer, line: int) -> str:
    """One of the lines left by its name, or where it stands."""
    return shortened(answer.name(line), 24) or answer.place(line)


def _places(answer: Answer, lines: Sequence[int]) -> str:
    shown = [_called(answer, line) for line in lines[:MOST_SHOWN]]
    more = len(lines) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _bought(line: ToBuy, units: Units, sign: str) -> str:
    text = f"{need_words(line)}: {amount_words(line, units)}"
    if line.pieces:
        sizes = " + ".join(
            f"{count} x {shortened(size.text or f'{size.amount:g}', 30)}"
            for size, count in line.pieces
        )
        text += f" ({sizes})"
    return text if line.to_pay is None else f"{text}, {sign}{line.to_pay:.2f}"


def need_words(line: ToBuy) -> str:
    """What is bought, in words."""
    need = line.need
    if need.thing is Thing.JARS:
        return jar_words(need.name)
    if need.thing is Thing.LIDS:
        return {"wide lids": "wide-mouth lids", "regular lids": "regular-mouth lids"}.get(
            need.name, need.name
        )
    strength = f", {need.acid_percent:g} % acid or stronger" if need.acid_percent else ""
    return f"{need.name}{strength}"


def amount_words(line: ToBuy, units: Units) -> str:
    """How much is bought, in measures of the kitchen."""
    if line.need.measure == "ml":
        exact = round_volume(Fraction(line.amount), units, Rounding.NEAREST)
        return volume_text(exact, units)
    if line.need.measure == "g":
        if line.need.thing is Thing.PRODUCE:
            return f"about {format_weight(line.amount, units)}"
        return weight_text(round_weight(Fraction(line.amount), units, Rounding.NEAREST), units)
    times = " times" if line.need.measure == "times" else ""
    return f"{line.amount:g}{times}"


def _cost(bill: Shopping, level: float) -> Iterator[str]:
    if bill.to_pay is None or bill.by_jar is None:
        return
    low, high = bill.by_jar.interval(level)
    free = [need_words(line) for line in bill.unpriced]
    free += [f"{produce} (its weight as bought is not given)" for produce in bill.no_weight]
    without = f" Without a price: {', '.join(free)}." if free else ""
    yield (
        f"To pay: {bill.sign}{bill.to_pay:.2f}. Used up for each jar: about "
        f"{bill.sign}{bill.by_jar.median:.2f}, {times_in(level)} between {bill.sign}{low:.2f} and "
        f"{bill.sign}{high:.2f}.{without}"
    )


def _by_crop(bill: Shopping) -> Iterator[str]:
    """What each crop uses up that has a price, and whether that is without the produce itself."""
    priced = [one for one in bill.by_crop if one.used.median > 0.0]
    for one in priced[:MOST_SHOWN]:
        unpriced = any(need.thing is Thing.PRODUCE for need in one.unpriced)
        own = "; the produce has no price" if unpriced else ""
        yield (
            f"{shortened(one.produce, 40)}: about {bill.sign}{one.used.median:.2f} used up for "
            f"{_whole(one.jars.median)} jars, {bill.sign}{one.by_jar.median:.2f} each{own}"
        )


def _packer(answer: Answer) -> Iterator[str]:
    """Who is taken to pack the lines that name nobody."""
    who, lines = answer.asked.person, answer.progress
    if who and any(one.state is State.TO_DO and not one.line.person for one in lines):
        yield (
            f"Packed by {shortened(who, 40)}, as last time, where a line names nobody; use the "
            "plan's person column to change that."
        )


def _notes(answer: Answer) -> Iterator[str]:
    yield from _container_notes(answer)
    if answer.shopping is None:
        yield CLOSING
        return
    if _carried(answer) and answer.shopping.orders_ml > 0:
        yield CARRIED.format(orders=format_volume(answer.shopping.orders_ml, answer.asked.units))
    yield from _last_jars([one for one in answer.forecasts if one is not None])
    if any(line.need.name == OWN_BRINE for line in answer.shopping.lines):
        yield NO_RECIPE
    yield from card_cautions(answer)
    cards = {one.recipe.key for one in answer.forecasts if one is not None and one.recipe}
    if cards:
        shown = ", ".join(f"'jarcast recipes show {key}'" for key in sorted(cards))
        yield f"The safety numbers of each recipe: {shown}."
    yield CLOSING


def _last_jars(forecasts: Sequence[Forecast]) -> Iterator[str]:
    """What a last jar that is not full, or is of a smaller size, counts as."""
    smaller = [one for one in forecasts if one.smaller_jar]
    if not all(one.whole_jars or one.smaller_jar for one in forecasts):
        yield PART_JARS
    if smaller:
        yield SMALLER_JARS.format(jars=math.ceil(smaller_jars(smaller).enough()))


def _carried(answer: Answer) -> bool:
    """Whether several lines are of one recipe, so that what is left of a pot goes into the next.

    Only where the brine stays clean: poured over the produce, and never heated with it.
    """
    made = [one.recipe.key for one in answer.forecasts if one and one.recipe and one.poured_over]
    return len(made) > len(set(made))


def _container_notes(answer: Answer) -> Iterator[str]:
    """Where the weights of counted containers come from, each said once."""
    said: set[tuple[str, str]] = set()
    for line in answer.plan.lines:
        if line.counted is None:
            continue
        produce = line.put_up
        key = (produce, line.counted.container)
        if key in said or len(said) >= MOST_SHOWN:
            continue
        said.add(key)
        yield (
            f"A {line.counted.container} of {shortened(produce, 40)} goes by its published weight: "
            f"{'; '.join(line.counted.sources)}."
        )


def beside_text(answer: Answer) -> str:
    """What is told beside the answer: columns that were ignored, sizes and prices not used."""
    lines = []
    if answer.plan.ignored_columns:
        names = ", ".join(shortened(name, 40) for name in answer.plan.ignored_columns[:MOST_SHOWN])
        lines.append(f"Columns not used by the plan: {names}. --csv keeps them as they are.")
    if answer.shopping is not None and answer.shopping.unmatched:
        names = ", ".join(shortened(name, 40) for name in answer.shopping.unmatched[:MOST_SHOWN])
        lines.append(f"Nothing on the list has these names, so they were not used: {names}.")
    return "\n".join(wrapped(line) for line in lines)
