"""How charts look, and how they become files.

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
from jarcast.views.charts.palette import INK, PAPER, QUIET, dark_rules

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SETTINGS: Mapping[str, Any] = MappingProxyType(
    {
        "font.family": ["DejaVu Sans"],  # comes with matplotlib
        "font.size": 9.5,
        "axes.titlesize": 9.0,
        "axes.titlelocation": "left",
        "axes.titlepad": 5.0,
        "axes.titley": 1.0,  # else each pass searches for a place where it fits
        "axes.labelsize": 9.0,
        "axes.edgecolor": QUIET,
        "axes.labelcolor": INK,
        "axes.titlecolor": INK,
        "axes.facecolor": PAPER,
        "axes.linewidth": 0.8,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "text.color": INK,
        "text.parse_math": False,  # a dollar in a name is a dollar
        "xtick.color": QUIET,
        "ytick.color": QUIET,
        "xtick.labelcolor": INK,
        "ytick.labelcolor": INK,
        "xtick.labelsize": 8.5,
        "ytick.labelsize": 8.5,
        "legend.frameon": False,
        "legend.fontsize": 8.5,
        "lines.solid_capstyle": "butt",
        "savefig.facecolor": PAPER,
        "figure.facecolor": PAPER,
        "svg.fonttype": "path",
        "svg.hashsalt": "jarcast",
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
            f"charts need matplotlib, which cannot be loaded ({error}); install jarcast again, "
            "which brings it along"
        ) from error

    with mpl.rc_context(), warnings.catch_warnings():
        # A sign that no font at hand has is drawn as an empty box, which is all that can be done.
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        mpl.rcParams.update({k: v for k, v in mpl.rcParamsDefault.items() if k != "backend"})
        mpl.rcParams.update(_SETTINGS)
        yield


def chart_bytes(figure: "Figure", kind: str, *, within: bool = False) -> bytes:
    """A figure as a file of this kind, 'svg' or 'png': the same bytes for the same figure.

    An SVG turns dark on a dark screen. With ``within`` it is to stand within a page: nothing is
    painted behind it, and the page's style has the rules for the dark.
    """
    out = io.BytesIO()
    with drawing():
        if kind == "svg":
            return _svg(figure, out, within=within)
        figure.savefig(out, format=kind, dpi=_DPI, metadata=_METADATA[kind])
    return out.getvalue()


def _svg(figure: "Figure", out: io.BytesIO, *, within: bool) -> bytes:
    """Draw once: ``savefig`` draws twice, the first time for the layout alone."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    if within:
        figure.patch.set(facecolor="none", edgecolor="none")
    figure.set_dpi(_DPI)
    FigureCanvasSVG(figure).print_svg(out, metadata=_METADATA["svg"])
    if within:
        return out.getvalue()
    style = f"<style>{dark_rules()}</style>\n</svg>"
    return out.getvalue().rstrip().removesuffix(b"</svg>") + style.encode() + b"\n"


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
