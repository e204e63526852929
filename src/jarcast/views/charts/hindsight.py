"""The track record drawn: ranges against what came, and how often each range held."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from jarcast.domain.stages import STAGE_COLUMNS
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units
from jarcast.trackrecord.hindsight import Group, Scored, TrackRecord
from jarcast.trackrecord.scoring import RANGES, Mark
from jarcast.views.charts.style import (
    BELOW_NAMED,
    INK,
    MARK,
    OWN,
    PUBLISHED,
    SOFT,
    drawing,
    new_figure,
    no_left_axis,
    stacked_panels,
    volume_scale,
)

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEVEL = 0.8
_AT = RANGES.index(_LEVEL)
MOST = 60  # batches drawn, the latest ones; more lines could not be told apart

_Pair = tuple[Outcome, Mark]


def hindsight_chart(record: TrackRecord, units: Units) -> "Figure":
    """Ranges against what came for jars and brine, and under them how often ranges held."""
    with drawing():
        figure = new_figure(8.6, 7.4)
        if not record.groups:
            figure.text(0.5, 0.5, "No forecast has been scored yet", ha="center")
            return figure
        above, below = figure.subplots(2, 2, height_ratios=(3, 2))
        came_panel(above[0], jar_pairs(record), 1.0, "Jars: range, and what came")
        brine, (size, unit) = brine_pairs(record), _brine_scale(record, units)
        came_panel(above[1], brine, size, f"Brine, {unit}: range, and what went")
        for axes, name in zip(below, ("jars", "brine_ml"), strict=True):
            calibration_panel(axes, record.groups[0], name)
        signs = [*_came_signs(), *_held_signs()[:2]]
        figure.legend(handles=signs, loc="outside lower center", ncols=3)
    return figure


def came_chart(record: TrackRecord, units: Units, name: str) -> "Figure":
    """One outcome, 'jars' or 'brine_ml': its ranges against what came."""
    with drawing():
        figure, (axes,) = stacked_panels(4.5, 2.05)
        if name == "jars":
            came_panel(axes, jar_pairs(record), 1.0, "Jars")
        else:
            size, unit = _brine_scale(record, units)
            came_panel(axes, brine_pairs(record), size, f"Brine, {unit}")
        figure.legend(handles=_came_signs(), loc="lower center", ncols=2)
    return figure


def calibration_chart(group: Group, name: str) -> "Figure":
    """How often the ranges of one outcome held."""
    with drawing():
        figure, (axes,) = stacked_panels(4.5, 1.15, below=BELOW_NAMED)
        calibration_panel(axes, group, name)
        figure.legend(handles=_held_signs(), loc="lower center", ncols=2)
    return figure


def jar_pairs(record: TrackRecord) -> list[_Pair]:
    """Forecast and mark of the jars of the latest batches, by date."""
    return [(one.stored.jars, one.jars) for one in _latest(record)]


def brine_pairs(record: TrackRecord) -> list[_Pair]:
    """The same of the brine, where it is known."""
    return [
        (one.stored.brine_ml, one.brine)
        for one in _latest(record)
        if one.stored.brine_ml is not None and one.brine is not None
    ]


def _latest(record: TrackRecord) -> Sequence[Scored]:
    """The forecast from the last weight before the jars, one a batch, in the record's order."""
    latest: dict[str, Scored] = {}
    for one in record.scored:
        known = latest.get(one.stored.batch)
        if known is None or STAGE_COLUMNS.index(one.stored.stage) > STAGE_COLUMNS.index(
            known.stored.stage
        ):
            latest[one.stored.batch] = one
    return list(latest.values())[-MOST:]


def _brine_scale(record: TrackRecord, units: Units) -> tuple[float, str]:
    middles = [outcome.median for outcome, _ in brine_pairs(record)]
    return volume_scale(max(middles, default=0.0), units)


def came_panel(axes: "Axes", pairs: Sequence[_Pair], size: float, title: str) -> None:
    """A line for each range, a sign for what came: filled inside, hollow outside."""
    axes.set_title(title)
    axes.set_xlabel("batch after batch")
    axes.set_xticks([])
    if not pairs:
        axes.text(0.5, 0.5, "none known", ha="center", transform=axes.transAxes)
        axes.set_yticks([])
        return
    for place, (outcome, mark) in enumerate(pairs):
        low, high = (end / size for end in outcome.interval(_LEVEL))
        axes.plot([place, place], [low, high], color=SOFT, linewidth=3.2)
        axes.plot([place], [mark.was / size], **_sign(mark))
    axes.margins(x=0.02)
    axes.set_ylim(bottom=0)
    axes.locator_params(axis="y", nbins=6, integer=True)


def _sign(mark: Mark) -> dict[str, Any]:
    shape = "^" if mark.at_least else "o" if mark.held[_AT] else "D"
    color = OWN if mark.held[_AT] else MARK
    inside = color if mark.held[_AT] else "white"
    return {"marker": shape, "color": color, "markerfacecolor": inside, "markersize": 4.6,
            "markeredgewidth": 1.4, "linestyle": ""}  # fmt: skip


def calibration_panel(axes: "Axes", group: Group, name: str) -> None:
    """For each range how often it held, on the band where a range that is right would lie."""
    held = getattr(group, name).held
    rows = list(range(len(held)))[::-1]
    for row, frequency in zip(rows, held, strict=True):
        if not frequency.of:
            continue
        low, high = (100.0 * times / frequency.of for times in frequency.by_chance)
        axes.barh(row, high - low, left=low, height=0.5, color=PUBLISHED)
        axes.plot([100 * frequency.chance] * 2, [row - 0.25, row + 0.25], color=INK, linewidth=1.4)
        right = low - 1e-9 <= 100.0 * frequency.share <= high + 1e-9
        color = OWN if right else MARK
        axes.plot([100.0 * frequency.share], [row], "o" if right else "D", color=color,
                  markerfacecolor=color if right else "white", markersize=7,
                  markeredgewidth=1.6)  # fmt: skip
    axes.set_yticks(rows, [f"{10 * f.chance:g} in 10" for f in held])
    no_left_axis(axes)
    axes.set_ylim(-0.6, len(held) - 0.4)
    axes.set_xlim(0, 102)
    of = held[_AT].of
    axes.set_xlabel(f"held, of 100 ({of} batches)")
    axes.set_title(f"{'Jars' if name == 'jars' else 'Brine'}: how often each range held")


def _came_signs() -> "list[Artist]":
    from matplotlib.lines import Line2D

    return [
        Line2D([], [], color=SOFT, linewidth=3.2, label="8-in-10 range"),
        Line2D([], [], marker="o", linestyle="", color=OWN, markersize=5, label="inside"),
        Line2D([], [], marker="D", linestyle="", color=MARK, markerfacecolor="white", markersize=5,
               markeredgewidth=1.4, label="outside"),
        Line2D([], [], marker="^", linestyle="", color=OWN, markersize=5,
               label="ran out: at least this"),
    ]  # fmt: skip


def _held_signs() -> "list[Artist]":
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    return [
        Patch(color=PUBLISHED, label="by chance, 19 times in 20"),
        Line2D([], [], color=INK, linewidth=1.4, label="as often as it says"),
        Line2D([], [], marker="o", linestyle="", color=OWN, markersize=6, label="within that"),
        Line2D([], [], marker="D", linestyle="", color=MARK, markerfacecolor="white", markersize=6,
               markeredgewidth=1.4, label="beyond that"),
    ]  # fmt: skip
