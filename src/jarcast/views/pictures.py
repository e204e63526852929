"""Small pictures for a terminal, drawn with signs: no colours, nothing that moves a cursor."""

import math
import textwrap
from collections.abc import Callable, Sequence

from msgspec import Struct

from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.shares import FINE, jar_shares
from jarcast.measures import Units, format_made, format_span, format_volume, spelt_out
from jarcast.views.words import halves, jar_words, padded, times_in, titled

_LEAST = 40  # columns; below it the words stand alone
_MOST = 78
_BAR = 36  # the longest bar: longer ones are no easier to compare
_ROWS = 4  # of jars, so that the whole answer stays on a screen of 24 lines
_LEGEND = 15  # columns that the first row's words take
_LEVEL = 0.8
_EIGHTHS = " ▏▎▍▌▋▊▉"
_Say = Callable[[float], str]
BLOCKS = f"█▒├─┤●{_EIGHTHS}"  # a stream must have them all


class Canvas(Struct, frozen=True):
    """A terminal to draw on: how wide, and whether it has block signs or plain ones only."""

    columns: int
    blocks: bool

    @property
    def width(self) -> int:
        """Columns to fill; 0 where there is no room for a picture."""
        return min(self.columns, _MOST) if self.columns >= _LEAST else 0

    def typed(self, text: str) -> str:
        """A text as the terminal can hold it: '9 1/2' where it has no sign for '9½'."""
        return text if self.blocks else spelt_out(text)


def forecast_picture(
    forecast: Forecast,
    units: Units,
    level: float,
    short_chance: float,
    canvas: Canvas,
    *,
    by_pots: bool = False,
) -> str:
    """How likely each number of jars is, and the brine used beside what to make.

    ``by_pots``: the words tell of the brine. '' where the terminal has no room for it.
    """
    if not canvas.width:
        return ""
    lines = _jar_bars(forecast, canvas)
    if forecast.has_brine and not by_pots:
        lines += _brine_bars(forecast, units, level, short_chance, canvas)
    return "\n".join(lines)


def _jar_bars(forecast: Forecast, canvas: Canvas) -> list[str]:
    shares = jar_shares(forecast.jars, _ROWS, whole=forecast.whole_jars, steps=FINE)
    labels = [canvas.typed(_bin(count, shares.step)) for count in shares.counts]
    wide = max(len(label) for label in labels)
    turns = forecast.request.turns
    word = f"  {titled(jar_words(turns[0].jar.key) if len(turns) == 1 else 'jars')}  "
    lead = len(word)
    room = min(canvas.width - lead - wide - 5, _BAR)
    most = max(*shares.chances, shares.chances[0] * room / max(room - _LEGEND, 1))
    lines = []
    for number, (label, chance) in enumerate(zip(labels, shares.chances, strict=True)):
        drawn = _bar(room * chance / most, canvas)
        times = f"{100 * chance:.0f}"
        if not number:
            times += f" {'batch' if times == '1' else 'batches'} in 100"
        lines.append(f"{'' if number else word:{lead}}{label.rjust(wide)} {drawn} {times}")
    return lines


def _brine_bars(
    forecast: Forecast, units: Units, level: float, short_chance: float, canvas: Canvas
) -> list[str]:
    low, high = forecast.brine_ml.interval(level)
    order = forecast.brine_to_make(short_chance, units)
    used = canvas.typed(" to ".join(dict.fromkeys(format_span(low, high, units))))
    made = canvas.typed(format_made(order, units))
    middle = canvas.typed(format_volume(forecast.brine_ml.median, units))
    room = min(canvas.width - 12 - max(len(used), len(made)), _BAR)
    scale = room / max(high, order, 1e-9)
    certain, likely = round(scale * low), round(scale * high)
    full, light = ("█", "▒") if canvas.blocks else ("#", "=")
    bar = full * certain + light * (likely - certain)
    return [
        *textwrap.wrap(
            f"Brine you'll use, about {middle}; {times_in(level)}:",
            canvas.width,
            initial_indent="  ",
            subsequent_indent="  ",
        ),
        f"    use   {padded(bar, room)} {used}",
        f"    make  {padded(full * round(scale * order), room)} {made}",
    ]


def _bin(count: float, step: float) -> str:
    """A count of jars, or the counts that are drawn as one: '8 to 12'."""
    if step <= 1.0:
        return halves(count)
    low, high = max(math.ceil(count - step / 2), 0), math.ceil(count + step / 2) - 1
    return f"{low} to {high}"


def _bar(length: float, canvas: Canvas) -> str:
    """A bar this many columns long, to the eighth of one where there are signs for that."""
    if not canvas.blocks:
        return "#" * round(length)
    whole, eighths = divmod(round(8 * length), 8)
    return "█" * whole + (_EIGHTHS[eighths] if eighths else "")


def before_and_now(now: Forecast, before: Forecast, units: Units, canvas: Canvas) -> str:
    """The ranges of jars and brine of the whole batch, before and now, one above the other.

    '' where the terminal has no room for it.
    """
    if not canvas.width:
        return ""
    lines = _strips("Jars in all", (before.jars, now.jars), halves, canvas)
    if now.has_brine and before.has_brine:

        def say(ml: float) -> str:
            return format_volume(ml, units)

        lines += ["", *_strips("Brine in all", (before.brine_ml, now.brine_ml), say, canvas)]
    return "\n".join(lines)


def _strips(name: str, outcomes: Sequence[Outcome], say: _Say, canvas: Canvas) -> list[str]:
    """Two ranges on one scale, each with its ends in words."""
    ranges = [outcome.interval(_LEVEL) for outcome in outcomes]
    words = [
        canvas.typed(" to ".join(dict.fromkeys((say(low), say(high))))) for low, high in ranges
    ]
    room = min(canvas.width - 14 - max(len(text) for text in words), _BAR)
    start = min(low for low, _ in ranges)
    reach = max(high for _, high in ranges) - start
    scale = (room - 1) / reach if reach > 0 else 0.0
    lines = [f"  {name}, {times_in(_LEVEL)}:"]
    for label, outcome, ends, text in zip(("before", "now"), outcomes, ranges, words, strict=True):
        low, middle, high = (
            round(scale * (value - start)) for value in (ends[0], outcome.median, ends[1])
        )
        strip = padded(_strip(low, middle, high, canvas), room)
        lines.append(f"    {label.ljust(6)}  {strip} {text}")
    return lines


def _strip(low: int, middle: int, high: int, canvas: Canvas) -> str:
    left, line, right, dot = tuple("├─┤●") if canvas.blocks else tuple("|-|o")
    signs = [line] * (high - low + 1)
    signs[0], signs[-1] = left, right
    signs[middle - low] = dot
    return " " * low + "".join(signs)
