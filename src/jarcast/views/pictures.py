"""Small pictures for a terminal, drawn with signs: no colours, nothing that moves a cursor."""

import math
import textwrap
from collections.abc import Sequence

from msgspec import Struct

from jarcast.forecast.answer import Forecast
from jarcast.forecast.known import Known
from jarcast.forecast.shares import FINE, jar_shares
from jarcast.measures import Units, format_made, format_span, spelt_out, volumes_like
from jarcast.views.ranges import known_range, range_words
from jarcast.views.words import halves, jar_words, padded, times_in, titled

_LEAST = 40  # columns; below it the words stand alone
_MOST = 78
_BAR = 36  # the longest bar: longer ones are no easier to compare
_ROWS, _ROWS_OF_SORTS = 4, 3  # of jars: the whole answer stays on a screen of 24 lines
_LEAST_STRIP = 8  # columns; in fewer a range says nothing
_LEGEND = 15  # columns that the first row's words take
_LEVEL = 0.8
_EIGHTHS = " ▏▎▍▌▋▊▉"
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
    turns = forecast.request.turns
    rows = _ROWS if len(turns) == 1 else _ROWS_OF_SORTS  # their words take a line more
    shares = jar_shares(forecast.jars, rows, whole=forecast.whole_jars, steps=FINE)
    labels = [canvas.typed(_bin(count, shares.step)) for count in shares.counts]
    wide = max(len(label) for label in labels)
    word = f"  {titled(jar_words(turns[0].jar.key) if len(turns) == 1 else 'jars')}  "
    lead = len(word)
    free = canvas.width - lead - wide - 5
    room, first = min(free, _BAR), max(min(free - _LEGEND, _BAR), 1)
    most = max(*shares.chances, shares.chances[0] * room / first)
    lines = []
    each = zip(labels, shares.chances, shares.in_100, strict=True)
    for number, (label, chance, in_100) in enumerate(each):
        drawn = _bar(room * chance / most, canvas)
        times = f"{in_100}"
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
    middle = canvas.typed(volumes_like(high, units)(forecast.brine_ml.median))
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

    Of the two that which reads otherwise; '' where the terminal has no room for it.
    """
    if not canvas.width:
        return ""
    both = before, now
    jars = [one.counts(one.jars, _LEVEL) for one in both]
    said = [known_range(Known(*count), halves) for count in jars]
    strips = [_strips("Jars in all", [Known(*count) for count in jars], said, canvas)]
    if now.has_brine and before.has_brine:
        brine = [Known(one.brine_ml.median, *one.brine_ml.interval(_LEVEL)) for one in both]
        said = [_volumes(known, units) for known in brine]
        strips.append(_strips("Brine in all", brine, said, canvas))
    return "" if None in strips else "\n".join(line for lines in strips for line in lines or ())


def _volumes(known: Known, units: Units) -> tuple[str, str]:
    ends = dict.fromkeys(format_span(known.low, known.high, units))
    middle = volumes_like(known.high, units)(known.middle)
    return middle, " to ".join(ends) if len(ends) > 1 else ""


def _strips(
    name: str, ranges: Sequence[Known], said: Sequence[tuple[str, str]], canvas: Canvas
) -> list[str] | None:
    """Two ranges on one scale, each with its middle and its ends in words; none of two alike.

    None where the words leave no room for a strip.
    """
    words = [canvas.typed(range_words(one)) for one in said]
    if words[0] == words[1]:
        return []
    room = min(canvas.width - 14 - max(len(text) for text in words), _BAR)
    if room < _LEAST_STRIP:
        return None
    start = min(known.low for known in ranges)
    reach = max(known.high for known in ranges) - start
    scale = (room - 1) / reach if reach > 0 else 0.0
    lines = [f"  {name}, {times_in(_LEVEL)}:"]
    for label, known, text in zip(("before", "now"), ranges, words, strict=True):
        low, middle, high = (
            round(scale * (value - start)) for value in (known.low, known.middle, known.high)
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
