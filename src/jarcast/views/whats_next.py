"""What jarcast says when nothing is asked: what is open, and what to do next."""

from collections.abc import Sequence

from jarcast.app.open_batch import Underway
from jarcast.forecast.answer import Forecast
from jarcast.forecast.first_load import waits_for_reading
from jarcast.measures import Units
from jarcast.views.batches import quoted
from jarcast.views.counter import open_text
from jarcast.views.words import counted, wrapped

_HOW_TO_BEGIN = """\
Nothing recorded yet. To begin:
  see it work           jarcast demo
  bring in a notebook   jarcast import batches.csv
  record a batch        jarcast guide
  ask before the first  jarcast forecast --produce carrot --as-bought "8 lb"
'jarcast --help' lists every command."""


def next_text(
    open_now: Sequence[tuple[Underway, Forecast | None]],
    written: int,
    waiting: Sequence[str],
    units: Units,
    loads: Sequence[float],
) -> str:
    """Open batches, each with its next step; forecasts that wait for their batch; how to begin.

    ``written`` counts the batches recorded; ``waiting`` are names of batches that a forecast
    is kept for, ``loads`` how many jars the canner holds of each open one.
    """
    if not (open_now or written or waiting):
        return _HOW_TO_BEGIN
    several = len(open_now) > 1
    parts = [
        f"{open_text([one], units, load)}\n  next: {_next_step(*one, load, several)}"
        for one, load in zip(open_now, loads, strict=True)
    ]
    still = set(waiting) - {at.name for at, _ in open_now}
    parts += [
        wrapped(f"A forecast is kept for '{name}': it is scored once that batch is recorded.")
        for name in waiting
        if name in still
    ]
    if not open_now:
        said = f"No batch is open, {counted(written, 'is', 'are')} recorded"
        parts.append(f"{said}; 'jarcast begin' opens one, 'jarcast record' adds a finished one.")
    return "\n".join(parts)


def _next_step(at: Underway, forecast: Forecast | None, load: float, several: bool) -> str:
    """The command that an open batch most likely needs next."""
    if not at.weighed:
        step = 'jarcast weigh --trimmed "..."'
    elif at.so_far is None or not at.so_far.jars or _to_be_read(forecast, load):
        step = 'jarcast pack --jars 3 --pot-left "..."'
    elif forecast is not None and forecast.has_brine and forecast.brine_there_ml is None:
        step = 'jarcast weigh --brine-made "..."'
    elif _short_of_brine(forecast):
        step = 'jarcast weigh --more-brine "..."'
    else:
        step = 'jarcast close --jars ... --brine-left "..."'
    return f"{step} --batch {quoted(at.name)}" if several else step


def _to_be_read(forecast: Forecast | None, load: float) -> bool:
    """Whether bowl and pot are to be read next, of jars that were merely counted."""
    return forecast is not None and waits_for_reading(forecast, load)


def _short_of_brine(forecast: Forecast | None) -> bool:
    """Whether another pot is due, where it is known what is in the one there is."""
    if forecast is None or forecast.brine_there_ml is None:
        return False
    return forecast.brine_to_make() > 0.0
