"""The cautions of a harvest's cards in words, each with the batches that it is for."""

from collections.abc import Iterator, Mapping, Sequence

from jarcast.app.harvest import Answer
from jarcast.app.plan_progress import Progress
from jarcast.views.formula import line_cautions
from jarcast.views.words import crop_words, shortened


def card_cautions(answer: Answer) -> Iterator[str]:
    """What a recipe's card is not for, and what goes with its process; none is ever left out.

    What is the same for several batches is said once, with the names of all of them.
    """
    asked, whose = answer.asked, dict[str, list[Progress]]()
    for one, forecast in zip(answer.progress, answer.forecasts, strict=True):
        if forecast is None:
            continue
        for caution in line_cautions(forecast, asked.place, asked.short_chance, asked.units):
            whose.setdefault(caution.text, []).append(one)
    crops = {
        one.line.place: crop_words(forecast.request.produce, forecast.request.cut, "")
        for one, forecast in zip(answer.progress, answer.forecasts, strict=True)
        if forecast is not None
    }
    for text, batches in whose.items():
        yield f"{_named_with(batches, crops)}: {text}"


def _named_with(batches: Sequence[Progress], crops: Mapping[str, str]) -> str:
    """Batches by their names, and those without one by their crops and where they stand."""
    named = [shortened(one.line.name, 40) for one in batches if one.line.name]
    places: dict[str, list[str]] = {}
    for one in batches:
        if not one.line.name:
            places.setdefault(shortened(crops[one.line.place], 40), []).append(one.line.place)
    unnamed = [f"{crop} ({', '.join(at)})" for crop, at in places.items()]
    return ", ".join([*named, *unnamed])
