"""A harvest for JSON; version 1 of 'jarcast harvest'. Volumes in ml, weights in g."""

from typing import Any

from jarcast.app.harvest import Answer
from jarcast.app.plan_progress import Progress
from jarcast.harvest.day import Day
from jarcast.harvest.loads import Process
from jarcast.harvest.shopping import Shopping
from jarcast.views.by_recipe import caution_document
from jarcast.views.forecast import CAUTION, outcome_document
from jarcast.views.formula import line_cautions
from jarcast.views.harvest_kept import kept_document, kept_line
from jarcast.views.harvest_stock import stock_document


def harvest_document(answer: Answer, level: float = 0.8) -> dict[str, Any]:
    """The whole answer."""
    harvest = answer.harvest
    return {
        "format": "jarcast harvest",
        "version": 1,
        "jars": _or_none(answer.jars, level),
        "jars_done": answer.jars_done,
        "left": None
        if harvest is None
        else {
            "batches": len(answer.to_do),
            "jars": outcome_document(harvest.jars, level),
            "brine_ml": outcome_document(harvest.brine_ml, level),
        },
        "lines": [_line(answer, at, level) for at in range(len(answer.progress))],
        **kept_document(answer),
        "shopping": None if answer.shopping is None else _shopping(answer.shopping, answer, level),
        "at_hand": stock_document(answer),
        "day": None if answer.day is None else _day(answer.day, answer, level),
        "short_chance": answer.asked.short_chance,
        "altitude_ft": answer.asked.place.altitude_ft,
        "ignored_columns": list(answer.plan.ignored_columns),
        "caution": CAUTION,
    }


def _line(answer: Answer, at: int, level: float) -> dict[str, Any]:
    one, forecast = answer.progress[at], answer.forecasts[at]
    counted = one.line.counted
    document: dict[str, Any] = {
        "place": one.line.place,
        "name": one.line.name,
        "state": one.state.value,
        **kept_line(answer, at),
        "containers": None
        if counted is None
        else {
            "count": list(counted.count),
            "container": counted.container,
            "grams": [counted.low_g, counted.high_g],
            "sources": list(counted.sources),
        },
    }
    if forecast is None:
        return document | _done(one)
    request, asked = forecast.request, answer.asked
    if request.person:
        document["person"] = one.line.person or asked.person
    return document | {
        "produce": request.produce,
        "cut": request.cut,
        "pack": request.pack,
        "jar": [turn.jar.key for turn in request.turns],
        "recipe": None if forecast.recipe is None else forecast.recipe.key,
        "from": {"stage": request.stage, "grams": request.grams, "log_sd": request.grams_sd},
        "jars": outcome_document(forecast.jars, level),
        "jars_by_sort": [outcome_document(o, level) for o in forecast.jars_by_sort],
        "jars_to_come": outcome_document(forecast.jars_to_come, level),
        "brine_ml": outcome_document(forecast.brine_ml, level),
        "brine_to_make_ml": forecast.brine_to_make(asked.short_chance, asked.units),
        "cautions": caution_document(
            line_cautions(forecast, asked.place, asked.short_chance, asked.units)
        ),
    }


def _done(one: Progress) -> dict[str, Any]:
    """Of a line that is done: what its batches came to."""
    batch, used = one.batch, [done.brine_used_ml for done in one.batches]
    return {
        "produce": batch.produce if batch else "",
        "cut": batch.cut if batch else "",
        "jar": list(batch.jar) if batch else [],
        "jars_filled": one.filled,
        "brine_used_ml": None if None in used else sum(ml for ml in used if ml is not None),
    }


def _shopping(bill: Shopping, answer: Answer, level: float) -> dict[str, Any]:
    place = answer.place
    return {
        "lines": [
            {
                "thing": line.need.thing.value,
                "name": line.need.name,
                "acid_percent": line.need.acid_percent,
                "measure": line.need.measure,
                "amount": line.amount,
                "used": outcome_document(line.need.amount, level),
                "pieces": [
                    {"size": size.amount, "text": size.text, "count": count}
                    for size, count in line.pieces
                ],
                "to_pay": _cents(line.to_pay),
            }
            for line in bill.lines
        ],
        "not_counted": [{"place": place(one.line), "why": one.why} for one in bill.unknown],
        "limited_by_recipe": [place(line) for line in bill.limited],
        "floor_not_known": [{"place": place(one.line), "why": one.why} for one in bill.no_floor],
        "orders_ml": bill.orders_ml,
        "to_pay": _cents(bill.to_pay),
        "by_crop": [
            {
                "produce": one.produce,
                "jars": outcome_document(one.jars, level),
                "used": outcome_document(one.used, level),
                "by_jar": outcome_document(one.by_jar, level),
                "without_price": [need.name for need in one.unpriced],
            }
            for one in bill.by_crop
        ],
        "without_price": [line.need.name for line in bill.unpriced],
        "weight_not_told": list(bill.no_weight),
        "by_jar": _or_none(bill.by_jar, level),
        "currency": bill.sign,
        "unmatched": list(bill.unmatched),
    }


def _cents(money: float | None) -> float | None:
    return None if money is None else round(money, 2)


def _day(day: Day, answer: Answer, level: float) -> dict[str, Any]:
    canner, place = answer.asked.canner, answer.place

    return {
        "canner": None if canner is None else dict(canner.holds),
        "loads": _or_none(day.loads, level),
        "runs": [
            {
                "place": place(run.line),
                "size": run.size,
                "full_jars": outcome_document(run.full, level),
                "room": run.room,
                "loads": _or_none(run.loads, level),
                "process": _process(run.process),
            }
            for run in day.runs
        ],
        "schedule": [
            {
                "load": load.number,
                "place": place(load.line),
                "size": load.size,
                "jars": load.jars,
                "places": [{"place": place(line), "jars": jars} for line, jars in load.parts],
                "process": _process(load.process),
                "after_hours": load.after_hours,
            }
            for load in day.schedule
        ],
        "work": [
            {
                "place": place(work.line),
                "trims": work.trims,
                "trim_hours": _or_none(work.trim_hours, level),
                "cures": work.cures,
                "cure_hours": None if work.cure_hours is None else list(work.cure_hours),
                "pack_hours": _or_none(work.pack_hours, level),
            }
            for work in day.work
        ],
        "hours": _or_none(day.hours, level),
        "left_out": list(day.left_out),
    }


def _or_none(outcome: Any, level: float) -> dict[str, float] | None:
    return None if outcome is None else outcome_document(outcome, level)


def _process(process: Process) -> dict[str, Any]:
    return {
        "minutes": process.minutes,
        "method": process.method,
        "why": process.why,
        "canned": process.canned,
    }
