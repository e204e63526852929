"""The track record drawn: a row a batch, forecast and filled, and how often each range held.

Rows are drawn as shares of their own forecast's middle, so that pints stand beside quarts; what was
filled or used stands beside each in its own words.
"""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from jarcast.domain.stages import STAGE_COLUMNS
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units, format_volume, typeset
from jarcast.trackrecord.hindsight import Group, Scored, TrackRecord
from jarcast.trackrecord.scoring import RANGES, Mark
from jarcast.views.charts.field import EDGE, Field, bare, fit, new_axes
from jarcast.views.charts.palette import INK, MARK, OWN, PAPER, PUBLISHED, QUIET, SOFT
from jarcast.views.charts.style import drawing
from jarcast.views.words import counted, crop_words, exactly, jar_words

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEVEL = 0.8
_AT = RANGES.index(_LEVEL)
MOST, MOST_OF_PAGE = 30, 12  # batches drawn, the latest ones
_FAR = 2.5  # times the forecast: what lies beyond is drawn at the edge
_HEAD, _TITLE, _ROW, _AXIS, _HELD, _FOOT = 0.8, 0.3, 0.21, 0.62, 1.0, 0.66  # inches
_NAMES, _CAME = 2.45, 0.95  # inches of a batch's name, and of the words beside a panel
_WIDTH = 8.8
OUTCOMES = ("jars", "brine_ml")
_TITLES = {"jars": "Jars", "brine_ml": "Brine"}

_Row = tuple[Outcome, Mark, str]  # the forecast, how it came out, and that in words


def hindsight_chart(record: TrackRecord, units: Units) -> "Figure":
    """The chart as a figure of its own."""
    with drawing():
        axes = new_axes(*size(record))
        draw_hindsight(axes, record, units)
    return axes.figure


def size(record: TrackRecord) -> tuple[float, float]:
    """The inches it is meant for, width and height."""
    rows = len(latest(record)[:MOST])
    more = _TITLE + rows * _ROW + _AXIS + _TITLE + _HELD + _AXIS + _FOOT if rows else 0.0
    return _WIDTH, _HEAD + more


def draw_hindsight(axes: "Axes", record: TrackRecord, units: Units) -> None:
    """Rows above, how often ranges held below. To be called while ``drawing``."""
    field = Field(axes, size(record))
    wide = field.width - 2 * EDGE
    field.words(EDGE, 0.12, "Forecast and filled", wide, size=15, weight="bold")
    if not record.groups:
        field.words(EDGE, 0.48, "No forecast has been scored yet.", wide, size=10)
        return
    found = latest(record)
    field.words(EDGE, 0.46, _said_of(len(found)), wide, size=9.5, color=QUIET)
    found = found[:MOST]
    top = _HEAD + _TITLE
    tall = field.height - top - _AXIS - _TITLE - _HELD - _AXIS - _FOOT
    _names(field, found, top, tall, _NAMES)
    across = (wide - _NAMES) / 2
    for place, name in enumerate(OUTCOMES):
        left = EDGE + _NAMES + place * across
        field.words(left, _HEAD, _TITLES[name], across, size=10.5, weight="bold")
        panel = field.panel(left, top, across - _CAME, tall)
        came_panel(panel, rows_of(found, name, units))
        below = top + tall + _AXIS
        held = field.panel(left, below + _TITLE, across - _CAME, _HELD)
        calibration_panel(held, record.groups[0], name)
    field.words(EDGE, below + 0.02, "How often each range held", _NAMES, size=10.5, weight="bold")
    field.key([*came_signs(), *held_signs()], field.height - _FOOT + 0.1)
    field.shrink()


def _said_of(count: int) -> str:
    said = counted(count, "batch", "batches")
    last = f"The latest {MOST} of {said}, newest first" if count > MOST else said
    return f"{last}; forecast from the last weight before the jars"


def came_chart(record: TrackRecord, units: Units, name: str) -> "Figure":
    """One outcome, 'jars' or 'brine_ml', of the latest batches, for a page."""
    found = [one for one in latest(record) if _pair(one, name) is not None]
    found = found[:MOST_OF_PAGE]
    names, wide = 2.2, 4.8
    tall = max(len(found), 1) * _ROW
    with drawing():
        field = Field(new_axes(wide, 0.06 + tall + _AXIS))
        _names(field, found, 0.06, tall, names)
        panel = field.panel(EDGE + names, 0.06, wide - names - 2 * EDGE - 0.85, tall)
        came_panel(panel, rows_of(found, name, units))
    return field.axes.figure


def calibration_chart(group: Group, name: str) -> "Figure":
    """How often the ranges of one outcome held, for a page."""
    with drawing():
        field = Field(new_axes(4.7, 0.06 + _HELD + _AXIS))
        calibration_panel(field.panel(0.75, 0.06, 3.7, _HELD), group, name)
    return field.axes.figure


def latest(record: TrackRecord) -> list[Scored]:
    """The forecast from the last weight before the jars, one a batch, the newest batch first."""
    found: dict[str, Scored] = {}
    for one in record.scored:
        known = found.get(one.stored.batch)
        if known is None or STAGE_COLUMNS.index(one.stored.stage) > STAGE_COLUMNS.index(
            known.stored.stage
        ):
            found[one.stored.batch] = one
    newest = list(found.values())[::-1]
    return sorted(newest, key=lambda one: one.date.toordinal() if one.date else 0, reverse=True)


def _pair(one: Scored, name: str) -> tuple[Outcome, Mark] | None:
    if name == "jars":
        return one.stored.jars, one.jars
    if one.stored.brine_ml is None or one.brine is None:
        return None
    return one.stored.brine_ml, one.brine


def rows_of(found: Sequence[Scored], name: str, units: Units) -> list[_Row | None]:
    """A row for each of these batches, None where nothing is known of it."""
    say: Callable[[Scored, float], str] = (
        _jars if name == "jars" else lambda _, ml: format_volume(ml, units)
    )
    pairs = ((one, _pair(one, name)) for one in found)
    return [
        None if pair is None else (*pair, typeset(say(one, pair[1].was))) for one, pair in pairs
    ]


def _jars(one: Scored, count: float) -> str:
    sorts = {turn.jar for turn in one.stored.turns}
    if len(sorts) != 1:
        return f"{exactly(count)} jars"
    return f"{exactly(count)} {jar_words(min(sorts).removesuffix('-wide'), count)}"


def _names(field: Field, found: Sequence[Scored], top: float, tall: float, wide: float) -> None:
    """Date, name and crop of each batch, a row each."""
    for row, one in enumerate(found):
        middle = top + (row + 0.5) * tall / len(found)
        day = f"{one.date.isoformat()} · " if one.date else ""
        crop = crop_words(one.stored.produce, one.stored.cut, "")
        field.words(EDGE, middle, f"{day}{one.stored.batch} · {crop}", wide - 0.1, size=8.5,
                    va="center_baseline")  # fmt: skip


def came_panel(axes: "Axes", rows: Sequence[_Row | None]) -> None:
    """A line for each range, a sign for what came: filled inside, hollow outside."""
    axes.axvline(1.0, color=QUIET, linewidth=0.8)
    starts, ends = [0.9], [1.2]
    for place, row in enumerate(rows):
        if row is None:
            continue
        outcome, mark, words = row
        middle = outcome.median or 1.0
        low, high = (end / middle for end in outcome.interval(_LEVEL))
        axes.plot([low, high], [place, place], color=SOFT, linewidth=4)
        at = min(mark.was / middle, _FAR)
        axes.plot([at], [place], **_sign(mark), clip_on=False)
        said = axes.annotate(words, (1.0, place), (6, 0), xycoords=("axes fraction", "data"),
                             textcoords="offset points", va="center", fontsize=8.5)  # fmt: skip
        fit(said, _CAME - 0.1)
        ends += [min(high, _FAR), at]
        starts += [low, at]
    axes.set_ylim(max(len(rows), 1) - 0.5, -0.5)
    least, most = (0.5 if min(starts) > 0.53 else 0.0), 1.06 * max(ends)
    axes.set_xlim(least, most)
    ticks = [share for share in (0.0, 0.5, 1.0, 1.5, 2.0, _FAR) if least <= share <= most]
    axes.set_xticks(ticks, [f"{100 * share:g}" for share in ticks])
    axes.set_xlabel("% of the forecast", labelpad=2)
    bare(axes, "left")
    if not any(rows):
        axes.text(0.5, 0.5, "none known", ha="center", va="center", transform=axes.transAxes)


def _sign(mark: Mark) -> dict[str, Any]:
    shape = "^" if mark.at_least else "o" if mark.held[_AT] else "D"
    color = OWN if mark.held[_AT] else MARK
    inside = color if mark.held[_AT] else PAPER
    return {"marker": shape, "color": color, "markerfacecolor": inside, "markersize": 5,
            "markeredgewidth": 1.4, "linestyle": ""}  # fmt: skip


def calibration_panel(axes: "Axes", group: Group, name: str) -> None:
    """For each range how often it held, on the band where a range that is right would lie."""
    held = getattr(group, name).held
    for row, frequency in enumerate(held):
        if not frequency.of:
            continue
        low, high = (100.0 * times / frequency.of for times in frequency.by_chance)
        axes.barh(row, high - low, left=low, height=0.5, color=PUBLISHED)
        axes.plot([100 * frequency.chance] * 2, [row - 0.25, row + 0.25], color=INK, linewidth=1.4)
        right = low - 1e-9 <= 100.0 * frequency.share <= high + 1e-9
        color = OWN if right else MARK
        axes.plot([100.0 * frequency.share], [row], "o" if right else "D", color=color,
                  markerfacecolor=color if right else PAPER, markersize=6,
                  markeredgewidth=1.6, clip_on=False)  # fmt: skip
    axes.set_yticks(range(len(held)), [f"{10 * f.chance:g} in 10" for f in held])
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(held) - 0.4, -0.6)
    axes.set_xlim(0, 100)
    batches = counted(held[_AT].of, "batch", "batches")
    axes.set_xlabel(f"% inside ({batches})", labelpad=2)


def came_signs() -> "list[Artist]":
    """What the signs of the rows mean."""
    from matplotlib.lines import Line2D

    return [
        Line2D([], [], color=SOFT, linewidth=4, label="8-in-10 range"),
        Line2D([], [], marker="o", linestyle="", color=OWN, markersize=5, label="inside"),
        Line2D([], [], marker="D", linestyle="", color=MARK, markerfacecolor=PAPER, markersize=5,
               markeredgewidth=1.4, label="outside"),
        Line2D([], [], marker="^", linestyle="", color=OWN, markersize=5,
               label="ran short: at least this"),
    ]  # fmt: skip


def held_signs() -> "list[Artist]":
    """What the signs of how often ranges held mean, beside inside and outside."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    return [
        Line2D([], [], color=INK, linewidth=1.4, label="promised"),
        Patch(color=PUBLISHED, label="normal luck, 19 times in 20"),
    ]
