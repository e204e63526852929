"""One forecast drawn: how many jars, and the brine with the amount to make."""

from typing import TYPE_CHECKING

from jarcast.domain.stages import STAGE_OF
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.shares import Shares, jar_shares
from jarcast.measures import Units, format_made, format_span, typeset
from jarcast.views.charts.field import EDGE, Field, bare, new_axes
from jarcast.views.charts.palette import INK, MARK, OWN, PALE, QUIET, SOFT
from jarcast.views.charts.style import drawing, volume_scale
from jarcast.views.ranges import weight_words
from jarcast.views.words import crop_words, halves, halves_word, odds, sorts_words, times_in, titled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_COUNTS = 18
_WIDTH, _HEIGHT, _RAIL = 6.4, 3.35, 1.65  # inches; the rail's is added where there is a brine
_BRINE_MADE = "enough brine is made"


def forecast_chart(
    forecast: Forecast, units: Units, level: float = 0.8, short_chance: float = 0.05
) -> "Figure":
    """The chart as a figure of its own."""
    with drawing():
        axes = new_axes(*size(forecast))
        draw_forecast(axes, forecast, units, level, short_chance)
    return axes.figure


def size(forecast: Forecast) -> tuple[float, float]:
    """The inches it is meant for, width and height."""
    return _WIDTH, _HEIGHT + (_RAIL if forecast.has_brine else 0.0)


def draw_forecast(
    axes: "Axes", forecast: Forecast, units: Units, level: float, short_chance: float
) -> None:
    """Jar counts above, brine below where there is any. To be called while ``drawing``."""
    field = Field(axes, size(forecast))
    wide = field.width - 2 * EDGE
    request = forecast.request
    weight = typeset(f"{weight_words(request, units)} {STAGE_OF[request.stage].label}")
    crop = crop_words(request.produce, request.cut, request.pack)
    parts = (titled(crop), weight)
    said = parts[::-1] if len(crop) > 60 else parts  # what is cut stands last
    field.words(EDGE, 0.12, " · ".join(said), wide, size=10, color=QUIET)
    middle, low, high = forecast.counts(forecast.jars, level)
    expected = typeset(f"About {halves(middle)} {_jars_word(forecast, middle)}")
    field.words(EDGE, 0.36, expected, wide, size=19, weight="bold")
    field.words(EDGE, 0.76, _jar_range(forecast, low, high, level), wide, size=10)
    rail = _RAIL if forecast.has_brine else 0.0
    shares = jar_shares(forecast.jars, _MOST_COUNTS, whole=forecast.whole_jars)
    tall = field.height - rail - 1.75
    _bars(field.panel(EDGE, 1.2, wide, tall), shares, low, high)
    field.words(EDGE, field.height - rail - 0.3, _caption(forecast, shares), wide, size=9,
                color=QUIET)  # fmt: skip
    if forecast.has_brine:
        _brine(field, forecast, units, level, short_chance)
    field.shrink()


def _jars_word(forecast: Forecast, count: float = 2.0) -> str:
    """What the jars are counted in, in the number that fits a count shown to the half."""
    turns = forecast.request.turns
    return halves_word(turns[0].jar.key, count) if len(turns) == 1 else "jars"


def _jar_range(forecast: Forecast, low: float, high: float, level: float) -> str:
    ends = halves(low) if halves(low) == halves(high) else f"{halves(low)} to {halves(high)}"
    said = f"{times_in(level)}: {ends}"
    turns = forecast.request.turns
    if len(turns) > 1:
        by_sort = zip(turns, forecast.jars_by_sort, strict=True)
        said += f" · {sorts_words((turn.jar.key, jars.median) for turn, jars in by_sort)}"
    return typeset(said)


def _caption(forecast: Forecast, shares: Shares) -> str:
    word = titled(_jars_word(forecast))
    each = f"; a bar takes in {shares.step:g} of them" if shares.step > 1 else ""
    return f"{word} you may fill, and batches in 100 that fill so many{each}"


def _bars(panel: "Axes", shares: Shares, low: float, high: float) -> None:
    """A bar a count with its own number on it, pale outside the range."""
    half = shares.step / 2.0
    ends = sorted((  # an end midway between two bars goes to the inner one
        min(reversed(shares.counts), key=lambda count: abs(count - low)),
        min(shares.counts, key=lambda count: abs(count - high)),
    ))  # fmt: skip
    chances = [100.0 * chance for chance in shares.chances]
    inside = [ends[0] <= count <= ends[1] for count in shares.counts]
    colors = [OWN if held else PALE for held in inside]
    panel.bar(shares.counts, chances, width=0.84 * shares.step, color=colors, edgecolor=OWN,
              linewidth=0.8)  # fmt: skip
    for count, chance, in_100 in zip(shares.counts, chances, shares.in_100, strict=True):
        said = f"{in_100}" if in_100 else "<1"
        panel.annotate(said, (count, chance), (0, 2), textcoords="offset points", ha="center",
                       va="bottom", fontsize=8.5, color=INK)  # fmt: skip
    bare(panel, "left")
    panel.set_xlim(shares.counts[0] - 1.2 * half, shares.counts[-1] + 1.2 * half)
    panel.set_ylim(0.0, 1.16 * max(chances))
    panel.set_xticks(shares.counts, [typeset(halves(count)) for count in shares.counts])
    panel.tick_params(axis="x", length=0)


def _brine(
    field: Field, forecast: Forecast, units: Units, level: float, short_chance: float
) -> None:
    """What to make in words, and one rail: what is used, and a post at what to make."""
    top, wide = field.height - _RAIL + 0.12, field.width - 2 * EDGE
    more = forecast.so_far is not None
    order = forecast.brine_to_make(short_chance, units)
    made = typeset(format_made(order, units))
    does = f"{'Heat' if more else 'Make'} {made}{' more' if more else ''} of brine"
    field.words(EDGE, top, does if order > 0 else _BRINE_MADE.capitalize(), wide, size=14,
                weight="bold", color=MARK)  # fmt: skip
    why = why_so_much(forecast, short_chance)
    field.words(EDGE, top + 0.3, why, wide, size=10)
    used = forecast.brine_short_ml if more else forecast.brine_ml
    panel = field.panel(EDGE + 0.05, top + 0.72, wide - 0.1, 0.34)
    words = ("still needed", "heat") if more else ("used", "make")
    _rail(panel, used, order, units, level, words)


def why_so_much(forecast: Forecast, short_chance: float) -> str:
    """Why so much is to be made, in words."""
    if forecast.limited_by_recipe(short_chance):
        return "Raised to the recipe's own amount for this much produce"
    return f"{odds(short_chance)} of running short"


def _rail(
    panel: "Axes",
    used: Outcome,
    order: float,
    units: Units,
    level: float,
    words: tuple[str, str],
) -> None:
    """``words`` for what is used, and for what to do."""
    scale, unit = volume_scale(max(order, used.median), units)
    low, high = used.interval(level)
    most = max(order, high, scale * 0.1)
    panel.set_xlim(0.0, 1.25 * most / scale)
    panel.set_ylim(0.0, 1.0)
    panel.plot([low / scale, high / scale], [0.3, 0.3], color=SOFT, linewidth=8)
    panel.plot([used.median / scale], [0.3], "o", color=OWN, markersize=7, clip_on=False)
    ends = typeset(" to ".join(dict.fromkeys(format_span(low, high, units))))
    near_right = low > 0.6 * most
    at = (high if near_right else low) / scale
    panel.annotate(
        f"{words[0]}, {times_in(level)}: {ends}", (at, 0.3), (0, 9),
        textcoords="offset points", ha="right" if near_right else "left", va="bottom",
        fontsize=9, color=INK,
    )  # fmt: skip
    if order > 0:
        panel.plot([order / scale] * 2, [0.0, 0.6], color=MARK, linewidth=3)
        panel.annotate(words[1], (order / scale, 0.3), (5, 0), textcoords="offset points",
                       va="center", fontsize=9, color=MARK, weight="bold")  # fmt: skip
    bare(panel, "left")
    panel.locator_params(axis="x", nbins=7, steps=[1, 2, 5, 10])
    panel.set_xlabel(f"{unit} of brine, with what stays in the pot", loc="left", labelpad=2)
