"""Which line of a harvest goes into which of the jars at hand."""

from collections.abc import Iterator, Sequence
from typing import Any

from jarcast.app.harvest import Answer
from jarcast.errors import MOST_SHOWN
from jarcast.forecast.request import JarTurn
from jarcast.harvest.stock import Place
from jarcast.views.words import chance_words, crop_words, item, jar_words, shortened, wrapped


def _chance(chance: float) -> str:
    return chance_words(chance).removeprefix("about ")  # what is needed is said to be about it


def stock_lines(answer: Answer) -> Iterator[str]:
    """How far the jars go, then line by line; nothing where none were counted."""
    stock = answer.stock
    if stock is None:
        return
    have = ", ".join(
        f"{sort.have:.0f} {jar_words(key, sort.have)}" for key, sort in stock.sorts.items()
    )
    enough = f"{chance_words(stock.enough)} that they are enough for all of it"
    enough = enough if stock.enough >= 0.005 else "not enough for all of it"
    yield wrapped(f"In the jars you have ({have}): {enough}.")
    for key, sort in stock.sorts.items():
        needed, left = sort.needed.median, sort.left.median
        short = f"; {_chance(sort.short)} of too few" if sort.short > 0.005 else ""
        counts = f"{sort.have:.0f}, about {needed:.0f} needed, {left:.0f} left over"
        yield f"  {jar_words(key)}: {counts}{short}"
    lines = zip(answer.to_do[:MOST_SHOWN], stock.places, stock.harvest.lines, strict=False)
    for at, place, line in lines:
        forecast = answer.forecasts[at]
        if forecast is None:
            continue
        request, name = forecast.request, answer.progress[at].line.name
        crop = shortened(crop_words(request.produce, request.cut, ""), 50)
        title = f"{shortened(name, 24)}: {crop}" if name else crop
        yield item(f"{title}: {_place(place, line.request.turns)}")
    if len(stock.places) > MOST_SHOWN:
        yield f"  ... and {len(stock.places) - MOST_SHOWN} more lines; --json has them all"
    if stock.without.median >= 0.5:
        yield wrapped(
            f"In all about {stock.without.median:.0f} jars are still needed; they are on the "
            "shopping list."
        )


def _place(place: Place, turns: Sequence[JarTurn]) -> str:
    count = round(place.without.median)
    short = f"about {count} {jar_words(turns[-1].jar.key, count)}"
    if not place.jar:
        why = "none left for it" if place.fits else "none of these jars can be used for it"
        return f"{why}; not placed: {short}"
    missing = f"; not placed: {short}" if place.without.median >= 0.5 else ""
    words = [f"{turn.count:g} {jar_words(turn.jar.key, turn.count)}" for turn in turns[:-1]]
    words.append(jar_words(turns[-1].jar.key))
    return ", then ".join(words) + missing


def stock_document(answer: Answer) -> dict[str, Any] | None:
    """For JSON, a part of 'jarcast harvest'."""
    stock = answer.stock
    if stock is None:
        return None
    return {
        "enough": stock.enough,
        "without": stock.without.median,
        "sorts": {
            key: {
                "have": sort.have,
                "taken": sort.taken.median,
                "needed": sort.needed.median,
                "left": sort.left.median,
                "short": sort.short,
            }
            for key, sort in stock.sorts.items()
        },
        "lines": [
            {
                "place": answer.progress[at].line.place,
                "jar": place.jar,
                "planned": place.planned,
                "without": place.without.median,
            }
            for at, place in zip(answer.to_do, stock.places, strict=True)
        ],
    }
