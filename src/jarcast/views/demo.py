"""The demo as text and as JSON."""

from collections.abc import Sequence
from typing import Any

from jarcast.app.demo import DemoStep
from jarcast.measures import Units, format_made
from jarcast.views.forecast import forecast_document, forecast_text
from jarcast.views.words import halves


def demo_text(steps: Sequence[DemoStep], units: Units) -> str:
    """How the ranges tighten, then the last forecast in full."""
    rows = [("own batches", "jars, 8 times in 10", "brine to make")]
    for step in steps:
        low, high = step.forecast.jars.interval(0.8)
        brine = format_made(step.forecast.brine_to_make(units=units), units)
        rows.append((str(step.batches), f"{halves(low)} to {halves(high)}", brine))
    table = "\n".join(f"  {a:<13}{b:<22}{c}" for a, b, c in rows)
    return (
        f"An invented household, {steps[-1].batches} batches over three seasons.\nThe same "
        f"forecast, with more and more of its history:\n\n{table}\n\nWith all of "
        f"it:\n\n{forecast_text(steps[-1].forecast, units)}"
    )


def demo_document(steps: Sequence[DemoStep], units: Units) -> dict[str, Any]:
    """The demo for JSON; version 1 of 'jarcast demo'."""
    return {
        "format": "jarcast demo",
        "version": 1,
        "steps": [
            {"batches": step.batches, "forecast": forecast_document(step.forecast, units)}
            for step in steps
        ],
    }
