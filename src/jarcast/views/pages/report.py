"""The notebook page: habits, the track record with its charts, and every batch."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from jarcast.domain.batch import Batch, Flag, number_text
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.stages import weighed
from jarcast.forecast.known import Known
from jarcast.learning.slips import Slip
from jarcast.measures import Units, format_volume, format_weight
from jarcast.trackrecord.hindsight import TrackRecord
from jarcast.trackrecord.summary import CropHabits, Habit, HabitSummary
from jarcast.trackrecord.trends import CropInTime
from jarcast.views.batches import flag_words, slip_words
from jarcast.views.habits import clearest, density_text, ends_words, percent, trend_text
from jarcast.views.hindsight import record_lines, stage_rows
from jarcast.views.pages.filling import fill, inline_svg
from jarcast.views.words import counted, crop_words, exactly, jar_words, shortened

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_Range = tuple[str, str]  # a middle, and the range it lies in

_LONGEST = 60  # characters of a name; the whole one stands in the ledger
_LONG_NOTE = 160  # a longer note is folded
_HABITS = {
    "trim yield": "left after trimming",
    "cure keep": "left after the cure",
    "cook keep": "left after cooking",
    "density": "pack density",
}


class Notebook(Struct, frozen=True):
    """What a ledger holds and taught, gathered for the page.

    ``replayed`` is None where the history was not replayed; ``crops`` is None where no charts can
    be drawn.
    """

    batches: Sequence[Batch]
    summary: HabitSummary
    slips: Sequence[Slip]
    flags: Sequence[tuple[str, Flag]]
    kept: TrackRecord
    replayed: TrackRecord | None
    crops: Sequence[CropInTime] | None
    today: dt.date = field(default_factory=dt.date.today)


def report_page(book: Notebook, units: Units) -> str:
    """The notebook as one HTML page that needs nothing beside itself."""
    dates = [batch.date for batch in book.batches]
    return fill(
        "report.html",
        count=counted(len(book.batches), "batch", "batches"),
        first=min(dates).isoformat() if dates else "",
        last=max(dates).isoformat() if dates else "",
        today=book.today.isoformat(),
        crops=_crops(book, units),
        loss=_range(book.summary.loss_ml, lambda ml: format_volume(ml, units)),
        trends=[trend_text(t, units, book.today) for t in clearest(book.summary.trends)],
        charted=book.crops is not None,
        uncharted=_uncharted(book),
        odd=_odd(book, units),
        kept=_record(book.kept, units),
        replayed=None if book.replayed is None else _record(book.replayed, units),
        charts=_record_charts(book, units),
        years=_years(book.batches, units),
    )


def _uncharted(book: Notebook) -> int:
    """Crops that have no chart, where others have."""
    charted = len(_charted(book))
    return max(len(book.summary.crops) - charted, 0) if charted else 0


def _charted(book: Notebook) -> dict[tuple[str, str, str], CropInTime]:
    """Crops to draw over time: of a single batch the table says as much."""
    return {
        (crop.produce, crop.cut, crop.pack): crop
        for crop in book.crops or ()
        if any(len(habit.seen) > 1 for habit in crop.habits)
    }


def _crops(book: Notebook, units: Units) -> list[dict[str, Any]]:
    """Each crop's rows, those put up most first, with its chart where it has one."""
    drawn = _charted(book)
    ordered = sorted(book.summary.crops, key=lambda crop: -crop.batches)
    return [
        {
            "name": _name(crop.produce, crop.cut, crop.pack),
            "batches": counted(crop.batches, "batch", "batches"),
            "rows": [_habit_row(habit) for habit in crop.habits],
            "jars": [row for jar in _jar_rows(crop, units) for row in jar],
            "chart": _habit_chart(drawn.get((crop.produce, crop.cut, crop.pack)), place, units),
        }
        for place, crop in enumerate(ordered)
    ]


def _name(produce: str, cut: str, pack: str) -> str:
    return shortened(crop_words(produce, cut, pack), _LONGEST)


def _habit_row(habit: Habit) -> tuple[str, _Range, _Range, str]:
    show = density_text if habit.name == "density" else percent
    rests = number_text(habit.batches) if habit.batches else "none"
    own, published = _range(habit.own, show), _range(habit.published, show)
    return _HABITS[habit.name], own, published, rests


def _jar_rows(crop: CropHabits, units: Units) -> list[list[tuple[str, _Range]]]:
    return [
        [
            (
                f"produce in a {shortened(jar_words(jar.jar, 1), _LONGEST)}",
                _range(jar.produce_g, lambda g: format_weight(g, units)),
            ),
            (
                f"brine in a {shortened(jar_words(jar.jar, 1), _LONGEST)}",
                _range(jar.brine_ml, lambda ml: format_volume(ml, units)),
            ),
        ]
        for jar in crop.jars
    ]


def _range(known: Known, show: Callable[[float], str]) -> _Range:
    """The middle, and the range."""
    return show(known.middle), ends_words(show(known.low), show(known.high))


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


def _habit_chart(crop: CropInTime | None, place: int, units: Units) -> dict[str, Any] | None:
    if crop is None:
        return None
    from jarcast.views.charts.habits import crop_chart

    left_out = f"; the {crop.left_out} older batches have no dots here" if crop.left_out else ""
    words = [
        f"{_HABITS[habit.name]} {_said(habit.learned[-1][1], habit.name)} now, published "
        f"{_said(habit.published, habit.name)}"
        for habit in crop.habits
        if habit.learned
    ]
    name = _name(crop.produce, crop.cut, crop.pack)
    return {
        "svg": _drawn(crop_chart(crop, units), f"c{place}", f"{name}: {'; '.join(words)}."),
        "caption": f"{name}, batch by batch{left_out}.",
    }


def _said(known: Known, name: str) -> str:
    return (density_text if name == "density" else percent)(known.middle)


def _drawn(figure: "Figure", name: str, words: str) -> Any:
    from jarcast.views.charts import chart_bytes

    return inline_svg(chart_bytes(figure, "svg", clear=True), name, words)


_CHARTS: Mapping[str, str] = {"jars": "Jars", "brine_ml": "Brine"}


def _record_charts(book: Notebook, units: Units) -> list[dict[str, Any]]:
    """Forecast against what happened, and how often ranges held, of the longer record."""
    record = book.replayed or book.kept
    if book.crops is None or not record.groups:
        return []
    from jarcast.views.charts.hindsight import MOST, calibration_chart, came_chart

    found = []
    for name, title in _CHARTS.items():
        held = getattr(record.groups[0], name).held
        if not any(frequency.of for frequency in held):
            continue
        often = "; ".join(f"the {10 * f.chance:g}-in-10 range {f.times} of {f.of} times"
                          for f in held)  # fmt: skip
        came = f"{title}: forecast ranges and what came, batch after batch"
        found.append({
            "svg": _drawn(came_chart(record, units, name), f"{name}-came", f"{came}."),
            "caption": f"{came}, the latest {MOST} at most.",
        })  # fmt: skip
        found.append({
            "svg": _drawn(calibration_chart(record.groups[0], name), f"{name}-held",
                          f"{title}: how often ranges held: {often}."),
            "caption": f"{title}: {often}.",
        })  # fmt: skip
    return found


def _years(batches: Sequence[Batch], units: Units) -> list[dict[str, Any]]:
    """Batches by year, newest first."""
    ordered = sorted(batches, key=lambda batch: batch.date, reverse=True)
    return [
        {"year": year, "batches": [_batch(batch, units) for batch in found]}
        for year, found in groupby(ordered, key=lambda batch: batch.date.year)
    ]


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
