"""A plan that is kept: what was planned beside what was filled, as text and for JSON."""

from collections.abc import Iterator, Sequence
from typing import Any

from jarcast.app.harvest import Answer
from jarcast.app.kept_plans import LEVEL, KeptPlan
from jarcast.app.plan_progress import Progress
from jarcast.errors import MOST_SHOWN
from jarcast.views.words import (
    batches_named,
    crop_words,
    halves,
    item,
    lined_up,
    shortened,
    wrapped,
)

MORE = "Planned and filled are in jars. 'jarcast harvest NAME' shows each line of one."
COUNTS = (
    "A batch counts for one line only: the one with its name, else by crop, cut, recipe and "
    "days{since}."
)


def kept_lines(answer: Answer) -> Iterator[str]:
    """Planned and filled in all, then line by line; nothing of a plan that is not kept."""
    kept = answer.kept
    if kept is None:
        return
    middle, low, high = map(_jars, kept.total)
    to_come = "" if answer.harvest is None else f", about {_jars(answer.harvest.jars.median)} left"
    yield wrapped(
        f"Plan '{shortened(kept.name, 60)}', kept on {kept.kept}: planned about {middle} jars "
        f"({low} to {high}), filled {_jars(answer.jars_done)}{to_come}."
    )
    for at, one in enumerate(answer.progress[:MOST_SHOWN]):
        names = [batch.batch for batch in one.batches]
        by = f" by {batches_named(names, 40)}" if names else ""
        planned = halves(kept.planned[at][0])
        text = f"{_title(one)}: planned about {planned}, filled {halves(one.filled)}{by}"
        yield item(text)
    if (hidden := len(answer.progress) - MOST_SHOWN) > 0:
        yield f"  ... and {hidden} more; --json and --csv have every line"
    yield wrapped(COUNTS.format(since=f", from {kept.since} on where a line says no days"))
    if kept.not_counted:
        others = batches_named([batch.batch for batch in kept.not_counted], 40)
        yield wrapped(f"Of these crops, but counted for no line: {others}.")


def _title(one: Progress) -> str:
    """How a line is called: by its name and what is put up, or where it stands."""
    line = one.line
    crop = shortened(crop_words(line.put_up, line.cut, ""), 40)
    return f"{shortened(line.name or line.place, 24)}, {crop}"


def _jars(count: float) -> str:
    return halves(count) if count < 100 else f"{round(count)}"


def kept_document(answer: Answer) -> dict[str, Any]:
    """For JSON, a part of 'jarcast harvest' where the plan is kept."""
    kept = answer.kept
    if kept is None:
        return {}
    return {
        "kept": {
            "name": kept.name,
            "kept": kept.kept.isoformat(),
            "since": kept.since.isoformat(),
            "planned": _range(kept.total),
            "filled": answer.jars_done,
            "not_counted": [batch.batch for batch in kept.not_counted],
        }
    }


def kept_line(answer: Answer, at: int) -> dict[str, Any]:
    """For JSON, a part of one line where the plan is kept."""
    if answer.kept is None:
        return {}
    one = answer.progress[at]
    return {
        "planned": _range(answer.kept.planned[at]),
        "filled": one.filled,
        "batches": [batch.batch for batch in one.batches],
    }


def _range(jars: tuple[float, float, float]) -> dict[str, float]:
    middle, low, high = jars
    return {"median": middle, "low": low, "high": high, "level": LEVEL}


def plans_text(plans: Sequence[tuple[KeptPlan, float]]) -> str:
    """Plans that are kept side by side, each with the jars filled."""
    rows = [("plan", "kept", "batches from", "lines", "planned", "filled")]
    rows += [
        (
            shortened(one.name, 30), f"{one.kept}", f"{one.since}", f"{len(one.plan.lines)}",
            _jars(one.total[0]), _jars(filled),
        )
        for one, filled in plans
    ]  # fmt: skip
    return "\n".join([*lined_up(rows), "", wrapped(MORE)])


def plans_document(plans: Sequence[tuple[KeptPlan, float]]) -> dict[str, Any]:
    """The same for JSON; version 1 of 'jarcast harvest plans'."""
    return {
        "format": "jarcast harvest plans",
        "version": 1,
        "plans": [
            {
                "name": one.name,
                "kept": one.kept.isoformat(),
                "since": one.since.isoformat(),
                "lines": len(one.plan.lines),
                "planned": _range(one.total),
                "filled": filled,
            }
            for one, filled in plans
        ],
    }
