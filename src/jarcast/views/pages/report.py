"""The notebook page: a summary, habits, how forecasts did, what to check, and the batches."""

import datetime as dt
from collections.abc import Sequence
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import Flag
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.stages import weighed
from jarcast.learning.slips import Slip
from jarcast.measures import Units, format_volume, format_weight
from jarcast.trackrecord.hindsight import TrackRecord
from jarcast.trackrecord.scoring import RANGES
from jarcast.trackrecord.summary import CropHabits, HabitSummary
from jarcast.trackrecord.trends import CropInTime
from jarcast.views.batches import flag_words, slip_words
from jarcast.views.habits import HABIT_WORDS, clearest, habit_range, trend_text
from jarcast.views.hindsight import record_lines, stage_rows
from jarcast.views.pages.filling import fill, inline_svg
from jarcast.views.ranges import known_range
from jarcast.views.words import counted, crop_words, exactly, jar_words, shortened, titled

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_Range = tuple[str, str]  # a middle, and the range it lies in

_AT = RANGES.index(0.8)
_CHARTS = {"jars": "Jars", "brine_ml": "Brine"}
_LONGEST = 60  # characters of a name; the whole one stands in the ledger
_LONG_NOTE = 160  # a longer note is folded
LISTED = 500  # batches, the latest ones
CHARTED, CROPS = 8, 60  # crops put up most: with charts, and with their numbers


class Notebook(Struct, frozen=True):
    """What a ledger holds and taught, gathered for the page.

    ``replayed`` is None where the history was not replayed; ``crops`` are those that have charts.
    """

    batches: Sequence[Batch]
    summary: HabitSummary
    slips: Sequence[Slip]
    flags: Sequence[tuple[str, Flag]]
    kept: TrackRecord
    replayed: TrackRecord | None
    crops: Sequence[CropInTime]
    today: dt.date = field(default_factory=dt.date.today)


def report_page(book: Notebook, units: Units) -> str:
    """The notebook as one HTML page that needs nothing beside itself."""
    from jarcast.views.charts.palette import dark_rules

    dates = [batch.date for batch in book.batches]
    odd = _odd(book, units)
    return fill(
        "report.html",
        count=counted(len(book.batches), "batch", "batches"),
        first=min(dates).isoformat() if dates else "",
        last=max(dates).isoformat() if dates else "",
        today=book.today.isoformat(),
        glance=_glance(book, len(odd)),
        crops=_crops(book, units),
        crops_left_out=max(len(book.summary.crops) - CROPS, 0),
        uncharted=len(book.summary.crops) - len(book.crops) if book.crops else 0,
        charted=len(book.crops),
        loss=known_range(book.summary.loss_ml, lambda ml: format_volume(ml, units)),
        trends=[trend_text(t, units, book.today) for t in clearest(book.summary.trends)],
        odd=odd[:LISTED],
        odd_left_out=max(len(odd) - LISTED, 0),
        kept=_record(book.kept, units),
        replayed=None if book.replayed is None else _record(book.replayed, units),
        charts=_record_charts(book, units),
        years=_years(book.batches, units),
        listed=min(len(book.batches), LISTED),
        left_out=max(len(book.batches) - LISTED, 0),
        dark_rules=dark_rules(),
    )


def _glance(book: Notebook, odd: int) -> list[tuple[str, str, str]]:
    """What one wants to know first: of what, a number, and a line under it."""
    if not book.batches:
        return []
    year = max(batch.date for batch in book.batches).year
    season = [batch for batch in book.batches if batch.date.year == year]
    jars = exactly(sum(batch.total_jars for batch in season))
    found = [(f"Jars in {year}", jars, f"from {counted(len(season), 'batch', 'batches')}")]
    record = book.replayed or book.kept
    for name, title in _CHARTS.items() if record.groups else ():
        held = getattr(record.groups[0], name).held[_AT]
        if held.of:
            under = f"{title.lower()} inside the 8-in-10 range ({100 * held.share:.0f} %)"
            found.append(("Forecasts that held", f"{held.times} of {held.of}", under))
    found.append(("To check", str(odd), "odd values: they barely count until you do" if odd else
                  "every value fits the others"))  # fmt: skip
    return found


def _crops(book: Notebook, units: Units) -> list[dict[str, Any]]:
    """Each crop's habits, those put up most first, with its charts where it has them."""
    charted = {(crop.produce, crop.cut, crop.pack): crop for crop in book.crops}
    found = []
    ordered = sorted(book.summary.crops, key=lambda crop: -crop.batches)
    for place, crop in enumerate(ordered[:CROPS]):
        drawn = charted.get((crop.produce, crop.cut, crop.pack))
        found.append({
            "name": titled(_name(crop.produce, crop.cut, crop.pack)),
            "batches": counted(crop.batches, "batch", "batches"),
            "cards": _cards(crop, drawn, place, units),
            "jars": _jar_rows(crop, drawn, units),
            "left_out": drawn.left_out if drawn is not None else 0,
        })  # fmt: skip
    return found


def _cards(
    crop: CropHabits, drawn: CropInTime | None, place: int, units: Units
) -> list[dict[str, Any]]:
    """Each habit in numbers, with its chart over time where it has one."""
    in_time = {habit.name: habit for habit in drawn.habits} if drawn is not None else {}
    found = []
    for habit in crop.habits:
        title, say = HABIT_WORDS[habit.name], partial(habit_range, habit)
        if habit.name == "density" and drawn is not None:
            title = f"in a {jar_words(drawn.jar, 1)}"
            show = partial(_weight_in, fill_ml=drawn.fill_ml, units=units)
            say = partial(known_range, show=show)
        own, published = say(habit.own), say(habit.published)
        rests = counted(habit.batches, "batch", "batches") if habit.batches else "no batch of it"
        words = f"{title}: {own[0]} now, published {published[0]}"
        svg = None
        if drawn is not None and habit.name in in_time:
            from jarcast.views.charts.habits import habit_chart

            figure = habit_chart(drawn, in_time[habit.name], units)
            svg = _drawn(figure, f"c{place}-{habit.name.split()[0]}", f"{words}.")
        found.append(
            {"title": title, "own": own, "published": published, "rests": rests, "svg": svg}
        )
    return found


def _weight_in(density: float, fill_ml: float, units: Units) -> str:
    """What a jar of this fill volume holds at a density in g/ml."""
    return format_weight(density * fill_ml, units)


def _name(produce: str, cut: str, pack: str) -> str:
    return shortened(crop_words(produce, cut, pack), _LONGEST)


def _jar_rows(crop: CropHabits, drawn: CropInTime | None, units: Units) -> list[tuple[str, _Range]]:
    """What goes into a jar of each sort; the produce of one that has a chart stands there."""
    found = []
    for jar in crop.jars:
        sort = shortened(jar_words(jar.jar, 1), _LONGEST)
        if drawn is None or drawn.jar != jar.jar:
            produce = known_range(jar.produce_g, lambda g: format_weight(g, units))
            found.append((f"produce in a {sort}", produce))
        brine = known_range(jar.brine_ml, lambda ml: format_volume(ml, units))
        found.append((f"brine in a {sort}", brine))
    return found


def _odd(book: Notebook, units: Units) -> list[tuple[str, str]]:
    """Values that contradict one another, and values that do not fit: batch, and what is odd."""
    found = [(shortened(name, _LONGEST), flag_words(flag, units)) for name, flag in book.flags]
    found += [(shortened(slip.batch, _LONGEST), slip_words(slip)) for slip in book.slips]
    return found


def _record(record: TrackRecord, units: Units) -> dict[str, Any]:
    return {
        "lines": [line for line in record_lines(record, units) if line],
        "table": stage_rows(record, units),
        "waiting": [shortened(name, _LONGEST) for name in record.waiting],
    }


def _drawn(figure: "Figure", name: str, words: str) -> Any:
    from jarcast.views.charts import chart_bytes

    return inline_svg(chart_bytes(figure, "svg", within=True), name, words)


def _record_charts(book: Notebook, units: Units) -> list[dict[str, Any]]:
    """Forecast and filled, and how often ranges held, of the longer record."""
    record = book.replayed or book.kept
    if not record.groups:
        return []
    from jarcast.views.charts.hindsight import MOST_OF_PAGE, calibration_chart, came_chart

    found = []
    for name, title in _CHARTS.items():
        held = getattr(record.groups[0], name).held
        if not any(frequency.of for frequency in held):
            continue
        often = "; ".join(f"the {10 * f.chance:g}-in-10 range {f.times} of {f.of} times"
                          for f in held)  # fmt: skip
        came = f"{title}, forecast and {'filled' if name == 'jars' else 'used'}"
        found.append({
            "svg": _drawn(came_chart(record, units, name), f"{name}-came", f"{came}."),
            "caption": f"{came}, newest first, {MOST_OF_PAGE} batches at most.",
        })  # fmt: skip
        found.append({
            "svg": _drawn(calibration_chart(record.groups[0], name), f"{name}-held",
                          f"{title}: how often ranges held: {often}."),
            "caption": f"{title}: {often}.",
        })  # fmt: skip
    return found


def _years(batches: Sequence[Batch], units: Units) -> list[dict[str, Any]]:
    """The latest batches by year, newest first."""
    ordered = sorted(batches, key=lambda batch: batch.date, reverse=True)[:LISTED]
    years = []
    for year, found in groupby(ordered, key=lambda batch: batch.date.year):
        own = [_batch(batch, units) for batch in found]
        years.append({"year": year, "count": counted(len(own), "batch", "batches"), "batches": own})
    return years


def _batch(batch: Batch, units: Units) -> dict[str, Any]:
    used = batch.brine_used_ml
    produce = produce_key(batch.produce) or batch.produce
    weights = [
        f"{format_weight(getattr(batch, stage.column), units)} {stage.label}"
        for stage in weighed(batch)
    ]
    jars = [
        f"{exactly(count)} {shortened(jar_words(key, count), _LONGEST)}"
        for key, count in zip(batch.jar, batch.jars, strict=True)
    ]
    return {
        "date": batch.date.isoformat(),
        "name": shortened(batch.batch, _LONGEST),
        "crop": _name(produce, cut_key(batch.cut), pack_key(batch.pack)),
        "weights": weights,
        "jars": jars,
        "brine": "" if used is None or used < 0 else format_volume(used, units),
        "note": batch.note,
        "folded": len(batch.note) > _LONG_NOTE,
    }
