"""The day of a harvest in words: the steps of each batch, and the loads in their order."""

from collections.abc import Iterator, Sequence

from jarcast.app.harvest import Answer
from jarcast.domain.stages import COOKED, is_hot
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.day import Day, Work
from jarcast.harvest.loads import Load, Process
from jarcast.views.words import between, counted, crop_words, item, jar_words, shortened, wrapped

SAY_CANNER = "To count loads, say what your canner holds: --canner '7 quarts / 8 pints'."


SHARED = (
    "Batches share a load only if their cards have exactly the same process for that jar and "
    "pack. Pack the jars of both one after the other, and hold none filled and waiting; or give "
    "each its own load."
)


def day_lines(answer: Answer, level: float, most: int) -> Iterator[str]:
    """The day as lines of text, none of them longer than a terminal is wide."""
    day, harvest = answer.day, answer.harvest
    if day is None or harvest is None:
        return
    yield "The day:"
    for work, forecast in list(zip(day.work, harvest.lines, strict=True))[:most]:
        name = shortened(answer.name(work.line), 24)
        crop = f"{name}: {_crop(forecast)}" if name else _crop(forecast)
        yield item(f"{crop}: {steps_words(work, day, forecast)}")
    if len(day.work) > most:
        yield f"  ... and {len(day.work) - most} batches more"
    if answer.asked.canner is None:
        yield wrapped(SAY_CANNER)
    elif day.schedule:
        shared = any(len(load.parts) > 1 for load in day.schedule)
        one = "one size and one process" if shared else "one batch and one size"
        yield f"The canner, full jars only, {one} a load:"
        loads = _loads(answer, day.schedule)
        yield from (item(text) for text in loads[:most])
        if len(loads) > most:
            yield f"  ... and so on, {len(day.schedule)} loads in all"
        if shared:
            yield wrapped(SHARED)
    if day.hours is not None:
        low, high = map(hours_words, day.hours.interval(level))
        yield wrapped(
            f"In all about {hours_words(day.hours.median)} from the first "
            f"cut{between(low, high, level)}."
        )
    if day.left_out:
        yield wrapped(f"Not counted: {'; '.join(day.left_out)}.")


def _crop(forecast: Forecast) -> str:
    request = forecast.request
    return shortened(crop_words(request.produce, request.cut, ""), 50)


def steps_words(work: Work, day: Day, forecast: Forecast) -> str:
    """The steps of one batch in order, each with its time where it is known."""
    steps = []
    if work.trims:
        steps.append(f"trim{_about(work.trim_hours)}")
    if work.cures:
        hours = _hours_range(work.cure_hours) if work.cure_hours else "as long as your recipe says"
        steps.append(f"cure ({hours})")
    if is_hot(forecast.request.pack) and forecast.request.stage != COOKED:
        steps.append("cook")
    steps.append(f"pack{_about(work.pack_hours)}")
    runs = [run for run in day.runs if run.line == work.line]
    if all(not run.process.canned for run in runs):
        return ", ".join([*steps, "refrigerate"])
    processes = dict.fromkeys(process_words(run.process) for run in runs if run.process.canned)
    return ", ".join([*steps, "heat up", f"process ({'; '.join(processes)})", "rest"])


def process_words(process: Process) -> str:
    """Minutes as the card has them, or what to look up instead."""
    if process.minutes is None:
        return process.why
    return f"{process.minutes:g} min, {process.method}"


def _about(hours: Outcome | None) -> str:
    return "" if hours is None else f" (about {hours_words(hours.median)})"


def _hours_range(hours: tuple[float, float]) -> str:
    low, high = hours
    return hours_words(low) if low == high else f"{low:g} to {hours_words(high)}"


def hours_words(hours: float) -> str:
    """Hours as one says them: '40 min', '3½ h', '12 h'."""
    if hours < 0.96:
        return f"{max(5 * round(12 * hours), 5 if hours > 0 else 0)} min"
    whole, half = divmod(round(2 * hours), 2)
    return f"{whole}½ h" if half else f"{whole} h"


def _whose(answer: Answer, line: int, *, shared: bool) -> str:
    """The crop of a batch and its name; in a load of several without one, where it stands."""
    forecast = answer.forecasts[answer.to_do[line]]
    crop = "" if forecast is None else _crop(forecast)
    called = answer.name(line) or (answer.place(line) if shared else "")
    return f"{crop} ({shortened(called, 24)})" if called else crop


def _loads(answer: Answer, loads: Sequence[Load]) -> list[str]:
    """Loads in their order; those alike, and of no known hour, in one line."""
    texts: list[tuple[int, int, str]] = []
    for load in loads:
        one, many = jar_words(load.size, 1), jar_words(load.size)
        what = " + ".join(
            f"{counted(jars, one, many)} of {_whose(answer, line, shared=len(load.parts) > 1)}"
            for line, jars in load.parts
        )
        text = f"{what}: {process_words(load.process)}"
        if load.after_hours is not None:
            text += f", after {hours_words(load.after_hours)} at the earliest"
        if texts and texts[-1][2] == text:
            texts[-1] = (texts[-1][0], load.number, text)
        else:
            texts.append((load.number, load.number, text))
    return [
        f"{first}. {text}" if first == last else f"{first} to {last}. {text}, each"
        for first, last, text in texts
    ]
