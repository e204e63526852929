"""Habits over time: a dot a batch, what was learned, and the published value with its range."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from jarcast.forecast.known import Known
from jarcast.measures import Units
from jarcast.trackrecord.trends import CropInTime, HabitInTime
from jarcast.views.charts.style import (
    MARK,
    OWN,
    PUBLISHED,
    PUBLISHED_LINE,
    SOFT,
    drawing,
    name_of,
    new_figure,
    stacked_panels,
    weight_scale,
)
from jarcast.views.words import crop_words, jar_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TITLES = {
    "trim yield": "Left after trimming, %",
    "cure keep": "Left after the cure, %",
    "cook keep": "Left after cooking, %",
}
MOST_CROPS = 3  # columns that fit a page
ORDER = ("trim yield", "cure keep", "cook keep", "density")


def habits_chart(crops: Sequence[CropInTime], units: Units) -> "Figure":
    """A column for each crop, a row for each habit that any of them has."""
    names = [name for name in ORDER if any(h.name == name for c in crops for h in c.habits)]
    with drawing():
        figure = new_figure(0.8 + 3.4 * max(len(crops), 1), 0.9 + 2.0 * max(len(names), 1))
        if not crops:
            figure.text(0.5, 0.5, "No batches yet", ha="center")
            return figure
        grid = figure.subplots(len(names), len(crops), squeeze=False, sharex="col")
        for column, crop in enumerate(crops):
            own = {habit.name: habit for habit in crop.habits}
            for row, name in enumerate(names):
                axes = grid[row, column]
                if name in own:
                    habit_panel(axes, crop, own[name], units)
                else:
                    axes.set_axis_off()
            _date_ticks(grid[-1, column])
            words = name_of(crop_words(crop.produce, crop.cut, crop.pack))
            grid[0, column].annotate(words, (0, 1), (0, 26), xycoords="axes fraction",
                textcoords="offset points", fontsize=11, annotation_clip=False)  # fmt: skip
        _legend(figure, "outside lower center")
    return figure


def crop_chart(crop: CropInTime, units: Units) -> "Figure":
    """One crop, its habits one above the other; the crop's name is left to what stands around."""
    habits = sorted(crop.habits, key=lambda habit: ORDER.index(habit.name))
    with drawing():
        figure, panels = stacked_panels(4.5, 1.2, len(habits))
        for axes, habit in zip(panels, habits, strict=True):
            habit_panel(axes, crop, habit, units)
        _date_ticks(panels[-1])
        _legend(figure, "lower center")
    return figure


def habit_panel(axes: "Axes", crop: CropInTime, habit: HabitInTime, units: Units) -> None:
    """One habit of one crop."""
    size, title = _scale(crop, habit, units)
    published = _times(habit.published, size)
    axes.axhspan(published.low, published.high, color=PUBLISHED, linewidth=0, label="_")
    axes.axhline(published.middle, color=PUBLISHED_LINE, linestyle=(0, (5, 3)), linewidth=1.2)
    dates = [date for date, _ in habit.learned]
    own = [_times(known, size) for _, known in habit.learned]
    if len(own) == 1:
        axes.errorbar(dates, [own[0].middle], [[own[0].middle - own[0].low],
            [own[0].high - own[0].middle]], color=OWN, linewidth=2, capsize=4)  # fmt: skip
    else:
        axes.fill_between(dates, [k.low for k in own], [k.high for k in own], color=SOFT,
            alpha=0.55, linewidth=0)  # fmt: skip
        axes.plot(dates, [k.middle for k in own], color=OWN, linewidth=1.8)
    ends = _limits([published, *own], [size * s.value for s in habit.seen if not s.odd])
    axes.set_ylim(*ends)
    _dots(axes, habit, size, ends)
    axes.set_title(title)
    axes.margins(x=0.04)


def _scale(crop: CropInTime, habit: HabitInTime, units: Units) -> tuple[float, str]:
    """What a value is multiplied by to be drawn, and the panel's title."""
    if habit.name != "density":
        return 100.0, _TITLES[habit.name]
    grams, unit = weight_scale(crop.fill_ml * habit.published.high, units)
    return crop.fill_ml / grams, f"In a {jar_words(crop.jar, 1)}, {unit}"


def _times(known: Known, size: float) -> Known:
    return Known(size * known.middle, size * known.low, size * known.high)


def _limits(ranges: Sequence[Known], dots: Sequence[float]) -> tuple[float, float]:
    low = min([*(known.low for known in ranges), *dots])
    high = max([*(known.high for known in ranges), *dots])
    edge = 0.06 * (high - low) or 1.0
    return max(low - edge, 0.0), high + edge


def _dots(axes: "Axes", habit: HabitInTime, size: float, ends: tuple[float, float]) -> None:
    """What batches showed; what does not fit is a cross, at the edge where it lies beyond."""
    fits = [seen for seen in habit.seen if not seen.odd]
    axes.plot([s.date for s in fits], [size * s.value for s in fits], "o", color=OWN,
        markersize=4.5, markeredgecolor="white", markeredgewidth=0.6)  # fmt: skip
    odd = [seen for seen in habit.seen if seen.odd]
    edge = 0.03 * (ends[1] - ends[0])
    values = [min(max(size * s.value, ends[0] + edge), ends[1] - edge) for s in odd]
    axes.plot([s.date for s in odd], values, "x", color=MARK, markersize=6, markeredgewidth=1.8)


def _date_ticks(axes: "Axes") -> None:
    """Where the dates of a column of panels stand, once all of them are drawn.

    Worked out once: each pass of the drawing would ask anew, which takes an eighth of its time.
    """
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
    from matplotlib.ticker import FixedFormatter, FixedLocator

    locator = AutoDateLocator(minticks=2, maxticks=5)
    locator.set_axis(axes.xaxis)
    axes.get_xlim()  # takes in the data of every panel
    ticks = locator()
    labels = ConciseDateFormatter(locator, show_offset=False).format_ticks(ticks)
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter(FixedFormatter(labels))


def _legend(figure: "Figure", place: str) -> None:
    """What the signs are, once for the figure."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    signs = [
        Line2D([], [], marker="o", linestyle="", color=OWN, markersize=5, label="one batch"),
        Line2D([], [], marker="x", linestyle="", color=MARK, markersize=6, markeredgewidth=1.8,
               label="does not fit"),
        Line2D([], [], color=OWN, linewidth=2, label="learned by then"),
        Patch(color=SOFT, alpha=0.55, label="learned, 8 in 10"),
        Line2D([], [], color=PUBLISHED_LINE, linestyle=(0, (5, 3)), label="published"),
        Patch(color=PUBLISHED, label="published, 8 in 10"),
    ]  # fmt: skip
    figure.legend(handles=signs, loc=place, ncols=3)
