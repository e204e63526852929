"""One forecast drawn: how many jars, and the brine with the amount to make."""

import math
from typing import TYPE_CHECKING

from jarcast.domain.stages import STAGE_OF
from jarcast.forecast.answer import Forecast
from jarcast.forecast.shares import jar_shares
from jarcast.measures import Units, format_made, format_weight
from jarcast.views.charts.style import (
    INK,
    MARK,
    OWN,
    SOFT,
    drawing,
    name_of,
    new_figure,
    volume_scale,
)
from jarcast.views.words import crop_words, halves, jar_words, odds, times_in

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_COUNTS = 18
_BINS = 28


def forecast_chart(
    forecast: Forecast, units: Units, level: float = 0.8, short_chance: float = 0.05
) -> "Figure":
    """Jar counts above, brine below where there is any."""
    with drawing():
        figure = new_figure(6.4, 5.4 if forecast.has_brine else 2.9)
        request = forecast.request
        weight = f"{format_weight(request.grams, units)} {STAGE_OF[request.stage].label}"
        crop = name_of(crop_words(request.produce, request.cut, request.pack))
        figure.suptitle(f"{crop}: {weight}", x=0.01, ha="left", fontsize=11.5)
        if not forecast.has_brine:
            jar_panel(figure.subplots(), forecast, level)
            return figure
        above, below = figure.subplots(2, 1)
        jar_panel(above, forecast, level)
        brine_panel(below, forecast, units, level, short_chance)
    return figure


def jar_panel(axes: "Axes", forecast: Forecast, level: float) -> None:
    """Batches of 100 that come to each count, with the range under them."""
    shares = jar_shares(forecast.jars, _MOST_COUNTS, whole=forecast.whole_jars)
    chances = [100.0 * chance for chance in shares.chances]
    count, low, high = forecast.counts(forecast.jars, level)
    axes.bar(shares.counts, chances, width=0.82 * shares.step, color=OWN)
    axes.set_ylabel("of 100 such batches")
    axes.set_xlabel(_jars_word(forecast))
    middle = halves(count)
    between = f"{times_in(level)} between {halves(low)} and {halves(high)}"
    axes.set_title(f"About {middle} {_jars_word(forecast)}; {between}")
    _range_line(axes, low, high, max(chances))
    axes.locator_params(axis="x", integer=shares.step >= 1)


def _jars_word(forecast: Forecast) -> str:
    turns = forecast.request.turns
    return jar_words(turns[0].jar.key) if len(turns) == 1 else "jars"


def _range_line(axes: "Axes", low: float, high: float, top: float) -> None:
    """The range as a line with ends, above what it is the range of."""
    y, tick = 1.1 * top, 0.03 * top
    axes.plot([low, high], [y, y], color=INK, linewidth=1.6)
    for end in (low, high):
        axes.plot([end, end], [y - tick, y + tick], color=INK, linewidth=1.6)
    axes.set_ylim(0, 1.18 * top)


def brine_panel(
    axes: "Axes", forecast: Forecast, units: Units, level: float, short_chance: float
) -> None:
    """Brine used, the amount to make as a line, and what that would not do for in another shade."""
    order = forecast.brine_to_make(short_chance, units)
    most = max(forecast.brine_ml.quantile(0.998), 1.05 * order)
    size, unit = volume_scale(max(order, forecast.brine_ml.median), units)
    wide = order / max(round(_BINS * order / most), 1)  # a bin ends where the order does
    edges = [wide * place / size for place in range(math.ceil(most / wide) + 1)]
    brine = forecast.brine_ml.draws / size
    short = brine > order / size
    found, _, _ = axes.hist(brine[~short], bins=edges, color=SOFT)
    axes.hist(brine[short], bins=edges, color=MARK, hatch="////", edgecolor="white", linewidth=0)
    low, high = forecast.brine_ml.interval(level)
    top = float(max(found))
    _range_line(axes, low / size, high / size, top)
    axes.axvline(order / size, color=MARK, linewidth=2.2)
    axes.annotate(
        "make this", (order / size, 1.0), (5, -2),
        xycoords=("data", "axes fraction"), textcoords="offset points", va="top", color=MARK,
        weight="bold",
    )  # fmt: skip
    axes.set_xlim(0, max(most, 1.35 * order) / size)
    axes.set_ylabel("how likely")
    axes.set_yticks([])
    axes.set_xlabel(f"{unit} of brine, with what stays in the pot")
    why = f"{odds(short_chance)} that it runs short"
    if forecast.limited_by_recipe(short_chance):
        why = "by the recipe's proportion to the produce"
    axes.set_title(f"Make {format_made(order, units)} of brine: {why}")
