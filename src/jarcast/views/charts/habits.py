"""Habits over time: a strip a crop, a panel a habit.

On each panel a dot a batch, what was learned, and the published value with its range.
"""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from jarcast.forecast.known import Known
from jarcast.measures import Units
from jarcast.trackrecord.trends import CropInTime, HabitInTime
from jarcast.views.charts.field import EDGE, Field, new_axes
from jarcast.views.charts.palette import MARK, OWN, PUBLISHED, PUBLISHED_LINE, QUIET, SOFT
from jarcast.views.charts.style import drawing, weight_scale
from jarcast.views.habits import HABIT_WORDS
from jarcast.views.words import counted, crop_words, jar_words, titled

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ORDER = ("trim yield", "density", "cure keep", "cook keep")  # what every crop has, first
MOST_CROPS = 6  # strips of one chart
_CROWD = 60  # dots of a panel: more are drawn smaller
_HEAD, _STRIP, _FOOT = 0.82, 1.72, 0.62  # inches
_PANEL, _NUMBERS = 1.75, 0.42  # inches across a panel, and of the numbers left of it
_TALL, _ABOVE, _BELOW = 0.82, 0.6, 0.3  # of a panel, of the words above it, of the dates under it


def habits_chart(crops: Sequence[CropInTime], units: Units, of: int = 0) -> "Figure":
    """The chart as a figure of its own; ``of`` so many crops in all."""
    with drawing():
        axes = new_axes(*size(crops))
        draw_habits(axes, crops, units, of)
    return axes.figure


def size(crops: Sequence[CropInTime]) -> tuple[float, float]:
    """The inches it is meant for, width and height."""
    across = 2 * EDGE + _columns(crops) * (_PANEL + _NUMBERS + 0.1)
    return across, _HEAD + max(len(crops), 1) * _STRIP + (_FOOT if crops else 0.0)


def _columns(crops: Sequence[CropInTime]) -> int:
    return max([3, *(len(crop.habits) for crop in crops)])  # three hold the words above them


def draw_habits(axes: "Axes", crops: Sequence[CropInTime], units: Units, of: int = 0) -> None:
    """A strip for each crop, a panel for each habit. To be called while ``drawing``."""
    field = Field(axes, size(crops))
    wide = field.width - 2 * EDGE
    field.words(EDGE, 0.12, "Your habits, crop by crop", wide, size=15, weight="bold")
    if not crops:
        field.words(EDGE, 0.5, "No batches to draw.", wide, size=10)
        return
    field.words(EDGE, 0.46, _said_of(crops, of), wide, size=9.5, color=QUIET)
    column = wide / _columns(crops)
    tall = (field.height - _HEAD - _FOOT) / len(crops)
    for row, crop in enumerate(crops):
        top = _HEAD + row * tall
        field.words(EDGE, top, _name(crop), wide, size=10.5, weight="bold")
        ordered = sorted(crop.habits, key=lambda habit: ORDER.index(habit.name))
        for place, habit in enumerate(ordered):
            left = EDGE + place * column + _NUMBERS
            box = (left, top + _ABOVE - 0.12, column - _NUMBERS - 0.14, tall - _ABOVE - _BELOW)
            title = field.words(left - _NUMBERS, top + 0.24, "", column, size=9)
            title.set_text(habit_panel(field.panel(*box), crop, habit, units))
    field.key(signs(), field.height - _FOOT + 0.08)
    field.shrink()


def _said_of(crops: Sequence[CropInTime], of: int) -> str:
    if of > len(crops):
        most = "crop" if len(crops) == 1 else f"{len(crops)} crops"
        return f"The {most} you put up most, of {of}; choose a produce to see another"
    return "Batch by batch, beside what is published"


def _name(crop: CropInTime) -> str:
    words = titled(crop_words(crop.produce, crop.cut, crop.pack))
    older = f", the {crop.left_out} oldest without dots" if crop.left_out else ""
    return f"{words} · {counted(crop.batches, 'batch', 'batches')}{older}"


def habit_chart(crop: CropInTime, habit: HabitInTime, units: Units) -> "Figure":
    """One panel as a small figure, for a page that says the rest in words."""
    with drawing():
        axes = new_axes(_NUMBERS + _PANEL + 0.14, _TALL + _BELOW + 0.08)
        field = Field(axes)
        box = (_NUMBERS, 0.08, _PANEL, _TALL)
        habit_panel(field.panel(*box), crop, habit, units)
    return axes.figure


def habit_panel(axes: "Axes", crop: CropInTime, habit: HabitInTime, units: Units) -> str:
    """One habit of one crop. Returns what its numbers are: 'left after trimming, %'."""
    size, title = scale_of(crop, habit, units)
    published = _times(habit.published, size)
    axes.axhspan(published.low, published.high, color=PUBLISHED, linewidth=0)
    axes.axhline(published.middle, color=PUBLISHED_LINE, linestyle=(0, (5, 3)), linewidth=1.2)
    dates = [date for date, _ in habit.learned]
    own = [_times(known, size) for _, known in habit.learned]
    if len(own) == 1:
        axes.errorbar(dates, [own[0].middle], [[own[0].middle - own[0].low],
            [own[0].high - own[0].middle]], color=OWN, linewidth=2, capsize=4)  # fmt: skip
    elif own:
        axes.fill_between(dates, [k.low for k in own], [k.high for k in own], color=SOFT,
            alpha=0.6, linewidth=0)  # fmt: skip
        axes.plot(dates, [k.middle for k in own], color=OWN, linewidth=1.8)
    ends = _limits([published, *own], [size * s.value for s in habit.seen if not s.odd])
    axes.set_ylim(*ends)
    _dots(axes, habit, size, ends)
    axes.locator_params(axis="y", nbins=3, steps=[1, 2, 5, 10])
    axes.tick_params(length=2.5, labelsize=8)
    _date_axis(axes, [*dates, *(seen.date for seen in habit.seen)])
    return title


def scale_of(crop: CropInTime, habit: HabitInTime, units: Units) -> tuple[float, str]:
    """What a value is multiplied by to be drawn, and what that is: 'in a pint, oz'."""
    if habit.name != "density":
        return 100.0, f"{HABIT_WORDS[habit.name]}, %"
    grams, unit = weight_scale(crop.fill_ml * habit.published.high, units)
    return crop.fill_ml / grams, f"in a {jar_words(crop.jar, 1)}, {unit}"


def _times(known: Known, size: float) -> Known:
    return Known(size * known.middle, size * known.low, size * known.high)


def _limits(ranges: Sequence[Known], dots: Sequence[float]) -> tuple[float, float]:
    low = min([*(known.low for known in ranges), *dots])
    high = max([*(known.high for known in ranges), *dots])
    edge = 0.08 * (high - low) or 1.0
    return max(low - edge, 0.0), high + edge


def _dots(axes: "Axes", habit: HabitInTime, size: float, ends: tuple[float, float]) -> None:
    """What batches showed; an odd one is a cross, at the edge where it lies beyond."""
    fits = [seen for seen in habit.seen if not seen.odd]
    axes.plot([s.date for s in fits], [size * s.value for s in fits], "o", color=OWN,
        markersize=4 if len(fits) <= _CROWD else 2.2)  # fmt: skip
    odd = [seen for seen in habit.seen if seen.odd]
    edge = 0.06 * (ends[1] - ends[0])
    values = [min(max(size * s.value, ends[0] + edge), ends[1] - edge) for s in odd]
    axes.plot([s.date for s in odd], values, "x", color=MARK, markersize=6, markeredgewidth=1.8)


def _date_axis(axes: "Axes", dates: Sequence[dt.date]) -> None:
    """The first and the last day by name; around a single one no more than a day."""
    if not dates:
        axes.set_xticks([])
        return
    first, last = min(dates), max(dates)
    room = max((last - first) * 0.06, dt.timedelta(days=1))
    axes.set_xlim(first - room, last + room)
    if first == last:
        axes.set_xticks([first], [day_words(first)])
        return
    axes.set_xticks([first, last], [day_words(first), day_words(last)])
    for label, side in zip(axes.get_xticklabels(), ("left", "right"), strict=True):
        label.set_horizontalalignment(side)


def day_words(day: dt.date) -> str:
    """A day as it is short to read: 'Jul 5, 2025'."""
    return f"{day:%b} {day.day}, {day.year}"


def signs() -> "list[Artist]":
    """What the signs mean, for a key."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    return [
        Line2D([], [], marker="o", linestyle="", color=OWN, markersize=5, label="one batch"),
        Line2D([], [], marker="x", linestyle="", color=MARK, markersize=6, markeredgewidth=1.8,
               label="worth checking"),
        Line2D([], [], color=OWN, linewidth=2, label="learned by then"),
        Patch(color=SOFT, label="its 8-in-10 range"),
        Line2D([], [], color=PUBLISHED_LINE, linestyle=(0, (5, 3)), label="published"),
        Patch(facecolor=PUBLISHED, edgecolor=PUBLISHED_LINE, linewidth=0.5,
              label="its 8-in-10 range"),
    ]  # fmt: skip
