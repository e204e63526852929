"""Charts on matplotlib's Axes: a forecast, habits over time, and how forecasts did.

>>> import jarcast
>>> axes = jarcast.plot.forecast(forecast)
>>> axes.figure.savefig("carrots.png")

These are the charts of the command line's ``--chart``. Each is drawn on the Axes given, or on those
of a new figure of its own size, and gives them back. The Axes are taken as a sheet of paper, with
the panels inside them (``axes.child_axes``) placed by inches. On smaller Axes than a chart is meant
for all of it is smaller; do not resize them afterwards.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from jarcast.errors import ForecastError, JarcastError, in_short
from jarcast.forecast.answer import Forecast
from jarcast.forecast.arguments import as_units, check_whole
from jarcast.forecast.habits import Habits
from jarcast.measures import Units
from jarcast.trackrecord.hindsight import Hindsight, TrackRecord

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["forecast", "habits", "hindsight"]


def forecast(
    f: Forecast,
    ax: "Axes | None" = None,
    *,
    units: Units | str = Units.US,
    level: float = 0.8,
    short_chance: float = 0.05,
) -> "Axes":
    """Draw one forecast: a bar for each count of jars, and brine with the amount to make.

    ``units`` are 'us' or 'metric'; ``level`` is the chance of the ranges, ``short_chance`` that of
    running short of brine. ``ax`` is meant to be 6.4 by 5 inches, 3.35 high without a brine.
    Raises JarcastError where matplotlib cannot be loaded and for what is no forecast or no Axes,
    and ForecastError as ``brine_to_make``.
    """
    from jarcast.views.charts.forecast import draw_forecast, size
    from jarcast.views.charts.style import drawing

    if not isinstance(f, Forecast):
        raise ForecastError(f"{in_short(f)} is no forecast; Habits.forecast makes one")
    shown = as_units(units)
    f.jars.interval(level)  # what cannot be drawn is told before there are axes
    f.brine_to_make(short_chance, shown)
    axes = _axes(ax, size(f))
    with drawing():
        draw_forecast(axes, f, shown, level, short_chance)
    return axes


def habits(
    h: Habits,
    batches: object = None,
    ax: "Axes | None" = None,
    *,
    units: Units | str = Units.US,
    most: int = 6,
) -> "Axes":
    """Draw habits over time: a strip for each crop, with what every batch showed.

    ``batches`` is the table that ``h`` was learned from, or a part of it, as ``learn`` takes it: no
    dates are kept with the habits, so without it there is nothing to draw, and the chart says so.
    The ``most`` crops put up most are drawn; the chart says how many there are. Its size grows with
    them: ``ax`` is best left out. Raises BatchError as ``learn`` does, and JarcastError where
    matplotlib cannot be loaded and for what are no habits or no Axes.
    """
    from jarcast.batchtable import batches_from_table
    from jarcast.learning.slips import find_slips
    from jarcast.trackrecord.summary import crop_of, summarise
    from jarcast.trackrecord.trends import habits_in_time
    from jarcast.views.charts.habits import draw_habits, size
    from jarcast.views.charts.style import drawing

    if not isinstance(h, Habits):
        raise ForecastError(f"{in_short(h)} are not habits; jarcast.learn gives them")
    shown = as_units(units)
    check_whole("most", most, "crops")
    read = [] if batches is None else batches_from_table(batches, h.shelf, stacklevel=2)
    summary = summarise(h, read)
    slips = find_slips(h.learned.verdicts(), read) if read else ()
    odd = {(slip.batch, slip.column) for slip in slips}
    crops = habits_in_time(h, read, summary, most=most, odd=odd) if read else ()
    axes = _axes(ax, size(crops))
    with drawing():
        draw_habits(axes, crops, shown, len({crop_of(h, batch) for batch in read}))
    return axes


def hindsight(
    record: "pd.DataFrame | Hindsight | TrackRecord",
    ax: "Axes | None" = None,
    *,
    units: Units | str = Units.US,
) -> "Axes":
    """Draw how forecasts did: a row for each batch, and how often each range held.

    ``record`` is the table that ``jarcast.hindsight`` gives, or some rows of it; of several
    forecasters in it jarcast's own are drawn. (What ``jarcast.trackrecord.hindsight.look_back``
    gives is drawn too, its replayed history.) The latest 30 batches are drawn; the chart says how
    many there are. ``ax`` is meant to be 8.8 inches wide. Raises JarcastError where matplotlib
    cannot be loaded and for what is no such table or no Axes.
    """
    from jarcast.views.charts.hindsight import draw_hindsight, size
    from jarcast.views.charts.style import drawing

    shown, track = as_units(units), _track(record)
    axes = _axes(ax, size(track))
    with drawing():
        draw_hindsight(axes, track, shown)
    return axes


def _track(record: object) -> TrackRecord:
    """The track record that is given, or that a table tells. Raises JarcastError."""
    import pandas as pd

    from jarcast.trackrecord.from_table import record_from_table

    if isinstance(record, Hindsight):
        return record.replayed
    if isinstance(record, TrackRecord):
        return record
    if not isinstance(record, pd.DataFrame):
        raise ForecastError(f"{in_short(record)} is no track record; jarcast.hindsight gives one")
    return record_from_table(record)


def _axes(ax: object, inches: Sequence[float]) -> Any:
    """The Axes that are given, or those of a new figure. Raises JarcastError for what are none."""
    if ax is None:
        return _new(inches)
    from jarcast.views.charts.style import drawing

    with drawing():
        from matplotlib.axes import Axes

    if not isinstance(ax, Axes):
        raise JarcastError(
            f"ax={in_short(ax)}: give matplotlib Axes, such as those of plt.subplots(), or nothing"
        )
    return ax


def _new(inches: Sequence[float]) -> Any:
    """Axes that fill a new figure of pyplot's, which notebooks and ``plt.show`` show."""
    from jarcast.views.charts.style import drawing

    with drawing():  # says what to do where matplotlib cannot be loaded
        import matplotlib.pyplot as plt

        figure = plt.figure(figsize=tuple(inches), layout="none")
        return figure.add_axes((0.0, 0.0, 1.0, 1.0))
