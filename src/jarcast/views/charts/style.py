"""How charts look, and how they become files.

Two inks far apart in lightness, and never by colour alone: they also differ in shape or filling.
Letters are drawn as outlines, so that a chart prints alike everywhere.
"""

import io
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from jarcast.errors import JarcastError
from jarcast.measures import CUP_ML, GALLON_ML, OUNCE_G, POUND_G, QUART_ML, Units
from jarcast.views.words import shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#2d2a26"  # words and axes
OWN = "#17504b"  # what is yours: dark in grey as well
SOFT = "#8fb5ad"  # its range
PUBLISHED = "#ebe1cd"  # what is published: light in grey as well
PUBLISHED_LINE = "#8a7448"
MARK = "#a8431a"  # what to do, and what did not hold; always with a word or a shape of its own

_SETTINGS: Mapping[str, Any] = MappingProxyType(
    {
        "font.family": ["DejaVu Sans"],  # comes with matplotlib
        "font.size": 9.5,
        "axes.titlesize": 10.5,
        "axes.titlelocation": "left",
        "axes.titleweight": "bold",
        "axes.titlepad": 8.0,
        "axes.titley": 1.0,  # else each pass searches for a place where it fits
        "axes.labelsize": 9.5,
        "axes.edgecolor": INK,
        "axes.labelcolor": INK,
        "axes.titlecolor": INK,
        "axes.linewidth": 0.8,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "text.color": INK,
        "text.parse_math": False,  # a dollar in a name is a dollar
        "xtick.color": INK,
        "ytick.color": INK,
        "xtick.labelsize": 9.0,
        "ytick.labelsize": 9.0,
        "legend.frameon": False,
        "legend.fontsize": 9.0,
        "lines.solid_capstyle": "butt",
        "savefig.facecolor": "white",
        "figure.facecolor": "white",
        "svg.fonttype": "path",
        "svg.hashsalt": "jarcast",
        "figure.constrained_layout.use": True,
    }
)
_DPI = 200
_METADATA: Mapping[str, dict[str, None]] = MappingProxyType(
    {
        "svg": {"Date": None, "Creator": None, "Format": None, "Type": None},
        "png": {"Software": None},
    }
)


@contextmanager
def drawing() -> Iterator[None]:
    """Settings to draw under; those of the person's own matplotlib do not enter.

    Raises JarcastError where matplotlib cannot be loaded.
    """
    try:
        import matplotlib as mpl
    except ImportError as error:
        raise JarcastError(
            f"charts are drawn with matplotlib, which cannot be loaded ({error}); install it anew, "
            "with jarcast's extra 'charts'"
        ) from error

    with mpl.rc_context(), warnings.catch_warnings():
        # A sign that no font at hand has is drawn as an empty box, which is all that can be done.
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        mpl.rcParams.update(mpl.rcParamsDefault)
        mpl.rcParams.update(_SETTINGS)
        yield


def chart_bytes(figure: "Figure", kind: str, *, clear: bool = False) -> bytes:
    """A figure as a file of this kind, 'svg' or 'png': the same bytes for the same figure.

    With ``clear`` nothing is painted behind it.
    """
    out = io.BytesIO()
    with drawing():
        if kind == "svg":
            _draw_svg(figure, out, clear=clear)
        else:
            figure.savefig(out, format=kind, dpi=_DPI, metadata=_METADATA[kind], transparent=clear)
    return out.getvalue()


def _draw_svg(figure: "Figure", out: io.BytesIO, *, clear: bool) -> None:
    """Draw once: ``savefig`` draws twice, the first time for the layout alone."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    if clear:
        for part in (figure, *figure.axes):
            part.patch.set(facecolor="none", edgecolor="none")
    figure.set_dpi(_DPI)
    FigureCanvasSVG(figure).print_svg(out, metadata=_METADATA["svg"])


def new_figure(width: float, height: float) -> "Figure":
    """An empty figure of this size in inches; to be called while ``drawing``."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained")


# Inches around a panel: the words of its rows, its title, the numbers under it, and its edge.
_LEFT, _ABOVE, _RIGHT = 0.55, 0.32, 0.1
BELOW, BELOW_NAMED = 0.24, 0.46
_GAP = 0.12  # between a panel and the title of the next
_FOOT = 0.46  # a legend of two rows


def stacked_panels(
    width: float, height: float, count: int = 1, *, below: float = BELOW
) -> "tuple[Figure, list[Axes]]":
    """A figure of this width, and panels of this height one above the other on one scale below.

    All in inches. ``below`` is the room under the last panel, BELOW for its numbers or BELOW_NAMED
    for its axis' name as well, and there is room for a legend at the foot. Nothing is measured to
    place them, which is a third of the work of a small chart. To be called while ``drawing``.
    """
    from matplotlib.figure import Figure

    each = _ABOVE + height + _GAP
    total = count * each - _GAP + below + _FOOT
    figure = Figure(figsize=(width, total), layout="none")
    across = (_LEFT / width, (width - _LEFT - _RIGHT) / width)
    panels: list[Axes] = []
    for row in range(count):
        bottom = total - row * each - _ABOVE - height
        box = (across[0], bottom / total, across[1], height / total)
        panels.append(figure.add_axes(box, sharex=panels[0] if panels else None))
        if row < count - 1:
            panels[-1].tick_params(labelbottom=False)
    return figure, panels


def name_of(text: str) -> str:
    """A user's text for a chart: on one line, and no longer than fits."""
    return shortened(" ".join(text.split()), 44)


def volume_scale(most_ml: float, units: Units) -> tuple[float, str]:
    """The unit to draw volumes up to this many ml in: its ml, and its name."""
    if units is Units.METRIC:
        return (1.0, "ml") if most_ml < 2000 else (1000.0, "litres")
    if most_ml < 24 * CUP_ML:
        return float(CUP_ML), "cups"
    return (float(QUART_ML), "quarts") if most_ml < 24 * QUART_ML else (float(GALLON_ML), "gallons")


def weight_scale(most_g: float, units: Units) -> tuple[float, str]:
    """The unit to draw weights up to this many grams in: its grams, and its name."""
    if units is Units.METRIC:
        return (1.0, "g") if most_g < 2000 else (1000.0, "kg")
    return (float(OUNCE_G), "oz") if most_g < 2 * POUND_G else (float(POUND_G), "lb")


def no_left_axis(axes: "Axes") -> None:
    """Take away an axis whose rows are named already."""
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
