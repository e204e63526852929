"""Habits as text and as JSON."""

from collections.abc import Sequence
from typing import Any

from jarcast.batch import Arrow
from jarcast.forecasting.summary import CropHabits, Habit, HabitSummary, Known, Trend
from jarcast.learning.slips import Slip
from jarcast.measures import Units, format_volume, format_weight
from jarcast.views.words import counted, crop_words, jar_words, shortened, wrapped

_COLUMN_WORDS = {
    "as_bought_g": "weight as bought",
    "trimmed_g": "trimmed weight",
    "cured_g": "cured weight",
    "cooked_g": "cooked weight",
    "jars": "jars",
    "brine_made_ml": "brine made",
    "brine_left_ml": "brine left",
}


def habits_text(summary: HabitSummary, slips: Sequence[Slip], units: Units) -> str:
    """Each crop's habits beside the published values, what they rest on, and what changed."""
    if not summary.crops:
        return "No batches yet: nothing is known of your hand but what is published."
    parts = [
        f"From {counted(summary.batches, 'batch', 'batches')} of your own. Each value is the "
        "middle, with the range that holds it 8 times in 10."
    ]
    parts += [_crop_text(crop, units) for crop in summary.crops]
    loss = _range(summary.loss_ml, lambda ml: format_volume(ml, units))
    parts.append(f"Lost in the pot, a batch: {loss}.")
    parts += [_trend_text(trend) for trend in summary.trends]
    if slips:
        parts.append(slips_text(slips))
    return "\n\n".join(wrapped(p) if "\n" not in p else p for p in parts)


def _crop_text(crop: CropHabits, units: Units) -> str:
    lines = [
        f"{crop_words(crop.produce, crop.cut, crop.pack)} "
        f"({counted(crop.batches, 'batch', 'batches')})"
    ]
    rows = [_habit_row(habit) for habit in crop.habits]
    for jar in crop.jars:
        name = f"a {jar_words(jar.jar, 1)}"
        produce = _range(jar.produce_g, lambda g: format_weight(g, units))
        brine = _range(jar.brine_ml, lambda ml: format_volume(ml, units))
        rows += [(f"produce in {name}", produce, ""), (f"brine in {name}", brine, "")]
    wide = max(len(row[0]) for row in rows)
    middle = max(len(row[1]) for row in rows)
    for name, own, rest in rows:
        lines.append(f"  {name.ljust(wide)}  {own.ljust(middle)}  {rest}".rstrip())
    return "\n".join(lines)


def _habit_row(habit: Habit) -> tuple[str, str, str]:
    own, published = habit.own, habit.published
    name = habit.name
    if habit.name == "cure keep":
        name, own, published = "cure shrink", _shrink(own), _shrink(published)
    show = _density if habit.name == "density" else _percent
    rests = counted(habit.batches, "batch", "batches") if habit.batches else "none of your own"
    name = "pack density" if name == "density" else name
    return name, _range(own, show), f"published {_range(published, show)}; {rests}"


def _shrink(keep: Known) -> Known:
    return Known(1.0 - keep.middle, 1.0 - keep.high, 1.0 - keep.low)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _density(density: float) -> str:
    return f"{density:.2f} g/ml"


def _range(known: Known, show: Any) -> str:
    low, high = show(known.low), show(known.high)
    unit = show(known.middle).rpartition(" ")[2]
    one_unit = sum(word.isalpha() for word in low.split()) == 1
    short = low.removesuffix(f" {unit}") if one_unit and high.endswith(unit) else low
    return f"{show(known.middle)} ({short} to {high})"


def _trend_text(trend: Trend) -> str:
    size = f"{100 * abs(trend.change.middle):.0f} %"
    more = trend.change.middle > 0
    what = {
        Arrow.PACK: f"You pack {size} {'tighter' if more else 'looser'}",
        Arrow.CURE: f"Your cure keeps {size} {'more' if more else 'less'}",
        Arrow.TRIM: f"You trim {'less' if more else 'more'} away",
    }[trend.arrow]
    return f"{what} than at your first batches ({trend.since})."


def slips_text(slips: Sequence[Slip]) -> str:
    """Values that do not fit, a line each, with a guess at the slip."""
    lines = ["These do not fit your other batches; nothing was changed, and they hardly count:"]
    for slip in slips:
        column = _COLUMN_WORDS.get(slip.column, slip.column)
        size = slip.factor if slip.factor >= 1 else 1.0 / slip.factor
        way = "too much" if slip.factor >= 1 else "too little"
        text = f"  {shortened(slip.batch, 40)}: {column} looks {size:.1f} x {way}"
        if slip.guess:
            text += f": {slip.guess}"
        if slip.others:
            others = ", ".join(_COLUMN_WORDS.get(other, other) for other in slip.others)
            text += f" (or else {others})"
        lines.append(text)
    return "\n".join(lines)


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
                "arrow": trend.arrow.value,
                "since": trend.since,
                "change": _known_document(trend.change),
                "sure": trend.sure,
            }
            for trend in summary.trends
        ],
        "slips": slips_document(slips),
    }


def slips_document(slips: Sequence[Slip]) -> list[dict[str, Any]]:
    """Values that do not fit, for JSON."""
    return [
        {
            "batch": slip.batch,
            "column": slip.column,
            "or_else": list(slip.others),
            "factor": slip.factor,
            "chance": slip.chance,
            "guess": slip.guess,
        }
        for slip in slips
    ]


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
