"""An Axes taken as a sheet of paper: panels and words are placed on it by inches.

So nothing on a chart is larger or wider than its place: words are measured, and cut where they
would not fit. On Axes smaller than it is meant for, all of it is drawn smaller.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from jarcast.views.charts.palette import INK
from jarcast.views.words import plain

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.legend import Legend
    from matplotlib.text import Text

EDGE = 0.14  # inches left free on either side
_SPARE = 0.98  # letters come out a little wider at another resolution


def new_axes(width: float, height: float) -> "Axes":
    """The one Axes of a new figure of this size in inches, which it fills; not shown anywhere."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="none")
    FigureCanvasAgg(figure)  # measures words at once
    axes: Axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    return axes


class Field:
    """An Axes in inches, from its upper left corner.

    Where they are smaller than ``meant``, width and height, the inches are smaller ones.
    """

    def __init__(self, axes: "Axes", meant: tuple[float, float] = (0.0, 0.0)) -> None:
        """With the size that the Axes have now, and without edges of their own."""
        axes.set_axis_off()
        box = axes.get_window_extent()
        dpi = axes.figure.dpi
        wide, tall = box.width / dpi, box.height / dpi
        sides = ((wide, meant[0]), (tall, meant[1]))
        self.scale = min([1.0, *(have / due for have, due in sides if due)])
        self.axes, self.width, self.height = axes, wide / self.scale, tall / self.scale

    def shrink(self) -> None:
        """Bring letters, lines and signs to the size of the inches, once all is drawn."""
        if self.scale == 1.0:
            return
        panels = self.axes.child_axes
        words = [text for axes in (self.axes, *panels) for text in axes.texts]
        for text in (*words, *(panel.xaxis.label for panel in panels)):
            text.set_fontsize(self.scale * text.get_fontsize())
        for panel in panels:
            panel.tick_params(labelsize=8.0 * self.scale, pad=3.0 * self.scale)
            for line in panel.lines:
                line.set_markersize(self.scale * line.get_markersize())
                line.set_linewidth(self.scale * line.get_linewidth())

    def panel(self, left: float, top: float, width: float, height: float) -> "Axes":
        """Axes of their own within these bounds; the numbers on their edges lie outside."""
        place = (
            left / self.width,
            1.0 - (top + height) / self.height,
            max(width, 0.1) / self.width,
            max(height, 0.1) / self.height,
        )
        return self.axes.inset_axes(place)

    def words(
        self, left: float, top: float, text: str, wide: float, *, size: float = 9.5, **look: Any
    ) -> "Text":
        """A line of words whose top is here, cut to ``wide`` inches. Returns it as drawn."""
        drawn = self.axes.text(
            left / self.width, 1.0 - top / self.height, one_line(text), fontsize=size,
            transform=self.axes.transAxes, **{"va": "top", "color": INK, **look},
        )  # fmt: skip
        fit(drawn, wide)
        return drawn

    def key(self, signs: Sequence["Artist"], top: float) -> "Legend":
        """What the signs mean, in as many columns as the width takes, from here down."""
        for columns in range(len(signs), 0, -1):
            legend = self.axes.legend(
                handles=signs, ncols=columns, loc="upper left", borderaxespad=0.0, borderpad=0.0,
                bbox_to_anchor=(EDGE / self.width, 1.0 - top / self.height), columnspacing=1.4,
                handletextpad=0.6, fontsize=8.5 * self.scale,
            )  # fmt: skip
            across = legend.get_window_extent().width / self.axes.figure.dpi
            if across <= _SPARE * self.scale * (self.width - 2 * EDGE):
                break
        return legend


def one_line(text: str) -> str:
    """A text on one line, without signs that only move a cursor."""
    return plain(" ".join(text.split()))


def fit(drawn: "Text", wide: float) -> None:
    """Cut words, marked as cut, until they are no wider than so many inches."""
    text, room = drawn.get_text(), _SPARE * wide * drawn.figure.dpi
    text = text[:400]  # nothing so long fits anywhere
    drawn.set_text(text)
    across = drawn.get_window_extent().width
    while across > room and len(text) > 1:
        text = text[: max(min(int(len(text) * room / across), len(text) - 1), 1)].rstrip(" ,·")
        drawn.set_text(f"{text}…")
        across = drawn.get_window_extent().width


def bare(panel: "Axes", *sides: str) -> None:
    """Take away these edges of a panel, with their numbers."""
    for side in sides:
        panel.spines[side].set_visible(False)
        panel.tick_params(**{side: False, f"label{side}": False})
