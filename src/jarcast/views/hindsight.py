"""The track record as text and as JSON."""

from collections.abc import Callable, Sequence
from typing import Any

from jarcast.domain.stages import STAGE_OF
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units, format_volume, format_weight
from jarcast.trackrecord.hindsight import LATEST, Group, Hindsight, Scored, Tally, TrackRecord
from jarcast.trackrecord.scoring import RANGES, Frequency, Mark
from jarcast.trackrecord.stored import StoredForecast
from jarcast.views.forecast import outcome_document
from jarcast.views.ranges import jars_beside, volumes_beside
from jarcast.views.words import counted, jar_words, lined_up, shortened, wrapped

_LEVEL = 0.8  # the range that is spoken of
_AT = RANGES.index(_LEVEL)
_FEW = 5  # with fewer, nothing is said of chance
_NAMES = 8  # names that are listed in one line

_Say = Callable[[float], str]


def hindsight_text(found: Hindsight, units: Units) -> str:
    """The track record in words: kept forecasts, then the history replayed."""
    lines = [
        *_kept_lines(found.kept, units),
        f"{_looked_at(found)} replayed one step ahead: each is forecast from each of its weights, "
        "using only the batches of earlier dates as they stood when it was entered.",
        *record_lines(found.replayed, units),
        *_stage_lines(found.replayed, units),
    ]
    return "\n".join(wrapped(line) if not line.startswith("  ") else line for line in lines)


def _looked_at(found: Hindsight) -> str:
    if found.looked_at == found.batches:
        return counted(found.batches, "batch", "batches")
    return f"The latest {found.looked_at} of {found.batches} batches (--all for every one)"


def _kept_lines(kept: TrackRecord, units: Units) -> list[str]:
    if not (kept.scored or kept.set_aside or kept.waiting):
        return [
            "No forecasts kept yet. Keep one with 'jarcast forecast ... --keep NAME', and it is "
            "scored here once batch NAME is recorded.",
            "",
        ]
    made = len(kept.scored) + len(kept.set_aside)
    lines = []
    if made:
        forecasts = counted(made, "forecast", "forecasts")
        lines.append(f"{forecasts} that you kept, of batches recorded since.")
    if kept.waiting:
        names = ", ".join(shortened(name, 40) for name in kept.waiting[:_NAMES])
        more = "" if len(kept.waiting) <= _NAMES else f" and {len(kept.waiting) - _NAMES} more"
        lines.append(f"Kept for batches not recorded yet: {names}{more}.")
    return [*lines, *record_lines(kept, units), ""]


def record_lines(record: TrackRecord, units: Units) -> list[str]:
    """How the forecasts from the last weight before the jars did, a sentence each."""
    lines = []
    if record.groups:
        latest = record.groups[0]
        lines += ["", "From the last weight before the jars:"]
        lines += _outcome_lines("jars", latest.jars, _jars)
        lines += _outcome_lines("brine", latest.brine_ml, lambda ml: format_volume(ml, units))
    reasons = [one.why for one in record.set_aside]
    if reasons:
        lines.append("")
    for why in dict.fromkeys(reasons):
        lines.append(f"Not scored, {counted(reasons.count(why), 'forecast', 'forecasts')}: {why}.")
    return lines


def _outcome_lines(name: str, tally: Tally, say: _Say) -> list[str]:
    lines = []
    if tally.miss is not None:
        lines += [_held(name, tally.held[_AT]), f"Typical miss: {say(tally.miss)}."]
        lines.append(_beside(tally, say))
    if name == "brine" and tally.short.of:
        lines.append(
            "With 1 chance in 20 of running short, you would have run short "
            f"{counted(tally.short.times, 'time', 'times')} in {tally.short.of}."
        )
    if tally.ran_out:
        ran_out = counted(tally.ran_out, "batch", "batches")
        line = f"{ran_out} ran out of brine, so how much was needed is not known"
        surely = f"; {tally.passed} of them surely went past that range" if tally.passed else ""
        lines.append(f"{line}{surely}.")
    return lines


def _held(name: str, held: Frequency) -> str:
    said = (
        f"Of {counted(held.of, 'batch', 'batches')}, the {round(10 * _LEVEL)}-in-10 range for "
        f"{name} held {counted(held.times, 'time', 'times')} ({100 * held.share:.0f} %)"
    )
    if held.of < _FEW:
        return f"{said}: too few to judge by."
    low, high = held.by_chance
    said += f"; anything from {low} to {high} would be normal"
    if held.times < low:
        return f"{said}. These ranges are too narrow for you."
    if held.times > high:
        return f"{said}. These ranges are wider than they need to be."
    return f"{said}."


def _beside(tally: Tally, say: _Say) -> str:
    beside = tally.beside
    if beside is None:
        return "A running average of your own ratios could answer for none of them yet."
    return (
        f"A running average of your own ratios could answer for {beside.batches} of them: its "
        f"typical miss there is {say(beside.average_miss)}, against {say(beside.own_miss)} here."
    )


def _jars(count: float) -> str:
    return f"{count:.1f} jars"


def _stage_lines(record: TrackRecord, units: Units) -> list[str]:
    """A small table, one line for each weight that forecasts were made from."""
    rows = stage_rows(record, units)
    if not rows:
        return []
    title = f"The {round(10 * _LEVEL)}-in-10 ranges by the weight known:"
    return ["", title, "", *(f"  {line}" for line in lined_up(rows))]


def stage_rows(record: TrackRecord, units: Units) -> list[tuple[str, ...]]:
    """The same by the weight known, a heading first; none where there is one weight only."""
    groups = [group for group in record.groups if group.stage != LATEST]
    if len(groups) < 2:
        return []
    heading = ("from", "jars held", "typical miss", "brine held", "typical miss")
    return [heading, *(_stage_row(group, units) for group in groups)]


def _stage_row(group: Group, units: Units) -> tuple[str, ...]:
    jars, brine = group.jars, group.brine_ml
    return (
        STAGE_OF[group.stage].label,
        *_held_and_miss(jars, _jars),
        *_held_and_miss(brine, lambda ml: format_volume(ml, units)),
    )


def _held_and_miss(tally: Tally, say: _Say) -> tuple[str, str]:
    if tally.miss is None:
        return "-", "-"
    held = tally.held[_AT]
    return f"{held.times} of {held.of}", say(tally.miss)


def kept_text(record: TrackRecord, units: Units) -> str:
    """How the forecasts kept for one batch did, each in a sentence; '' where there are none."""
    lines = [f"{_kept_from(one.stored, units)}: {_came(one, units)}." for one in record.scored]
    lines += [f"{_kept_from(one.stored, units)} not scored: {one.why}." for one in record.set_aside]
    return "\n".join(wrapped(line) for line in lines)


def _kept_from(stored: StoredForecast, units: Units) -> str:
    return f"Kept forecast from {format_weight(stored.grams, units)} {STAGE_OF[stored.stage].label}"


def _came(one: Scored, units: Units) -> str:
    low, high, was = jars_beside(*one.stored.jars.interval(_LEVEL), one.jars.was)
    said = f"{low} to {high} {_sort(one.stored)}, {was} came{_inside(one.jars)}"
    if one.brine is None or one.stored.brine_ml is None:
        return said
    low, high, was = volumes_beside(*one.stored.brine_ml.interval(_LEVEL), one.brine.was, units)
    least = "at least " if one.brine.at_least else ""
    return f"{said}; {low} to {high} of brine, {least}{was} used{_inside(one.brine)}"


def _sort(stored: StoredForecast) -> str:
    """What the jars of a forecast are counted in: its sort, where it is one."""
    sorts = {turn.jar for turn in stored.turns}
    return jar_words(min(sorts)) if len(sorts) == 1 else "jars"


def _inside(mark: Mark) -> str:
    if mark.held[_AT]:
        return "" if mark.at_least else " (inside)"
    return " (outside)"


def hindsight_document(found: Hindsight) -> dict[str, Any]:
    """The track record for JSON; version 1 of 'jarcast hindsight'. Volumes in ml, weights in g."""
    return {
        "format": "jarcast hindsight",
        "version": 1,
        "batches": found.batches,
        "looked_at": found.looked_at,
        "kept": _record_document(found.kept),
        "replayed": _record_document(found.replayed),
    }


def _record_document(record: TrackRecord) -> dict[str, Any]:
    return {
        "groups": [
            {
                "stage": group.stage,
                "jars": _tally_document(group.jars),
                "brine_ml": _tally_document(group.brine_ml),
            }
            for group in record.groups
        ],
        "waiting": list(record.waiting),
        "set_aside": [
            {"batch": one.stored.batch, "stage": one.stored.stage, "why": one.why.value}
            for one in record.set_aside
        ],
        "forecasts": scored_documents(record.scored),
    }


def _tally_document(tally: Tally) -> dict[str, Any]:
    beside = tally.beside
    return {
        "scored": tally.scored,
        "held": [_frequency_document(held) for held in tally.held],
        "short": _frequency_document(tally.short),
        "typical_miss": tally.miss,
        "crps": tally.crps,
        "running_average": None
        if beside is None
        else {
            "batches": beside.batches,
            "typical_miss": beside.average_miss,
            "own_typical_miss": beside.own_miss,
        },
        "ran_out": tally.ran_out,
        "passed": tally.passed,
    }


def _frequency_document(frequency: Frequency) -> dict[str, Any]:
    return {
        "chance": frequency.chance,
        "times": frequency.times,
        "of": frequency.of,
        "by_chance": list(frequency.by_chance),
        "band": list(frequency.band),
    }


def scored_documents(scored: Sequence[Scored]) -> list[dict[str, Any]]:
    """Forecasts and how they came out, for JSON."""
    return [
        {
            "batch": one.stored.batch,
            "stage": one.stored.stage,
            "grams": one.stored.grams,
            "own_batches": one.stored.own_batches,
            "jars": _mark_document(one.stored.jars, one.jars),
            "brine_ml": None
            if one.brine is None or one.stored.brine_ml is None
            else _mark_document(one.stored.brine_ml, one.brine),
        }
        for one in scored
    ]


def _mark_document(outcome: Outcome, mark: Mark) -> dict[str, Any]:
    return {
        **outcome_document(outcome, _LEVEL),
        "was": mark.was,
        "at_least": mark.at_least,
        "held": mark.held[_AT],
        "crps": mark.crps,
        "running_average": mark.average,
    }
