"""Habits as text and as JSON."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from jarcast.domain.stages import Link
from jarcast.forecast.known import Known
from jarcast.learning.slips import Slip
from jarcast.measures import Units, format_volume, format_weight
from jarcast.trackrecord.summary import (
    CropHabits,
    Habit,
    HabitSummary,
    LastJarHabit,
    PersonHabits,
    Trend,
)
from jarcast.views.batches import slips_document, slips_text
from jarcast.views.ranges import density_text, known_range, range_words, share_range
from jarcast.views.words import (
    counted,
    crop_words,
    jar_words,
    lined_up,
    shortened,
    titled,
    wrapped,
)

HABIT_WORDS = {
    "trim yield": "left after trimming",
    "cure keep": "left after salting",
    "cook keep": "left after cooking",
    "density": "pack density",
}
_SUMMER = range(6, 10)  # months
_UNKNOWN = "forecasts use published yields."


def habits_text(
    summary: HabitSummary,
    slips: Sequence[Slip],
    units: Units,
    today: dt.date,
    since: dt.date | None = None,
    produce: str = "",
) -> str:
    """Each crop's habits beside the published values, what they rest on, and what changed.

    Of the changes of each link the clearest is told; ``since`` is the day that was asked about,
    and ``produce`` the only one, '' for all.
    """
    if not summary.crops:
        if produce and summary.batches:
            return f"No batch of '{shortened(produce, 40)}' yet: {_UNKNOWN}"
        return f"No batches yet: {_UNKNOWN}"
    parts = [
        f"From {counted(summary.batches, 'batch', 'batches')} of your own: best estimates, each "
        "with the range that holds 8 times in 10."
    ]
    parts += [_crop_text(crop, units) for crop in summary.crops]
    if summary.people:
        parts.append(_people_text(summary.people, units))
    loss = range_words(known_range(summary.loss_ml, lambda ml: format_volume(ml, units)))
    parts.append(f"Left in the pot, per batch: {loss}.")
    if summary.last_jar is not None:
        parts.append(last_jar_text(summary.last_jar))
    told = clearest(summary.trends)
    parts += [trend_text(trend, units, today) for trend in told]
    if since is not None and not told:
        parts.append(f"Nothing has surely changed since {since.isoformat()}.")
    if slips:
        parts.append(slips_text(slips))
    return "\n\n".join(wrapped(p) if "\n" not in p else p for p in parts)


_LAST_JAR = {
    "part": "leave the last jar part full",
    "smaller": "put the rest in a smaller jar",
    "whole": "fill whole jars",
}


def last_jar_text(known: LastJarHabit) -> str:
    """'You fill whole jars (learned from 9 batches).'."""
    batches = counted(known.batches, "batch", "batches")
    if not known.habit:
        return (
            f"Not sure yet what becomes of your last jar, from {batches}; 'jarcast kitchen "
            "--last-jar' tells me."
        )
    said = f"You {_LAST_JAR[known.habit]} "
    if known.told:
        return f"{said}(as you said)."
    said += f"(learned from {batches})."
    if known.habit == "part":
        said += " If it is a smaller one, topped up: jarcast kitchen --last-jar smaller."
    return said


def _people_text(people: Sequence[PersonHabits], units: Units) -> str:
    """The people of a kitchen side by side, with the crop it puts up most."""
    crop = people[0].crop
    rows = [("", "batches", HABIT_WORDS["trim yield"], f"in a {jar_words(crop.jars[0].jar, 1)}")]
    for one in people:
        (trim,) = (habit for habit in one.crop.habits if habit.name == "trim yield")
        produce = range_words(_weight(one.crop.jars[0].produce_g, units))
        name, trimmed = shortened(one.name, 20), range_words(habit_range(trim, trim.own))
        rows.append((name, str(one.batches), trimmed, produce))
    head = f"Side by side, with {crop_words(crop.produce, crop.cut, crop.pack)}:"
    return "\n".join([head, *(f"  {line}" for line in lined_up(rows))])


def _crop_text(crop: CropHabits, units: Units) -> str:
    """A crop's habits beside the published ones, then what goes into a jar of each sort.

    Two tables, apart, so that each fits a narrow terminal in its own way.
    """
    head = (
        f"{titled(crop_words(crop.produce, crop.cut, crop.pack))} "
        f"({counted(crop.batches, 'batch', 'batches')})"
    )
    habits = [("", "yours", "published", "batches"), *map(_habit_row, crop.habits)]
    jars = [("in a jar", "produce", "brine")]
    for jar in crop.jars:
        brine = known_range(jar.brine_ml, lambda ml: format_volume(ml, units))
        produce = _weight(jar.produce_g, units)
        jars.append((jar_words(jar.jar, 1), range_words(produce), range_words(brine)))
    tables: list[list[tuple[str, ...]]] = [habits, [*jars]] if crop.jars else [habits]
    shown = ("\n".join(f"  {line}" for line in lined_up(table)) for table in tables)
    return "\n".join([head, "\n\n".join(shown)])


def _habit_row(habit: Habit) -> tuple[str, ...]:
    """The unit of a density is said once for both, so that the row fits 80 columns."""
    own, published = (
        range_words(habit_range(habit, of)).replace(" g/ml", "")
        for of in (habit.own, habit.published)
    )
    unit = ", g/ml" if habit.name == "density" else ""
    return f"{HABIT_WORDS[habit.name]}{unit}", own, published, str(habit.batches or "none")


def habit_range(habit: Habit, known: Known) -> tuple[str, str]:
    """A value of a habit, its own or the published one, and the range it lies in."""
    return known_range(known, density_text) if habit.name == "density" else share_range(known)


def _weight(known: Known, units: Units) -> tuple[str, str]:
    return known_range(known, lambda grams: format_weight(grams, units))


def clearest(trends: Sequence[Trend]) -> list[Trend]:
    """Of the changes of each link the surest."""
    return list({t.link: t for t in sorted(trends, key=lambda trend: trend.sure)}.values())


def trend_text(trend: Trend, units: Units, today: dt.date) -> str:
    """'You pack 8 % tighter than two summers ago (since 2024-07-06).'."""
    change = trend.change.middle
    more = change > 0
    if trend.link is Link.TRIM:  # told of what goes, for what stays
        kept = "pound" if units == Units.US else "kilogram"
        size = _size(1.0 / (1.0 + change) - 1.0)
        what = f"You trim away {size} {'less' if more else 'more'} for each {kept} kept"
    elif trend.link is Link.CURE:
        what = f"{_size(change)} {'more' if more else 'less'} is left after salting"
    else:
        what = f"You pack {_size(change)} {'tighter' if more else 'looser'}"
    since = dt.date.fromisoformat(trend.since)
    return f"{what} than {_ago(since, today)} (since {trend.since})."


def _size(change: float) -> str:
    percent = round(100.0 * abs(change))
    return f"{percent} %" if percent else "less than 1 %"


_COUNTS = ("", "", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def _ago(since: dt.date, today: dt.date) -> str:
    """'last summer', 'two summers ago', 'three years ago'."""
    years = today.year - since.year
    season = "summer" if since.month in _SUMMER else "year"
    if years < 1:
        return f"earlier this {season}"
    if years == 1:
        return f"last {season}"
    return f"{_COUNTS[years] if years < len(_COUNTS) else years} {season}s ago"


def habits_document(summary: HabitSummary, slips: Sequence[Slip]) -> dict[str, Any]:
    """Habits for JSON; version 1 of 'jarcast habits'. Shares, g/ml, g and ml."""
    return {
        "format": "jarcast habits",
        "version": 1,
        "batches": summary.batches,
        "crops": [_crop_document(crop) for crop in summary.crops],
        "pot_loss_ml": _known_document(summary.loss_ml),
        "trends": [
            {
                "arrow": trend.link.value,
                "since": trend.since,
                "change": _known_document(trend.change),
                "sure": trend.sure,
            }
            for trend in summary.trends
        ],
        "last_jar": _last_jar_document(summary.last_jar),
        **_people_document(summary.people),
        "slips": slips_document(slips),
    }


def _people_document(people: Sequence[PersonHabits]) -> dict[str, Any]:
    """The people of a kitchen; a kitchen of one has no such field."""
    found = [
        {"person": one.name, "batches": one.batches, "crop": _crop_document(one.crop)}
        for one in people
    ]
    return {"people": found} if found else {}


def _last_jar_document(known: LastJarHabit | None) -> dict[str, Any] | None:
    if known is None:
        return None
    chances = {"part_full": known.part_full, "smaller": known.smaller}
    return {"habit": known.habit or None, **chances, "told": known.told}


def _crop_document(crop: CropHabits) -> dict[str, Any]:
    return {
        "produce": crop.produce,
        "cut": crop.cut,
        "pack": crop.pack,
        "batches": crop.batches,
        "published": crop.published,
        "habits": [
            {
                "name": habit.name,
                "own": _known_document(habit.own),
                "published": _known_document(habit.published),
                "batches": habit.batches,
            }
            for habit in crop.habits
        ],
        "jars": [
            {
                "jar": jar.jar,
                "produce_g": _known_document(jar.produce_g),
                "brine_ml": _known_document(jar.brine_ml),
            }
            for jar in crop.jars
        ],
    }


def _known_document(known: Known) -> dict[str, float]:
    return {"median": known.middle, "low": known.low, "high": known.high, "level": 0.8}
